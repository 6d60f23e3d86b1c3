"""From the fit and the design to the verdict."""

from __future__ import annotations

from dataclasses import replace
from math import log

from sealtune.design.terminals import effective_driver
from sealtune.judgement.causes import weigh
from sealtune.judgement.cost import cost
from sealtune.judgement.evidence import PROBABLE, Evidence, lower_first
from sealtune.judgement.open_questions import BY_NOISE, noisy, that_could_hide, unsure, worth_next
from sealtune.judgement.quantities import leak_size, net_volume, vent_change, vent_length
from sealtune.judgement.remedy import Facts, finding
from sealtune.judgement.resistance import Resistance, weigh_resistance
from sealtune.judgement.signs import MOUNTED_SHARE
from sealtune.judgement.single_peak import has_third_peak, judge_without_fit
from sealtune.judgement.summary import good_summary, rework_summary
from sealtune.judgement.unknown import USUAL_Q_SPREAD, unknowns
from sealtune.judgement.volume import VolumeOff, volume_off
from sealtune.physics.air import Air
from sealtune.records.design import Box, Design, Prediction, Tuning
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.verdict import FaultName, Finding, Problem, Result

NAMED = 0.10
"""A cause at least this probable is told."""

LOSSY: tuple[FaultName, ...] = ("leak", "vent_lined", "overstuffed")
"""Causes that show by what the box loses; of the others only a design tells."""

SOUND = 0.82
"""The box as designed must be this probable for the verdict good: a leak sent out costs more than a look."""

DOUBTFUL = 0.15
"""A box that is not quite as probable as designed is good where no cause reaches this: many small doubts are no fault.
Of 125 virtual leaks that halve the box Q one stays below it, of 130 sealed boxes all do."""

CLEARLY_VENTED = 4.0
"""A closed box must follow the curve this many times worse; for real vented boxes it is ten times and more."""

BY_LENGTH: tuple[FaultName, ...] = ("vent_long", "vent_short", "volume_small", "volume_large")
"""Faults that another length of the vent puts right; what else lowers or raises the tuning goes with its own remedy."""

POOR_FIT = 0.06
"""A residual beyond this is no vented box with one driver; with creep and friction in the circuit real boxes
leave 1 to 3 %."""

FARTHEST = 2.2
"""A tuning this many times too high or low is no fault of one vent; a duct that fell off raises it less."""

PLAUSIBLE_HZ = (12.0, 150.0)
PLAUSIBLE_RATIO = (0.3, 2.5)
"""Where no design says more: tunings, and tunings over the driver's resonance, of boxes as built; published
alignments reach from 0.6 to 2 [Thiele1971]."""

PLAUSIBLE_OHM = (0.5, 200.0)
"""Resistances that a loudspeaker can have, whatever its design says (common practice)."""

LEAST_Q = 5.0
"""Total box Q that finished boxes have at least, leaky ones aside [Small1973 Part III]."""

MOST_Q = 60.0
"""Total box Q that no box with a vent exceeds: friction in a wide smooth vent leaves a Q_P of
100 to 150 and an unlined box a Q_A of about as much (common practice)."""

MOST_QMS = 100.0
"""Mechanical Q that no driver has: data sheets go up to 15, and a fit makes up to twice of it (common practice)."""

LEAST_RATIO = 0.15
"""Compliance ratio below which nobody builds, and which two drivers with resonances of their own come out with;
published alignments go down to about 0.3 [Thiele1971], from memory."""

USUAL_Q = 10.0
"""Total box Q where no design says more: measured boxes of 25 to 100 L mostly lie between 5 and 10 [Small1973 Part
III], leaky ones among them; a sealed one lies in the upper half."""


