"""Each loss by its own law, what is left where there is no loss, and what the textbooks' circuit leaves open."""

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.undetermined import undetermined

from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.identifiability import deviation_by_data, information
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.losses import loss_qs
from sealtune.analysis.parameters import Packing
from sealtune.analysis.search import Minimum, Points
from sealtune.physics.vented_box import LeakShape, VentedBox, tuning_and_q
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.fit import BoxFit
from sealtune.records.recording import Role
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.faults import with_slit
from sealtune.virtual.population import draw_cabinet, draw_design

FREQUENCY_HZ = np.geomspace(4.0, 1000.0, 500)
S = np.asarray(2j * np.pi * FREQUENCY_HZ, dtype=np.complex128)
LOSSLESS = VentedBox(
    re_ohm=5.6, coil_ohm=1.1, coil_exponent=0.68, coil_h=1.5e-4, coil_shunt_s=0.03, res_ohm=52.0,
    ws_rad_s=2 * np.pi * 46.0, qms=4.6, creep=0.0, alpha=1.2, wb_rad_s=2 * np.pi * 43.0, air_load=1.05,
)  # fmt: skip
NONE = 1e9
"""Q that stands for no loss."""

fractions = st.floats(min_value=0.0, max_value=0.2)


@given(
    st.builds(
        replace, st.just(LOSSLESS), leakage=fractions, friction=fractions, absorption=fractions,
        plain_share=st.floats(min_value=0.0, max_value=1.0), volume_m3=st.floats(min_value=0.0, max_value=0.1),
        duct_share=st.floats(min_value=0.0, max_value=0.1), leak_ratio=st.floats(min_value=0.0, max_value=1.0),
        leak_time_s=st.floats(min_value=1e-4, max_value=0.3), leak_shape=st.sampled_from(get_args(LeakShape)),
    )
)  # fmt: skip
@settings(max_examples=60)
def test_losses_add_up_to_that_of_the_box(box: VentedBox) -> None:
    # exact: each is a share of Re y at the tuning; what stands for none is no more than the floor of all three
    hz, q = tuning_and_q(box)
    assert float(np.sum(np.exp(-loss_qs(box)))) == pytest.approx(1.0 / q, rel=1e-7, abs=4.0 / NONE)
    assert hz > 0.0


@pytest.mark.parametrize("duct_share", [0.0, 0.09])
def test_each_loss_has_its_place_and_law(duct_share: float) -> None:
    # exact at the tuning w, x = w/w_B: leakage w/(w_B/Q_L); air (1 + d/3) s/(1 + j x/Q_A), whose real part is
    # w (1 + d/3) (x/Q_A)/(1 + (x/Q_A)^2); vent of constant law w_B^2/(jw + w_B/Q_P), likewise
    base = replace(LOSSLESS, duct_share=duct_share)
    leaking = replace(base, leakage=1 / 9)
    x = 2.0 * np.pi * tuning_and_q(leaking)[0] / base.wb_rad_s
    assert x == pytest.approx((1.0 + duct_share / 3.0) ** -0.5, rel=1e-9)
    np.testing.assert_allclose(np.exp(loss_qs(leaking)), [9.0 * x, NONE, NONE], rtol=1e-9)
    lined = replace(base, absorption=1 / 7)
    ratio = 2.0 * np.pi * tuning_and_q(lined)[0] / base.wb_rad_s / 7.0
    expected = (1.0 + ratio**2) / (ratio * (1.0 + duct_share / 3.0))
    np.testing.assert_allclose(np.exp(loss_qs(lined)), [NONE, NONE, expected], rtol=1e-9)
    rubbing = replace(base, friction=1 / 8, plain_share=1.0)
    x = 2.0 * np.pi * tuning_and_q(rubbing)[0] / base.wb_rad_s
    np.testing.assert_allclose(np.exp(loss_qs(rubbing)), [NONE, x * (x**2 + 1 / 64) * 8.0, NONE], rtol=1e-9)


def _fitted(seed: int, cabinet: VirtualCabinet, *, free_air: bool = True) -> BoxFit:
    """The fit of the curves of a cabinet of this draw, with noise of 0.1 %."""
    rng = np.random.default_rng(seed)
    design = draw_design(rng)
    curves: dict[Role, ImpedanceCurve] = {}
    for role in ("open", "plugged", "free-air"):
        z = cabinet.impedance(FREQUENCY_HZ, role)
        noise = np.random.default_rng([seed, len(role)])
        error = noise.standard_normal(z.size) + 1j * noise.standard_normal(z.size)
        curves[role] = ImpedanceCurve(FREQUENCY_HZ, z + 1e-3 * np.abs(z) * error, 1e-3 * np.abs(z))
    opened = curves.pop("open")
    if not free_air:
        del curves["free-air"]
    fit = fit_vented_box(opened, find_landmarks(opened), design, curves)
    assert fit is not None
    assert fit.ignored_roles == ()
    return fit


def _cabinet(seed: int) -> VirtualCabinet:
    rng = np.random.default_rng(seed)
    return draw_cabinet(draw_design(rng), rng)


@pytest.mark.parametrize("seed", [0, 2, 3, 5])
def test_box_without_leakage_is_told_so(seed: int) -> None:
    # independent: the cabinet has no leakage at all; a Q of 100 would be a well-sealed box (Q_L 5 to 20 in most
    # [Small1973], from memory)
    losses = _fitted(seed, replace(_cabinet(seed), leakage_pa_s_m3=None)).losses
    assert losses.leakage_q is None
    assert [name for name, _ in losses.none_found] == ["leakage"]
    assert losses.none_found[0][1] > 100.0
    assert losses.next_role is None


