"""The ladder of the vented box against a nodal solve in physical units, and its tuning against root finding."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import brentq

from sealtune.physics.vented_box import VentedBox, box_admittance, impedance, tuning_and_q
from sealtune.records.recording import Role
from sealtune.virtual.circuit import Network
from sealtune.virtual.duct import Air, hole_impedance, slit_impedance

FREQUENCY_HZ = np.geomspace(4.0, 900.0, 400)
AIR = Air()
SPEED_M_S = 343.99
"""Speed of sound of the air that the ladder assumes for the radiated sound, m/s."""

# a driver in a box in physical units
RE_OHM, COIL_OHM, COIL_EXPONENT, COIL_H, COIL_SHUNT_OHM = 5.6, 1.9, 0.68, 2e-4, 11.0
BL_TM, MASS_KG, DAMPING_KG_S, COMPLIANCE_M_N, CONE_M2 = 7.1, 0.0142, 0.9, 8.4e-4, 0.0136
VOLUME_M3, VENT_M2, VENT_M = 0.018, 0.00212, 0.17
BOX_M3_PA = VOLUME_M3 / AIR.stiffness_pa
VENT_MASS = AIR.density_kg_m3 * VENT_M / VENT_M2
OMEGA_B = float(1.0 / np.sqrt(VENT_MASS * BOX_M3_PA))
OMEGA_S = float(1.0 / np.sqrt(MASS_KG * COMPLIANCE_M_N))

LADDER = VentedBox(
    re_ohm=RE_OHM, coil_ohm=COIL_OHM, coil_exponent=COIL_EXPONENT, coil_h=COIL_H,
    coil_shunt_s=1.0 / COIL_SHUNT_OHM,
    res_ohm=BL_TM**2 / DAMPING_KG_S, ws_rad_s=OMEGA_S, qms=OMEGA_S * MASS_KG / DAMPING_KG_S, creep=0.0,
    alpha=CONE_M2**2 * COMPLIANCE_M_N / BOX_M3_PA, wb_rad_s=OMEGA_B,
)  # fmt: skip


def _nodes(
    box: VentedBox, leak: NDArray[np.complex128] | None = None, role: Role = "open"
) -> NDArray[np.complex128]:
    """The same physics in volts, newtons and pascals; only losses, creep, radiated sound and what is different
    with the vent stopped or in free air come from `box`.

    leak: impedance of a leak, Pa s/m3
    """
    s = np.asarray(2j * np.pi * FREQUENCY_HZ, dtype=np.complex128)
    network = Network(s.size, ("coil", "cone", "box"))
    lossy = COIL_OHM * (s / (400.0 * np.pi)) ** COIL_EXPONENT
    coil = RE_OHM + lossy * COIL_SHUNT_OHM / (lossy + COIL_SHUNT_OHM) + s * COIL_H
    network.transformer("coil", "cone", BL_TM, np.asarray(1.0 / coil, dtype=np.complex128))
    # a small source in a wall radiates into a half space: rho w^2 / (2 pi c), with rho c^2 the air's stiffness
    sound = np.zeros(s.size)
    if box.volume_m3 > 0.0:
        sound = AIR.stiffness_pa * (2.0 * np.pi * FREQUENCY_HZ) ** 2 / (2.0 * np.pi * SPEED_M_S**3)
    softening = 1.0 - box.creep * np.log10(s / OMEGA_S)
    suspension = DAMPING_KG_S + 1.0 / (s * COMPLIANCE_M_N * softening)
    if role == "free-air":
        # less air moves with the cone, so that its resonance is higher
        network.connect("cone", "ground", suspension + s * MASS_KG / box.air_load**2)
        network.connect("box", "ground", np.ones(s.size, dtype=np.complex128))
        return network.impedance_at("coil")
    network.connect("cone", "ground", suspension + s * MASS_KG + sound * CONE_M2**2)
    network.gyrator("cone", "box", CONE_M2)
    reactance = 1.0 / (OMEGA_B * BOX_M3_PA)  # of vent and air spring at the tuning, Pa s/m3
    network.connect("box", "ground", 1.0 / (1.0 / (s * BOX_M3_PA) + reactance * box.absorption))
    network.connect("box", "ground", box.leakage / reactance)
    # friction of a viscous boundary layer: resistance and reactance alike, growing with sqrt(w)
    drag = box.friction * (1.0 - box.plain_share)
    layer = (1.0 + 1.0j) * drag * reactance * np.sqrt(2.0 * np.pi * FREQUENCY_HZ / OMEGA_B)
    plain = box.friction * box.plain_share * reactance
    # the air in the duct: all of it a spring behind a bung; of an open duct a third, cot x = 1/x - x/3 (exact)
    duct = s * BOX_M3_PA * box.duct_share / (1.0 if role == "plugged" else 3.0)
    absorbed = (
        1.0 + s * BOX_M3_PA * reactance * box.absorption
    )  # it shares the resistance of the air beside it
    network.connect("box", "ground", duct / absorbed)
    if role != "plugged":
        network.connect("box", "ground", 1.0 / (s * VENT_MASS + layer + plain + sound))
    if box.panel_ratio > 0.0:
        spring = box.panel_ratio * BOX_M3_PA
        mass = 1.0 / (box.panel_rad_s**2 * spring)
        drag = box.panel_rad_s * mass * box.panel_loss
        network.connect("box", "ground", 1.0 / (1.0 / (s * spring) + drag + s * mass))
    if leak is not None:
        network.connect("box", "ground", 1.0 / leak)
    return network.impedance_at("coil")


@pytest.mark.parametrize(
    "losses",
    [
        {},
        {"leakage": 1 / 7},
        {"absorption": 1 / 20},
        {"friction": 1 / 15},
        {"friction": 1 / 15, "plain_share": 1.0},
        {"duct_share": 0.1},
        {"creep": 0.15},
        {"panel_ratio": 0.01, "panel_rad_s": 1100.0, "panel_loss": 0.05},
        {"volume_m3": VOLUME_M3},
        {"leakage": 1 / 9, "absorption": 1 / 40, "friction": 1 / 30, "creep": 0.1, "volume_m3": VOLUME_M3},
    ],
    ids=[
        "lossless",
        "leakage",
        "absorption",
        "friction",
        "resistance",
        "duct",
        "creep",
        "panel",
        "sound",
        "all",
    ],
)
def test_ladder_agrees_with_the_nodes(losses: dict[str, Any]) -> None:
    # independent: a nodal solve in physical units, which knows neither y(s) nor any Q
    box = replace(LADDER, **losses)
    z = impedance(2j * np.pi * FREQUENCY_HZ, box)
    np.testing.assert_allclose(z, _nodes(box), rtol=1e-10)
    if losses:  # each of them is felt, so that a missing one would not pass
        assert np.abs(z / impedance(2j * np.pi * FREQUENCY_HZ, LADDER) - 1.0).max() > 0.01


@pytest.mark.parametrize("gap_m", [0.1e-3, 0.5e-3, 1.5e-3])
def test_slit_agrees_with_the_nodes(gap_m: float) -> None:
    # independent: slit 18 mm deep and 60 mm wide from its dimensions, by another implementation
    depth_m, width_m = 0.018, 0.06
    inertance = AIR.density_kg_m3 * depth_m / (width_m * gap_m)
    time_s = gap_m**2 * AIR.density_kg_m3 / (4.0 * AIR.viscosity_pa_s)
    box = replace(LADDER, leakage=1 / 12, leak_ratio=VENT_MASS / inertance, leak_time_s=time_s)
    z = impedance(2j * np.pi * FREQUENCY_HZ, box)
    leak = slit_impedance(FREQUENCY_HZ, gap_m, width_m, depth_m, AIR)
    np.testing.assert_allclose(z, _nodes(box, leak), rtol=1e-9)
    assert np.abs(z / impedance(2j * np.pi * FREQUENCY_HZ, replace(box, leak_ratio=0.0)) - 1.0).max() > 1e-3


@pytest.mark.parametrize("role", ["open", "plugged"])
@pytest.mark.parametrize("radius_m", [0.5e-3, 1.5e-3, 5e-3])
def test_hole_agrees_with_the_nodes(radius_m: float, role: Role) -> None:
    # independent: ten holes 18 mm deep from their dimensions, by another implementation
    depth_m, count = 0.018, 10
    inertance = AIR.density_kg_m3 * depth_m / (np.pi * radius_m**2) / count
    time_s = radius_m**2 * AIR.density_kg_m3 / AIR.viscosity_pa_s
    box = replace(
        LADDER, leakage=1 / 30, leak_ratio=VENT_MASS / inertance, leak_time_s=time_s, leak_shape="hole"
    )
    z = impedance(2j * np.pi * FREQUENCY_HZ, box, role)
    leak = hole_impedance(FREQUENCY_HZ, radius_m, depth_m, AIR) / count
    np.testing.assert_allclose(z, _nodes(box, leak, role), rtol=1e-9)
    tight = impedance(2j * np.pi * FREQUENCY_HZ, replace(box, leak_ratio=0.0), role)
    assert np.abs(z / tight - 1.0).max() > 0.01


@pytest.mark.parametrize(
    "different",
    [
        {},
        {"duct_share": 0.03},
        {"leakage": 1 / 9, "creep": 0.1, "volume_m3": VOLUME_M3, "duct_share": 0.05},
        {"friction": 1 / 4.5, "plain_share": 0.5},
    ],
    ids=["lossless", "duct", "lossy", "vent"],
)
def test_stopped_vent_agrees_with_the_nodes(different: dict[str, Any]) -> None:
    # independent: no vent, and its duct's air as a volume more
    box = replace(LADDER, **different)
    z = impedance(2j * np.pi * FREQUENCY_HZ, box, "plugged")
    np.testing.assert_allclose(z, _nodes(box, role="plugged"), rtol=1e-10)
    plain = impedance(2j * np.pi * FREQUENCY_HZ, LADDER, "plugged")
    if set(different) <= {"friction", "plain_share"}:  # exact: what is stopped has no friction
        np.testing.assert_array_equal(z, plain)
    else:
        assert np.abs(z / plain - 1.0).max() > 0.01
    assert np.abs(z / impedance(2j * np.pi * FREQUENCY_HZ, box) - 1.0).max() > 0.1


@pytest.mark.parametrize("air_load", [1.0, 1.05])
def test_driver_in_free_air_agrees_with_the_nodes(air_load: float) -> None:
    # independent: the driver's own nodes without a box
    box = replace(LADDER, leakage=1 / 9, creep=0.1, air_load=air_load)
    z = impedance(2j * np.pi * FREQUENCY_HZ, box, "free-air")
    np.testing.assert_allclose(z, _nodes(box, role="free-air"), rtol=1e-10)
    # exact: the same as a driver with no box at all, but for the air
    if air_load == 1.0:
        np.testing.assert_array_equal(z, impedance(2j * np.pi * FREQUENCY_HZ, replace(box, alpha=0.0)))


fractions = st.floats(min_value=0.0, max_value=0.25)


@given(
    st.builds(
        replace, st.just(LADDER), leakage=fractions, friction=fractions, absorption=fractions,
        leak_ratio=st.floats(min_value=0.0, max_value=2.0), leak_time_s=st.floats(min_value=1e-5, max_value=0.1),
        leak_shape=st.sampled_from(["slit", "hole"]), plain_share=st.floats(min_value=0.0, max_value=1.0),
        duct_share=st.floats(min_value=0.0, max_value=0.1),
        volume_m3=st.floats(min_value=0.0, max_value=0.1),
    )
)  # fmt: skip
@settings(max_examples=60)
def test_tuning_is_the_root(box: VentedBox) -> None:
    # independent: Brent's method between a third and three times w_B
    def susceptance(w: float) -> float:
        return float(box_admittance(np.array([1j * w]), box)[0].imag)

    root = brentq(susceptance, OMEGA_B / 3.0, OMEGA_B * 3.0, xtol=1e-9, rtol=1e-14)
    hz, q = tuning_and_q(box)
    assert hz == pytest.approx(root / (2.0 * np.pi), rel=1e-9)
    conductance = float(box_admittance(1j * root, box).real)
    assert 1.0 / q == pytest.approx(conductance / root, rel=1e-8, abs=1e-12)


@pytest.mark.parametrize(("ratio", "time_s"), [(8.0, 2e-2), (27.0, 5e-3), (60.0, 5e-3)])
def test_tuning_of_a_box_that_is_more_open_beside_its_vent(ratio: float, time_s: float) -> None:
    # independent: Brent's method above w_B; far below lies another root, where the leak's air rests on its friction
    box = replace(LADDER, leakage=0.1, leak_ratio=ratio, leak_time_s=time_s, volume_m3=0.03)

    def susceptance(w: float) -> float:
        return float(box_admittance(np.array([1j * w]), box)[0].imag)

    root = brentq(susceptance, OMEGA_B, 8.0 * OMEGA_B, xtol=1e-9, rtol=1e-14)
    assert tuning_and_q(box)[0] == pytest.approx(root / (2.0 * np.pi), rel=1e-9)


@given(ql=st.floats(min_value=2.0, max_value=300.0))
def test_leakage_alone_is_the_q_and_moves_nothing(ql: float) -> None:
    # exact: a resistance in parallel leaves the reactances as they are
    hz, q = tuning_and_q(replace(LADDER, leakage=1.0 / ql))
    assert hz == pytest.approx(OMEGA_B / (2.0 * np.pi), rel=1e-9)
    assert q == pytest.approx(ql, rel=1e-9)


@given(
    ql=st.floats(min_value=10.0, max_value=500.0),
    qp=st.floats(min_value=10.0, max_value=500.0),
    qr=st.floats(min_value=10.0, max_value=500.0),
    qa=st.floats(min_value=10.0, max_value=500.0),
)
def test_losses_add_up(ql: float, qp: float, qr: float, qa: float) -> None:
    # published: 1/Q = 1/Q_L + 1/Q_A + 1/Q_P [Small1973], which holds to first order of the losses
    total = 1.0 / ql + 1.0 / qp + 1.0 / qr + 1.0 / qa
    losses: dict[str, Any] = {
        "leakage": 1.0 / ql,
        "friction": 1.0 / qp + 1.0 / qr,
        "plain_share": qp / (qp + qr),
        "absorption": 1.0 / qa,
    }
    hz, q = tuning_and_q(replace(LADDER, **losses))
    assert 1.0 / q == pytest.approx(total, rel=2.0 * total)
    # exact to first order: a boundary layer's reactance equals its resistance and lowers the tuning by 1/(2 Q_P)
    assert hz * 2.0 * np.pi / OMEGA_B == pytest.approx(1.0 - 0.5 / qp, abs=total**2)


def test_closed_box_has_no_tuning() -> None:
    with pytest.raises(ValueError, match="closed box"):
        box_admittance(np.array([1j]), replace(LADDER, wb_rad_s=0.0))
