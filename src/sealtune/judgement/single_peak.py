"""The verdict on a curve that does not show the two peaks of a vented box: one, none, or a third beside them."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log, pi, sqrt

import numpy as np
from scipy.signal import find_peaks

from sealtune.design.terminals import effective_driver
from sealtune.judgement.evidence import Evidence, lower_first
from sealtune.judgement.next_measurement import next_measurement
from sealtune.judgement.remedy import Facts, finding
from sealtune.judgement.signs import MOUNTED_SHARE
from sealtune.records.verdict import Problem, Result

CLOSED_SPREAD = 0.12
"""Standard deviation of ln of a closed box's resonance by the driver's data: V_AS, f_S, the air that moves along."""

CLOSED, REVERSED, OTHER = 0.75, 0.10, 0.25
"""How often a single peak is that of a blocked vent, of several drivers of which some pull while others push, and of
something else altogether, such as a driver out of its box; our own judgement."""

ANYWHERE = 1.5
"""Width in ln f over which the peak of something else may lie."""

UNKNOWN_SHARE = 0.6
"""Probability of a blocked vent where the driver's data do not say where the peak should be; our own judgement."""

SURE = 0.8
"""Probability from which the cause is stated without "probably"."""

MOST_PEAKS = 3
"""Beside the main peak a panel or two may ring; more is another kind of load, or noise."""

THIRD_PEAK = 0.1
THIRD_WIDTH = 0.12
"""Prominence in ln |Z|, and width at half of it in ln f, from which a third peak is that of a second cone. A wall that
rings is as high but narrow, at most 0.1 with a Q of 15 and more; other boxes, crossovers included, stay below 0.06
(600 virtual cabinets with every fault)."""

HIGH_THIRD_PEAK = 0.25
"""Prominence from which a third peak is that of a line or a horn, however narrow: 0.07 at most in those 600 cabinets,
0.3 to 2.6 in lines and horns whose two lower peaks a circuit of a vented box follows."""

HIGHEST_HZ = 500.0
"""Peaks of boxes lie below, those of a crossover above."""

FAR_ABOVE, LOWEST_CROSSOVER_HZ = 2.5, 140.0
"""A third peak this many times above the next, and no lower, may be a crossover's, whose coils and capacitors of 1 to
4 mH and up to 200 uF resonate there; a cone that shares the box has its peak nearer to the others."""

MAYBE_CROSSOVER = 0.4
"""Probability of another kind of box where such a peak is there and no crossover is known; our own judgement."""

STEPS_PER_OCTAVE = 48
"""Of the grid on which peaks are measured."""


def has_third_peak(evidence: Evidence) -> bool:
    """Return whether a third peak stands out as that of a second cone in the box does, driven or not, or of a line.

    A circuit of one driver may follow such a curve closely, with a wall or a leak in place of the other cone; what it
    says of the box is then nonsense. A very heavy or very soft second cone leaves too faint a peak to tell.
    """
    curve, marks = evidence.curve, evidence.landmarks
    if curve is None or marks is None or len(marks.peaks) < 3:
        return False
    octaves = np.log2(curve.frequency_hz / curve.frequency_hz[0])
    below = curve.frequency_hz < HIGHEST_HZ
    cell = np.rint(octaves[below] * STEPS_PER_OCTAVE).astype(int)
    count = np.bincount(cell)
    filled = np.flatnonzero(count)
    sums = np.bincount(cell, np.log(np.abs(curve.impedance_ohm[below])))
    level = np.interp(np.arange(count.size), filled, sums[filled] / count[filled])
    least_steps = THIRD_WIDTH / np.log(2.0) * STEPS_PER_OCTAVE
    found, shape = find_peaks(level, prominence=THIRD_PEAK, width=0.0)
    found = found[(shape["widths"] >= least_steps) | (shape["prominences"] >= HIGH_THIRD_PEAK)]
    far_hz = _far_peak(evidence)
    if far_hz is not None and _crossover_explains(evidence):
        found = found[found < (np.log2(far_hz / curve.frequency_hz[0]) - 0.25) * STEPS_PER_OCTAVE]
    return len(found) > 2


def _crossover_explains(evidence: Evidence) -> bool:
    told = evidence.design is not None and evidence.design.crossover is not None
    return told or (evidence.fit is not None and evidence.fit.hidden_crossover is not None)