def judge(evidence: Evidence, air: Air) -> Result:
    """Return the verdict on one cabinet, with its findings and remedies."""
    if has_third_peak(evidence):
        evidence = replace(evidence, fit=None)
    resistance = None
    if not any(problem.spoils for problem in evidence.problems):
        told = _impossible_resistance(evidence)
        if told is None:
            resistance = weigh_resistance(evidence.design, evidence.fit)
            told = None if resistance is None else resistance.problem()
        if told is not None:
            evidence = evidence.with_problem(told)
    spoilt = [problem for problem in evidence.problems if problem.spoils]
    if spoilt:
        if any(problem.problem != "noisy" for problem in spoilt):
            evidence = replace(evidence, fit=None)
        return evidence.result("remeasure", f"Measure again: {lower_first(spoilt[0].detail)}")
    fit = evidence.fit
    if fit is None or fit.closed_box_misfit < CLEARLY_VENTED:
        return judge_without_fit(replace(evidence, fit=None))
    if fit.residual > POOR_FIT and fit.noise > BY_NOISE * fit.residual:
        return noisy(
            evidence, f"The noise is {100 * fit.noise:.0f} % of the impedance, which hides what it is of."
        )
    if fit.residual > POOR_FIT or not _plausible(fit, evidence.prediction):
        return _no_vented_box(evidence, fit)
    return _judge_fit(evidence, fit, resistance, air)


def _no_vented_box(evidence: Evidence, fit: BoxFit) -> Result:
    summary = (
        f"Measure again: no vented box with one driver runs like this (fit {100 * fit.residual:.2g} % off, "
        f"tuning {fit.tuning_hz.value:.0f} Hz, box Q {fit.box_q.value:.1f}, driver Q_MS {fit.qms:.1f})."
    )
    return evidence.result("remeasure", summary, (finding("not_a_vented_box", 0.8, Facts()),))


def _judge_fit(evidence: Evidence, fit: BoxFit, resistance: Resistance | None, air: Air) -> Result:
    design = evidence.design or _assumed_design(fit)
    prediction = evidence.prediction or _assumed_prediction(fit)
    tuning = fit.tuning_hz
    if tuning.high - tuning.low > prediction.high_hz - prediction.low_hz:
        detail = f"The tuning is known only to {tuning.low:.1f} to {tuning.high:.1f} Hz."
        return unsure(evidence, fit, prediction, detail)
    weighed = weigh(fit, _as_wired(design, resistance), prediction, air)
    if evidence.prediction is None:
        weighed = weighed.among(LOSSY)
    hidden = that_could_hide(evidence, fit, weighed, prediction)
    if hidden is not None:
        return hidden
    off = not prediction.low_hz <= tuning.value <= prediction.high_hz
    faults, designed = weighed.faults, weighed.designed
    if off:  # outside its tolerance something is wrong with it, however small
        faults = {fault: share / (1.0 - designed) for fault, share in faults.items()}
    leak = leak_size(weighed, faults["leak"], volume_known=evidence.design is not None)
    length = vent_length(design, prediction, fit, air)
    clear = designed >= SOUND or (designed > PROBABLE and max(faults.values()) < DOUBTFUL)
    sound = clear and not off
    if sound and evidence.prediction is None and fit.box_q.high < LEAST_Q:
        return _no_vented_box(evidence, fit)  # it loses much, and not as a leak or damping material does
    beside = _beside(resistance, design)
    if sound and (resistance is None or not (resistance.damping_lost or resistance.miswired)):
        result = evidence.result("good", good_summary(evidence.prediction, fit.tuning_hz.value), beside)
    elif sound:
        result = evidence.result("rework", rework_summary(beside), beside)
    else:
        air_off = volume_off(design, prediction, fit, air) if evidence.prediction else None
        likeliest = max(faults, key=lambda fault: faults[fault])
        by_vent = length[1] if length else None
        change = _length_change(faults, likeliest, by_vent, air_off)
        if change is not None and likeliest.startswith("vent"):
            by_vent = change  # one number for one vent
        elif change is not None and air_off is not None:
            air_off = replace(air_off, length_change_m=change)
        driver = effective_driver(design)
        facts = Facts(
            tuning_hz=tuning.value,
            target_hz=prediction.target_hz if evidence.prediction else None,
            box_q=fit.box_q.value,
            expected_q=prediction.box_q,
            likeness=leak.likeness,
            change_m=by_vent,
            volume=air_off,
            vents=design.vent.count if design.vent else 1,
            plugged="plugged" in fit.roles,
            free_air="free-air" in fit.roles,
            after=likeliest in LOSSY and faults[likeliest] > PROBABLE,
            fs_hz=fit.fs_hz.value,
            data_fs_hz=None if driver.fs_hz is None else MOUNTED_SHARE * driver.fs_hz,
            qes=fit.qes,
            data_qes=driver.qes,
        )
        named = _named(faults, facts)
        told = tuple(sorted((*named, *beside), key=lambda one: -one.probability))
        summary = rework_summary(told, likelier=not off and designed > told[0].probability)
        result = replace(evidence.result("rework", summary, told), length_change_m=change)
    return replace(
        result,
        leak=leak,
        unknowns=unknowns(evidence.design, evidence.prediction),
        volume_m3=net_volume(design, fit),
        effective_length_m=length[0] if length else None,
        cost=cost(evidence.design, prediction, fit, air, result.findings),
        next_measurement=worth_next(
            weighed, resistance, fit, prediction, off=off, good=result.verdict == "good"
        ),
    )


