"""Search and covariance against two fitters that share nothing with them: lmfit, and least squares of scipy.

One noisy curve of the ladder; the quantities that it determines well are free, the others fixed at their true values,
and nothing is known beforehand. The others fit the quantities themselves with derivatives by differences, where the
search follows logarithms with exact ones.
"""

from dataclasses import dataclass, replace

import lmfit
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import curve_fit, least_squares

from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.intervals import covariance, propagated
from sealtune.analysis.parameters import Packing
from sealtune.analysis.search import Minimum, Points, search
from sealtune.physics.vented_box import VentedBox, impedance, tuning_and_q
from sealtune.records.curve import ImpedanceCurve

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

NAMES = ("re_ohm", "res_ohm", "ws_rad_s", "qms", "alpha", "wb_rad_s", "leakage", "coil_ohm")
TRUE = VentedBox(
    re_ohm=5.6, coil_ohm=1.1, coil_exponent=0.68, coil_h=1.5e-4, coil_shunt_s=0.03, res_ohm=52.0,
    ws_rad_s=2 * np.pi * 46.0, qms=4.6, creep=0.09, alpha=1.2, wb_rad_s=2 * np.pi * 43.0,
    leakage=1 / 12, friction=1 / 50, plain_share=1 / 6, absorption=1 / 70, volume_m3=0.02,
)  # fmt: skip
START = replace(
    TRUE, re_ohm=5.0, res_ohm=40.0, ws_rad_s=2 * np.pi * 42.0, qms=3.5, alpha=1.0, wb_rad_s=2 * np.pi * 40.0,
    leakage=1 / 20, coil_ohm=0.8,
)  # fmt: skip
FREQUENCY_HZ = np.geomspace(8.0, 300.0, 400)
S = np.asarray(2j * np.pi * FREQUENCY_HZ, dtype=np.complex128)
SIGMA_OHM = 0.02 * np.sqrt(np.abs(impedance(S, TRUE)))
"""Neither even nor in proportion, so that a fitter that weighs wrongly shows."""


@dataclass(frozen=True)
class Unknowing:
    """The fitted circuit without what is known beforehand."""

    circuit: Circuit

    def evaluate(self, vector: Reals) -> tuple[Complexes, Complexes]:
        return self.circuit.evaluate(vector)

    def prior(self) -> tuple[Reals, Reals]:
        return np.zeros(len(NAMES)), np.zeros(len(NAMES))

    def moved(self, vector: Reals, step: Reals) -> Reals:
        return self.circuit.moved(vector, step)


@pytest.fixture(scope="module")
def curve() -> ImpedanceCurve:
    rng = np.random.default_rng(1)
    noise = rng.standard_normal((2, S.size))
    return ImpedanceCurve(
        FREQUENCY_HZ, impedance(S, TRUE) + SIGMA_OHM * (noise[0] + 1j * noise[1]), SIGMA_OHM
    )


@pytest.fixture(scope="module")
def found(curve: ImpedanceCurve) -> Minimum[Unknowing]:
    circuit = Circuit((View.of("open", curve),), Packing(NAMES, TRUE))
    minimum = search(Points.of([curve]), Unknowing(circuit), circuit.pack(START), np.array([0.02]))
    assert minimum is not None
    assert minimum.converged
    # the noise as drawn explains the curve, so that all fitters weigh it alike
    np.testing.assert_array_equal(minimum.model_error, [1e-7])
    return minimum


def _quantities(minimum: Minimum[Unknowing], points: Points) -> tuple[Reals, Reals]:
    """The quantities themselves and their covariance; all of them are fitted as logarithms."""
    values = np.exp(minimum.vector)
    return values, np.asarray(covariance(minimum, points) * np.outer(values, values))


def _box(values: Reals) -> VentedBox:
    return replace(TRUE, **dict(zip(NAMES, values.tolist(), strict=True)))


def _start() -> Reals:
    return np.array([getattr(START, name) for name in NAMES])


def _both_parts(z: Complexes) -> Reals:
    return np.concatenate([z.real, z.imag])


def _agree(found: Minimum[Unknowing], curve: ImpedanceCurve, values: Reals, spread: Reals) -> None:
    """Within a hundredth of a standard deviation, and the standard deviations and correlations alike."""
    ours, ours_spread = _quantities(found, Points.of([curve]))
    deviation = np.sqrt(np.diag(spread))
    assert np.abs((ours - values) / deviation).max() < 0.01
    np.testing.assert_allclose(np.sqrt(np.diag(ours_spread)), deviation, rtol=0.003)
    ours_deviation = np.sqrt(np.diag(ours_spread))
    np.testing.assert_allclose(
        ours_spread / np.outer(ours_deviation, ours_deviation),
        spread / np.outer(deviation, deviation),
        atol=0.01,
    )


