"""The split of the box's loss: told only where the curves determine it, and true then."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from tests.undetermined import undetermined

from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.intervals import covariance
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.losses import loss_qs, next_role
from sealtune.analysis.parameters import VENTED, Packing
from sealtune.analysis.profile import profile
from sealtune.analysis.search import Minimum, Points, search
from sealtune.physics.vented_box import VentedBox, impedance, tuning_and_q
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.recording import Role
from sealtune.virtual.enclosure import Truth
from sealtune.virtual.population import draw_cabinet, draw_design

HZ = np.geomspace(4.0, 1000.0, 700)
S = np.asarray(2j * np.pi * HZ)
BOX = VentedBox(
    re_ohm=5.6, coil_ohm=0.8, coil_exponent=0.7, res_ohm=52.0, ws_rad_s=2 * np.pi * 46.0, qms=4.6, creep=0.1,
    alpha=1.2, wb_rad_s=2 * np.pi * 43.0, leakage=1 / 15, friction=1 / 55, plain_share=0.2, absorption=1 / 40,
    coil_h=1e-4, coil_shunt_s=0.01, volume_m3=0.02, duct_share=0.03, leak_ratio=0.2, leak_time_s=8e-3,
)  # fmt: skip
SEEDS = (20260, 20263, 20266, 20268)


def test_the_three_losses_are_the_whole() -> None:
    # exact: Re y is a sum, so that 1/Q is one too, a leaking slit counted with the leakage
    for box in (BOX, replace(BOX, leak_ratio=0.0), replace(BOX, leak_shape="hole", leak_time_s=0.5)):
        assert np.sum(np.exp(-loss_qs(box))) == pytest.approx(1.0 / tuning_and_q(box)[1], rel=1e-6)


def test_each_loss_is_its_own() -> None:
    # published: 1/Q_B = 1/Q_L + 1/Q_A + 1/Q_P at w_B [Small1973], to first order in the losses
    plain = replace(BOX, leak_ratio=0.0, plain_share=1.0, volume_m3=0.0, duct_share=0.0)
    found = np.exp(loss_qs(plain))
    np.testing.assert_allclose(found, [15.0, 55.0, 40.0], rtol=0.02)
    leaky = np.exp(loss_qs(replace(plain, leakage=2 / 15)))
    np.testing.assert_allclose(leaky / found, [0.5, 1.0, 1.0], rtol=0.01)


@dataclass(frozen=True)
class Made:
    """Fits of one cabinet to its open curve alone and to all three, and the truth."""

    alone: BoxFit
    joint: BoxFit
    truth: Truth


@cache
def made(seed: int) -> Made:
    rng = np.random.default_rng(seed)
    design = draw_design(rng)
    cabinet = draw_cabinet(design, rng, leak_chance=0.5)
    curves: dict[Role, ImpedanceCurve] = {}
    for role in ("open", "plugged", "free-air"):
        z = cabinet.impedance(HZ, role)
        sigma = 1e-3 * np.abs(z)
        error = sigma * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
        curves[role] = ImpedanceCurve(HZ, z + error, sigma)
    marks = find_landmarks(curves["open"])
    alone = fit_vented_box(curves["open"], marks, design)
    joint = fit_vented_box(
        curves["open"], marks, design, {"plugged": curves["plugged"], "free-air": curves["free-air"]}
    )
    assert alone is not None
    assert joint is not None
    return Made(alone, joint, cabinet.truth())


@pytest.mark.parametrize("seed", SEEDS)
def test_open_curve_alone_tells_no_split(seed: int) -> None:
    # exact: one combination of the four losses has no effect on the open curve
    losses = made(seed).alone.losses
    assert (losses.leakage_q, losses.vent_q, losses.absorption_q) == (None, None, None)
    assert losses.next_role == "plugged"


@pytest.mark.parametrize("seed", SEEDS)
def test_three_curves_tell_the_split(seed: int) -> None:
    # independent: the virtual cabinet's own admittance, part by part
    case = made(seed)
    assert case.joint.roles == ("open", "plugged", "free-air")
    truth, losses = case.truth, case.joint.losses
    leakage = sum(1.0 / q for q in (truth.leakage_q, truth.leak_q) if q is not None)
    for found, true in (
        (losses.leakage_q, 1.0 / leakage),
        (losses.vent_q, truth.vent_q),
        (losses.absorption_q, truth.absorption_q),
    ):
        assert isinstance(found, Interval)
        assert true is not None
        assert found.holds(true)
        assert found.value == pytest.approx(true, rel=0.3)
    told = [q.value for q in (losses.leakage_q, losses.vent_q, losses.absorption_q) if q is not None]
    assert sum(1.0 / q for q in told) == pytest.approx(1.0 / case.joint.box_q.value, rel=0.03)


def test_what_to_measure_next() -> None:
    assert next_role(("open",)) == "plugged"
    assert next_role(("open", "plugged")) == "free-air"
    assert next_role(("open", "free-air")) == "plugged"
    assert next_role(("open", "plugged", "free-air")) is None


def _minimum(roles: tuple[Role, ...], noise: float) -> tuple[Minimum[Circuit], Points]:
    rng = np.random.default_rng(7)
    box = replace(BOX, leak_ratio=0.0, air_load=1.04)
    curves = []
    for role in roles:
        z = impedance(S, box, role)
        sigma = noise * np.abs(z)
        error = sigma * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
        curves.append(ImpedanceCurve(HZ, z + error, sigma))
    points = Points.of(curves)
    names = (*VENTED, "duct_share") if "plugged" in roles else VENTED
    views = tuple(View.of(role, curve) for role, curve in zip(roles, curves, strict=True))
    circuit = Circuit(views, Packing(names, box))
    found = search(points, circuit, circuit.pack(box), np.full(len(roles), 1e-4))
    assert found is not None
    return found, points


def test_undetermined_directions_name_the_losses() -> None:
    one, points = _minimum(("open",), 1e-2)
    directions = undetermined(one, points)
    named = {name for _, names in directions for name in names}
    assert {"friction", "plain_share", "absorption"} <= named
    assert all(0.0 <= sharpness < 1.0 for sharpness, _ in directions)
    assert not named & {"wb_rad_s", "ws_rad_s", "re_ohm"}
    assert directions[0][0] < 0.1  # next to nothing is told along the worst of them
    both, more = _minimum(("open", "plugged"), 1e-2)
    assert len(undetermined(both, more)) < len(directions)


def test_profile_of_a_well_known_quantity_is_the_normal_interval() -> None:
    # exact in the limit of small noise: the profile is a parabola, which rises by 3.84 at 1.96 deviations [Wilks1938]
    minimum, points = _minimum(("open", "plugged"), 1e-3)
    row = minimum.model.names.index("leakage")
    deviation = float(np.sqrt(covariance(minimum, points)[row, row]))
    assert deviation < 0.2
    found = profile(minimum, points, "leakage", 1.0, deviation)
    assert found.low is not None
    assert found.high is not None
    assert (found.high - minimum.vector[row]) / deviation == pytest.approx(1.96, rel=0.2)
    assert (minimum.vector[row] - found.low) / deviation == pytest.approx(1.96, rel=0.3)
    # half the information, bounds further out by the root of two
    wider = profile(minimum, points, "leakage", 0.5, deviation)
    assert wider.low is not None
    assert wider.high is not None
    assert (wider.high - wider.low) / (found.high - found.low) == pytest.approx(np.sqrt(2.0), rel=0.15)


def test_profile_is_open_where_there_is_no_loss() -> None:
    # a loss far too small to be seen: nothing tells it from none, and it certainly is not large
    rng = np.random.default_rng(3)
    box = replace(BOX, leak_ratio=0.0, absorption=1e-4)
    curves = []
    for role in ("open", "plugged"):
        z = impedance(S, box, role)
        sigma = 3e-3 * np.abs(z)
        error = sigma * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
        curves.append(ImpedanceCurve(HZ, z + error, sigma))
    points = Points.of(curves)
    views = (View.of("open", curves[0]), View.of("plugged", curves[1]))
    circuit = Circuit(views, Packing((*VENTED, "duct_share"), box))
    minimum = search(points, circuit, circuit.pack(replace(box, absorption=1e-2)), np.full(2, 1e-4))
    assert minimum is not None
    found = profile(minimum, points, "absorption", 1.0, 1.0)
    assert found.low is None
    assert found.high is not None
    assert 1e-4 < np.exp(found.high) < 0.1
