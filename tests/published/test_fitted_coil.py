"""The coil that is fitted, at the two published models between which it lies."""

from math import pi

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.textbook import lr2, semi_inductor

from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.parameters import Packing
from sealtune.physics.vented_box import REFERENCE_RAD_S, VentedBox, impedance

RE_OHM = 5.0
S = np.asarray(2j * np.geomspace(pi, pi * 1e4, 40), dtype=np.complex128)
AT_1_KHZ = np.array([2j * pi * 1000.0])


def _box(coil_ohm: float, coil_exponent: float, coil_shunt_s: float = 0.0, coil_h: float = 0.0) -> VentedBox:
    """A coil that hardly moves."""
    return VentedBox(
        re_ohm=RE_OHM, coil_ohm=coil_ohm, coil_exponent=coil_exponent, coil_shunt_s=coil_shunt_s, coil_h=coil_h,
        res_ohm=1e-13, ws_rad_s=250.0, qms=4.0, creep=0.0, alpha=0.0, wb_rad_s=250.0,
    )  # fmt: skip


def _coil(s: NDArray[np.complex128], box: VentedBox) -> NDArray[np.complex128]:
    return np.asarray(impedance(s, box) - RE_OHM)


LEACH = _box(0.02 * REFERENCE_RAD_S**0.7, 0.7)
LR2 = _box(0.5e-3 * REFERENCE_RAD_S, 1.0, 1.0 / 2.0, 0.3e-3)


def test_semi_inductor() -> None:
    # form published [Leach2002]; figures independent: K 0.02, n 0.7 at 1 kHz, and the resistor and coil side by side
    z = _coil(AT_1_KHZ, LEACH)[0]
    assert z == pytest.approx(4.13812 + 8.12151j, abs=1e-5)
    admittance = 1.0 / z
    assert 1.0 / admittance.real == pytest.approx(20.0775, abs=6e-5)
    assert -1.0 / (admittance.imag * AT_1_KHZ[0].imag) == pytest.approx(1.62815e-3, abs=6e-9)
    # exact, at every frequency
    np.testing.assert_allclose(_coil(S, LEACH), semi_inductor(S, 0.02, 0.7), rtol=1e-12)


def test_eddy_currents_alone() -> None:
    # published: K sqrt(j w), a phase of 45 degrees at every frequency [Vanderkooy1989]
    z = _coil(S, _box(0.03 * np.sqrt(REFERENCE_RAD_S), 0.5))
    np.testing.assert_allclose(np.degrees(np.angle(z)), 45.0, rtol=1e-9)
    np.testing.assert_allclose(np.abs(z), 0.03 * np.sqrt(np.abs(S)), rtol=1e-9)


def test_coil_before_a_bridged_coil() -> None:
    # form published [Leach2002]; figures independent: 0.3 mH, 0.5 mH beside 2 ohm at 1 kHz
    assert _coil(AT_1_KHZ, LR2)[0] == pytest.approx(1.42320 + 2.79099j, abs=1e-5)
    # exact, at every frequency
    np.testing.assert_allclose(_coil(S, LR2), lr2(S, 0.3e-3, 0.5e-3, 2.0), rtol=1e-11)


@pytest.mark.parametrize("short", [1e-2, 1e-4, 1e-6])
def test_fit_reaches_the_bridged_coil_as_a_limit(short: float) -> None:
    # the fitted exponent lies below 1; what is missing falls with 1 - n, the factor being |ln(s / s_0)| < 5
    box = _box(LR2.coil_ohm, 1.0 - short, LR2.coil_shunt_s, LR2.coil_h)
    names = ("re_ohm", "coil_ohm", "coil_exponent", "coil_shunt_s", "coil_h")
    circuit = Circuit((View("open", S, np.zeros((0, S.size), dtype=np.complex128), {}),), Packing(names, box))
    z = circuit.evaluate(circuit.pack(box))[0] - RE_OHM
    off = np.abs(z / lr2(S, 0.3e-3, 0.5e-3, 2.0) - 1.0).max()
    assert 0.1 * short < off < 6.0 * short


def test_semi_inductor_beside_a_resistor() -> None:
    # topology published [Thorborg2011], without the plain coil beside the two: K sqrt(s) parallel to 30 ohm, after
    # 0.1 mH; exact: one over the sum of the admittances
    box = _box(0.05 * np.sqrt(REFERENCE_RAD_S), 0.5, 1.0 / 30.0, 0.1e-3)
    expected = 1.0 / (1.0 / (0.05 * np.sqrt(S)) + 1.0 / 30.0) + S * 0.1e-3
    np.testing.assert_allclose(_coil(S, box), expected, rtol=1e-11)
