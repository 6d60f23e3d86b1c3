"""The search: from a rough start to the minimum, and the model error that it finds."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sealtune.analysis.parameters import VENTED, Packing
from sealtune.analysis.search import residual_model_error, search, weighted_cost
from sealtune.physics.vented_box import VentedBox, impedance, tuning_and_q
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover

FREQUENCY_HZ = np.geomspace(8.0, 400.0, 300)
S = np.asarray(2j * np.pi * FREQUENCY_HZ)
BOX = VentedBox(
    re_ohm=5.6, coil_ohm=0.8, coil_exponent=0.7, res_ohm=52.0, ws_rad_s=2 * np.pi * 46.0, qms=4.6, creep=0.1,
    alpha=1.2, wb_rad_s=2 * np.pi * 43.0, leakage=1 / 15, friction=1 / 60, absorption=1 / 50, coil_h=1e-4,
    volume_m3=0.02, coil_shunt_s=0.01,
)  # fmt: skip
ROUGH = replace(
    BOX,
    re_ohm=5.1,
    res_ohm=65.0,
    ws_rad_s=2 * np.pi * 49.0,
    wb_rad_s=2 * np.pi * 40.5,
    alpha=1.5,
    leakage=1 / 30,
)


def test_search_finds_the_circuit_again(noisy_curve: Callable[..., ImpedanceCurve]) -> None:
    curve = noisy_curve(FREQUENCY_HZ, impedance(S, BOX), 1e-4)
    found = search(curve, Packing(VENTED, BOX), ROUGH, None)
    assert found is not None
    assert found.converged
    # exact: the truth, as near as noise of 0.01 % at 300 points lets it
    assert tuning_and_q(found.box)[0] == pytest.approx(tuning_and_q(BOX)[0], rel=1e-4)
    assert tuning_and_q(found.box)[1] == pytest.approx(tuning_and_q(BOX)[1], rel=0.02)
    assert found.box.re_ohm == pytest.approx(5.6, rel=0.01)
    np.testing.assert_allclose(found.circuit.evaluate(found.vector)[0], impedance(S, BOX), rtol=1e-3)
    np.testing.assert_array_equal(found.circuit.evaluate(found.vector)[1], found.jacobian)


def test_search_sees_through_a_known_crossover(noisy_curve: Callable[..., ImpedanceCurve]) -> None:
    crossover = Crossover(series_h=1e-3, series_ohm=0.5, shunt_f=20e-6, shunt_ohm=2.0)
    behind = crossover.series_ohm + S * crossover.series_h
    z = behind + 1.0 / (1.0 / impedance(S, BOX) + 1.0 / (2.0 + 1.0 / (S * 20e-6)))
    found = search(noisy_curve(FREQUENCY_HZ, z, 1e-4), Packing(VENTED, BOX), ROUGH, crossover)
    assert found is not None
    assert tuning_and_q(found.box)[0] == pytest.approx(tuning_and_q(BOX)[0], rel=1e-4)
    assert found.box.re_ohm == pytest.approx(5.6, rel=0.01)  # not 6.1: the half ohm before it is known


def test_minimum_is_one(noisy_curve: Callable[..., ImpedanceCurve]) -> None:
    # exact: at a minimum every small step costs
    curve = noisy_curve(FREQUENCY_HZ, impedance(S, BOX), 3e-3)
    found = search(curve, Packing(VENTED, BOX), ROUGH, None)
    assert found is not None
    assert found.cost == pytest.approx(weighted_cost(found, curve, found.model_error), rel=1e-12)
    for column in range(found.vector.size):
        for step in (-0.2, 0.2):
            vector = found.vector.copy()
            vector[column] += step
            residual = found.circuit.evaluate(vector)[0] - curve.impedance_ohm
            moved = replace(found, vector=vector, residual=residual)
            assert weighted_cost(moved, curve, found.model_error) > found.cost


def test_cost_counts_noise_and_prior_knowledge() -> None:
    # exact: by hand, half of (n points of 2 sigma each) plus half of (1 standard deviation from the prior)^2
    curve = ImpedanceCurve(FREQUENCY_HZ, impedance(S, BOX), np.full(S.size, 0.1))
    found = search(curve, Packing(VENTED, BOX), BOX, None)
    assert found is not None
    mean, weight = found.circuit.prior()
    vector = np.where(weight > 0.0, mean, found.vector)
    creep = found.circuit.packing.names.index("creep")
    vector[creep] += 1.0 / weight[creep]
    by_hand = replace(found, vector=vector, residual=np.full(S.size, 0.2j))
    assert weighted_cost(by_hand, curve, 0.0) == pytest.approx(0.5 * (4.0 * S.size + 1.0), rel=1e-12)


@pytest.mark.parametrize("share", [0.002, 0.01, 0.05])
def test_model_error_is_found_beside_the_noise(share: float) -> None:
    # exact: residual = noise + share |Z|, both with independent normal parts
    rng = np.random.default_rng(7)
    size, sigma = rng.uniform(5.0, 60.0, 4000), np.full(4000, 0.05)
    parts = rng.standard_normal((2, 4000))
    error = np.hypot(sigma, share * size) * (parts[0] + 1j * parts[1])
    assert residual_model_error(error, sigma, size, 12) == pytest.approx(share, rel=0.05)


def test_no_model_error_where_noise_explains_the_residual() -> None:
    rng = np.random.default_rng(7)
    size, sigma = rng.uniform(5.0, 60.0, 4000), np.full(4000, 0.05)
    parts = rng.standard_normal((2, 4000))
    assert residual_model_error(0.9 * sigma * (parts[0] + 1j * parts[1]), sigma, size, 12) <= 1e-7


def test_hopeless_residual_has_a_ceiling() -> None:
    assert residual_model_error(np.full(50, 1e9 + 0j), np.full(50, 0.1), np.full(50, 8.0), 12) == 1.0


@pytest.mark.parametrize(
    "wild", [{"ws_rad_s": 1e12}, {"qms": 1e-12}, {"friction": 1e9}, {"coil_exponent": 1 - 1e-9}]
)
def test_wild_start_ends_without_a_warning(
    noisy_curve: Callable[..., ImpedanceCurve], wild: dict[str, float]
) -> None:
    curve = noisy_curve(FREQUENCY_HZ, impedance(S, BOX), 1e-3)
    found = search(curve, Packing(VENTED, BOX), replace(BOX, **wild), None)
    assert found is None or bool(np.all(np.isfinite(found.vector)))
