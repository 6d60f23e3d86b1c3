"""Leaks against published limits and independent figures."""

from math import pi

import numpy as np
import pytest
from scipy.special import jv

from sealtune.physics.air import Air
from sealtune.physics.end_correction import FLANGED
from sealtune.physics.leak import hole_impedance, slit_impedance
from sealtune.physics.vent import viscous_layer_m

# Dry air at 20 degrees, 101325 Pa: the values with which the figures below were worked out.
AIR = Air(density_kg_m3=1.2046, speed_m_s=343.2, viscosity_pa_s=1.8134e-5)
S = 2j * pi * 40.0


def leak_q(impedance: complex) -> float:
    """Leakage Q of a box of 50 L at 40 Hz: w C_AB over the leak's conductance, Re(1/Z) [Small1973]."""
    return 2.0 * pi * 40.0 * 0.05 / AIR.bulk_modulus_pa / (1.0 / impedance).real


def test_slit_at_40_hz() -> None:
    # Independent evaluation of the exact viscous slit [Crandall1926]: 18 mm deep, 50 x 0.2 mm.
    assert complex(slit_impedance(0.0, 0.018, 0.05, 0.0002, AIR)) == pytest.approx(9.7924e6, rel=1e-5)
    z = complex(slit_impedance(S, 0.018, 0.05, 0.0002, AIR))
    assert z.real == pytest.approx(9.7929e6, rel=1e-5)
    assert z.imag == pytest.approx(6.539e5, rel=1e-4)


def test_hole_at_40_hz() -> None:
    # Independent evaluation of the exact viscous hole [Crandall1926]: radius 0.5 mm, 18 mm deep.
    assert complex(hole_impedance(0.0, 0.018, 0.0005, AIR)) == pytest.approx(1.3299e7, rel=1e-4)
    z = complex(hole_impedance(S, 0.018, 0.0005, AIR))
    assert z.real == pytest.approx(1.3496e7, rel=1e-4)
    assert z.imag == pytest.approx(9.224e6, rel=1e-4)


def test_viscous_layer() -> None:
    # Independent: sqrt(2 mu/(rho w)) = 0.3461 mm at 40 Hz.
    assert viscous_layer_m(40.0, AIR) == pytest.approx(0.3461e-3, rel=2e-4)


def test_slow_flow_limits() -> None:
    # Published: R = 12 mu L/(w h^3), M = (6/5) rho L/(w h); R = 8 mu L/(pi r^4), M = (4/3) rho L/(pi r^2)
    # [Beranek1954], [Poiseuille1846].
    omega = 1e-3
    slit = complex(slit_impedance(1j * omega, 0.018, 0.05, 0.0002, AIR))
    hole = complex(hole_impedance(1j * omega, 0.018, 0.0005, AIR))
    assert slit.real == pytest.approx(12 * 1.8134e-5 * 0.018 / (0.05 * 0.0002**3), rel=1e-9)
    assert slit.imag / omega == pytest.approx(1.2 * 1.2046 * 0.018 / (0.05 * 0.0002), rel=1e-6)
    assert hole.real == pytest.approx(8 * 1.8134e-5 * 0.018 / (pi * 0.0005**4), rel=1e-9)
    assert hole.imag / omega == pytest.approx(4 / 3 * 1.2046 * 0.018 / (pi * 0.0005**2), rel=1e-6)


def test_direct_flow() -> None:
    # Exact: at s = 0 the impedance is the resistance to slow flow [Beranek1954], [Poiseuille1846].
    assert complex(slit_impedance(0.0, 0.018, 0.05, 0.0002, AIR)) == pytest.approx(
        12 * 1.8134e-5 * 0.018 / (0.05 * 0.0002**3), rel=1e-14
    )
    assert complex(hole_impedance(0.0, 0.018, 0.0005, AIR)) == pytest.approx(
        8 * 1.8134e-5 * 0.018 / (pi * 0.0005**4), rel=1e-14
    )


def test_wide_opening_is_a_plain_mass_with_a_wall_layer() -> None:
    # Exact: j w rho L/S [1 + (P/S)(delta/2)(1 - j)] for an opening wide against the viscous layer.
    layer = viscous_layer_m(40.0, AIR)
    for z, area, perimeter in (
        (complex(slit_impedance(S, 0.018, 3.0, 0.3, AIR)), 0.9, 6.0),
        (complex(hole_impedance(S, 0.018, 0.3, AIR)), pi * 0.09, 2 * pi * 0.3),
    ):
        wide = S * AIR.density_kg_m3 * 0.018 / area * (1 + perimeter / area * layer / 2 * (1 - 1j))
        assert z.imag == pytest.approx(wide.imag, rel=1e-5)
        assert z.real == pytest.approx(wide.real, rel=5e-3)