def judge_without_fit(evidence: Evidence) -> Result:
    """Return the verdict: nothing that resonates, a blocked vent, or another kind of box."""
    peaks = evidence.landmarks.peaks if evidence.landmarks else ()
    if not peaks:
        problem = Problem(
            "not_impedance",
            "The curve shows no resonance; a driver in a vented box has two.",
            "Check that the clips sit on the box's terminals and that the driver is connected, and record again.",
        )
        named = (finding("not_a_vented_box", 0.95, Facts()),)
        summary = f"Measure again: {lower_first(problem.detail)}"
        return evidence.with_problem(problem).result("remeasure", summary, named)
    if len(peaks) > MOST_PEAKS or (evidence.landmarks and evidence.landmarks.lower is not None):
        summary = (
            f"Measure again: with {len(peaks)} peaks the curve is not that of one driver in a vented box."
        )
        far_hz = _far_peak(evidence)
        if far_hz is not None:
            summary += f" The one at {far_hz:.0f} Hz may be that of a crossover."
            named = (finding("not_a_vented_box", MAYBE_CROSSOVER, Facts(far_peak_hz=far_hz)),)
            return evidence.result("remeasure", summary, named)
        return evidence.result("remeasure", summary, (finding("not_a_vented_box", 0.9, Facts()),))
    peak_hz = max(peaks, key=lambda peak: peak.ohm).hz
    blocked = _blocked(evidence, peak_hz)
    facts = Facts(peak_hz=peak_hz)
    reversed_ = _reversed(evidence, peak_hz) * (0.97 - blocked)
    other = 0.97 - blocked - reversed_
    findings = [finding("vent_blocked", blocked, facts), finding("not_a_vented_box", other, facts)]
    if reversed_ > 0.0:
        findings.append(finding("driver_wiring", reversed_, facts))
    findings.sort(key=lambda one: -one.probability)
    together = {frozenset((one.fault,)): one.probability for one in findings}
    further = next_measurement(together, tuple(source.role for source in evidence.sources))
    where = f"there is one {'main ' if len(peaks) > 1 else ''}peak only, at {peak_hz:.0f} Hz"
    if reversed_ > max(blocked, other):
        summary = f"Rework: some drivers push while the others pull{_hedge(reversed_)}; {where}."
    elif blocked >= other:
        summary = f"Rework: the vent is blocked{_hedge(blocked)}; {where}."
    else:
        summary = f"Rework: this is not a box with an open vent; {where}."
    return replace(evidence.result("rework", summary, tuple(findings)), next_measurement=further)


def _hedge(probability: float) -> str:
    return "" if probability > SURE else ", probably"


def _far_peak(evidence: Evidence) -> float | None:
    """Return the frequency of a third peak far above the others, Hz, None if there is none."""
    peaks = evidence.landmarks.peaks if evidence.landmarks else ()
    if len(peaks) < 3 or peaks[-1].hz < max(FAR_ABOVE * peaks[-2].hz, LOWEST_CROSSOVER_HZ):
        return None
    return peaks[-1].hz


def _blocked(evidence: Evidence, peak_hz: float) -> float:
    """Return the probability of a blocked vent by the distance from the closed box's resonance [Small1972]."""
    if evidence.design is None or evidence.prediction is None:
        return UNKNOWN_SHARE
    driver, alpha = effective_driver(evidence.design), evidence.prediction.compliance_ratio
    if driver.fs_hz is None or alpha is None:
        return UNKNOWN_SHARE
    closed = CLOSED * _near(peak_hz, MOUNTED_SHARE * driver.fs_hz * sqrt(1.0 + alpha), CLOSED_SPREAD)
    rest = OTHER / ANYWHERE
    if evidence.design.driver.count > 1:
        rest += REVERSED * _near(peak_hz, MOUNTED_SHARE * driver.fs_hz, driver.fs_tolerance)
    return 0.94 * closed / (closed + rest) + 0.03


def _reversed(evidence: Evidence, peak_hz: float) -> float:
    """Return the probability that some of several drivers pull while the others push, if the vent is not blocked.

    The air in the box is then not moved, and the drivers resonate as without one.
    """
    design = evidence.design
    if design is None or design.driver.count < 2 or design.driver.fs_hz is None:
        return 0.0
    told = REVERSED * _near(peak_hz, MOUNTED_SHARE * design.driver.fs_hz, design.driver.fs_tolerance)
    return told / (told + OTHER / ANYWHERE)


def _near(peak_hz: float, expected_hz: float, spread: float) -> float:
    """Return the density of ln peak_hz."""
    spread = max(spread, 0.02)
    return exp(-0.5 * (log(peak_hz / expected_hz) / spread) ** 2) / (sqrt(2.0 * pi) * spread)
