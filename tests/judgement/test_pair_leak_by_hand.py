"""The causes of two cabinets weighed together, on fits put in by hand and a few causes of a few sizes.

Independent: Student's distribution of scipy over all signs of both. What mates share and what each has of its own is
typed here: common practice.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.linalg import block_diag
from scipy.stats import multivariate_t
from tests.fit_by_hand import fit_by_hand

from sealtune.analysis.mates import MatesFit
from sealtune.design.prediction import predict
from sealtune.judgement.causes import Cause
from sealtune.judgement.pair_leak import weigh_mates
from sealtune.judgement.signs import signs_of
from sealtune.physics.air import standard_air
from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.records.fit import BoxFit, Losses
from sealtune.records.interval import Interval

Reals = NDArray[np.float64]
AIR = standard_air()
DESIGN = Design(
    "invented", Box(0.024),
    Vent("round", pi / 4 * 0.058**2, 0.165, diameter_m=0.058, length_tolerance_m=0.004), Tuning(39.0),
    Driver(fs_hz=37.0, qms=4.0, qes=0.38, vas_m3=0.0288, re_ohm=6.0, sd_m2=0.021),
)  # fmt: skip
PREDICTION = predict(DESIGN, AIR)


def fitted(
    tuning_hz: float, loss: tuple[float, float, float], *, plugged: bool = True, spread: float = 0.003
) -> BoxFit:
    return fit_by_hand(
        tuning_hz=Interval(tuning_hz, tuning_hz - 0.1, tuning_hz + 0.1),
        box_q=Interval(1.0 / sum(loss), 0.95 / sum(loss), 1.05 / sum(loss)),
        log_covariance=np.diag([spread, 0.02, 0.014, 2e-3]) ** 2, roles=("open", "plugged") if plugged else ("open",),
        losses=Losses(inverse_q=np.array(loss), inverse_q_covariance=np.diag([4e-6, 2e-6, 3e-6])),
    )  # fmt: skip


LEFT, RIGHT = fitted(39.3, (0.05, 0.02, 0.025)), fitted(38.9, (0.035, 0.019, 0.022), spread=0.008)
CAUSES = (
    Cause(None, np.array([0.7]), np.zeros((1, 4)), np.zeros((1, 3)), np.ones(1)),
    Cause(
        "leak", np.array([0.1, 0.05]), np.array([[0.004, 0, 0, 0], [0.02, 0, 0, 0]]),
        np.array([[0.02, 0.001, 0], [0.05, 0.01, 0]]), np.array([0.9, 0.6]),
    ),
    Cause("volume_small", np.array([0.15]), np.array([[0.03, 0.06, 0, 0]]), np.zeros((1, 3)), np.ones(1)),
)  # fmt: skip


def of_mates(own: Reals, shared: Reals) -> Reals:
    return np.kron(np.eye(2), own) + np.kron(np.ones((2, 2)), shared)


def by_scipy(
    left: BoxFit, right: BoxFit, told: Reals, better: float | None = None, *, design: Design = DESIGN
) -> tuple[dict[str | None, float], ...]:
    """Return the probabilities of left and right.

    better: deviation of their difference in all four by a fit of both together, which finds a tenth more loss
    """
    signs = [signs_of(fit, design, PREDICTION, AIR) for fit in (left, right)]
    whole = 0.5 * (signs[0].covariance + signs[1].covariance)
    assert PREDICTION.effective_length_m is not None
    # two deviations are 4 mm; 0.5 % of volume; resonances of one batch differ by 4 %, R_E by 3 %, R_ES by 8 %
    length = 0.5 * 0.002 / PREDICTION.effective_length_m
    alike = np.array([hypot(length, 0.0025), hypot(0.08, 0.005), 0.04, hypot(0.03, 0.08)])
    own = np.diag(np.minimum(alike**2, np.diag(whole)))  # no more than is open of either
    if better is not None:
        own[:3, :3] += 0.5 * better**2 * np.eye(3)
    shared = whole - own
    values, axes = np.linalg.eigh(shared)
    shared = axes @ np.diag(np.maximum(values, 0.0)) @ axes.T  # the nearest that is a covariance
    of_signs = of_mates(own, shared)
    usual, spread = signs[0].usual, signs[0].usual_spread
    alone = np.array([0.1, 0.05, 0.1]) * usual
    lumped = (0.1 * 0.5 * (signs[0].loss + signs[1].loss)) ** 2
    of_losses = of_mates(np.diag(alone**2), np.diag(spread**2 - alone**2 + lumped))
    losses = [one.loss for one in signs]
    measured = block_diag(*[one.loss_covariance for one in signs])
    if better is not None:
        # the total has a variance of (4 + 2 + 3) x 1e-6, of which the difference leaves what both do not share; what is
        # found of it is shared out as the variances are
        share = np.array([4.0, 2.0, 3.0]) / 9.0
        own_part = [0.5 * (1.1 * loss.sum() * better) ** 2 for loss in losses]
        common = [(9e-6 - min(part, 9e-6)) * np.outer(share, share) for part in own_part]
        measured = measured - block_diag(*common) + np.kron(np.ones((2, 2)), 0.5 * (common[0] + common[1]))
        losses = [loss + 0.1 * loss.sum() * share for loss in losses]
    of_losses += measured
    order = [0, 1, 2, 3, 8, 9, 10, 4, 5, 6, 7, 11, 12, 13]
    covariance = block_diag(of_signs, of_losses)[np.ix_(order, order)]
    found = np.concatenate(
        [np.append(one.deviation, loss - usual) for one, loss in zip(signs, losses, strict=True)]
    )
    both = block_diag(told, told)
    half = np.array([0.012, 0.012, 0.012, 0.02, 0.005, 0.005, 0.005])
    chances: tuple[dict[str | None, float], ...] = ({}, {})
    for one in CAUSES:
        for other in CAUSES:
            steps = np.concatenate([half * (one.fault is not None), half * (other.fault is not None)])
            student = multivariate_t(shape=both @ (covariance + np.diag(steps**2)) @ both.T, df=8)
            for n, mine in enumerate(one.prior * one.seen):
                for m, its in enumerate(other.prior * other.seen):
                    moved = np.concatenate([one.shift[n], one.adds[n], other.shift[m], other.adds[m]])
                    share = mine * its * float(student.pdf(both @ (found - moved)))
                    for chance, fault in zip(chances, (one.fault, other.fault), strict=True):
                        chance[fault] = chance.get(fault, 0.0) + share
    return tuple({fault: share / sum(each.values()) for fault, share in each.items()} for each in chances)


@pytest.fixture(autouse=True)
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sealtune.judgement.pair_leak.causes_of", lambda *_: CAUSES)


def test_mates_are_weighed_by_students_distribution() -> None:
    found = weigh_mates((LEFT, RIGHT), DESIGN, PREDICTION, AIR)
    for mine, its in zip(found, by_scipy(LEFT, RIGHT, np.eye(7)), strict=True):
        assert mine == pytest.approx(its, rel=1e-6)


def test_drivers_of_a_known_resonance_differ_by_no_more_than_that() -> None:
    known = replace(DESIGN, driver=replace(DESIGN.driver, fs_tolerance=0.02))
    found = weigh_mates((LEFT, RIGHT), known, PREDICTION, AIR)
    for mine, its in zip(found, by_scipy(LEFT, RIGHT, np.eye(7), design=known), strict=True):
        assert mine == pytest.approx(its, rel=1e-6)


def test_without_the_plugged_curves_the_total_of_the_losses_counts() -> None:
    open_alone = fitted(38.9, (0.035, 0.019, 0.022), plugged=False)
    total = np.vstack([np.eye(7)[:4], np.append(np.zeros(4), np.ones(3))])
    found = weigh_mates((LEFT, open_alone), DESIGN, PREDICTION, AIR)
    for mine, its in zip(found, by_scipy(LEFT, open_alone, total), strict=True):
        assert mine == pytest.approx(its, rel=1e-6)


def test_left_and_right_are_words_only_and_shares_are_shares() -> None:
    # Exact: symmetry, and probabilities that sum to 1
    left, right = weigh_mates((LEFT, RIGHT), DESIGN, PREDICTION, AIR)
    one, same = weigh_mates((LEFT, LEFT), DESIGN, PREDICTION, AIR)
    assert one == pytest.approx(same)
    assert sum(left.values()) == pytest.approx(1.0)
    assert sum(right.values()) == pytest.approx(1.0)
    assert left["leak"] > 2.0 * right["leak"]


@pytest.mark.parametrize("better", [1e-3, 0.01, 0.1])
def test_a_fit_of_both_together_knows_their_difference_better(better: float) -> None:
    logs = [
        np.log([fit.tuning_hz.value, fit.box_q.value / 1.1, fit.compliance_ratio.value, fit.fs_hz.value, 1, 1, 1, 1])
        for fit in (LEFT, RIGHT)
    ]  # fmt: skip
    together = MatesFit(logs[0], logs[1], better**2 * np.eye(8))
    found = weigh_mates((LEFT, RIGHT), DESIGN, PREDICTION, AIR, together)
    for mine, its in zip(found, by_scipy(LEFT, RIGHT, np.eye(7), better), strict=True):
        assert mine == pytest.approx(its, rel=1e-6)
