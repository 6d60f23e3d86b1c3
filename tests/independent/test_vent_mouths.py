"""Rayleigh's integral over rectangles and polygons, by quadrature of its reduced and of its full form."""

from math import pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.physics.end_correction import PISTON, polygon_factor, rectangle_factor, rectangular_piston_m

Real = NDArray[np.float64]


def _gauss(points: int, low: float, high: float) -> tuple[Real, Real]:
    node, weight = np.polynomial.legendre.leggauss(points)
    return low + (node + 1.0) * (high - low) / 2.0, weight * (high - low) / 2.0


def rectangle_by_quadrature(width: float, height: float) -> float:
    """End correction: four times int int (a - x)(b - y)/sqrt(x^2 + y^2), in polar form, over 2 pi a b."""
    total = 0.0
    for a, b in ((width, height), (height, width)):  # two triangles below and above the diagonal
        angle, by_angle = _gauss(200, 0.0, float(np.arctan2(b, a)))
        share, by_share = _gauss(8, 0.0, 1.0)
        r = share * (a / np.cos(angle))[:, None]
        weight = by_angle[:, None] * by_share * (a / np.cos(angle))[:, None]
        total += float((weight * (a - r * np.cos(angle)[:, None]) * (b - r * np.sin(angle)[:, None])).sum())
    return 4.0 * total / (2.0 * pi * width * height)


def polygon_by_quadrature(sides: int, points: int = 40) -> float:
    """End correction over the root of the area, by the potential at each point of one triangle of the polygon."""
    corners = np.exp(2j * pi * np.arange(sides) / sides)
    area = sides / 2.0 * np.sin(2.0 * pi / sides)
    # one triangle from the centre to one side, by symmetry all alike; finer towards the side
    outward, by_outward = _gauss(points, 0.0, 1.0)
    radius, by_radius = 1.0 - outward**2, 2.0 * outward * by_outward
    along, by_along = _gauss(points, 0.0, 1.0)
    side = corners[0] + (corners[1] - corners[0]) * along**2 * (3.0 - 2.0 * along)
    by_along = by_along * 6.0 * along * (1.0 - along)
    place = (radius[:, None] * side).ravel()
    weight = (by_radius[:, None] * radius[:, None] * by_along * 2.0 * area / sides).ravel()
    # potential of an even layer: int dS/r = sum over the sides of int (distance to the rim) d(angle)
    node, by_node = _gauss(400, 0.0, 1.0)
    potential = np.zeros(place.size)
    for start, end in zip(corners, np.roll(corners, -1), strict=True):
        ray = start + (end - start) * (node**3 * (10.0 - 15.0 * node + 6.0 * node**2)) - place[:, None]
        speed = (end - start) * 30.0 * node**2 * (1.0 - node) ** 2
        turn = (speed * np.conj(ray)).imag / np.abs(ray) ** 2
        potential += (np.abs(ray) * turn * by_node).sum(-1)
    return float(sides * (potential * weight).sum() / (2.0 * pi * area) / sqrt(area))


# Independent: the figures of the second column were found with other quadratures before this program was written.
@pytest.mark.parametrize(
    ("aspect", "expected"),
    [
        (1, 0.47320),
        (2, 0.45976),
        (3, 0.44074),
        (4, 0.42338),
        (5, 0.40821),
        (8, 0.37291),
        (10, 0.35519),
        (20, 0.29933),
    ],
)
def test_rectangle(aspect: float, expected: float) -> None:
    found = rectangle_by_quadrature(aspect, 1.0) / sqrt(aspect)
    assert found == pytest.approx(expected, rel=1e-4)
    assert rectangular_piston_m(aspect, 1.0) / sqrt(aspect) == pytest.approx(found, rel=1e-5)


@pytest.mark.parametrize("aspect", [1.0, 1.3, 1.7, 2.4, 6.0, 13.0, 17.0])
def test_rectangles_between(aspect: float) -> None:
    # Independent: quadrature, and the circle's 8/(3 pi).
    assert rectangular_piston_m(0.02 * aspect, 0.02) == pytest.approx(
        rectangle_by_quadrature(0.02 * aspect, 0.02), rel=1e-5
    )
    circle = PISTON * sqrt(aspect / pi)
    assert rectangle_factor(aspect, 1.0) == pytest.approx(
        rectangle_by_quadrature(aspect, 1.0) / circle, rel=1e-5
    )


def test_the_two_quadratures_agree_on_a_square() -> None:
    # Exact: a square is a polygon of four sides and a rectangle.
    assert polygon_by_quadrature(4) == pytest.approx(rectangle_by_quadrature(1.0, 1.0), rel=2e-5)


@pytest.mark.parametrize("sides", range(3, 13))
def test_polygon(sides: int) -> None:
    # Independent: quadrature; within 0.1 % of the circle of equal area from six sides on.
    found = polygon_by_quadrature(sides) / (PISTON / sqrt(pi))
    assert polygon_factor(sides) == pytest.approx(found, rel=1e-3)
    assert found < 1.0
