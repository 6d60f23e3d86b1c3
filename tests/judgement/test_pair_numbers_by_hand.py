"""How far two cabinets lie apart and how sure that is, on fits put in by hand.

Exact: variances add up; what each of them is stands beside the number, measured or common practice as told in the code.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt

import numpy as np
import pytest
from tests.fit_by_hand import exactly, fit_by_hand
from tests.invented_box import INVENTED_24_L

from sealtune.analysis.mates import MatesFit
from sealtune.design.prediction import predict
from sealtune.judgement.pair import judge_pair
from sealtune.judgement.pair_cost import logs_of
from sealtune.judgement.pair_leak import weigh_mates
from sealtune.physics.air import standard_air
from sealtune.records.design import Design, Tuning
from sealtune.records.fit import BoxFit
from sealtune.records.near_field import NearField, Polarity, PolarityWord
from sealtune.records.pair import Pair
from sealtune.records.verdict import Leak, Result, VerdictWord

AIR = standard_air()
DESIGN = replace(INVENTED_24_L, tuning=Tuning(39.0, 0.04))
LEFT = fit_by_hand(tuning_hz=exactly(39.5), box_q=exactly(11.0), qms=3.9, qes=0.37, re_ohm=6.0, res_ohm=61.0)
RIGHT = fit_by_hand(tuning_hz=exactly(39.0), box_q=exactly(10.0), qms=4.1, qes=0.38, re_ohm=6.2, res_ohm=63.0)
SHARED = (5e-4, 0.03, 0.01, 1e-3, 0.03, 0.03, 0.01, 0.01)
"""What both have off alike; it scales a difference."""

TAKE = hypot(0.015, 0.05 / 6.0)
"""A coil's warmth, and 0.05 ohm of leads and clips."""


def judged(
    fit: BoxFit | None, verdict: VerdictWord = "good", *, leak: float = 0.0, jig: str = "one",
    design: Design | None = None,
) -> Result:  # fmt: skip
    prediction = None if design is None else predict(design, AIR)
    return Result(
        "box", verdict, "", design, prediction, None, None, fit, Leak(leak, None, None), None, None, None, (), (), (),
        jig_words=jig,
    )  # fmt: skip


def check(pair: Pair, variances: list[float], left: BoxFit = LEFT, right: BoxFit = RIGHT) -> None:
    values = np.exp([logs_of(left), logs_of(right)])
    assert len(pair.differences) == 8
    for found, one, other, variance, shared in zip(pair.differences, *values, variances, SHARED, strict=True):
        assert (found.left, found.right) == pytest.approx((one, other))
        reach = 1.96 * hypot(sqrt(variance * one * other), shared * (one - other))
        assert found.difference.value == pytest.approx(one - other)
        assert found.difference.high - found.difference.value == pytest.approx(reach)
        assert found.difference.value - found.difference.low == pytest.approx(reach)


ALONE = [5e-4**2, 0.01**2, 0.008**2, 0.004**2]
"""From one take to the next; tuning, box Q, compliance ratio and f_S."""


@pytest.mark.parametrize("same", [True, False])
def test_each_alone_has_errors_of_its_own(same: bool) -> None:
    # by its open curve alone Q_MS and R_ES are known to 12 %, Q_ES to 5, R_E to 3; another jig's resistor to 1.5
    pair = judge_pair(judged(LEFT), judged(RIGHT, jig="one" if same else "other"), AIR)
    assert not pair.joint
    jig = 0.0 if same else 2.0 * 0.015**2
    of_driver = [
        0.01**2 + 2 * 0.12**2, TAKE**2 + 2 * 0.05**2, TAKE**2 + 2 * 0.03**2 + jig, 2 * 0.12**2 + jig,
    ]  # fmt: skip
    check(pair, [*ALONE, *of_driver])
    # what a fit leaves open counts, but for what both have off alike
    open_fit = replace(LEFT, log_covariance=np.diag([1e-3, 0.05, 0.02, 5e-4]) ** 2)
    wider = judge_pair(judged(open_fit), judged(RIGHT), AIR)
    own = [1e-3**2 - 5e-4**2, 0.05**2 - 0.03**2, 0.02**2 - 0.01**2, 0.0]
    of_driver[2:] = [each - jig for each in of_driver[2:]]  # one jig here
    check(wider, [*(a + b for a, b in zip(ALONE, own, strict=True)), *of_driver])


