"""Two virtual cabinets of one design: what is told of their difference, and whether the advice makes them match."""

from dataclasses import replace

import numpy as np
import pytest

from sealtune.analysis.mates import fit_mates
from sealtune.judgement.pair import judge_pair
from sealtune.judgement.pair_leak import weigh_mates
from sealtune.physics.air import standard_air
from sealtune.records.design import Design
from sealtune.records.pair import Pair
from sealtune.records.verdict import Result
from sealtune.report.pair_text import step_lines
from sealtune.virtual.cabinet import Losses, cabinet_from_design
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.faults import with_slit

from .conftest import Judged


def cabinet(design: Design, *, longer_m: float = 0.0, leakage_q: float = 25.0) -> VirtualCabinet:
    plain = cabinet_from_design(design, np.random.default_rng(0), losses=Losses(leakage_q=leakage_q))
    assert plain.vent is not None
    return replace(plain, vent=replace(plain.vent, length_m=plain.vent.length_m + longer_m))


def stiff(design: Design, times: float, less: float, qes: float) -> VirtualCabinet:
    """Return a cabinet whose driver has so many times the resonance and so many times less V_AS."""
    driver = design.driver
    assert driver.fs_hz is not None
    assert driver.vas_m3 is not None
    driver = replace(driver, fs_hz=driver.fs_hz * times, vas_m3=driver.vas_m3 / less, qes=qes)
    return cabinet_from_design(replace(design, driver=driver), np.random.default_rng(0), losses=Losses())


def paired(left: Result, right: Result) -> Pair:
    assert left.curve is not None
    assert right.curve is not None
    assert left.landmarks is not None
    assert right.landmarks is not None
    together = fit_mates((left.curve, right.curve), (left.landmarks, right.landmarks), left.design)
    return judge_pair(left, right, standard_air(), together, days_apart=0.0)


def test_two_alike_match_and_nothing_is_to_be_done(design: Design, judged: Judged) -> None:
    pair = paired(judged(cabinet(design)), judged(cabinet(design), seed=2))
    assert (pair.verdict, pair.matched, pair.joint) == ("good", True, True)
    assert pair.steps == ()
    assert not any(one.certain for one in pair.differences)
    assert pair.summary.startswith("Matched: ")
    assert pair.worst is not None
    assert abs(pair.worst.difference_db.value) < 0.1
    assert pair.impedance is not None
    assert pair.impedance.rms_db.value < 0.05


def test_the_advised_length_makes_them_match(design: Design, judged: Judged) -> None:
    # independent: the virtual cabinet with the change built in, by its own physics
    ours, its = cabinet(design), cabinet(design, longer_m=0.022)
    pair = paired(judged(ours), judged(its, seed=2))
    tuning = pair.of("tuning_hz")
    truths = [each.truth().tuning_hz for each in (ours, its)]
    assert tuning is not None
    assert truths[0] is not None
    assert truths[1] is not None
    assert tuning.difference.holds(truths[0] - truths[1])
    assert tuning.difference.value > 1.5
    (step,) = pair.steps
    assert (step.side, pair.farther) == ("right", "right")
    assert "horten the vent" in step.words
    change = step.length_change_m
    assert change is not None
    assert change.low < -0.022 < change.high
    assert change.high - change.low < 0.010
    mended = cabinet(design, longer_m=0.022 + change.value).truth().tuning_hz
    assert mended is not None
    assert abs(mended / truths[0] - 1.0) < 0.003


def test_left_and_right_are_words_only(design: Design, judged: Judged) -> None:
    # exact: exchanged, every difference changes its sign
    ours, its = judged(cabinet(design)), judged(cabinet(design, longer_m=0.02, leakage_q=15.0), seed=2)
    one, other = paired(ours, its), paired(its, ours)
    for name in ("tuning_hz", "box_q", "compliance_ratio", "re_ohm"):
        mine, theirs = one.of(name), other.of(name)
        assert mine is not None
        assert theirs is not None
        assert mine.difference.value == pytest.approx(-theirs.difference.value, rel=0.02, abs=1e-4)
    assert one.worst is not None
    assert other.worst is not None
    assert one.worst.difference_db.value == pytest.approx(-other.worst.difference_db.value, abs=0.02)
    assert {one.farther, other.farther} == {"left", "right"}


def test_a_large_leak_in_one_is_what_keeps_them_apart(design: Design, judged: Judged) -> None:
    sealed = cabinet(design)
    leaking = with_slit(sealed, 0.9, 60.0, 12.0)
    pair = paired(judged(sealed), judged(leaking, seed=2))
    assert (pair.verdict, pair.matched) == ("rework", False)
    assert pair.leak_probability is not None
    assert pair.leak_probability[0] < 0.05
    assert pair.leak_probability[1] > 0.8
    assert [step.side for step in pair.steps] == ["right"]
    assert "vent's flange" in pair.steps[0].words
    truths = [each.truth() for each in (sealed, leaking)]
    for name in ("tuning_hz", "box_q"):
        found = pair.of(name)
        assert found is not None
        assert found.difference.holds(getattr(truths[0], name) - getattr(truths[1], name))
    # the box that plays less at the tuning is the leaking one
    assert pair.worst is not None
    assert pair.worst.boxes_db.value > 1.0


