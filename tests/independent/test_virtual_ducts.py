"""The virtual cabinet's ducts against exact limits, published figures and another Bessel function."""

import numpy as np
import pytest
from scipy.special import jv

from sealtune.virtual.duct import (
    Air,
    hole_impedance,
    line_parameters,
    mass_impedance,
    orifice_impedance,
    radiation_resistance,
    rectangle_end_m,
    round_profile,
    slit_impedance,
)
from sealtune.virtual.parts import Hole, Slit

AIR = Air()
RHO, MU = AIR.density_kg_m3, AIR.viscosity_pa_s


def test_round_profile_is_the_bessel_quotient() -> None:
    size = np.concatenate([np.geomspace(0.05, 39.9, 200), np.geomspace(40.1, 500.0, 50)])
    z = size * np.exp(0.25j * np.pi)
    x = -1j * z
    # independent: scipy's Bessel functions, I1(z)/I0(z) = -j J1(jz)/J0(jz), x = z/j
    np.testing.assert_allclose(round_profile(z), 2 * jv(1, x) / (x * jv(0, x)), rtol=2e-8)


def test_slit_at_low_frequency() -> None:
    z = slit_impedance(np.array([0.01]), 2e-4, 0.05, 0.018, AIR)[0]
    # exact limit: 12 mu L/(w h^3) and (6/5) rho L/(w h)
    assert z.real == pytest.approx(12 * MU * 0.018 / (0.05 * 2e-4**3), rel=1e-6)
    assert z.imag / (2 * np.pi * 0.01) == pytest.approx(1.2 * RHO * 0.018 / (0.05 * 2e-4), rel=1e-4)


def test_hole_at_low_frequency() -> None:
    z = hole_impedance(np.array([0.01]), 5e-4, 0.018, AIR)[0]
    # exact limit: 8 mu L/(pi r^4) and (4/3) rho L/(pi r^2)
    assert z.real == pytest.approx(8 * MU * 0.018 / (np.pi * 5e-4**4), rel=1e-5)
    assert z.imag / (2 * np.pi * 0.01) == pytest.approx(4 / 3 * RHO * 0.018 / (np.pi * 5e-4**2), rel=1e-4)


def test_slit_and_hole_in_the_middle() -> None:
    air = Air(density_kg_m3=1.2046)
    # independent: computed with mu 1.8134e-5, rho 1.2046 at 40 Hz, before this program was written
    slit = slit_impedance(np.array([40.0]), 2e-4, 0.05, 0.018, air)[0]
    hole = hole_impedance(np.array([40.0]), 5e-4, 0.018, air)[0]
    assert slit == pytest.approx(9.7929e6 + 6.539e5j, rel=1e-4)
    assert hole == pytest.approx(1.3496e7 + 9.224e6j, rel=1e-4)


def test_wide_duct_drags_by_its_boundary_layer() -> None:
    frequency_hz = np.array([40.0, 160.0])
    z = hole_impedance(frequency_hz, 0.03, 0.15, AIR)
    quality = z.imag / z.real
    layer = np.sqrt(2 * MU / (RHO * 2 * np.pi * frequency_hz))
    # exact limit: Q = radius / layer for layer << radius (correction of second order 2 %)
    assert quality == pytest.approx(0.03 / layer, rel=0.03)
    # exact limit: friction grows with the square root of frequency, so Q doubles over two octaves
    assert quality[1] / quality[0] == pytest.approx(2.0, rel=0.03)


@pytest.mark.parametrize(
    # exact: Rayleigh's integral, evaluated by quadrature: end over root of area for an aspect ratio
    ("aspect", "expected"),
    [(1.0, 0.47320), (2.0, 0.45976), (5.0, 0.40821), (20.0, 0.29933)],
)
def test_rectangular_mouth(aspect: float, expected: float) -> None:
    a = 0.03
    assert rectangle_end_m(a, a * aspect) / (a * np.sqrt(aspect)) == pytest.approx(expected, abs=1e-5)
    assert rectangle_end_m(a, a * aspect) == pytest.approx(rectangle_end_m(a * aspect, a), rel=1e-12)


