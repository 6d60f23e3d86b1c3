"""The verdict on two cabinets, and how well they match."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from sealtune.analysis.mates import MatesFit, fit_mates
from sealtune.errors import UsageFault
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions, opened_at
from sealtune.judgement.pair import judge_pair
from sealtune.physics.air import climate_air, standard_air
from sealtune.records.pair import Pair
from sealtune.records.verdict import Result

SECONDS_PER_DAY = 86400.0

LEAKS = 0.5
"""Probability of a leak from which on a cabinet is no longer fitted together with its mate."""


def pair(left: Path, right: Path, options: CheckOptions) -> Pair:
    """Return both verdicts and how well the two match.

    left, right: each a cabinet's folder, or a recording of its open vent
    Raises UsageFault where both are the same cabinet or of different designs, and what `check` raises.
    """
    if left.exists() and right.exists() and left.samefile(right):
        raise UsageFault(
            str(right), "another cabinet than the first one", "the same one twice",
            "Name the folders of two cabinets.",
        )  # fmt: skip
    return compare(check(left, options), check(right, options))


def one_recording(found: Pair) -> bool:
    """Return whether both cabinets hold the same recording of the open vent, byte for byte."""
    left, right = (
        [source.sha256 for source in result.sources if source.role == "open"]
        for result in (found.left, found.right)
    )
    return left == right


def compare(left: Result, right: Result) -> Pair:
    """Return how well two cabinets match that have been checked.

    Raises UsageFault where they are of different designs.
    """
    one, other = left.design, right.design
    if (one is None) != (other is None) or (
        one and other and replace(one, name="") != replace(other, name="")
    ):
        names = [
            design.name or "a design without a name" if design else "no design" for design in (one, other)
        ]
        raise UsageFault(
            f"{left.cabinet} and {right.cabinet}", "two cabinets of one design", " and ".join(names),
            "Give --design FILE for both, or check them one by one.",
        )  # fmt: skip
    air = standard_air() if one is None else climate_air(one.climate)
    return judge_pair(left, right, air, _together(left, right), days_apart=_days_apart(left, right))


def _together(left: Result, right: Result) -> MatesFit | None:
    """Return both cabinets fitted together, None where one of them is no plain vented box."""
    if not all(_plain(result) for result in (left, right)):
        return None
    assert left.curve is not None
    assert right.curve is not None
    assert left.landmarks is not None
    assert right.landmarks is not None
    return fit_mates(
        (left.curve, right.curve), (left.landmarks, right.landmarks), left.design,
        same_jig=left.jig_words is not None and left.jig_words == right.jig_words,
    )  # fmt: skip


def _plain(result: Result) -> bool:
    """Whether the circuit without a leak, an untold crossover or a slip of the channels explains the curve."""
    fit = result.fit
    if fit is None or result.verdict == "remeasure" or result.leak.probability >= LEAKS:
        return False
    return fit.hidden_crossover is None and fit.slip is None


def _days_apart(left: Result, right: Result) -> float | None:
    one, other = opened_at(left), opened_at(right)
    if one is None or other is None:
        return None
    return abs(one.timestamp() - other.timestamp()) / SECONDS_PER_DAY
