"""What is left open: recordings that could hide a fault, and the measurement worth making next."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log

from sealtune.analysis.intervals import COVERAGE
from sealtune.judgement.causes import PRIOR, Weighed, shows_leak
from sealtune.judgement.evidence import Evidence, lower_first
from sealtune.judgement.next_measurement import Doubt, next_measurement, repeat
from sealtune.judgement.resistance import Resistance
from sealtune.records.design import Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.next_measurement import NextMeasurement
from sealtune.records.verdict import FaultName, Problem, Result

BY_NOISE = 0.4
"""A poor fit of which the noise makes up this share says that the recording is noisy, not what it is of."""

HIDES = 2.0
"""Upper over lower bound of a box Q in which a leak that halves it could hide; unless even the lower one is more than
a leaking box would have."""

PLAIN = 0.05
"""Where the box as designed is less probable than this, a fault is plain whatever else the recording leaves open."""

SURE_LEAK = 0.8
"""Probability that a leak has at least where the plugged curve shows it and the tuning is raised by as much."""


def that_could_hide(
    evidence: Evidence, fit: BoxFit, weighed: Weighed, prediction: Prediction
) -> Result | None:
    """Return the verdict on recordings that could hide a leak, None where they could not.

    A curve with the vent plugged that does not go with the open one says itself what is wrong; see jobs.check. One that
    shows a leak which the tuning knows nothing of is that of a bung that leaks.
    """
    plain = weighed.designed < PLAIN
    detail = "The recording with the vent plugged contradicts the one with it open, so the bung leaks or the box does."
    if shows_leak(fit) and weighed.probability("leak") < SURE_LEAK:
        return noisy(evidence, detail, "Seal the bung airtight, and record once more with the vent plugged.")
    if "plugged" in fit.ignored_roles and not plain:
        return evidence.result(
            "remeasure", f"Measure again: {lower_first(detail)} Seal the bung airtight first."
        )
    best = prediction.box_q * exp(2.0 * prediction.box_q_spread)
    if plain or fit.box_q.high <= HIDES * fit.box_q.low or fit.box_q.low > best / HIDES:
        return None
    return unsure(
        evidence,
        fit,
        prediction,
        f"Box Q is known only to {fit.box_q.low:.1f} to {fit.box_q.high:.1f}; a leak that halves it could hide.",
    )


def unsure(evidence: Evidence, fit: BoxFit, prediction: Prediction, detail: str) -> Result:
    """Return that too little is known; where the recording is quiet, to repeat it as it is would not help."""
    if fit.noise > BY_NOISE * fit.residual:
        again = repeat(_doubts(fit, prediction), 0.0)  # it has to be measured again anyway
        return replace(noisy(evidence, detail), next_measurement=again)
    result = noisy(
        evidence,
        f"{detail} It is not noise that hides it.",
        "Look for a loose clip, a panel or a gasket that rings, and for another driver on the same terminals; then "
        "record again.",
    )
    before = {frozenset(() if fault is None else (fault,)): share for fault, share in PRIOR.items()}
    return replace(result, next_measurement=next_measurement(before, fit.roles))


def noisy(
    evidence: Evidence, detail: str, remedy: str = "Raise the level or use a longer sweep, and record again."
) -> Result:
    """Return that the recording has to be made again, and how."""
    problem = Problem("noisy", detail, remedy)
    return evidence.with_problem(problem).result("remeasure", f"Measure again: {lower_first(detail)}")


def worth_next(
    weighed: Weighed,
    resistance: Resistance | None,
    fit: BoxFit,
    prediction: Prediction,
    *,
    off: bool,
    good: bool,
) -> NextMeasurement | None:
    """Return the measurement worth making next; a tuning outside its tolerance leaves no box as designed.

    The wiring fails apart from the box.
    """
    series = 0.0 if resistance is None else resistance.series
    left: dict[frozenset[FaultName], float] = {}
    for faults, share in weighed.together.items():
        if faults or not off:
            left |= {faults: share * (1.0 - series), faults | {"series_resistance"}: share * series}
    best = next_measurement(left, fit.roles)
    again = repeat(_doubts(fit, prediction)) if fit.noise > BY_NOISE * fit.residual else None
    if again is not None and (best is None or again.gain_bits > best.gain_bits):
        best = again
    if best is None or not good:
        return best
    return replace(best, words=f"Only to be surer: {lower_first(best.words)}")


def _doubts(fit: BoxFit, prediction: Prediction) -> tuple[Doubt, Doubt]:
    """Return what the open curve tells of the box, and how boxes of this design differ in it."""
    tuning_spread = log(prediction.high_hz / prediction.low_hz) / (2.0 * COVERAGE)
    return (
        Doubt("the tuning", " Hz", fit.tuning_hz, tuning_spread),
        Doubt("box Q", "", fit.box_q, prediction.box_q_spread),
    )
