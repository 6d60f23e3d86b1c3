"""The search: from a rough start to the minimum, and the model error that it finds."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.parameters import COMMON, VENTED, Packing
from sealtune.analysis.search import (
    Minimum,
    Points,
    residual_model_error,
    residual_model_errors,
    search,
    weighted_cost,
)
from sealtune.physics.vented_box import VentedBox, impedance, tuning_and_q
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover

FREQUENCY_HZ = np.geomspace(8.0, 400.0, 300)
S = np.asarray(2j * np.pi * FREQUENCY_HZ)
BOX = VentedBox(
    re_ohm=5.6, coil_ohm=0.8, coil_exponent=0.7, res_ohm=52.0, ws_rad_s=2 * np.pi * 46.0, qms=4.6, creep=0.1,
    alpha=1.2, wb_rad_s=2 * np.pi * 43.0, leakage=1 / 15, friction=1 / 50, absorption=1 / 50, coil_h=1e-4,
    volume_m3=0.02, coil_shunt_s=0.01, plain_share=1 / 6, duct_share=0.02,
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


def _searched(
    curve: ImpedanceCurve, start: VentedBox, crossover: Crossover | None = None, first: float = 0.02
) -> Minimum[Circuit] | None:
    """The minimum near a start, on one curve of the open box."""
    circuit = Circuit((View.of("open", curve),), Packing(VENTED, BOX, crossover))
    return search(Points.of([curve]), circuit, circuit.pack(start), np.array([first]))


def test_search_finds_the_circuit_again(noisy_curve: Callable[..., ImpedanceCurve]) -> None:
    curve = noisy_curve(FREQUENCY_HZ, impedance(S, BOX), 1e-4)
    found = _searched(curve, ROUGH)
    assert found is not None
    assert found.converged
    # exact: the truth, as near as noise of 0.01 % at 300 points lets it
    box = found.model.unpack(found.vector)
    assert tuning_and_q(box)[0] == pytest.approx(tuning_and_q(BOX)[0], rel=1e-4)
    assert tuning_and_q(box)[1] == pytest.approx(tuning_and_q(BOX)[1], rel=0.02)
    assert box.re_ohm == pytest.approx(5.6, rel=0.01)
    np.testing.assert_allclose(found.model.evaluate(found.vector)[0], impedance(S, BOX), rtol=1e-3)
    np.testing.assert_array_equal(found.model.evaluate(found.vector)[1], found.jacobian)
    np.testing.assert_array_equal(found.model.evaluate(found.vector)[0] - curve.impedance_ohm, found.residual)


def test_search_sees_through_a_known_crossover(noisy_curve: Callable[..., ImpedanceCurve]) -> None:
    crossover = Crossover(series_h=1e-3, series_ohm=0.5, shunt_f=20e-6, shunt_ohm=2.0)
    behind = crossover.series_ohm + S * crossover.series_h
    z = behind + 1.0 / (1.0 / impedance(S, BOX) + 1.0 / (2.0 + 1.0 / (S * 20e-6)))
    found = _searched(noisy_curve(FREQUENCY_HZ, z, 1e-4), ROUGH, crossover)
    assert found is not None
    box = found.model.unpack(found.vector)
    assert tuning_and_q(box)[0] == pytest.approx(tuning_and_q(BOX)[0], rel=1e-4)
    assert box.re_ohm == pytest.approx(5.6, rel=0.01)  # not 6.1: the half ohm before it is known


def test_minimum_is_one(noisy_curve: Callable[..., ImpedanceCurve]) -> None:
    # exact: at a minimum every small step costs
    curve = noisy_curve(FREQUENCY_HZ, impedance(S, BOX), 3e-3)
    found = _searched(curve, ROUGH)
    assert found is not None
    assert found.cost == pytest.approx(weighted_cost(found, Points.of([curve]), found.model_error), rel=1e-12)
    for column in range(found.vector.size):
        for step in (-0.2, 0.2):
            vector = found.vector.copy()
            vector[column] += step
            residual = found.model.evaluate(vector)[0] - curve.impedance_ohm
            moved = replace(found, vector=vector, residual=residual)
            assert weighted_cost(moved, Points.of([curve]), found.model_error) > found.cost


def test_cost_counts_noise_and_prior_knowledge() -> None:
    # exact: by hand, half of (n points of 2 sigma each) plus half of (1 standard deviation from the prior)^2
    curve = ImpedanceCurve(FREQUENCY_HZ, impedance(S, BOX), np.full(S.size, 0.1))
    found = _searched(curve, BOX)
    assert found is not None
    mean, weight = found.model.prior()
    vector = np.where(weight > 0.0, mean, found.vector)
    creep = found.model.names.index("creep")
    vector[creep] += 1.0 / weight[creep]
    by_hand = replace(found, vector=vector, residual=np.full(S.size, 0.2j))
    points, none = Points.of([curve]), np.zeros(1)
    assert weighted_cost(by_hand, points, none) == pytest.approx(0.5 * (4.0 * S.size + 1.0), rel=1e-12)
    # exact: where only a quarter of the points count as independent, what is known beforehand still counts whole
    assert weighted_cost(by_hand, points, none, 0.25) == pytest.approx(0.5 * (S.size + 1.0), rel=1e-12)


def test_points_of_several_curves_are_one_after_another() -> None:
    curves = [
        ImpedanceCurve(FREQUENCY_HZ[:count], np.full(count, 3.0 + 4.0j), np.full(count, sigma))
        for count, sigma in ((5, 0.3), (2, 0.4), (3, 0.0))
    ]
    points = Points.of(curves)
    assert points.starts == (0, 5, 7)
    assert points.parts == (slice(0, 5), slice(5, 7), slice(7, 10))
    np.testing.assert_array_equal(points.frequency_hz[5:7], FREQUENCY_HZ[:2])
    np.testing.assert_array_equal(points.size_ohm, 5.0)  # exact: 3, 4, 5
    np.testing.assert_array_equal(points.each(np.array([1.0, 2.0, 3.0])), [1.0] * 5 + [2.0] * 2 + [3.0] * 3)
    # exact: sqrt(0.3^2 + (0.08 * 5)^2) = 0.5
    spread_ohm = points.spread_ohm(np.array([0.08, 0.06, 0.02]))
    np.testing.assert_allclose(spread_ohm, [0.5] * 5 + [0.5] * 2 + [0.1] * 3, rtol=1e-12)


def test_each_curve_has_a_model_error_of_its_own() -> None:
    # exact: residuals of 1 and of 4 % in two curves of unequal length
    rng = np.random.default_rng(11)
    curves = [
        ImpedanceCurve(np.geomspace(5.0, 500.0, n), np.full(n, 10.0 + 0j), np.full(n, 0.02))
        for n in (4000, 2000)
    ]
    points = Points.of(curves)
    noise = np.asarray(rng.standard_normal(6000) + 1j * rng.standard_normal(6000), dtype=np.complex128)
    error = points.spread_ohm(np.array([0.01, 0.04])) * noise
    np.testing.assert_allclose(residual_model_errors(error, points, 16), [0.01, 0.04], rtol=0.05)


def test_search_weighs_each_curve_by_its_own_error(noisy_curve: Callable[..., ImpedanceCurve]) -> None:
    # a second curve that another circuit made is told by its model error, and does not spoil the first
    good = noisy_curve(FREQUENCY_HZ, impedance(S, BOX), 1e-3, 1)
    bumpy = impedance(S, BOX, "plugged") * (1.0 + 0.05 * np.sin(9.0 * np.log(FREQUENCY_HZ)))
    bad = noisy_curve(FREQUENCY_HZ, bumpy, 1e-3, 2)
    views = (View.of("open", good), View.of("plugged", bad))
    circuit = Circuit(views, Packing((*VENTED, "duct_share"), BOX))
    found = search(Points.of([good, bad]), circuit, circuit.pack(ROUGH), np.array([0.02, 0.02]))
    assert found is not None
    assert found.model_error.shape == (2,)
    assert found.model_error[0] < 5e-4
    # exact: 5 % of a sine is 3.5 % as root mean square, half of whose power in each of real and imaginary part
    assert 0.01 < found.model_error[1] < 0.04
    assert tuning_and_q(found.model.unpack(found.vector))[0] == pytest.approx(tuning_and_q(BOX)[0], rel=1e-3)


def test_hopeless_search_is_given_up(noisy_curve: Callable[..., ImpedanceCurve]) -> None:
    # a closed box for the curve of a vented one: after the first stage its model error is far beyond
    curve = noisy_curve(FREQUENCY_HZ, impedance(S, BOX), 1e-3)
    counted = []

    class Counting(Circuit):
        def evaluate(self, vector: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            counted.append(1)
            return super().evaluate(vector)

    closed = replace(BOX, alpha=0.0)
    circuit = Counting((View.of("open", curve),), Packing(COMMON, closed))
    spent = []
    for hopeless in (float("inf"), 0.01):
        counted.clear()
        start, first = circuit.pack(closed), np.array([0.02])
        found = search(Points.of([curve]), circuit, start, first, hopeless=hopeless)
        assert found is not None
        assert found.model_error[0] > 0.1
        spent.append(len(counted))
    assert spent[1] < spent[0]


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
    noisy_curve: Callable[..., ImpedanceCurve], wild: dict[str, Any]
) -> None:
    curve = noisy_curve(FREQUENCY_HZ, impedance(S, BOX), 1e-3)
    found = _searched(curve, replace(BOX, **wild))
    assert found is None or bool(np.all(np.isfinite(found.vector)))