@pytest.mark.parametrize("leak", [0.0, 0.09, 0.4])
def test_together_they_know_their_difference(leak: float) -> None:
    # a leak puts 0.15, 4, 3 and 0.25 % into an open curve, as surely as it is there
    covariance = np.diag([1e-6, 2e-4, 3e-4, 4e-6, 5e-4, 6e-4, 7e-5, 8e-5])
    together = MatesFit(logs_of(LEFT), logs_of(RIGHT), covariance)
    pair = judge_pair(judged(LEFT, leak=leak), judged(RIGHT), AIR, together)
    assert pair.joint
    leaking = [leak * (leak > 0.1) * each**2 for each in (0.0015, 0.04, 0.03, 0.0025)]
    added = [*(a + b for a, b in zip(ALONE, leaking, strict=True)), 0.01**2, TAKE**2, TAKE**2, 0.0]
    check(pair, [float(each) for each in np.diag(covariance) + added])


@pytest.mark.parametrize(("days", "warmer"), [(None, False), (0.12, False), (0.13, True)])
def test_on_another_day_the_air_may_be_warmer(days: float | None, warmer: bool) -> None:
    # three hours; 3 K either time as a 95 % bound, of which the tuning follows the root
    pair = judge_pair(judged(LEFT), judged(RIGHT), AIR, days_apart=days)
    tuning = pair.differences[0]
    variance = 5e-4**2 + (2.0 * (3.0 / 1.96 / (2.0 * 293.15)) ** 2 if warmer else 0.0)
    reach = 1.96 * hypot(sqrt(variance * 39.5 * 39.0), 5e-4 * 0.5)
    assert tuning.difference.high - tuning.difference.value == pytest.approx(reach)


@pytest.mark.parametrize(
    ("right_hz", "matched"), [(39.5 / 1.039, True), (39.5 / 1.041, False), (39.5 * 1.045, False)]
)
def test_they_match_within_the_designs_tolerance(right_hz: float, matched: bool) -> None:
    right = replace(LEFT, tuning_hz=exactly(right_hz))
    pair = judge_pair(judged(LEFT), judged(right), AIR)
    assert pair.tolerance == 0.04
    assert pair.matched == matched
    assert pair.verdict == ("good" if matched else "rework")


def test_the_graver_verdict_of_both_is_the_pairs() -> None:
    assert judge_pair(judged(LEFT, "rework"), judged(LEFT), AIR).verdict == "rework"
    spoilt = judge_pair(judged(LEFT), judged(None, "remeasure"), AIR)
    assert (spoilt.verdict, spoilt.matched, spoilt.steps) == ("remeasure", None, ())
    single = judge_pair(judged(LEFT), judged(None, "rework"), AIR)
    assert (single.verdict, single.matched) == ("rework", False)


@pytest.mark.parametrize(
    ("left_hz", "right_hz", "side"),
    [(39.9, 39.1, "left"), (39.1, 39.9, "right"), (38.4, 38.9, "left"), (39.0, 39.01, None)],
)
def test_which_lies_farther_from_the_design(left_hz: float, right_hz: float, side: str | None) -> None:
    left, right = (replace(LEFT, tuning_hz=exactly(hz)) for hz in (left_hz, right_hz))
    pair = judge_pair(judged(left, design=DESIGN), judged(right, design=DESIGN), AIR)
    assert pair.farther == side
    chances = weigh_mates((left, right), DESIGN, predict(DESIGN, AIR), AIR)
    assert pair.leak_probability == pytest.approx([each["leak"] for each in chances])
    bare = judge_pair(judged(left), judged(right), AIR)
    assert (bare.farther, bare.leak_probability) == (None, None)


@pytest.mark.parametrize("words", [("normal", "normal"), ("normal", "reversed"), ("reversed", "reversed")])
def test_drivers_against_each_other_do_not_match(words: tuple[PolarityWord, PolarityWord]) -> None:
    left, right = (
        replace(judged(LEFT), near_field=NearField(None, None, polarity=Polarity(word, 0.9)))
        for word in words
    )
    pair = judge_pair(left, right, AIR)
    opposed = words[0] != words[1]
    assert pair.matched != opposed
    told = (
        "Not matched: The drivers move against each other: box is connected the wrong way round, and together the pair "
        "has no bass. Swap the two leads there."
    )
    assert (pair.summary == told) == opposed