def _length_change(
    faults: dict[FaultName, float], likeliest: FaultName, by_vent: Interval | None, air_off: VolumeOff | None
) -> Interval | None:
    """Return the change of the vent's length that puts right what is likeliest, m; None where none does.

    by_vent, air_off: what follows if the vent, or the volume alone, is off
    """
    if by_vent is None or likeliest not in BY_LENGTH:
        return None
    change = vent_change(faults, by_vent, air_off.length_change_m if air_off else None)
    shortens = likeliest in ("vent_long", "volume_large")
    return change if change is not None and (change.value < 0.0) == shortens else None


def _as_wired(design: Design, resistance: Resistance | None) -> Design:
    """Return the design with the resistance that its drivers have as they are wired: what is wrong is known then."""
    if resistance is None or not resistance.miswired or design.driver.re_ohm is None:
        return design
    return replace(
        design, driver=replace(design.driver, re_ohm=design.driver.re_ohm * resistance.wired_scale)
    )


def _beside(resistance: Resistance | None, design: Design) -> tuple[Finding, ...]:
    """Return what the wiring shows, the likeliest first: it fails apart from the box."""
    if resistance is None:
        return ()
    found = [
        one for one in (resistance.finding(), resistance.wiring_finding(design.driver)) if one is not None
    ]
    return tuple(sorted(found, key=lambda one: -one.probability))


def _named(faults: dict[FaultName, float], facts: Facts) -> tuple[Finding, ...]:
    """Return the findings of the probable causes, at most four, the likeliest first."""
    ranked = sorted(faults.items(), key=lambda item: -item[1])
    return tuple(finding(fault, p, facts) for fault, p in ranked[:4] if p >= NAMED or fault == ranked[0][0])


def _assumed_design(fit: BoxFit) -> Design:
    """Return a stand-in that says nothing of the tuning, so that the losses alone are judged."""
    return Design("", Box(0.03, lining="walls"), tuning=Tuning(fit.tuning_hz.value, 0.5))


def _assumed_prediction(fit: BoxFit) -> Prediction:
    hz = fit.tuning_hz.value
    return Prediction(hz, 0.5 * hz, 2.0 * hz, None, 0.5, None, 1.0, None, USUAL_Q, USUAL_Q_SPREAD)


def _plausible(fit: BoxFit, prediction: Prediction | None) -> bool:
    """Return whether the fitted circuit can be a vented box, and the designed one at that."""
    hz = fit.tuning_hz.value
    if prediction is not None:
        return abs(log(hz / prediction.target_hz)) < log(FARTHEST)
    ratio = hz / fit.fs_hz.value
    if fit.box_q.low > MOST_Q or fit.qms > MOST_QMS or fit.compliance_ratio.high < LEAST_RATIO:
        return False
    return PLAUSIBLE_HZ[0] < hz < PLAUSIBLE_HZ[1] and PLAUSIBLE_RATIO[0] < ratio < PLAUSIBLE_RATIO[1]


def _impossible_resistance(evidence: Evidence) -> Problem | None:
    """Return the problem of a resistance that no loudspeaker has."""
    ohm = None if evidence.fit is None else evidence.fit.with_hidden_ohm
    if ohm is None or PLAUSIBLE_OHM[0] < ohm < PLAUSIBLE_OHM[1]:
        return None
    return Problem(
        "not_impedance",
        f"The resistance comes out as {ohm:.{2 if ohm < 1.0 else 0}f} ohm, which no loudspeaker has.",
        "Check the unit of the table (ohm), or the reference resistor and the wiring of the jig.",
    )