def test_against_the_textbook_form() -> None:
    # Published form: 1 - 2 J1(x)/(x J0(x)) with x = r sqrt(-j w rho/mu), and 1 - tanh(k)/k [Zwikker1949].
    # Exact: any complex s of the right half-plane, through every branch of the evaluation.
    for radius in (2e-4, 5e-4, 2e-3, 5e-3):
        s = np.array([0.3j, 2j, 20j, 250j, 2000j, 5 + 40j, 100.0])
        x = radius * np.sqrt(-s * AIR.density_kg_m3 / AIR.viscosity_pa_s)
        hole = s * AIR.density_kg_m3 * 0.01 / (pi * radius**2) / (1 - 2 * jv(1, x) / (x * jv(0, x)))
        np.testing.assert_allclose(hole_impedance(s, 0.01, radius, AIR), hole, rtol=1e-8)
        k = radius * np.sqrt(s * AIR.density_kg_m3 / AIR.viscosity_pa_s)
        slit = s * AIR.density_kg_m3 * 0.01 / (0.1 * 2 * radius) / (1 - np.tanh(k) / k)
        np.testing.assert_allclose(slit_impedance(s, 0.01, 0.1, 2 * radius, AIR), slit, rtol=1e-8)


def test_seams_of_the_evaluation() -> None:
    # Exact: the impedance is smooth, so where one expression takes over from another nothing may jump.
    for size in (0.1, 200.0):
        s = 1j * size**2 * AIR.viscosity_pa_s / AIR.density_kg_m3 / 0.002**2 * np.array([1 - 1e-9, 1 + 1e-9])
        for z in (hole_impedance(s, 0.01, 0.002, AIR), slit_impedance(s, 0.01, 0.1, 0.004, AIR)):
            assert abs(z[1] / z[0] - 1) < 5e-9


def test_no_overflow() -> None:
    # Exact: finite from a crack to a door, from one cycle an hour to ultrasound (any warning fails the test).
    s = 2j * pi * np.logspace(-4, 7, 45)
    for opening in (1e-6, 1e-3, 10.0):
        assert np.all(np.isfinite(slit_impedance(s, 0.018, 1.0, opening, AIR)))
        assert np.all(hole_impedance(s, 0.018, opening, AIR).real > 0)


def test_leakage_q() -> None:
    # Independent: a slit of 300 x 0.3 mm, 18 mm deep: 43.8 exact, 43 by slow flow.
    assert leak_q(complex(slit_impedance(S, 0.018, 0.3, 0.0003, AIR))) == pytest.approx(43.8, abs=0.1)
    assert leak_q(complex(slit_impedance(0.0, 0.018, 0.3, 0.0003, AIR))) == pytest.approx(43, abs=0.5)


def test_round_hole_is_a_small_vent_not_a_loss() -> None:
    # Independent: a hole of 2 mm radius, 18 mm deep: slow flow says Q_L 4.6, the exact conductance 243,
    # at a phase of 79 degrees.
    z = complex(hole_impedance(S, 0.018, 0.002, AIR))
    assert leak_q(complex(hole_impedance(0.0, 0.018, 0.002, AIR))) == pytest.approx(4.6, abs=0.05)
    assert leak_q(z) == pytest.approx(243, rel=0.005)
    assert np.degrees(np.angle(z)) == pytest.approx(79, abs=0.7)


def test_end_correction_is_a_mass() -> None:
    # Exact: s rho dl/S on top. Published: both sides of a thin orifice add pi a/2 = 1.5708 a, conductance 2 a
    # [Rayleigh1896]; two exact flanged ends add 1.6432 a, which is more.
    added = 1.5708 * 0.002
    assert 1.5708 < 2 * FLANGED == pytest.approx(1.6432, abs=1e-4)
    bare = complex(hole_impedance(S, 0.018, 0.002, AIR))
    with_ends = complex(hole_impedance(S, 0.018, 0.002, AIR, added))
    assert with_ends - bare == pytest.approx(S * 1.2046 * added / (pi * 0.002**2), rel=1e-9)
    assert complex(slit_impedance(S, 0.018, 0.05, 2e-4, AIR, 1e-4)).imag - complex(
        slit_impedance(S, 0.018, 0.05, 2e-4, AIR)
    ).imag == pytest.approx(abs(S) * 1.2046 * 1e-4 / (0.05 * 2e-4), rel=1e-6)


def test_shapes_of_arrays_are_kept() -> None:
    # Exact: element by element, whatever the shape.
    s = 1j * np.linspace(1.0, 600.0, 12).reshape(3, 4)
    z = slit_impedance(s, 0.018, 0.05, 0.0005, AIR)
    assert z.shape == (3, 4)
    alone = complex(slit_impedance(s[1, 2], 0.018, 0.05, 0.0005, AIR))
    assert complex(z[1, 2]) == pytest.approx(alone, rel=1e-14)