@pytest.mark.parametrize("seed", [0, 2, 3, 5])
def test_box_without_absorption_is_told_so(seed: int) -> None:
    cabinet = replace(_cabinet(seed), absorption_pa_s_m3=0.0)
    losses, truth = _fitted(seed, cabinet).losses, cabinet.truth()
    assert losses.absorption_q is None
    assert [name for name, _ in losses.none_found] == ["absorption"]
    assert losses.none_found[0][1] > 100.0
    assert losses.leakage_q is not None
    assert truth.leakage_q is not None
    assert losses.leakage_q.holds(truth.leakage_q)  # what is there is told all the same


@pytest.mark.parametrize("seed", [0, 3, 6, 11])
def test_stopped_vent_alone_may_tell_the_split(seed: int) -> None:
    # independent: the virtual cabinet's own admittance, part by part
    cabinet = _cabinet(seed)
    losses, truth = _fitted(seed, cabinet, free_air=False).losses, cabinet.truth()
    for found, true in (
        (losses.leakage_q, truth.leakage_q),
        (losses.vent_q, truth.vent_q),
        (losses.absorption_q, truth.absorption_q),
    ):
        assert found is not None
        assert true is not None
        assert found.holds(true)
        assert found.high < 2.0 * found.low  # a factor of two either way would show
    assert losses.next_role is None


@pytest.mark.parametrize("seed", [0, 2, 3, 5])
def test_gap_counts_as_leakage(seed: int) -> None:
    # exact: 1/Q of pores and gap together, from the virtual cabinet's own admittance
    cabinet = with_slit(_cabinet(seed), 1.0, 50.0, 15.0)
    losses, truth = _fitted(seed, cabinet).losses, cabinet.truth()
    assert losses.leakage_q is not None
    assert truth.leakage_q is not None
    assert truth.leak_q is not None
    both = 1.0 / (1.0 / truth.leakage_q + 1.0 / truth.leak_q)
    assert losses.leakage_q.holds(both)
    assert losses.leakage_q.high < 2.0 * losses.leakage_q.low


TEXTBOOK = replace(
    LOSSLESS, leakage=1 / 12, absorption=1 / 40, friction=1 / 30, plain_share=1.0, duct_share=0.05
)
NAMES = ("re_ohm", "res_ohm", "ws_rad_s", "qms", "alpha", "wb_rad_s", "leakage", "friction", "absorption")


def _explained(*roles: Role) -> tuple[Minimum[Circuit], Points]:
    """Curves of the textbooks' circuit with 0.02 ohm of noise, explained exactly."""
    nothing = np.zeros((0, S.size), dtype=np.complex128)
    circuit = Circuit(tuple(View(role, S, nothing, {}) for role in roles), Packing(NAMES, TEXTBOOK))
    vector = circuit.pack(TEXTBOOK)
    z, jacobian = circuit.evaluate(vector)
    starts = tuple(S.size * index for index in range(len(roles)))
    points = Points(np.tile(FREQUENCY_HZ, len(roles)), z, np.full(z.size, 0.02), starts)
    error = np.full(len(roles), 1e-7)
    return Minimum(circuit, vector, jacobian, np.zeros_like(z), error, 0.0, True), points


def _row(name: str) -> NDArray[np.float64]:
    return np.array([[float(each == name) for each in NAMES]])


def test_one_direction_of_the_textbooks_circuit_is_left_open() -> None:
    # exact: 8 quantities of 7 coefficients; the lost combination is that of the losses
    ((sharpness, names),) = undetermined(*_explained("open"))
    assert sharpness < 1e-3
    assert names == {"leakage", "friction", "absorption"}
    # exact: either further curve settles it
    assert undetermined(*_explained("open", "plugged")) == []
    assert undetermined(*_explained("open", "free-air")) == []


def test_curve_of_the_driver_alone_says_nothing_of_the_box() -> None:
    # exact: five quantities are of the box alone, and their information is nought
    directions = undetermined(*_explained("free-air"))
    boxes = {"alpha", "wb_rad_s", "leakage", "friction", "absorption"}
    assert sorted(directions, key=str) == sorted([(0.0, {name}) for name in boxes], key=str)


def test_what_data_alone_know_of_a_loss() -> None:
    # exact: along the lost combination the data know nothing, so that the deviation grows as 1/sqrt(trust); not so
    # for the driver's resonance, nor with a second curve, where it is that of the data to the last digit
    alone, both = _explained("open"), _explained("open", "plugged")
    for name in ("leakage", "friction", "absorption"):
        row = _row(name)
        loose, tight = (deviation_by_data(*alone, row, trust)[0] for trust in (1e-4, 1e-2))
        assert loose / tight == pytest.approx(10.0, rel=0.05), name
        known = float(np.sqrt(np.linalg.inv(information(*both))[NAMES.index(name), NAMES.index(name)]))
        assert deviation_by_data(*both, row, 1e-6)[0] == pytest.approx(known, rel=1e-3), name
        assert known < 0.05, name
    row = _row("ws_rad_s")
    loose, tight = (deviation_by_data(*alone, row, trust)[0] for trust in (1e-4, 1e-2))
    assert loose == pytest.approx(tight, rel=1e-3)
    # exact: the noise is 0.02 ohm of each part, information the sum of |slope|^2 over its square
    minimum, _ = alone
    by_re = float(np.sum(np.abs(minimum.jacobian[:, 0]) ** 2)) / 0.02**2
    assert information(*alone)[0, 0] == pytest.approx(by_re, rel=1e-6)
