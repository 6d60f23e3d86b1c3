"""The fitted circuit against the ladder it stands for, and its derivatives against Cauchy's integral."""

from dataclasses import replace
from math import exp

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from sealtune.analysis.circuit import Circuit
from sealtune.analysis.parameters import COMMON, SLIT, VENTED, Packing, coordinate, quantity
from sealtune.physics.vented_box import VentedBox, impedance, slit_factor
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover

Complexes = NDArray[np.complex128]

FREQUENCY_HZ = np.geomspace(4.0, 900.0, 60)
S: Complexes = np.asarray(2j * np.pi * FREQUENCY_HZ, dtype=np.complex128)

LEAKING = VentedBox(
    re_ohm=5.6, coil_ohm=1.9, coil_exponent=0.68, res_ohm=52.0, ws_rad_s=2 * np.pi * 46.0, qms=4.6, creep=0.11,
    alpha=1.2, wb_rad_s=2 * np.pi * 43.0, leakage=1 / 18, friction=1 / 45, absorption=1 / 60, slit_ratio=0.3,
    slit_time_s=8e-3, coil_h=2e-4, volume_m3=0.06, coil_shunt_s=0.08,
)  # fmt: skip
TIGHT = replace(LEAKING, slit_ratio=0.0)
CREEPLESS = replace(LEAKING, creep=0.0)
NARROW = replace(LEAKING, slit_time_s=2e-6)
CROSSOVERS = [
    None,
    Crossover(series_h=1.2e-3, series_ohm=0.4, shunt_f=22e-6, shunt_ohm=1.0),
    Crossover(series_ohm=2.0),
    Crossover(series_h=0.5e-3, shunt_ohm=30.0),
]


def _ladder(quantities: dict[str, complex]) -> Complexes:
    """The impedance written out once more, for complex values of the quantities."""
    q = quantities
    ws, wb = q["ws_rad_s"], q["wb_rad_s"]
    sound = -(S**2) * q["volume_m3"] / (2.0 * np.pi * 343.99**3)
    y = S / (1.0 + S * q["absorption"] / wb) + wb * q["leakage"]
    y = y + wb**2 / (S + q["friction"] * np.sqrt(2.0 * S * wb) + wb**2 * sound)
    if "slit_ratio" in q:
        k = np.sqrt(S * q["slit_time_s"])
        y = y + wb**2 * q["slit_ratio"] * (1.0 - np.tanh(k) / k) / S
    creep = 1.0 - q["creep"] * np.log10(S / ws)
    d = 1.0 + q["qms"] * (S / ws + ws / (S * creep) + q["alpha"] * ws * (sound + 1.0 / y))
    lossy = q["coil_ohm"] * (S / (2.0 * np.pi * 200.0)) ** q["coil_exponent"]
    coil = 1.0 / (1.0 / lossy + q["coil_shunt_s"]) + S * q["coil_h"]
    return np.asarray(q["re_ohm"] + coil + q["res_ohm"] / d, dtype=np.complex128)


def _through(z: Complexes, crossover: Crossover | None) -> Complexes:
    """What stands between the terminals and the driver, as a branch beside it and one before it."""
    if crossover is None:
        return z
    if crossover.shunt_f is not None:
        branch = (crossover.shunt_ohm or 0.0) + 1.0 / (S * crossover.shunt_f)
        z = z * branch / (z + branch)
    elif crossover.shunt_ohm is not None:
        z = z * crossover.shunt_ohm / (z + crossover.shunt_ohm)
    return np.asarray(crossover.series_ohm + S * crossover.series_h + z)


def _quantities(names: tuple[str, ...], vector: NDArray[np.complex128]) -> dict[str, complex]:
    """The complex continuation of the packing: logarithms, the logarithm of the odds, creep in units of 0.05."""
    values: dict[str, complex] = {}
    for name, position in zip(names, vector.tolist(), strict=True):
        if name == "creep":
            values[name] = 0.05 * position
        elif name == "coil_exponent":
            values[name] = 1.0 / (1.0 + np.exp(-position))
        else:
            values[name] = complex(np.exp(position))
    return values