def test_a_leak_that_costs_a_fifth_is_told_by_the_mate_and_not_alone(design: Design, judged: Judged) -> None:
    # independent: a slit in the virtual cabinet that takes a fifth of its box Q
    sealed = cabinet(design)
    leaking = with_slit(sealed, 0.35, 65.0, 15.0)
    qs = [each.truth().box_q for each in (sealed, leaking)]
    assert qs[0] is not None
    assert qs[1] is not None
    assert 0.74 < qs[1] / qs[0] < 0.84
    left, right = judged(sealed), judged(leaking, seed=2)
    assert right.leak.probability < 0.1
    pair = paired(left, right)
    assert pair.leak_probability is not None
    assert pair.leak_probability[1] > 3.0 * right.leak.probability
    assert pair.leak_probability[1] > 0.3
    assert pair.leak_probability[0] < 0.02
    assert (left.verdict, pair.verdict, pair.matched) == ("good", "rework", False)
    assert "only its mate tells" in pair.summary


def test_what_the_design_got_wrong_for_both_accuses_neither(design: Design, judged: Judged) -> None:
    # both tuned 3 % low and lossier than usual, alike: a fault of the design's data, not of a cabinet
    left, right = (judged(cabinet(design, longer_m=0.012, leakage_q=14.0), seed=seed) for seed in (1, 2))
    assert left.fit is not None
    assert right.fit is not None
    assert left.design is not None
    assert left.prediction is not None
    together = paired(left, right)
    assert together.leak_probability is not None
    alone = (left.leak.probability, right.leak.probability)
    assert max(together.leak_probability) < max(alone)
    by_both = weigh_mates((left.fit, right.fit), left.design, left.prediction, standard_air())
    for share in by_both:
        assert sum(share.values()) == pytest.approx(1.0)


def test_without_a_design_the_lower_one_is_shortened(design: Design, judged: Judged) -> None:
    left = judged(cabinet(design, longer_m=0.03), known=False)
    right = judged(cabinet(design), known=False, seed=2)
    pair = paired(left, right)
    assert pair.leak_probability is None
    assert pair.farther is None
    assert [step.side for step in pair.steps] == ["left"]
    assert pair.steps[0].length_change_m is None
    assert "horten the vent a few millimetres at a time" in pair.steps[0].words


def test_other_drivers_are_no_fault_of_the_boxes(design: Design, judged: Judged) -> None:
    other = stiff(design, 1.12, 1.25, 0.44)
    pair = paired(judged(cabinet(design)), judged(other, seed=2))
    resonance = pair.of("fs_hz")
    assert resonance is not None
    assert resonance.certain
    assert pair.matched
    worst = max(pair.bands, key=lambda band: abs(band.difference_db.value))
    assert abs(worst.difference_db.value) > 5.0 * abs(worst.boxes_db.value)


def test_drivers_that_are_clearly_heard_apart_do_not_match(design: Design, judged: Judged) -> None:
    other = stiff(design, 1.35, 1.8, 1.0)
    pair = paired(judged(cabinet(design)), judged(other, seed=2))
    worst = pair.worst
    assert worst is not None
    # common practice: from 3 dB on a difference is clearly heard; that of the boxes is none
    assert abs(worst.difference_db.value) > 3.0
    assert abs(worst.boxes_db.value) < 0.5
    assert (pair.matched, pair.verdict) == (False, "rework")
    assert pair.summary.startswith("Not matched: drivers or volumes differ, which is clearly heard;")
    assert all(label == "Do" for label, _ in step_lines(pair))


def test_what_is_not_needed_is_said_of_good_cabinets_alone(design: Design, judged: Judged) -> None:
    pair = paired(judged(cabinet(design)), judged(cabinet(design, longer_m=0.004), seed=2))
    assert pair.matched
    assert [label for label, _ in step_lines(pair)] == ["May do"]
    (step,) = pair.steps
    bad = {step.side: replace(getattr(pair, step.side), verdict="rework")}
    ((label, words),) = step_lines(replace(pair, **bad))
    assert label == "Do"
    assert "Not needed" not in words


def test_hours_apart_the_air_may_have_moved_the_tuning(design: Design, judged: Judged) -> None:
    left, right = judged(cabinet(design)), judged(cabinet(design, longer_m=0.001), seed=2)
    near = judge_pair(left, right, standard_air(), days_apart=0.01).of("tuning_hz")
    far = judge_pair(left, right, standard_air(), days_apart=30.0).of("tuning_hz")
    assert near is not None
    assert far is not None
    # exact: 3 K at either time are sqrt(2) * 3 / (2 * 293.15) of the tuning as a 95 % bound
    width = far.difference.high - far.difference.value
    assert width > near.difference.high - near.difference.value
    assert width == pytest.approx(np.sqrt(2.0) * 3.0 / (2.0 * 293.15) * far.left, rel=0.05)


def test_a_recording_that_cannot_be_judged_leaves_nothing_to_compare(design: Design, judged: Judged) -> None:
    spoilt = replace(judged(cabinet(design)), verdict="remeasure", fit=None)
    pair = judge_pair(spoilt, judged(cabinet(design), seed=2), standard_air())
    assert (pair.verdict, pair.matched, pair.differences) == ("remeasure", None, ())
    assert pair.summary == "Not compared: measure the left cabinet again."
