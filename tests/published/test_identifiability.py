"""What one open-vent curve cannot tell, however quiet: the exact singularity of the textbooks' circuit.

With losses of constant law [Small1973] the motional part is R_ES s N(s) / P(s), N of second and P of fourth degree:
3 + 5 coefficients, of which one only scales, so 7 are free. R_ES, w_S, Q_MS, alpha, w_B and three losses are 8
quantities: whatever the noise, one combination of them is left open. Without absorption there are 7.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.parameters import Packing
from sealtune.physics.vented_box import VentedBox, box_admittance, impedance, tuning_and_q
from sealtune.records.recording import Role

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

# no creep, no radiated sound, friction of constant law alone (plain_share 1); the coil is known
BOX = VentedBox(
    re_ohm=5.6, coil_ohm=1.1, coil_exponent=0.68, coil_h=1.5e-4, coil_shunt_s=0.03, res_ohm=52.0,
    ws_rad_s=2 * np.pi * 46.0, qms=4.6, creep=0.0, alpha=1.2, wb_rad_s=2 * np.pi * 43.0,
    leakage=1 / 12, absorption=1 / 40, friction=1 / 30, plain_share=1.0, duct_share=0.05, air_load=1.05,
)  # fmt: skip
OTHER = replace(
    BOX, res_ohm=31.0, ws_rad_s=2 * np.pi * 38.0, qms=7.0, alpha=2.4, wb_rad_s=2 * np.pi * 45.0,
    leakage=1 / 60, absorption=1 / 15, friction=1 / 90,
)  # fmt: skip
LOSSES = ("leakage", "friction", "absorption")
NAMES = ("re_ohm", "res_ohm", "ws_rad_s", "qms", "alpha", "wb_rad_s", *LOSSES)
FREQUENCY_HZ = np.geomspace(5.0, 500.0, 600)
S = np.asarray(2j * np.pi * FREQUENCY_HZ, dtype=np.complex128)
SIGMA_OHM = 0.02

SINGULAR, REGULAR = 1e-12, 1e-4
"""Smallest over largest singular value: rounding leaves 1e-17 to 1e-16; what is regular here has 1e-3 and more."""


def _circuit(box: VentedBox, roles: tuple[Role, ...], names: tuple[str, ...] = NAMES) -> Circuit:
    """Curves that share everything: what may differ from one take to the next is left out."""
    nothing = np.zeros((0, S.size), dtype=np.complex128)
    return Circuit(tuple(View(role, S, nothing, {}) for role in roles), Packing(names, box))


def _weighted(box: VentedBox, roles: tuple[Role, ...], names: tuple[str, ...] = NAMES) -> Reals:
    """Jacobian of real and imaginary parts over the noise."""
    circuit = _circuit(box, roles, names)
    jacobian = circuit.evaluate(circuit.pack(box))[1] / SIGMA_OHM
    return np.vstack([jacobian.real, jacobian.imag])


def _singular_values(box: VentedBox, roles: tuple[Role, ...], names: tuple[str, ...] = NAMES) -> Reals:
    """Over the largest, falling."""
    values = np.linalg.svd(_weighted(box, roles, names), compute_uv=False)
    return np.asarray(values / values[0])


boxes = pytest.mark.parametrize("box", [BOX, OTHER], ids=["box", "other"])


@boxes
def test_one_combination_is_lost(box: VentedBox) -> None:
    # exact: 8 quantities of 7 coefficients, R_E told by itself
    values = _singular_values(box, ("open",))
    assert values[-1] < SINGULAR
    assert values[-2] > REGULAR


@boxes
def test_what_is_lost_is_the_split_of_the_losses(box: VentedBox) -> None:
    # exact: what the cone feels is w_S/s + s/w_S + [1/Q_MS + alpha w_S/y], times Q_MS/R_ES; only the bracket can be
    # split differently, so R_ES moves with Q_MS and neither R_E nor w_S moves
    direction = dict(zip(NAMES, np.linalg.svd(_weighted(box, ("open",)))[2][-1].tolist(), strict=True))
    assert direction["re_ohm"] == pytest.approx(0.0, abs=1e-9)
    assert direction["ws_rad_s"] == pytest.approx(0.0, abs=1e-9)
    assert direction["res_ohm"] == pytest.approx(direction["qms"], abs=1e-9)
    for name in ("qms", *LOSSES):
        assert abs(direction[name]) > 0.02, name
    # leakage on one side, vent and absorption on the other
    assert direction["leakage"] * direction["absorption"] < 0.0
    assert direction["leakage"] * direction["friction"] < 0.0


@boxes
@pytest.mark.parametrize("left_out", ["qms", *LOSSES])
def test_without_one_of_the_four_it_is_regular(box: VentedBox, left_out: str) -> None:
    # exact: 7 quantities of 7 coefficients, whichever of those in the lost combination is known
    names = tuple(name for name in NAMES if name != left_out)
    assert _singular_values(box, ("open",), names)[-1] > REGULAR


@boxes
@pytest.mark.parametrize("second", ["plugged", "free-air"])
def test_second_curve_tells_the_losses_apart(box: VentedBox, second: Role) -> None:
    # exact: with the vent stopped there is no vent loss, in free air no box: more coefficients, no more quantities
    assert _singular_values(box, ("open", second))[-1] > REGULAR
    # either curve alone does not know all of them
    assert _singular_values(box, (second,))[-1] < SINGULAR
    # at 0.02 ohm each loss is known to a twentieth, even one of Q 60: regular in more than name
    jacobian = _weighted(box, ("open", second))
    deviation = np.sqrt(np.diag(np.linalg.inv(jacobian.T @ jacobian)))[-len(LOSSES) :]
    assert np.all(deviation < 0.05)


def test_creep_does_not_help() -> None:
    # exact: creep is in w_S/s alone, outside the bracket that can be split differently
    for names in (NAMES, (*NAMES, "creep")):
        values = _singular_values(replace(BOX, creep=0.1), ("open",), names)
        assert values[-1] < SINGULAR
        assert values[-2] > REGULAR


@pytest.mark.parametrize(
    "changed", [{"friction": 1 / 20, "plain_share": 2 / 3}, {"volume_m3": 0.02}], ids=["friction", "sound"]
)
def test_another_law_of_the_vent_helps_a_little(changed: dict[str, Any]) -> None:
    # friction that grows with the root of frequency, or radiated sound, is no rational function of second degree:
    # the matrix is regular, but a thousand times less so than with a second curve
    names = (*NAMES, "plain_share") if "plain_share" in changed else NAMES
    smallest = _singular_values(replace(BOX, **changed), ("open",), names)[-1]
    assert 1e-8 < smallest < 0.01 * _singular_values(BOX, ("open", "plugged"))[-1]


def _motional(s: Complexes, box: VentedBox) -> Complexes:
    """The motional part from its definition: R_ES over 1 + Q_MS (s/w_S + w_S/s) + alpha w_S Q_MS / y."""
    load = box.alpha * box.ws_rad_s * box.qms / box_admittance(s, box)
    return np.asarray(
        box.res_ohm / (1.0 + box.qms * (s / box.ws_rad_s + box.ws_rad_s / s) + load), dtype=np.complex128
    )


@boxes
def test_curve_has_seven_coefficients(box: VentedBox) -> None:
    # independent of the derivatives: Z P(s) = s N(s) is linear in its 8 coefficients; exactly one combination of them
    # is nought at all points, and none where P or N is a degree lower, so that 7 are free and no fewer
    x = np.asarray(S / (2j * np.pi * 45.0)).real  # w over a reference
    z = _motional(S, box)

    def smallest(degree_n: int, degree_p: int) -> Reals:
        columns = [(1j * x) ** (1 + power) for power in range(degree_n + 1)]
        columns += [-z * (1j * x) ** power for power in range(degree_p + 1)]
        matrix = np.column_stack(columns)
        matrix /= np.linalg.norm(matrix, axis=1)[:, None]
        both = np.vstack([matrix.real, matrix.imag])
        values = np.linalg.svd(both / np.linalg.norm(both, axis=0), compute_uv=False)
        return np.asarray(values[-2:] / values[0])

    full = smallest(2, 4)
    assert full[1] < SINGULAR < REGULAR < full[0]
    assert smallest(1, 4)[1] > REGULAR
    assert smallest(2, 3)[1] > REGULAR


def test_two_boxes_with_one_curve() -> None:
    # independent of the matrix: a driver of another Q_MS finds a box that makes the same curve, to rounding
    driver = replace(BOX, qms=0.96 * BOX.qms)
    circuit = _circuit(driver, ("open",), tuple(name for name in NAMES if name != "qms"))
    z = impedance(S, BOX)

    def residual(vector: Reals) -> Reals:
        off = (circuit.evaluate(vector)[0] - z) / SIGMA_OHM
        return np.concatenate([off.real, off.imag])

    def slope(vector: Reals) -> Reals:
        by = circuit.evaluate(vector)[1] / SIGMA_OHM
        return np.vstack([by.real, by.imag])

    found = least_squares(residual, circuit.pack(BOX), jac=slope, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    twin = circuit.unpack(np.asarray(found.x))
    # by the ladder itself, far below any noise, also between and beyond the points
    s = 2j * np.pi * np.geomspace(1.0, 2000.0, 999)
    np.testing.assert_allclose(impedance(s, twin), impedance(s, BOX), rtol=1e-11)
    # and yet it is another box: a tenth to a third more or less of each loss
    assert twin.leakage / BOX.leakage > 1.1
    assert twin.friction / BOX.friction < 0.85
    assert twin.absorption / BOX.absorption < 0.75
    # exact: what the bracket does not hold is the same
    assert twin.re_ohm == pytest.approx(BOX.re_ohm, rel=1e-9)
    assert twin.ws_rad_s == pytest.approx(BOX.ws_rad_s, rel=1e-9)
    assert twin.res_ohm / twin.qms == pytest.approx(BOX.res_ohm / BOX.qms, rel=1e-9)
    # exact: alpha w_S/y changes by a real constant, so that Im y = 0 stays where it was: the tuning is told, and the
    # total box Q but for the second order of the losses
    (hz, q), (twin_hz, twin_q) = tuning_and_q(BOX), tuning_and_q(twin)
    assert twin_hz == pytest.approx(hz, rel=1e-11)
    assert twin_q == pytest.approx(q, rel=1e-4)
    # the curve with the vent stopped tells the two apart, many times the noise
    apart = np.abs(impedance(S, twin, "plugged") - impedance(S, BOX, "plugged"))
    assert apart.max() > 5.0 * SIGMA_OHM
