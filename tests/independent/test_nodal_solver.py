"""The nodal solver against closed forms worked out by hand."""

import numpy as np
import pytest

from sealtune.virtual.circuit import Network

FREQUENCY_HZ = np.geomspace(2.0, 2000.0, 301)
S = 2j * np.pi * FREQUENCY_HZ


def test_divider_of_two_resistors() -> None:
    network = Network(1, ("in", "middle"))
    network.connect("in", "middle", 1.0 / 3.0)
    network.connect("middle", "ground", 1.0 / 5.0)
    potentials = network.potentials("in")
    # exact: 1 A through 3 ohm and 5 ohm
    assert potentials["in"][0] == pytest.approx(8.0, rel=1e-14)
    assert potentials["middle"][0] == pytest.approx(5.0, rel=1e-14)


def test_bridge_needs_the_whole_matrix() -> None:
    # a Wheatstone bridge of 1, 2, 3 and 4 ohm with 5 ohm across it
    network = Network(1, ("top", "left", "right"))
    network.connect("top", "left", 1.0)
    network.connect("top", "right", 1.0 / 2.0)
    network.connect("left", "ground", 1.0 / 3.0)
    network.connect("right", "ground", 1.0 / 4.0)
    network.connect("left", "right", 1.0 / 5.0)
    # exact, star-delta: the delta 1-2-5 becomes a star with arms 2/8, 5/8, 10/8 ohm;
    # then 2/8 + (5/8 + 3) parallel (10/8 + 4)
    expected = 2 / 8 + (5 / 8 + 3) * (10 / 8 + 4) / (5 / 8 + 3 + 10 / 8 + 4)
    assert network.impedance_at("top")[0] == pytest.approx(expected, rel=1e-14)


def test_gyrator_turns_a_capacitance_into_an_inductance() -> None:
    network = Network(S.size, ("one", "two"))
    network.gyrator("one", "two", 0.02)
    network.connect("two", "ground", S * 1e-6)
    # exact: Z = Y / g^2
    np.testing.assert_allclose(network.impedance_at("one"), S * 1e-6 / 0.02**2, rtol=1e-13)


def test_gyrator_loses_no_power() -> None:
    network = Network(1, ("one", "two"))
    network.gyrator("one", "two", 0.3)
    network.connect("two", "ground", 2.0)
    potentials = network.potentials("one")
    # exact: power in, 1 x V1, is the power in the load, 2 V2^2
    assert potentials["one"][0].real == pytest.approx(2.0 * abs(potentials["two"][0]) ** 2, rel=1e-14)
    assert potentials["one"][0].real == pytest.approx(2.0 / 0.3**2, rel=1e-14)


def test_transformer_behind_a_series_impedance() -> None:
    network = Network(S.size, ("coil", "cone"))
    blocked, load, ratio = 6.0 + S * 1e-3, 1.2 + S * 0.02 + 1.0 / (S * 8e-4), 7.0
    network.transformer("coil", "cone", ratio, 1.0 / blocked)
    network.connect("cone", "ground", load)
    # exact: Z = Z_blocked + (Bl)^2 / Z_mechanical
    np.testing.assert_allclose(network.impedance_at("coil"), blocked + ratio**2 / load, rtol=1e-12)


def test_lossless_line_between_nodes() -> None:
    angle, admittance = 0.7, 0.02
    network = Network(1, ("near", "far"))
    same = np.array([-1j * admittance / np.tan(angle)])
    across = np.array([1j * admittance / np.sin(angle)])
    network.two_port("near", "far", same, across)
    # exact: an open line shows -j Z0 cot(angle)
    assert network.impedance_at("near")[0] == pytest.approx(-1j / admittance / np.tan(angle), rel=1e-13)


@pytest.mark.parametrize("creep", [0.0, 0.15])
@pytest.mark.parametrize("vent_q", [30.0, 80.0])
def test_a_vented_box_is_the_textbook_ladder(creep: float, vent_q: float) -> None:
    # exact: physical circuit in SI units against the ladder in Thiele and Small's symbols [Small1973],
    # with the creep of [Knudsen1993]; no quantity is shared but the definitions
    re, omega_s, qes, qms, alpha = 6.0, 2 * np.pi * 40.0, 0.4, 4.0, 1.5
    omega_b, leakage_q, absorption_q = 2 * np.pi * 46.0, 12.0, 60.0
    area, mass = 0.02, 0.025
    compliance = 1.0 / (omega_s**2 * mass)
    damping = omega_s * mass / qms
    bl = np.sqrt(omega_s * mass * re / qes)
    air = area**2 * compliance / alpha
    vent_mass = 1.0 / (omega_b**2 * air)
    coil = 0.02 * S**0.6
    c = 1.0 - creep * np.log10(S / omega_s)

    network = Network(S.size, ("coil", "cone", "box", "spring", "mouth"))
    network.transformer("coil", "cone", bl, 1.0 / (re + coil))
    network.connect("cone", "ground", damping + S * mass + 1.0 / (S * compliance * c))
    network.gyrator("cone", "box", area)
    network.connect("box", "spring", S * air)
    network.connect("spring", "ground", omega_b * air * absorption_q)
    network.connect("box", "ground", omega_b * air / leakage_q)
    network.connect("box", "mouth", 1.0 / (S * vent_mass))
    network.connect("mouth", "ground", vent_q * omega_b * air)

    y = S / (1 + S / (omega_b * absorption_q)) + omega_b / leakage_q + omega_b**2 / (S + omega_b / vent_q)
    motion = 1 + qms * (S / omega_s + omega_s / S / c) + alpha * omega_s * qms / y
    ladder = re + coil + re * qms / qes / motion
    np.testing.assert_allclose(network.impedance_at("coil"), ladder, rtol=1e-10)