def _names(box: VentedBox) -> tuple[str, ...]:
    return (*VENTED, *SLIT) if box.slit_ratio > 0.0 else VENTED


@pytest.mark.parametrize(
    "box", [LEAKING, TIGHT, CREEPLESS, NARROW], ids=["slit", "tight", "creepless", "narrow"]
)
@pytest.mark.parametrize("crossover", CROSSOVERS, ids=["none", "lowpass", "resistor", "coil"])
def test_circuit_is_the_ladder(box: VentedBox, crossover: Crossover | None) -> None:
    # exact: the same circuit written three times
    circuit = Circuit(S, Packing(_names(box), box), crossover)
    vector = circuit.pack(box)
    np.testing.assert_allclose(
        circuit.evaluate(vector)[0], _through(impedance(S, box), crossover), rtol=1e-12
    )
    written_out = _ladder(_quantities(_names(box), vector.astype(np.complex128)))
    # the formula as it stands loses digits where the slit is narrow: k^2/3 out of 1 - tanh(k)/k
    loss = 1e-8 if box is NARROW else 1e-11
    np.testing.assert_allclose(impedance(S, box), written_out, rtol=loss)


@pytest.mark.parametrize("box", [LEAKING, TIGHT, CREEPLESS], ids=["slit", "tight", "creepless"])
@pytest.mark.parametrize("crossover", CROSSOVERS, ids=["none", "lowpass", "resistor", "coil"])
def test_derivatives_are_those_of_cauchys_integral(box: VentedBox, crossover: Crossover | None) -> None:
    # exact: f'(x) is the mean of f(x + r e^it) e^-it / r over the circle; with 16 points the error is
    # (r / distance of the next pole)^16
    names = _names(box)
    slope_ohm = np.asarray(0.02 * impedance(S, box) ** 2 / 10.0)
    circuit = Circuit(S, Packing(names, box), crossover, slope_ohm)
    vector = np.append(circuit.packing.pack(box), 0.7)
    jacobian = circuit.evaluate(vector)[1]
    assert jacobian.shape == (S.size, len(names) + 1)
    radius, turns = 0.01, np.exp(2j * np.pi * np.arange(16) / 16)
    for column, name in enumerate(names):
        expected = np.zeros_like(S)
        for turn in turns:
            moved = vector[:-1].astype(np.complex128)
            moved[column] += radius * turn
            expected += _through(_ladder(_quantities(names, moved)), crossover) / turn / radius / turns.size
        largest = np.abs(expected).max()
        assert largest > 1e-4, name
        error = np.abs(jacobian[:, column] - expected)
        # the sum itself is good to a few units in the last place of Z over the radius
        floor = 4e-15 * np.abs(_through(impedance(S, box), crossover)) / radius
        assert np.all(error <= 1e-8 * np.abs(expected) + floor), name
    np.testing.assert_array_equal(jacobian[:, -1], slope_ohm)


def test_slit_factor_has_its_limits() -> None:
    # exact: k^2/3 for slow flow, 1 - 1/k for fast
    slow, fast = np.array([1e-7j]), np.array([1e7j])
    assert slit_factor(slow, 1.0)[0] == pytest.approx(slow[0] / 3.0, rel=1e-6)
    assert slit_factor(fast, 1.0)[0] == pytest.approx(1.0 - 1.0 / np.sqrt(fast[0]), rel=1e-12)


def test_gain_error_moves_the_curve_along_its_slope() -> None:
    slope_ohm = np.asarray((1.0 + 2.0j) * np.arange(1.0, S.size + 1.0))
    curve = ImpedanceCurve(
        FREQUENCY_HZ, impedance(S, TIGHT), np.full(S.size, 0.01), jig_slopes_ohm=slope_ohm[None, :]
    )
    circuit = Circuit.on(curve, Packing(VENTED, TIGHT), None)
    vector = circuit.pack(TIGHT)
    vector[-1] = -0.5
    np.testing.assert_allclose(
        circuit.evaluate(vector)[0] - curve.impedance_ohm, -0.5 * slope_ohm, atol=1e-11
    )
    mean, weight = circuit.prior()
    assert mean.size == weight.size == vector.size
    assert (mean[-1], weight[-1]) == (0.0, 1.0)  # exact: one standard deviation of the gain is one unit
    assert circuit.unpack(vector) == circuit.packing.unpack(vector[:-1])


