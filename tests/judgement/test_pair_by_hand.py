"""What is said of a pair and what is to be done on which cabinet, on numbers put in by hand.

Exact: the numbers in the sentences are those put in; that a vent's length follows from the square of the tuning is
Helmholtz's formula.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi

import pytest
from tests.fit_by_hand import fit_by_hand

from sealtune.design.prediction import predict
from sealtune.judgement.pair_steps import matching_steps
from sealtune.judgement.pair_words import notes_of, summary_of
from sealtune.physics.air import standard_air
from sealtune.records.design import Box, Design, Tuning, Vent
from sealtune.records.interval import Interval
from sealtune.records.pair import BandDifference, Difference
from sealtune.records.verdict import FaultName, Finding, Leak, Result, VerdictWord

VENT = Vent("round", pi / 4 * 0.058**2, 0.165, diameter_m=0.058)
DESIGN = Design("invented", Box(0.024), VENT, Tuning(40.0))
TOLD = 0.2


def cabinet(
    verdict: VerdictWord = "good", *faults: FaultName, length_m: float | None = 0.2, design: Design | None = DESIGN
) -> Result:  # fmt: skip
    return Result(
        "box", verdict, "", design, None if design is None else predict(design, standard_air()), None, None,
        fit_by_hand(), Leak(0.0, None, None), None, length_m, Interval(0.01, 0.009, 0.011),
        tuple(Finding(fault, 0.9 - 0.1 * n, "E.", f"Cure {fault}.", "C.") for n, fault in enumerate(faults)), (), (),
    )  # fmt: skip


def tuned(left: float, right: float, reach: float = 0.3) -> Difference:
    apart = left - right
    return Difference("tuning_hz", left, right, Interval(apart, apart - reach, apart + reach))


def band(hz: float, all_db: float, boxes_db: float = 0.0, *, heard: bool = True) -> BandDifference:
    return BandDifference(
        hz, Interval(all_db, all_db - 0.1, all_db + 0.1), Interval(boxes_db, boxes_db, boxes_db), heard
    )


def said(
    tuning: Difference | None, *bands: BandDifference, leaks: tuple[float, float] | None = None,
    left: Result | None = None, right: Result | None = None,
) -> str:  # fmt: skip
    return summary_of(left or cabinet(), right or cabinet(), tuning, 0.04, bands, leaks)


def test_within_and_beyond_the_tolerance() -> None:
    # Exact: 40 over 39 Hz is 2.56 %, 42 over 40 Hz 5 %
    alike = said(tuned(40.0, 39.0, 1.5))
    assert alike == (
        "Matched: the tunings lie within 2.50 Hz of each other, 2.6 % where 4 % are allowed; "
        "nothing is heard of it in the bass."
    )
    apart = said(tuned(42.0, 40.0))
    assert apart.startswith(
        "Not matched: the left one is tuned higher; the tunings lie 2.00 Hz apart (1.70 to 2.30),"
    )
    assert "5.0 % where 4 % are allowed" in apart
    assert "the right one is tuned higher" in said(tuned(40.0, 42.0))


def test_levels_are_told_of_the_worst_band_that_is_heard() -> None:
    near = tuned(40.0, 40.1)
    silent = band(20.0, 9.0, 9.0, heard=False)
    assert said(near, silent).endswith("nothing is heard of it in the bass.")
    assert said(near, silent, band(40.0, -0.4)).endswith(
        "no third octave differs by more than 0.4 dB, which is not heard."
    )
    assert said(near, band(40.0, 2.0, 0.9), band(63.0, -1.5)).endswith(
        "at 40 Hz the left one plays 2.0 dB louder, by its driver more than by its box."
    )
    assert said(near, band(40.0, -2.0, -0.99 * 2.0 + 1.0)).endswith(
        "at 40 Hz the right one plays 2.0 dB louder, by its driver more than by its box."
    )
    boxes = said(near, band(40.0, 1.0), band(50.0, 1.6, 1.4))
    assert boxes.startswith("Not matched: the boxes alone differ by 1.4 dB at 50 Hz; ")
    assert boxes.endswith("at 50 Hz the left one plays 1.6 dB louder.")
    drivers = said(near, band(40.0, 3.4, 0.2))
    assert drivers.startswith("Not matched: drivers or volumes differ, which is clearly heard;")
    # where the tuning is off the boxes differ by that, which is told already
    assert "boxes alone" not in said(tuned(42.0, 40.0), band(50.0, 1.6, 1.4))


@pytest.mark.parametrize(("share", "hedge"), [(0.9, ""), (0.6, "probably "), (0.3, "perhaps ")])
def test_a_leak_is_told_as_surely_as_it_is_known(share: float, hedge: str) -> None:
    near = tuned(40.0, 40.1)
    one = said(near, leaks=(0.05, share))
    assert one.startswith(f"Not matched: the right one {hedge}leaks, which only its mate tells; ")
    both = said(near, leaks=(0.95, share), left=cabinet("rework", "leak"))
    assert both.startswith(f"Not matched: both {hedge}leak; ")
    assert said(near, leaks=(0.1, 0.1)).startswith("Matched: ")
    assert "the left one leaks and is tuned higher" in said(
        tuned(42.0, 40.0), leaks=(0.9, 0.0), left=cabinet("rework", "leak")
    )


def test_what_could_not_be_compared() -> None:
    bad, none = cabinet("remeasure"), replace(cabinet("rework"), fit=None)
    assert said(None, left=bad, right=bad) == "Not compared: measure both cabinets again."
    assert said(None, right=bad) == "Not compared: measure the right cabinet again."
    assert said(None, left=none) == (
        "Not matched: the curve of the left cabinet does not show the two peaks of a vented box."
    )


def test_what_the_comparison_rests_on() -> None:
    clean = notes_of(joint=True, same_jig=True, other_day=False, dated=True)
    assert len(clean) == 1
    assert "fitted together;" in clean[0]
    alone, jigs, day = notes_of(joint=False, same_jig=False, other_day=True, dated=True)
    assert "could not be fitted together" in alone
    assert "different jigs" in jigs
    assert "hours apart" in day
    assert "No dates" in notes_of(joint=True, same_jig=True, other_day=False, dated=False)[1]


def test_the_farther_one_is_trimmed_by_the_square_of_the_tuning() -> None:
    # Exact: f goes with the root of 1/length; 38 to 40 Hz wants 0.2 m (0.95^2 - 1) = -19.5 mm of the lower one,
    # and the higher one, were it the farther, 0.2 m ((43/40)^2 - 1) = +31.1 mm
    (lower,) = matching_steps(cabinet(), cabinet(), tuned(38.0, 40.0), None, TOLD)
    assert lower.side == "left"
    assert lower.length_change_m is not None
    assert lower.length_change_m.value == pytest.approx(-0.0195, abs=1e-6)
    # by hand: 0.3 of 2 Hz are 15 % of the change, and twice the length's own 5 % are 10 %
    reach = 0.0195 * hypot(0.15, 0.1)
    assert lower.length_change_m.high - lower.length_change_m.value == pytest.approx(reach, rel=1e-6)
    assert lower.length_change_m.value - lower.length_change_m.low == pytest.approx(reach, rel=1e-6)
    assert lower.words.startswith("To tune it as the right one: look through the vent first")
    assert "shorten the vent by" in lower.words
    (higher,) = matching_steps(cabinet(), cabinet(), tuned(43.0, 40.0), None, TOLD)
    assert higher.side == "left"
    assert higher.length_change_m is not None
    assert higher.length_change_m.value == pytest.approx(0.2 * ((43.0 / 40.0) ** 2 - 1.0), abs=1e-6)
    assert "engthen the vent by" in higher.words
    (mirrored,) = matching_steps(cabinet(), cabinet(), tuned(40.0, 43.0), None, TOLD)
    assert mirrored.side == "right"
    assert mirrored.length_change_m is not None
    assert mirrored.length_change_m.value == pytest.approx(higher.length_change_m.value)
    assert mirrored.words.startswith("To tune it as the left one:")


def test_no_saw_for_what_is_not_certain_too_little_or_too_much() -> None:
    assert matching_steps(cabinet(), cabinet(), tuned(38.0, 40.0, 2.5), None, TOLD) == ()
    assert matching_steps(cabinet(), cabinet(), None, None, TOLD) == ()
    # 0.2 m (1 - (39.9/40)^2) is 1 mm; of 0.2 m more than half the vent's 165 mm cannot go
    assert matching_steps(cabinet(), cabinet(), tuned(39.92, 40.0, 0.01), None, TOLD) == ()
    assert matching_steps(cabinet(), cabinet(), tuned(30.0, 41.0), None, TOLD) == ()
    assert len(matching_steps(cabinet(), cabinet(), tuned(31.0, 40.0), None, TOLD)) == 1
    rough = replace(DESIGN, vent=replace(VENT, length_tolerance_m=0.03))
    assert matching_steps(cabinet(design=rough), cabinet(design=rough), tuned(38.0, 40.0), None, TOLD) == ()


def test_without_a_design_the_lower_one_is_shortened_by_steps() -> None:
    bare = cabinet(design=None, length_m=None)
    for tuning, side in ((tuned(38.0, 40.0), "left"), (tuned(40.0, 38.0), "right")):
        (step,) = matching_steps(bare, bare, tuning, None, TOLD)
        assert (step.side, step.length_change_m) == (side, None)
        assert "shorten the vent a few millimetres at a time" in step.words


def test_faults_of_its_own_come_before_the_matching() -> None:
    near = tuned(38.0, 40.0)
    (own,) = matching_steps(cabinet("rework", "overstuffed"), cabinet(), near, None, TOLD)
    assert (own.side, own.words) == ("left", "Cure overstuffed.")
    # a vent that is off by itself is matched to its mate, not to the design
    (vent,) = matching_steps(cabinet(), cabinet("rework", "vent_short"), tuned(40.0, 43.0), None, TOLD)
    assert vent.side == "right"
    assert vent.words.startswith("To tune it as the left one:")
    # two of them, or one beside another fault, have no mate to match
    both = matching_steps(cabinet("rework", "vent_long"), cabinet("rework", "vent_short"), near, None, TOLD)
    assert [(step.side, step.words) for step in both] == [
        ("left", "Cure vent_long."), ("right", "Cure vent_short."),
    ]  # fmt: skip
    assert both[0].length_change_m == Interval(0.01, 0.009, 0.011)
    mixed = matching_steps(cabinet("rework", "leak"), cabinet("rework", "vent_short"), near, None, TOLD)
    assert [step.words for step in mixed] == ["Cure leak.", "Cure vent_short."]
    assert matching_steps(cabinet("good", "leak"), cabinet(), tuned(40.0, 40.1), None, TOLD) == ()


def test_a_leak_that_only_the_mate_tells_is_searched() -> None:
    near = tuned(40.0, 40.1)
    for leaks, sides in (
        ((0.3, 0.1), ["left"]),
        ((0.1, 0.2), ["right"]),
        ((0.19, 0.1), []),
        ((0.5, 0.5), ["left", "right"]),
    ):
        steps = matching_steps(cabinet(), cabinet(), near, leaks, TOLD)
        assert [step.side for step in steps] == sides
        assert all(
            step.words.startswith("Its mate has less loss, which tells of a leak. Search") for step in steps
        )


def test_each_of_several_vents_is_told_as_such() -> None:
    two = replace(DESIGN, vent=replace(VENT, count=2))
    (step,) = matching_steps(cabinet(design=two), cabinet(design=two), tuned(38.0, 40.0), None, TOLD)
    assert "each of the 2 vents" in step.words
