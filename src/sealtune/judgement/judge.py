"""From the fit and the design to the verdict."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sealtune.design.terminals import effective_driver
from sealtune.judgement.causes import Weighed, weigh
from sealtune.judgement.remedy import Facts, finding
from sealtune.physics.air import Air
from sealtune.physics.vent import effective_length_for_tuning_m
from sealtune.records.curve import ImpedanceCurve, Landmarks
from sealtune.records.design import Box, Design, Prediction, Tuning
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.recording import Source
from sealtune.records.verdict import FaultName, Finding, Leak, Problem, Result, VerdictWord

NAMED = 0.10
"""A cause at least this probable is told."""

FAULTY = 0.5
"""The box as designed must be more probable than this for the verdict good."""

CLEARLY_VENTED = 1.5
"""A closed box must follow the curve at least this many times worse."""

POOR_FIT = 0.12
"""A residual beyond this is no vented box with one driver; real boxes leave 1 to 8 %."""

USUAL_Q = 9.0
USUAL_Q_SPREAD = 0.45
"""Total box Q where no design says more: measured boxes mostly lie between 5 and 10 [Small1973 Part III]."""


@dataclass(frozen=True)
class Evidence:
    """All that is known of one cabinet before it is judged.

    cabinet: its name
    design, prediction: None where no design was found
    curve, landmarks, fit: None as far as the chain did not come
    """

    cabinet: str
    sources: tuple[Source, ...] = ()
    design: Design | None = None
    prediction: Prediction | None = None
    curve: ImpedanceCurve | None = None
    landmarks: Landmarks | None = None
    fit: BoxFit | None = None
    problems: tuple[Problem, ...] = ()


def judge(evidence: Evidence, air: Air) -> Result:
    """Return the verdict on one cabinet, with its findings and remedies."""
    problems = (*evidence.problems, *_reference_problem(evidence))
    evidence = replace(evidence, problems=problems)
    spoilt = [problem for problem in problems if problem.spoils]
    if spoilt:
        if evidence.fit is None or any(problem.problem != "noisy" for problem in spoilt):
            evidence = replace(evidence, fit=None)
        return _result(evidence, "remeasure", f"Measure again: {_lower(spoilt[0].detail)}")
    if evidence.fit is None:
        return _without_fit(evidence)
    if evidence.fit.residual > POOR_FIT or evidence.fit.closed_box_misfit < CLEARLY_VENTED:
        named = finding("not_a_vented_box", 0.8, Facts())
        detail = (
            f"no vented box with one driver follows the curve (residual {100 * evidence.fit.residual:.0f} %)"
        )
        return _result(evidence, "remeasure", f"Measure again: {detail}.", (named,))
    return _judge_fit(evidence, evidence.fit, air)


def _judge_fit(evidence: Evidence, fit: BoxFit, air: Air) -> Result:
    design = evidence.design or _assumed_design(fit)
    prediction = evidence.prediction or _assumed_prediction(fit)
    weighed = weigh(fit, design, prediction, air)
    tuning = fit.tuning_hz
    off = not prediction.low_hz <= tuning.value <= prediction.high_hz
    if tuning.high - tuning.low > prediction.high_hz - prediction.low_hz:
        detail = f"the tuning is known only to {tuning.low:.1f} to {tuning.high:.1f} Hz"
        problem = Problem("noisy", f"With this recording {detail}.", "Raise the level or use a longer sweep.")
        evidence = replace(evidence, problems=(*evidence.problems, problem))
        return _result(evidence, "remeasure", f"Measure again: {detail}.")
    faults = {fault: p for fault, p in weighed.probability.items() if fault is not None}
    if off:  # as it left the tolerance something is wrong with it, however small
        total = sum(faults.values())
        faults = {fault: p / total for fault, p in faults.items()}
    healthy = 1.0 - sum(faults.values())
    leak = _leak(weighed, faults["leak"])
    length, change = _vent_length(evidence, prediction, fit, air)
    if healthy > FAULTY and not off:
        result = _result(evidence, "good", _good_summary(evidence, fit, prediction))
        return replace(result, leak=leak, effective_length_m=length, volume_m3=_volume(evidence, fit))
    facts = Facts(
        tuning_hz=tuning.value,
        target_hz=prediction.target_hz if evidence.prediction else None,
        box_q=fit.box_q.value,
        expected_q=prediction.box_q,
        likeness=leak.likeness,
        change_m=change,
    )
    named = _named(faults, facts)
    first = named[0]
    summary = f"Rework: {_reason(first)}, {_how_sure(first.probability)}."
    leaky = first.fault == "leak"
    result = _result(evidence, "rework", summary, named)
    return replace(
        result, leak=leak, effective_length_m=length, length_change_m=None if leaky or not off else change,
        volume_m3=_volume(evidence, fit),
    )  # fmt: skip


def _named(faults: dict[FaultName, float], facts: Facts) -> tuple[Finding, ...]:
    ranked = sorted(faults.items(), key=lambda item: -item[1])
    return tuple(finding(fault, p, facts) for fault, p in ranked[:4] if p >= NAMED or fault == ranked[0][0])


REASONS: dict[FaultName, str] = {
    "leak": "the box leaks",
    "vent_long": "the vent is too long",
    "vent_short": "the vent is too short",
    "vent_restricted": "the vent is narrowed",
    "vent_lined": "damping material sits in or over the vent",
    "overstuffed": "there is too much damping material",
    "volume_small": "there is less air in the box than designed",
    "volume_large": "there is more air in the box than designed",
}


def _reason(first: Finding) -> str:
    return REASONS.get(first.fault, "the box differs from its design")


def _how_sure(probability: float) -> str:
    if probability > 0.9:
        return "almost certainly"
    return "probably" if probability > 0.6 else "the likeliest of several causes"


def _good_summary(evidence: Evidence, fit: BoxFit, prediction: Prediction) -> str:
    if evidence.prediction is None:
        return f"Sealed as far as its losses tell; tuned to {fit.tuning_hz.value:.1f} Hz, with no design to compare with."
    return f"Good: sealed, and tuned to {fit.tuning_hz.value:.1f} Hz where {prediction.target_hz:.1f} Hz was designed."


def _assumed_design(fit: BoxFit) -> Design:
    """Return a stand-in that says nothing of the tuning, so that the losses alone are judged."""
    return Design("", Box(0.03), tuning=Tuning(fit.tuning_hz.value, 0.5))


def _assumed_prediction(fit: BoxFit) -> Prediction:
    hz = fit.tuning_hz.value
    return Prediction(hz, 0.5 * hz, 2.0 * hz, None, 0.5, None, 1.0, None, USUAL_Q, USUAL_Q_SPREAD)


def _leak(weighed: Weighed, probability: float) -> Leak:
    """Return area and likeness of the leak; where none is probable, the area that could have stayed unnoticed."""
    area = weighed.leaks.area_m2 * 1e6
    order = np.argsort(area)
    cumulative = np.cumsum(weighed.leak_share[order])
    low, middle, high = (
        float(area[order][np.searchsorted(cumulative, level * cumulative[-1])])
        for level in (0.025, 0.5, 0.975)
    )
    if probability < FAULTY:
        unfelt = float(area.min()) if area.size else 0.0
        return Leak(probability, Interval(0.0, 0.0, max(unfelt, high if probability > 0.05 else 0.0)), None)
    return Leak(
        probability, Interval(middle, low, high), weighed.leaks.likeness(int(np.argmax(weighed.leak_share)))
    )


def _volume(evidence: Evidence, fit: BoxFit) -> Interval | None:
    """Return the net volume by V_AS over the compliance ratio."""
    if evidence.design is None:
        return None
    driver = effective_driver(evidence.design)
    if driver.vas_m3 is None:
        return None
    alpha = fit.compliance_ratio
    spread = float(np.exp(1.96 * driver.vas_tolerance))
    value = driver.vas_m3 / alpha.value
    return Interval(value, driver.vas_m3 / alpha.high / spread, driver.vas_m3 / alpha.low * spread)


def _vent_length(
    evidence: Evidence, prediction: Prediction, fit: BoxFit, air: Air
) -> tuple[float | None, Interval | None]:
    """Return the effective length that explains the tuning, and the change that reaches the target, m."""
    design = evidence.design
    if design is None or design.vent is None or evidence.prediction is None:
        return None, None
    tuning = fit.tuning_hz
    length = effective_length_for_tuning_m(design.box.volume_m3, tuning.value, design.vent, air)
    change = length * ((tuning.value / prediction.target_hz) ** 2 - 1.0)
    by_tuning = length * (tuning.high**2 - tuning.low**2) / (2.0 * prediction.target_hz**2)
    by_length = 1.96 * 2.0 * prediction.tuning_spread * abs(change)
    reach = float(np.hypot(by_tuning, by_length))
    return length, Interval(change, change - reach, change + reach)


def _without_fit(evidence: Evidence) -> Result:
    """Return the verdict where the curve does not show two peaks to fit."""
    peaks = evidence.landmarks.peaks if evidence.landmarks else ()
    if len(peaks) != 1:
        named = (finding("not_a_vented_box", 0.9, Facts()),)
        problem = Problem(
            "not_impedance",
            f"The curve shows {'no resonance' if not peaks else 'no pair of peaks'}; a driver in a vented box has two.",
            "Check that the clips sit on the box's terminals and that the driver is connected, and record again.",
        )
        evidence = replace(evidence, problems=(*evidence.problems, problem))
        return _result(evidence, "remeasure", f"Measure again: {_lower(problem.detail)}", named)
    peak = peaks[0].hz
    blocked = 0.6
    if evidence.design is not None and evidence.prediction is not None:
        driver = effective_driver(evidence.design)
        if driver.fs_hz is not None and evidence.prediction.compliance_ratio is not None:
            closed = driver.fs_hz * float(np.sqrt(1.0 + evidence.prediction.compliance_ratio))
            distance = float(np.log(peak / closed)) / 0.12
            blocked = 0.92 * float(np.exp(-0.5 * distance**2)) + 0.03
    facts = Facts(peak_hz=peak)
    named = tuple(
        sorted(
            (finding("vent_blocked", blocked, facts), finding("not_a_vented_box", 0.97 - blocked, facts)),
            key=lambda item: -item.probability,
        )
    )
    if named[0].fault == "vent_blocked":
        return _result(
            evidence,
            "rework",
            f"Rework: the vent is blocked; there is one peak only, at {peak:.0f} Hz.",
            named,
        )
    summary = f"Rework: this is not a box with an open vent; there is one peak only, at {peak:.0f} Hz."
    return _result(evidence, "rework", summary, named)


def _reference_problem(evidence: Evidence) -> tuple[Problem, ...]:
    """Return the problem of a reference resistor that is not what the jig says, judged by the driver's R_E."""
    if evidence.design is None or evidence.fit is None:
        return ()
    driver, crossover = effective_driver(evidence.design), evidence.design.crossover
    if driver.re_ohm is None:
        return ()
    ratio = evidence.fit.re_ohm / driver.re_ohm
    if crossover is not None and crossover.series_ohm:
        ratio = (evidence.fit.re_ohm + crossover.series_ohm) / (driver.re_ohm + crossover.series_ohm)
    if driver.qms is not None and driver.qes is not None and ratio > 1.0:
        motional = evidence.fit.res_ohm / (driver.re_ohm * driver.qms / driver.qes)
        if motional < np.sqrt(ratio):
            return ()
    if 0.75 < ratio < 1.35:
        return ()
    return (
        Problem(
            "wrong_reference",
            f"The driver seems to have {evidence.fit.re_ohm:.2f} ohm where the design says {driver.re_ohm:.2f} ohm.",
            "Measure the reference resistor with a multimeter and put its value into jig.toml (reference_ohm); check the "
            "driver's re_ohm in design.toml and how many drivers it counts.",
        ),
    )


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def _result(
    evidence: Evidence, verdict: VerdictWord, summary: str, findings: tuple[Finding, ...] = ()
) -> Result:
    return Result(
        cabinet=evidence.cabinet, verdict=verdict, summary=summary, design=evidence.design,
        prediction=evidence.prediction, curve=evidence.curve, landmarks=evidence.landmarks, fit=evidence.fit,
        leak=Leak(0.0, None, None), volume_m3=None, effective_length_m=None, length_change_m=None,
        findings=findings, problems=evidence.problems, sources=evidence.sources,
        skipped_lines=evidence.curve.skipped_lines if evidence.curve else 0,
    )  # fmt: skip