def test_lmfit_finds_the_same(curve: ImpedanceCurve, found: Minimum[Unknowing]) -> None:
    # independent: lmfit, its standard errors from the curvature that it finds by differences
    parameters = lmfit.Parameters()
    for name, value in zip(NAMES, _start().tolist(), strict=True):
        parameters.add(name, value=value, min=0.0)

    def residual(now: lmfit.Parameters) -> Reals:
        z = impedance(S, _box(np.array([now[name].value for name in NAMES])))
        return _both_parts((z - curve.impedance_ohm) / SIGMA_OHM)

    result = lmfit.minimize(residual, parameters, scale_covar=False, xtol=1e-12, ftol=1e-12)
    assert result.success
    assert tuple(result.var_names) == NAMES
    values = np.array([result.params[name].value for name in NAMES])
    _agree(found, curve, values, np.asarray(result.covar))
    stated = np.array([result.params[name].stderr for name in NAMES])
    _, ours = _quantities(found, Points.of([curve]))
    np.testing.assert_allclose(np.sqrt(np.diag(ours)), stated, rtol=0.003)
    # exact: the cost of the search is half the sum of squares of lmfit
    assert 2.0 * found.cost == pytest.approx(result.chisqr, rel=1e-5)


def test_curve_fit_finds_the_same(curve: ImpedanceCurve, found: Minimum[Unknowing]) -> None:
    # independent: MINPACK through scipy
    def both(_: Reals, *values: float) -> Reals:
        return _both_parts(impedance(S, _box(np.array(values))))

    values, spread = curve_fit(
        both,
        np.tile(FREQUENCY_HZ, 2),
        _both_parts(curve.impedance_ohm),
        p0=_start(),
        sigma=np.tile(SIGMA_OHM, 2),
        absolute_sigma=True,
        xtol=1e-12,
        ftol=1e-12,
    )
    _agree(found, curve, np.asarray(values), np.asarray(spread))


def test_least_squares_finds_the_same(curve: ImpedanceCurve, found: Minimum[Unknowing]) -> None:
    # independent: scipy's trust region, derivatives by central differences, covariance as the inverse of J^T J
    def residual(shares: Reals) -> Reals:
        z = impedance(S, _box(_start() * shares))
        return _both_parts((z - curve.impedance_ohm) / SIGMA_OHM)

    result = least_squares(residual, np.ones(len(NAMES)), jac="3-point", xtol=1e-13, ftol=1e-13, gtol=1e-13)
    assert result.success
    jacobian = np.asarray(result.jac, dtype=np.float64) / _start()
    unit = 1.0 / np.linalg.norm(jacobian, axis=0)
    spread = np.linalg.inv((jacobian * unit).T @ (jacobian * unit)) * np.outer(unit, unit)
    _agree(found, curve, np.asarray(result.x * _start()), np.asarray(spread))


def test_tuning_and_q_carry_the_same_uncertainty(curve: ImpedanceCurve, found: Minimum[Unknowing]) -> None:
    # independent: a thousand draws from the other fitter's covariance, each with its tuning and Q; their spread is
    # known to 1/sqrt(2000), a 45th, and the bound is four times that
    ours, spread = _quantities(found, Points.of([curve]))

    def of(values: Reals) -> Reals:
        return np.array(tuning_and_q(_box(values)))

    draws = np.random.default_rng(1).multivariate_normal(ours, spread, size=1000, method="cholesky")
    drawn = np.std([of(draw) for draw in draws], axis=0)
    carried = np.sqrt(np.diag(propagated(of, ours, spread)))
    np.testing.assert_allclose(carried, drawn, rtol=0.09)
    # the truth is where the intervals say
    assert np.all(np.abs(of(ours) - np.array(tuning_and_q(TRUE))) < 4.0 * carried)


def test_the_fit_is_worth_comparing(curve: ImpedanceCurve, found: Minimum[Unknowing]) -> None:
    # the start is hundreds of standard deviations away, and the end is where noise allows, at chi square of 8
    values, spread = _quantities(found, Points.of([curve]))
    deviation = np.sqrt(np.diag(spread))
    true = np.array([getattr(TRUE, name) for name in NAMES])
    assert np.all(np.abs(_start() - values) > 30.0 * deviation)
    off = values - true
    assert 0.5 < float(off @ np.linalg.solve(spread, off)) < 26.0  # common practice: 0.01 % to 99.9 %
