"""What to do on which of two cabinets so that they match."""

from __future__ import annotations

from math import hypot

from sealtune.judgement.amounts import change_length
from sealtune.judgement.evidence import lower_first
from sealtune.judgement.remedy import Facts, finding
from sealtune.records.interval import Interval
from sealtune.records.pair import SIDES, Difference, MatchingStep, Side
from sealtune.records.verdict import FaultName, Result

LEAST_TRIM_M = 1e-3
"""A shorter piece is not cut with a saw (common practice); nor is one below the design's tolerance of the length."""

MOST_SHORTENED = 0.5
"""Of the vent's length as designed; whoever has to cut more has another vent to build."""

BY_VOLUME = 0.05
"""Relative standard deviation of the length that a relative change of tuning asks for: net volume and end corrections
as designed; our own judgement."""

BY_VENT: tuple[FaultName, ...] = ("vent_long", "vent_short")
"""Faults that a change of the vent's length puts right."""


def matching_steps(
    left: Result,
    right: Result,
    tuning: Difference | None,
    leaks: tuple[float, float] | None,
    told: float,
) -> tuple[MatchingStep, ...]:
    """Return what to do so that two cabinets match: their own faults first, a leak told by the mate, then the vent.

    tuning: None where one of the two shows none
    leaks: probability of a leak in left and right, weighed together
    told: from which of these on a leak is named
    """
    results = (left, right)
    steps: list[MatchingStep] = []
    by_vent = []
    for place, (side, result) in enumerate(zip(SIDES, results, strict=True)):
        first = result.findings[0] if result.findings else None
        if result.verdict == "rework" and first is not None:
            if first.fault in BY_VENT:
                by_vent.append(side)
            else:
                steps.append(MatchingStep(side, first.remedy))
        elif leaks is not None and leaks[place] >= told:
            sealed = finding(
                "leak", leaks[place], Facts(plugged=result.fit is not None and "plugged" in result.fit.roles)
            )
            steps.append(
                MatchingStep(side, f"Its mate has less loss, which tells of a leak. {sealed.remedy}")
            )
    if tuning is None:
        return tuple(steps)
    if len(by_vent) == 2 or (by_vent and steps):  # no mate to match: each to its target
        own = {side: result for side, result in zip(SIDES, results, strict=True) if side in by_vent}
        steps += [
            MatchingStep(side, one.findings[0].remedy, one.length_change_m) for side, one in own.items()
        ]
        return tuple(steps)
    if not steps and tuning.certain:
        trim = _trim(results, tuning, by_vent[0] if by_vent else None)
        if trim is not None:
            steps.append(trim)
    return tuple(steps)


def _trim(results: tuple[Result, Result], tuning: Difference, side: Side | None) -> MatchingStep | None:
    """Return the change of one vent that brings its tuning to the mate's, None where there is none to be made.

    side: on which; None for the one that so comes nearer to the design
    """
    side = side or _which(results[0], tuning)
    place = SIDES.index(side)
    mate, result = SIDES[1 - place], results[place]
    here, there = (tuning.left, tuning.right) if place == 0 else (tuning.right, tuning.left)
    vents = 1
    change: Interval | None = None
    if result.effective_length_m is not None and result.design is not None and result.design.vent is not None:
        vents = result.design.vent.count
        # the tuning goes with the root of 1/length, vent and box being what they are
        value = result.effective_length_m * ((here / there) ** 2 - 1.0)
        relative = abs(0.5 * (tuning.difference.high - tuning.difference.low) / tuning.difference.value)
        reach = abs(value) * hypot(relative, 2.0 * BY_VOLUME)
        change = Interval(value, value - reach, value + reach)
        least = max(LEAST_TRIM_M, result.design.vent.length_tolerance_m)
        if abs(value) < least or value < -MOST_SHORTENED * result.design.vent.length_m:
            return None
    words = change_length(change, shorten=here < there, vents=vents)
    return MatchingStep(side, f"To tune it as the {mate} one: {lower_first(words)}", change)


def _which(left: Result, tuning: Difference) -> Side:
    """Return the cabinet to change: the one farther from the design; without one the lower one, to be shortened."""
    if left.prediction is None:
        return SIDES[int(tuning.right < tuning.left)]
    middle = (tuning.left * tuning.right) ** 0.5
    too_high = middle > left.prediction.target_hz
    return SIDES[int((tuning.right > tuning.left) == too_high)]
