"""Two cabinets fitted together: the model itself, and the difference against virtual cabinets."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.invented_box import INVENTED_24_L as DESIGN

from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.mates import ALIKE, Mates, fit_mates
from sealtune.analysis.parameters import VENTED, Packing
from sealtune.physics.vented_box import VentedBox
from sealtune.records.curve import ImpedanceCurve
from sealtune.virtual.cabinet import Losses, cabinet_from_design
from sealtune.virtual.enclosure import VirtualCabinet

Reals = NDArray[np.float64]

BOX = VentedBox(
    re_ohm=5.6, coil_ohm=0.5, coil_exponent=0.7, coil_h=1e-4, coil_shunt_s=0.02, res_ohm=55.0, ws_rad_s=280.0,
    qms=4.2, creep=0.08, alpha=1.1, wb_rad_s=270.0, leakage=1 / 22, friction=1 / 45, plain_share=0.15,
    absorption=1 / 50, volume_m3=0.02, duct_share=0.02,
)  # fmt: skip


def mates() -> tuple[Mates, Reals]:
    curve = ImpedanceCurve(np.geomspace(10.0, 300.0, 40), np.ones(40, dtype=np.complex128), np.full(40, 0.01))
    circuit = Circuit((View.of("open", curve),), Packing(VENTED, BOX))
    both = Mates(circuit, circuit, np.array([ALIKE.get(name, 0.0) for name in VENTED]))
    other = replace(BOX, wb_rad_s=275.0, leakage=1 / 12, qms=4.6)
    return both, both.joined(circuit.pack(BOX), circuit.pack(other))


def test_derivatives_are_those_of_small_steps() -> None:
    # exact: differences over small steps
    both, vector = mates()
    slopes = both.evaluate(vector)[1]
    for place in range(vector.size):
        step = np.zeros(vector.size)
        step[place] = 1e-6
        by_steps = (both.evaluate(vector + step)[0] - both.evaluate(vector - step)[0]) / 2e-6
        assert np.abs(slopes[:, place] - by_steps).max() < 1e-6 * max(1.0, float(np.abs(by_steps).max()))


def test_what_is_known_of_mean_and_difference_is_what_is_known_of_each() -> None:
    # exact: of two quantities with variance T and covariance T - D the mean has T - D/2 and the difference 2 D; where
    # nothing is taken to be alike, D is T
    both, _ = mates()
    weight = both.prior()[1]
    single = both.left.prior()[1]
    size = len(VENTED)
    for place, name in enumerate(VENTED):
        if single[place] == 0.0:
            assert weight[place] == weight[size + place] == 0.0
            continue
        total = 1.0 / single[place] ** 2
        own = ALIKE[name] ** 2 if name in ALIKE else total
        assert 1.0 / weight[place] ** 2 == pytest.approx(total - 0.5 * own)
        assert 1.0 / weight[size + place] ** 2 == pytest.approx(2.0 * own)
    assert {"leakage", "wb_rad_s", "ws_rad_s", "alpha"} & set(ALIKE) == set()


def measured(cabinet: VirtualCabinet, seed: int) -> ImpedanceCurve:
    rng = np.random.default_rng(seed)
    hz = np.geomspace(6.0, 600.0, 400)
    noise = 0.01 * (rng.normal(size=hz.size) + 1j * rng.normal(size=hz.size))
    return ImpedanceCurve(hz, cabinet.impedance(hz) + noise, np.full(hz.size, 0.01))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_difference_is_known_better_than_either_and_holds_the_truth(seed: int) -> None:
    # independent: the virtual cabinets' own physics; within three standard deviations, and a systematic 0.01 %
    built = [
        cabinet_from_design(DESIGN, np.random.default_rng([seed, n]), scatter=0.5, losses=Losses(leakage_q=q))
        for n, q in enumerate((25.0, 21.0))
    ]
    curves = [measured(each, 10 * seed + n) for n, each in enumerate(built)]
    marks = [find_landmarks(each) for each in curves]
    found = fit_mates((curves[0], curves[1]), (marks[0], marks[1]), DESIGN)
    assert found is not None
    truths = [each.truth() for each in built]
    assert truths[0].tuning_hz is not None
    assert truths[1].tuning_hz is not None
    assert truths[0].box_q is not None
    assert truths[1].box_q is not None
    difference, spread = (found.left - found.right)[:2], np.sqrt(np.diag(found.covariance))[:2]
    true = np.log([truths[0].tuning_hz / truths[1].tuning_hz, truths[0].box_q / truths[1].box_q])
    assert abs(true[1]) > 0.03
    assert abs(difference[0] - true[0]) < 3.0 * spread[0] + 1e-4
    assert abs(difference[1] - true[1]) < 3.0 * spread[1] + 2e-3
    fits = [fit_vented_box(curve, mark, DESIGN) for curve, mark in zip(curves, marks, strict=True)]
    for fit in fits:
        assert fit is not None
        assert spread[0] < 0.5 * np.sqrt(fit.log_covariance[0, 0])
        assert spread[1] < 0.5 * np.sqrt(fit.log_covariance[1, 1])


def test_cabinets_that_are_not_alike_are_not_fitted_together() -> None:
    # one has ten times the creep of the other and a smooth vent against a rough one: no mates
    built = [
        cabinet_from_design(
            DESIGN, np.random.default_rng(1), losses=Losses(creep=creep, vent_loss_factor=drag)
        )
        for creep, drag in ((0.02, 1.0), (0.2, 6.0))
    ]
    curves = [measured(each, n) for n, each in enumerate(built)]
    marks = [find_landmarks(each) for each in curves]
    assert fit_mates((curves[0], curves[1]), (marks[0], marks[1]), DESIGN) is None