def test_closed_box_is_the_driver_alone() -> None:
    # exact: with alpha 0 the box's load is gone; R_E + R_ES at resonance without coil and creep
    alone = replace(TIGHT, alpha=0.0, creep=0.0, coil_ohm=1e-12, coil_h=1e-15)
    circuit = Circuit(np.array([1j * alone.ws_rad_s]), Packing(COMMON, alone))
    z, jacobian = circuit.evaluate(circuit.pack(alone))
    assert z[0] == pytest.approx(5.6 + 52.0, rel=1e-9)
    assert jacobian.shape == (1, len(COMMON))
    assert jacobian[0, COMMON.index("res_ohm")] == pytest.approx(52.0, rel=1e-9)


positive = st.floats(min_value=1e-7, max_value=1e4)
boxes = st.builds(
    VentedBox, re_ohm=positive, coil_ohm=positive, coil_exponent=st.floats(min_value=0.01, max_value=0.99),
    res_ohm=positive, ws_rad_s=positive, qms=positive, creep=st.floats(min_value=0.0, max_value=0.3),
    alpha=positive, wb_rad_s=positive, leakage=positive, friction=positive, absorption=positive,
    slit_ratio=positive, slit_time_s=positive, coil_h=positive, volume_m3=positive, coil_shunt_s=positive,
)  # fmt: skip


@given(boxes)
def test_packing_there_and_back(box: VentedBox) -> None:
    packing = Packing((*VENTED, *SLIT), LEAKING)
    vector = packing.pack(box)
    assert vector.shape == (17,)
    back = packing.unpack(vector)
    for name in VentedBox.__dataclass_fields__:
        assert getattr(back, name) == pytest.approx(getattr(box, name), rel=1e-12, abs=1e-300), name
    np.testing.assert_allclose(packing.pack(back), vector, rtol=1e-11, atol=1e-11)


@given(boxes)
def test_what_is_not_packed_stays_fixed(box: VentedBox) -> None:
    packing = Packing(COMMON, LEAKING)
    back = packing.unpack(packing.pack(box))
    for name in VentedBox.__dataclass_fields__:
        source = box if name in COMMON else LEAKING
        assert getattr(back, name) == pytest.approx(getattr(source, name), rel=1e-12, abs=1e-300), name


@given(st.sampled_from((*VENTED, *SLIT)), st.floats(min_value=-5.0, max_value=5.0))
def test_coordinates_rise_with_their_quantity(name: str, position: float) -> None:
    value = quantity(name, position)
    assert coordinate(name, value) == pytest.approx(position, abs=1e-9)
    assert quantity(name, position + 0.1) > value
    if name == "coil_exponent":
        assert 0.0 < value < 1.0
    elif name != "creep":
        assert value == pytest.approx(exp(position), rel=1e-12)


def test_prior_knowledge_is_of_the_same_quantities() -> None:
    packing = Packing((*VENTED, *SLIT), LEAKING)
    mean, weight = packing.prior()
    assert mean.shape == weight.shape == (17,)
    assert np.all(weight >= 0.0)
    at_mean = packing.unpack(mean)
    assert at_mean.volume_m3 == pytest.approx(LEAKING.volume_m3)
    assert 0.0 < at_mean.creep < 0.2  # published: 0.05 to 0.2 on real drivers [Knudsen1993], from memory
    assert 5.0 < 1.0 / at_mean.leakage < 20.0  # published: Q_L 5 to 20 [Small1973], from memory
    # what the curve alone decides has no prior
    for name in ("re_ohm", "res_ohm", "ws_rad_s", "wb_rad_s"):
        assert weight[packing.names.index(name)] == 0.0
