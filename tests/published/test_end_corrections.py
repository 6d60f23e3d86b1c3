"""End corrections against published figures and against integrals worked out here a second way."""

from math import pi, sqrt

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ive, jv, kve
from tests.mouth_integral import piston_by_chords

from sealtune.physics.end_correction import (
    FLANGED,
    FREE,
    PISTON,
    flare_m,
    neighbour_m,
    neighbours_m,
    polygon_factor,
    rectangle_factor,
    rectangular_piston_m,
    side_wall_m,
)


def test_free_end() -> None:
    # Published: 0.6133 [Levine1948]. Their figure is 0.1 % high, so the tolerance is 0.2 %.
    assert pytest.approx(0.6133, rel=0.002) == FREE
    # Independent: 0.61270 by their integral, and by a superconducting cylinder cut into rings.
    assert pytest.approx(0.61270, rel=1e-4) == FREE


def test_free_end_by_the_integral_of_levine_and_schwinger() -> None:
    # Exact: (1/pi) int_0^inf ln[1/(2 I1 K1)] dx/x^2 [Levine1948], integrated here.
    def integrand(x: float) -> float:
        return float(-np.log(2.0 * ive(1, x) * kve(1, x))) / x**2

    inner, _ = quad(integrand, 1e-6, 1.0, limit=200)
    outer, _ = quad(lambda u: integrand(1.0 / u) / u**2, 1e-4, 1.0, limit=200)
    beyond = (np.log(1e4) + 1.0) / 1e4  # above x = 1e4, where 1/(2 I1 K1) is x
    assert (inner + outer + beyond) / pi == pytest.approx(FREE, abs=3e-5)


def test_flanged_end() -> None:
    # Published: 0.8216 [Dalmont2001].
    assert pytest.approx(0.8216, abs=1e-4) == FLANGED
    # Published: 8/(3 pi) = 0.84883 for a rigid piston [Rayleigh1896], [Jaouen2018].
    assert pytest.approx(0.84883, abs=5e-6) == PISTON


def test_combinations() -> None:
    # Independent: exact flanged + free is 1.435 a; the rule 0.732 D = 1.464 a of the handbooks exceeds it by
    # 0.029 a because it takes the piston's 0.85 [Kinsler2000: both flanged 1.7 a].
    one_of_each = FLANGED + FREE
    assert one_of_each == pytest.approx(1.435, abs=1.5e-3)
    assert 2 * 0.732 - one_of_each == pytest.approx(0.029, abs=1.5e-3)
    # Independent: the piston's end and the published free end together, 1.4621 a or 0.7311 D.
    assert pytest.approx(1.4621, abs=1e-4) == PISTON + 0.6133
    both_flanged, both_free = PISTON + PISTON, FREE + FREE
    assert both_flanged == pytest.approx(1.6977, abs=1e-4)
    assert both_free == pytest.approx(1.2254, abs=1e-4)
    # Published [Kinsler2000, ch. 10, second-hand]: 1.7 a for both ends flanged.
    assert both_flanged == pytest.approx(1.7, abs=5e-3)


# Independent: Rayleigh's double integral, closed form and quadrature, over the square root of the area.
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
def test_rectangular_mouth(aspect: float, expected: float) -> None:
    assert rectangular_piston_m(aspect, 1.0) / sqrt(aspect) == pytest.approx(expected, abs=6e-6)
    turned = rectangular_piston_m(0.01, 0.01 * aspect)
    assert turned / (0.01 * sqrt(aspect)) == pytest.approx(expected, abs=6e-6)
    # The same by chords: the mean over all lines through the figure, exact for any convex mouth.
    corners = np.array([aspect + 1j, -aspect + 1j, -aspect - 1j, aspect - 1j]) / 2
    assert piston_by_chords(corners) / sqrt(aspect) == pytest.approx(expected, rel=2e-3)


