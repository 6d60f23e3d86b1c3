"""Extra resistance, a wrong reference and another wiring weighed, on fits put in by hand.

Independent: Student's distribution of scipy, averaged by numpy's mean over every size, warmth and coil. The shares and
spreads typed here are those of the module's docstrings: common practice.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import exp, log, pi

import numpy as np
import pytest
from scipy.stats import multivariate_t
from tests.fit_by_hand import fit_by_hand

from sealtune.judgement.resistance import Resistance, weigh_resistance
from sealtune.records.design import Box, Crossover, Design, Driver, Tuning, Vent
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval

DRIVER = Driver(fs_hz=37.0, qms=4.0, qes=0.38, vas_m3=0.0288, re_ohm=6.0, sd_m2=0.021)
DESIGN = Design(
    "invented", Box(0.024), Vent("round", pi / 4 * 0.058**2, 0.165, diameter_m=0.058), Tuning(39.0), DRIVER
)
WARM = {0.0: 0.4, 0.025: 0.25, 0.05: 0.175, 0.075: 0.1, 0.10: 0.075}
SIZES_OHM = np.geomspace(0.3, 6.0, 120)
SCALES = [sign * log(times) for sign in (1, -1) for times in np.geomspace(1.1, 4.0, 120)]


def weighed(fit: BoxFit, design: Design = DESIGN) -> Resistance:
    found = weigh_resistance(design, fit)
    assert found is not None
    return found


def by_scipy(
    observed: list[float], covariance: list[list[float]], designed: float, *, coils_ohm: tuple[float, ...] = (0.0,),
    wired: tuple[float, ...] = (),
) -> tuple[list[float], list[float]]:  # fmt: skip
    """Return the probabilities of as designed, series, scaled and wired, and those of the sizes in series."""
    student = multivariate_t(shape=covariance, df=8)

    def density(added: float, scale: float, seen: bool) -> float:
        total = 0.0
        for (warm, share), coil_ohm in product(WARM.items(), coils_ohm):
            coil = coil_ohm / designed
            resistance = log(1.0 + coil + added) + log(1.0 + warm) + scale
            before = (coil + (added if seen else 0.0)) * exp(scale)
            expected = [resistance, scale, before][: len(observed)]
            total += share / len(coils_ohm) * float(student.pdf(np.array(observed) - expected))
        return total

    sizes = [
        0.8 * density(ohm / designed, 0.0, True) + 0.2 * density(ohm / designed, 0.0, False)
        for ohm in SIZES_OHM
    ]
    evidence = [
        0.92 * density(0.0, 0.0, False), 0.04 * float(np.mean(sizes)),
        0.04 * float(np.mean([density(0.0, scale, False) for scale in SCALES])),
        0.04 * float(np.mean([density(0.0, log(scale), False) for scale in wired])) if wired else 0.0,
    ]  # fmt: skip
    return [one / sum(evidence) for one in evidence], [one / sum(sizes) for one in sizes]


def check(found: Resistance, expected: tuple[list[float], list[float]]) -> None:
    assert [found.series, found.scaled, found.wired] == pytest.approx(expected[0][1:], rel=1e-6)
    cumulated = np.cumsum(expected[1])
    for ohm, share in zip(
        (found.series_ohm.low, found.series_ohm.value, found.series_ohm.high),
        (0.025, 0.5, 0.975),
        strict=True,
    ):
        assert ohm == pytest.approx(SIZES_OHM[np.argmax(cumulated > share)])


@pytest.mark.parametrize(("re_ohm", "strength"), [(6.0, 1.0), (7.4, 1.05), (7.8, 1.3), (4.4, 0.75)])
@pytest.mark.parametrize("tolerance", [0.02, 0.05])
def test_one_curve_tells_resistance_and_the_motors_strength(
    re_ohm: float, strength: float, tolerance: float
) -> None:
    # 5 or 2 % of R_E, in both, 15 % of Q_ES; a curve tells them to 1.5 and 4 %; 0.05 ohm of leads; 3 % of air
    fit = fit_by_hand(re_ohm=re_ohm, qms=4.0, res_ohm=strength * 4.0 * 6.0 / 0.38)
    own = tolerance**2
    covariance = [[own + 0.015**2 + (0.05 / 6.0) ** 2, own], [own, own + 0.15**2 + 0.04**2]]
    design = replace(DESIGN, driver=replace(DRIVER, re_tolerance=tolerance))
    found = weighed(fit, design)
    check(found, by_scipy([log(re_ohm / 6.0), log(strength) + 0.03], covariance, 6.0))
    assert (found.measured_ohm, found.designed_ohm, found.wired_scale) == (re_ohm, 6.0, 1.0)


def test_without_q_the_strength_is_that_of_usual_drivers() -> None:
    # Q_ES of 0.4, known to 40 %
    fit = fit_by_hand(re_ohm=7.4, qms=4.0, res_ohm=4.0 * 6.0 / 0.38)
    covariance = [
        [0.05**2 + 0.015**2 + (0.05 / 6.0) ** 2, 0.05**2],
        [0.05**2, 0.05**2 + 0.4**2 + 0.04**2],
    ]
    found = weighed(fit, replace(DESIGN, driver=replace(DRIVER, qes=None)))
    check(found, by_scipy([log(7.4 / 6.0), log(0.4 / 0.38) + 0.03], covariance, 6.0))


@pytest.mark.parametrize("before_ohm", [0.5, 1.3])
def test_the_driver_alone_tells_what_lies_before_it(before_ohm: float) -> None:
    # 0.5 ohm are told, to 10 %; what both curves tell counts to its interval and to 1.5 % of R_E from take to take
    design = replace(DESIGN, crossover=Crossover(series_ohm=0.5))
    known = Interval(before_ohm, before_ohm - 0.098, before_ohm + 0.098)
    fit = fit_by_hand(re_ohm=6.1, qms=4.0, res_ohm=4.0 * 6.0 / 0.38, series_ohm=known)
    leads, own = (0.05**2 + 0.05**2) / 6.5**2, 0.05 * 6.0 / 6.5
    covariance = [
        [own**2 + 0.015**2 + leads, own * 0.05, leads],
        [own * 0.05, 0.05**2 + 0.15**2 + 0.04**2, 0.0],
        [leads, 0.0, (0.05 / 6.5) ** 2 + 0.015**2 + leads],
    ]
    found = weighed(fit, design)
    observed = [log((6.1 + before_ohm) / 6.5), 0.03, (before_ohm - 0.5) / 6.5]
    check(found, by_scipy(observed, covariance, 6.5))
    assert (found.measured_ohm, found.designed_ohm) == (6.1 + before_ohm, 6.5)


@pytest.mark.parametrize("hidden", [True, False])
def test_a_coil_whose_ohms_nobody_tells_may_have_some(hidden: bool) -> None:
    # of 0.1, 0.3, 0.5 or 0.8 ohm, each as probable
    coil = Crossover(series_h=1e-3)
    fit = fit_by_hand(
        re_ohm=6.9, qms=4.0, res_ohm=4.0 * 6.0 / 0.38, hidden_crossover=coil if hidden else None
    )
    design = DESIGN if hidden else replace(DESIGN, crossover=coil)
    covariance = [
        [0.05**2 + 0.015**2 + (0.05 / 6.0) ** 2, 0.05**2],
        [0.05**2, 0.05**2 + 0.15**2 + 0.04**2],
    ]
    expected = by_scipy([log(6.9 / 6.0), 0.03], covariance, 6.0, coils_ohm=(0.1, 0.3, 0.5, 0.8))
    check(weighed(fit, design), expected)


@pytest.mark.parametrize(("re_ohm", "likeliest"), [(6.2, 4.0), (22.0, 16.0)])
def test_four_drivers_may_be_wired_in_two_other_ways(re_ohm: float, likeliest: float) -> None:
    # 4 drivers of 6 ohm in parallel are 1.5 ohm; in series 16 times as much, two by two 4 times
    design = replace(DESIGN, driver=replace(DRIVER, count=4, wiring="parallel"))
    fit = fit_by_hand(re_ohm=re_ohm, qms=4.0, res_ohm=1.1 * 4.0 * re_ohm / 0.38)
    covariance = [
        [0.05**2 + 0.015**2 + (0.05 / 1.5) ** 2, 0.05**2],
        [0.05**2, 0.05**2 + 0.15**2 + 0.04**2],
    ]
    found = weighed(fit, design)
    observed = [log(re_ohm / 1.5), log(1.1 * re_ohm / 1.5) + 0.03]
    check(found, by_scipy(observed, covariance, 1.5, wired=(16.0, 4.0)))
    assert found.wired_scale == likeliest


def resistance(series: float, scaled: float, wired: float = 0.0, ohm: float = 1.0) -> Resistance:
    return Resistance(series, scaled, wired, 4.0, Interval(ohm, 0.5 * ohm, 2.0 * ohm), 7.0, 6.0)


@pytest.mark.parametrize(
    ("series", "scaled", "wired", "of_series", "of_scaled", "of_wired"),
    [
        (0.51, 0.1, 0.0, True, False, False), (0.49, 0.1, 0.0, False, False, False),
        (0.45, 0.36, 0.0, True, False, False), (0.45, 0.34, 0.0, False, False, False),
        (0.3, 0.45, 0.1, False, True, False), (0.1, 0.1, 0.51, False, False, True),
    ],
)  # fmt: skip
def test_what_is_probable_or_the_likeliest_where_hardly_all_is_right(
    series: float, scaled: float, wired: float, of_series: bool, of_scaled: bool, of_wired: bool
) -> None:
    # Exact: more than a half, or the most of what together is more than 0.8
    found = resistance(series, scaled, wired)
    assert (found.damping_lost, found.miswired) == (of_series, of_wired)
    problem = found.problem()
    assert (problem is not None and problem.spoils) == of_scaled


def test_what_is_told_and_what_costs_damping() -> None:
    # Exact: told from 0.15 on; an opened box for more than a tenth of R_E, 0.6 ohm of 6
    assert resistance(0.14, 0.14, 0.14).finding() is None
    assert resistance(0.14, 0.14, 0.14).problem() is None
    assert resistance(0.14, 0.14, 0.14).wiring_finding(DRIVER) is None
    told = resistance(0.16, 0.16, 0.16)
    assert told.finding() is not None
    assert told.wiring_finding(replace(DRIVER, count=2, wiring="parallel")) is not None
    problem = told.problem()
    assert problem is not None
    assert problem.detail == (
        "The driver seems to have 7.00 ohm where the design says 6.00 ohm; the reference resistor may be another one."
    )
    assert resistance(0.9, 0.0, ohm=0.61).damping_lost
    assert not resistance(0.9, 0.0, ohm=0.59).damping_lost
