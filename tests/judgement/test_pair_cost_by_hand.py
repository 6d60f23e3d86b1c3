"""Level of one cabinet less that of the other, on numbers put in by hand.

Exact: relations between what is told of two cabinets, of their intervals and of one alone.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.fit_by_hand import exactly, fit_by_hand
from tests.invented_box import INVENTED_24_L

from sealtune.judgement.pair_cost import band_differences, band_levels_of, logs_of
from sealtune.physics.air import standard_air
from sealtune.records.design import Crossover
from sealtune.records.fit import BoxFit
from sealtune.records.pair import BandDifference

Reals = NDArray[np.float64]
AIR = standard_air()
NOTHING = np.zeros((6, 6))
FIT = fit_by_hand()
AT = logs_of(FIT)[:6]
METHOD = 1.96 * 0.05
"""95 % of what the textbook circuit leaves out, 0.05 dB."""


def bands(
    left: Reals, right: Reals, covariance: Reals = NOTHING, fits: tuple[BoxFit, BoxFit] = (FIT, FIT)
) -> tuple[BandDifference, ...]:
    return band_differences(fits, (left, right), covariance, INVENTED_24_L, AIR)


def moved(place: int, by: float) -> Reals:
    at = AT.copy()
    at[place] += by
    return at


def test_two_alike_differ_by_nothing_but_the_method() -> None:
    for band in bands(AT, AT):
        for one in (band.difference_db, band.boxes_db):
            assert (one.value, one.low, one.high) == pytest.approx((0.0, -METHOD, METHOD))


def test_left_less_right() -> None:
    # a tuning a tenth higher: less below it, more above, and with the sides exchanged the other way round
    there, back = bands(moved(0, 0.1), AT), bands(AT, moved(0, 0.1))
    assert [band.hz for band in there][:4] == [20.0, 25.0, 31.5, 40.0]
    assert [one.difference_db.value for one in there] == pytest.approx(
        [-one.difference_db.value for one in back]
    )
    assert there[0].difference_db.value < -1.0
    # tuning and resonance a third of an octave higher: each band plays what the one below did
    third = 0.1 * np.log(10.0) * np.array([1.0, 0.0, 0.0, 1.0, 0.0, 0.0])
    once, twice = (np.array([one.difference_db.value for one in bands(AT + n * third, AT)]) for n in (1, 2))
    assert twice[1:] == pytest.approx(once[1:] + once[:-1], abs=0.05)


@pytest.mark.parametrize("place", range(6))
def test_intervals_are_those_of_the_difference(place: int) -> None:
    # the difference of 0.001 either side is 0.002 times the slope; of an error of 0.05 there is 1.96 x 0.05 times that
    apart = bands(moved(place, 0.001), moved(place, -0.001))
    variance = np.zeros((6, 6))
    variance[place, place] = 0.05**2
    for difference, band in zip(apart, bands(AT, AT, variance), strict=True):
        slope = difference.difference_db.value / 0.002
        reach = 1.96 * np.hypot(0.05 * slope, 0.05)
        assert band.difference_db.high == pytest.approx(reach, rel=1e-6)
        assert band.difference_db.low == pytest.approx(-reach, rel=1e-6)
        # of the boxes are tuning and Q alone
        assert difference.boxes_db.value == pytest.approx(
            difference.difference_db.value if place < 2 else 0.0, abs=1e-12
        )
        assert band.boxes_db.high == pytest.approx(reach if place < 2 else METHOD, rel=1e-6)


def test_errors_that_hang_together_may_cancel() -> None:
    both = np.zeros((6, 6))
    both[:2, :2] = [[1e-2, -1e-2], [-1e-2, 1e-2]]
    tuning, q = (
        np.array([one.difference_db.value for one in bands(moved(n, 0.001), moved(n, -0.001))]) / 0.002
        for n in (0, 1)
    )
    for band, slope in zip(bands(AT, AT, both), tuning - q, strict=True):
        assert band.difference_db.high == pytest.approx(1.96 * np.hypot(0.1 * slope, 0.05), rel=1e-6)


def test_a_band_is_heard_where_the_louder_is() -> None:
    # 12 dB below the passband nothing is heard
    low = replace(FIT, tuning_hz=exactly(70.0))
    levels = [band_levels_of(fit, INVENTED_24_L, AIR) for fit in (FIT, low)]
    found = bands(AT, logs_of(low)[:6], fits=(FIT, low))
    assert [band.heard for band in found] == [
        bool(max(pair) > HEARD_DB) for pair in zip(*levels, strict=True)
    ]
    silent = bands(logs_of(low)[:6], logs_of(low)[:6], fits=(low, low))
    assert not silent[0].heard
    assert silent[-1].heard
    # the levels themselves, but for usual losses that are those of another tuning
    assert [band.difference_db.value for band in found] == pytest.approx(list(levels[0] - levels[1]), abs=0.3)


HEARD_DB = -12.0


def test_the_crossover_of_either_counts_for_both() -> None:
    coil = replace(FIT, hidden_crossover=Crossover(series_h=5e-3))
    with_coil = bands(moved(0, 0.1), AT, fits=(FIT, coil))
    assert with_coil == bands(moved(0, 0.1), AT, fits=(coil, FIT))
    without = bands(moved(0, 0.1), AT)
    assert [one.difference_db.value for one in with_coil] != pytest.approx(
        [one.difference_db.value for one in without], abs=1e-3
    )
