"""What a microphone reads close to a piston, against the published figures."""

import numpy as np
import pytest
from scipy.integrate import dblquad

from sealtune.physics.near_field import (
    Openings,
    limit_hz,
    openings,
    reach_of_disc_m,
    reach_of_rectangle_m,
)
from sealtune.records.design import Box, Design, Driver, Vent

INCH_M = 0.0254


def disc_area(diameter_m: float) -> float:
    return np.pi * diameter_m**2 / 4.0


@pytest.mark.parametrize(
    ("diameter_in", "speed_m_s", "product"), [(8.0, 343.0, 4298.0), (8.0, 344.0, 4311.0)]
)
def test_limit_by_the_diameter_in_inches(diameter_in: float, speed_m_s: float, product: float) -> None:
    # [Keele1974]: f = 4311/D in inches (from memory); 4298 at 343 m/s computed
    found = limit_hz(disc_area(diameter_in * INCH_M), speed_m_s)
    assert found == pytest.approx(product / diameter_in, rel=3e-4)


@pytest.mark.parametrize(("speed_m_s", "product"), [(343.0, 10918.0), (344.0, 10950.0)])
def test_limit_by_the_diameter_in_centimetres(speed_m_s: float, product: float) -> None:
    # [Keele1974]: 10950/D in cm (from memory); 10918 at 343 m/s computed
    assert limit_hz(disc_area(0.2), speed_m_s) == pytest.approx(product / 20.0, rel=3e-4)


def weight_db(cone_m2: float, vent_m2: float, mouths: int = 1) -> float:
    areas = Openings(cone_m2, 1, vent_m2, mouths, reach_of_disc_m(vent_m2))
    return -20.0 * float(np.log10(areas.mouth_over_cone))


def test_weight_of_the_mouth() -> None:
    # [Keele1974]: sqrt(S_V/S_D); a_V/a_D = 0.5 is -6.02 dB, 50 cm2 beside 220 cm2 -6.43 dB (computed)
    assert weight_db(disc_area(0.2), disc_area(0.1)) == pytest.approx(-6.02, abs=0.005)
    assert weight_db(0.0220, 0.0050) == pytest.approx(-6.43, abs=0.005)


def test_several_openings_count() -> None:
    # Exact: two mouths with the same pressure in each move twice the air of one
    assert weight_db(0.022, 0.005, 2) == pytest.approx(weight_db(0.022, 0.005) + 6.0206, abs=1e-4)


def test_near_against_far() -> None:
    # [Keele1974], from memory: p_F/p_N = a/(2 r); a = 0.1 m and r = 1 m is -26.02 dB. Far away, in half space,
    # G is 1/r (exact)
    assert 20.0 * np.log10(1.0 / reach_of_disc_m(disc_area(0.2))) == pytest.approx(-26.02, abs=0.005)


@pytest.mark.parametrize(("width", "height"), [(0.1, 0.1), (0.2, 0.05), (0.3, 0.02)])
def test_middle_of_a_rectangle(width: float, height: float) -> None:
    # Independent: Rayleigh's integral over the face by quadrature, one quarter of it
    quarter, _ = dblquad(
        lambda y, x: 1.0 / np.hypot(x, y), 0.0, width / 2.0, 0.0, height / 2.0, epsabs=1e-9, epsrel=1e-7
    )
    assert reach_of_rectangle_m(width, height) == pytest.approx(4.0 * quarter / (width * height), rel=1e-4)


def test_a_square_is_almost_a_disc() -> None:
    # Exact: 4 asinh(1)/sqrt(pi)/2 = 0.9945 of the disc of equal area
    assert reach_of_rectangle_m(0.1, 0.1) / reach_of_disc_m(0.01) == pytest.approx(0.99452, abs=1e-4)


def test_openings_of_a_design() -> None:
    vent = Vent("rectangular", 0.006, 0.2, count=2, width_m=0.2, height_m=0.03)
    found = openings(Design("", Box(0.05), vent=vent, driver=Driver(sd_m2=0.02, count=2)))
    assert found is not None
    assert (found.cones, found.mouths) == (2, 2)
    assert found.mouth_reach_m == reach_of_rectangle_m(0.2, 0.03)
    assert openings(Design("", Box(0.05), vent=vent)) is None