def test_circle_by_equal_area_is_too_long_for_slots() -> None:
    # Independent: square -1.2 %, 2:1 -4.0 %, 4:1 -11.6 %, 10:1 -26 % of the circle's. Published
    # [Ingard1953, from memory]: about 0.48 sqrt(A) whatever the shape, "except slit-like" [Jaouen2018].
    for aspect, error, digit in ((1, -0.012, 1e-3), (2, -0.040, 1e-3), (4, -0.116, 1e-3), (10, -0.26, 1e-2)):
        assert rectangle_factor(aspect, 1.0) - 1 == pytest.approx(error, abs=digit / 2)
    assert PISTON / sqrt(pi) == pytest.approx(0.47890, abs=5e-6)


@pytest.mark.parametrize("sides", [3, 4, 5, 6, 8, 12])
def test_polygon(sides: int) -> None:
    # Exact: Rayleigh's integral over the polygon, worked out here by chords (0.3 % of quadrature error).
    corners = np.exp(2j * pi * np.arange(sides) / sides)
    area = sides / 2 * np.sin(2 * pi / sides)
    exact = piston_by_chords(corners) / (PISTON * sqrt(area / pi))
    assert polygon_factor(sides) == pytest.approx(exact, abs=1.2e-3)


# Independent: 2 int (J1(t)/t)^2 J0(t d/a) dt [Rayleigh1896].
@pytest.mark.parametrize(
    ("distance", "expected"),
    [(2, 0.2722), (2.5, 0.2096), (3, 0.1719), (4, 0.1271), (6, 0.0839), (10, 0.0501)],
)
def test_neighbour(distance: float, expected: float) -> None:
    assert neighbour_m(1.0, distance) == pytest.approx(expected, abs=6e-5)
    assert neighbour_m(0.03, 0.03 * distance) == pytest.approx(0.03 * expected, abs=0.03 * 6e-5)
    integral, _ = quad(lambda t: 2.0 * (jv(1, t) / t) ** 2 * jv(0, t * distance), 1e-9, 400.0, limit=4000)
    assert neighbour_m(1.0, distance) == pytest.approx(integral, abs=5e-6)


def test_a_row_of_vents() -> None:
    # Independent: each of two gains the figure above; of four, three pairs at d, two at 2 d and one at 3 d, each
    # counted for both.
    assert neighbours_m(1.0, 3.0, 2) == pytest.approx(0.1719, abs=6e-5)
    pairs = 3 * 0.2722 + 2 * 0.1271 + 0.0839
    assert neighbours_m(1.0, 2.0, 4) == pytest.approx(2 * pairs / 4, abs=2e-4)
    # Exact: a single vent has no neighbour.
    assert neighbours_m(1.0, 3.0, 1) == 0.0


def test_neighbour_far_off_and_overlapping() -> None:
    # Exact: a^2/(2 d) far apart; mouths cannot come closer than 2 a.
    assert neighbour_m(1.0, 500.0) == pytest.approx(1.0 / 1000.0, rel=1e-4)
    assert neighbour_m(1.0, 0.5) == neighbour_m(1.0, 2.0)


def test_side_wall() -> None:
    # Exact: mirror image. Independent: +0.272 a where the mouth touches the wall; a^2/(4 s) far off.
    assert side_wall_m(1.0, 1.0) == pytest.approx(0.2722, abs=6e-5)
    assert side_wall_m(1.0, 300.0) == pytest.approx(1.0 / 1200.0, rel=1e-4)


def test_flare() -> None:
    # Exact: no flare is a flanged end; the slices are summed here a second way.
    assert flare_m(0.03, 0.0) == pytest.approx(FLANGED * 0.03, rel=1e-12)
    a, r = 0.03, 0.02
    slices, _ = quad(lambda z: a**2 / (a + r - sqrt(r**2 - z**2)) ** 2, 0.0, r)
    assert flare_m(a, r) == pytest.approx(slices + FLANGED * a**2 / (a + r), rel=1e-6)
    # Exact: a flare lets the air spread sooner, so it counts for less than a straight, flanged end as long.
    assert flare_m(a, r) < r + FLANGED * a