def test_short_line_is_a_mass_and_a_spring() -> None:
    frequency_hz = np.array([20.0])
    air = Air(viscosity_pa_s=1e-12)
    same, across = line_parameters(frequency_hz, 0.003, 0.03, 0.1, 1.0, air)
    omega = 2 * np.pi * 20.0
    # exact limits of a lossless line: closed end, the volume's compliance; open end, the air's mass
    closed = same - across**2 / same
    assert closed[0].imag == pytest.approx(omega * 0.003 * 0.1 / air.stiffness_pa, rel=1e-3)
    assert (1 / same)[0].imag == pytest.approx(omega * RHO * 0.1 / 0.003, rel=1e-3)


def test_line_resonates_like_a_half_wave() -> None:
    air = Air(viscosity_pa_s=1e-12)
    length_m = 0.2
    frequency_hz = np.linspace(800.0, 920.0, 1201)
    same, _ = line_parameters(frequency_hz, 0.003, 0.03, length_m, 1.0, air)
    # exact: a lossless line open at both ends is a half wave long at c / (2 L)
    crossing = frequency_hz[np.argmin(np.abs(1 / same))]
    assert crossing == pytest.approx(air.sound_speed_m_s / (2 * length_m), abs=0.1)


def test_line_losses_are_the_same_with_and_without_the_wave() -> None:
    frequency_hz = np.array([30.0])
    same, _ = line_parameters(frequency_hz, np.pi * 0.02**2, 0.02, 0.05, 1.0, AIR)
    # exact limit: a duct much shorter than the wave is the viscous hole
    assert (1 / same)[0] == pytest.approx(hole_impedance(frequency_hz, 0.02, 0.05, AIR)[0], rel=1e-3)


def test_orifice_adds_its_conductance_and_an_open_one_nothing() -> None:
    frequency_hz = np.array([40.0])
    air = Air(viscosity_pa_s=1e-12)
    # exact: a small hole in a thin plate has the conductance 2 a [Rayleigh1896]: rho / (2 a) of mass
    small = orifice_impedance(frequency_hz, 1e-3, 1.0, 1e-9, air)[0]
    assert small.imag / (2 * np.pi * 40.0) == pytest.approx(RHO / 2e-3, rel=0.01)
    clear = orifice_impedance(frequency_hz, 0.03, 0.03, 1e-9, air)[0]
    assert abs(clear.imag) < 0.02 * 2 * np.pi * 40.0 * RHO / 0.06


def test_radiation_resistance() -> None:
    value = radiation_resistance(np.array([50.0]), 0.003, True, AIR)[0]
    # exact limit for small ka: rho omega^2 / (2 pi c) into a half space, half as much into the whole
    expected = RHO * (2 * np.pi * 50.0) ** 2 / (2 * np.pi * AIR.sound_speed_m_s)
    assert value == pytest.approx(expected, rel=1e-3)
    free = radiation_resistance(np.array([50.0]), 0.003, False, AIR)[0]
    assert free == pytest.approx(expected / 2, rel=1e-3)


def test_leaks_with_their_mouths_at_low_frequency() -> None:
    frequency_hz = np.array([0.01])
    slit = 1 / Slit(5e-4, 0.05, 0.015).admittance(frequency_hz, AIR)[0]
    # exact limit: drag of the duct alone, mass of 6/5 of the duct and of both mouths
    ends = 2 * rectangle_end_m(5e-4, 0.05)
    assert slit.real == pytest.approx(12 * MU * 0.015 / (0.05 * 5e-4**3), rel=1e-6)
    assert slit.imag / (2 * np.pi * 0.01) == pytest.approx(RHO * (1.2 * 0.015 + ends) / 2.5e-5, rel=1e-4)
    hole = 1 / Hole(4e-3, 0.015).admittance(frequency_hz, AIR)[0]
    # exact limit: 8 mu L / pi r^4, and 2 x 0.8216 r [Dalmont2001] for the mouths
    assert hole.real == pytest.approx(8 * MU * 0.015 / (np.pi * 2e-3**4), rel=1e-4)
    mass = RHO * (4 / 3 * 0.015 + 2 * 0.8216 * 2e-3) / (np.pi * 2e-3**2)
    assert hole.imag / (2 * np.pi * 0.01) == pytest.approx(mass, rel=1e-3)
    assert mass_impedance(frequency_hz, 0.1, 0.01, AIR)[0].imag == pytest.approx(2 * np.pi * 0.01 * RHO * 10)
