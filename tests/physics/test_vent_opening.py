"""Openings of every shape made wider and narrower; exact by geometry."""

from math import pi, sqrt, tan

import pytest

from sealtune.physics.vent_opening import size_m, widened, with_size
from sealtune.records.design import Vent

ROUND = Vent("round", pi / 4 * 0.06**2, 0.14, diameter_m=0.06)
FLAT = Vent("rectangular", 0.2 * 0.03, 0.14, width_m=0.2, height_m=0.03)
TALL = Vent("rectangular", 0.2 * 0.03, 0.14, width_m=0.03, height_m=0.2)
SQUARE = Vent("polygon", 0.06**2, 0.14, sides=4, across_flats_m=0.06)
ODD = Vent("custom", pi / 4 * 0.06**2, 0.14)


def test_every_dimension_grows_by_as_much() -> None:
    assert widened(ROUND, 0.01).area_m2 == pytest.approx(pi / 4 * 0.07**2)
    assert widened(ROUND, 0.01).diameter_m == pytest.approx(0.07)
    for vent in (FLAT, TALL):
        wide = widened(vent, -0.01)
        assert wide.area_m2 == pytest.approx(0.19 * 0.02)
        assert sorted([wide.width_m or 0.0, wide.height_m or 0.0]) == pytest.approx([0.02, 0.19])
    assert widened(SQUARE, 0.01).area_m2 == pytest.approx(0.07**2)  # four triangles of half the width
    assert widened(SQUARE, 0.01).across_flats_m == pytest.approx(0.07)
    assert widened(ODD, 0.01).area_m2 == pytest.approx(pi / 4 * 0.07**2)


def test_the_longer_side_of_a_rectangle_stays() -> None:
    flat, tall = with_size(FLAT, 0.05), with_size(TALL, 0.05)
    assert (flat.width_m, flat.height_m) == (0.2, 0.05)
    assert (tall.width_m, tall.height_m) == (0.05, 0.2)
    assert [flat.area_m2, tall.area_m2] == pytest.approx([0.01, 0.01])
    six = with_size(Vent("polygon", 1.0, 0.14, sides=6, across_flats_m=0.03), 0.05)
    assert six.area_m2 == pytest.approx(6 * tan(pi / 6) * 0.05**2 / 4)


def test_an_opening_of_unknown_sides_is_as_wide_as_the_circle_of_its_area() -> None:
    assert [size_m(vent) for vent in (ROUND, FLAT, TALL, SQUARE, ODD)] == pytest.approx(
        [0.06, 0.03, 0.03, 0.06, 0.06]
    )
    half_known = Vent("rectangular", 0.006, 0.14, height_m=0.03)
    assert size_m(half_known) == pytest.approx(2.0 * sqrt(0.006 / pi))
    assert widened(half_known, 0.01).area_m2 == pytest.approx(pi / 4 * (size_m(half_known) + 0.01) ** 2)
    assert with_size(half_known, 0.05).area_m2 == pytest.approx(pi / 4 * 0.05**2)
