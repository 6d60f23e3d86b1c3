"""Weighted complex least squares: the minimum near a starting circuit, with the weights it implies.

What is minimised is |Z_model - Z|^2 over sigma^2 + (eps |Z|)^2: the noise, and an error of the model in
proportion to the impedance. eps is found from the residual itself, so that a curve the circuit explains is
weighed by its noise alone, as maximum likelihood asks, and a real box by how well any circuit can follow it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, least_squares

from sealtune.analysis.circuit import Circuit
from sealtune.analysis.parameters import Packing
from sealtune.physics.vented_box import VentedBox
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

MOST_STEPS = 60

REACH = 30.0
"""No logarithm is followed beyond; e^30 of any unit is no loudspeaker."""


@dataclass(frozen=True)
class Minimum:
    """Where the search ended.

    circuit: what was fitted
    vector: shape (p,), its quantities
    jacobian: shape (n, p), dZ/d(vector), ohm
    residual: shape (n,), Z_model - Z, ohm
    model_error: eps
    cost: half the weighted sum of squares, what is known beforehand included
    converged: False where the search gave up
    """

    circuit: Circuit
    vector: Reals
    jacobian: Complexes
    residual: Complexes
    model_error: float
    cost: float
    converged: bool

    @property
    def box(self) -> VentedBox:
        """The fitted circuit."""
        return self.circuit.unpack(self.vector)


def search(
    curve: ImpedanceCurve,
    packing: Packing,
    start: VentedBox,
    crossover: Crossover | None,
    model_error: float = 0.02,
    stages: int = 3,
) -> Minimum | None:
    """Return the minimum near `start`, None where the search breaks down.

    model_error: first guess of eps
    stages: how often at most search and eps are brought into line
    """
    circuit = Circuit.on(curve, packing, crossover)
    size = np.abs(curve.impedance_ohm)
    vector = circuit.pack(start)
    for stage in range(stages):
        weight = 1.0 / np.sqrt(curve.sigma_ohm**2 + (model_error * size) ** 2)
        found = _descend(circuit, curve.impedance_ohm, weight, vector, 1e-3 if stage == 0 else 1e-5)
        if found is None:
            return None
        vector, converged = found
        z, jacobian = circuit.evaluate(vector)
        residual = z - curve.impedance_ohm
        updated = residual_model_error(residual, curve.sigma_ohm, size, vector.size)
        settled = stage > 0 and abs(updated - model_error) < 0.05 * model_error + 1e-6
        model_error = updated
        if settled:
            break
    minimum = Minimum(circuit, vector, jacobian, residual, model_error, 0.0, converged)
    return replace(minimum, cost=weighted_cost(minimum, curve, model_error))


def weighted_cost(
    minimum: Minimum, curve: ImpedanceCurve, model_error: float, independent: float = 1.0
) -> float:
    """Return half the sum of squares with the weights of a given model error, prior knowledge included.

    independent: share of the points that count as independent, 0..1
    """
    variance = curve.sigma_ohm**2 + (model_error * np.abs(curve.impedance_ohm)) ** 2
    mean, weight = minimum.circuit.prior()
    known = float(np.sum(((minimum.vector - mean) * weight) ** 2))
    return 0.5 * (independent * float(np.sum(np.abs(minimum.residual) ** 2 / variance)) + known)


def _descend(
    circuit: Circuit, target: Complexes, weight: Reals, start: Reals, tolerance: float
) -> tuple[Reals, bool] | None:
    """Return where Levenberg and Marquardt's method ends, and whether it converged."""
    mean, known = circuit.prior()
    cached: tuple[bytes, tuple[Complexes, Complexes]] = (b"", circuit.evaluate(start))

    def evaluate(vector: Reals) -> tuple[Complexes, Complexes]:
        nonlocal cached
        key = vector.tobytes()
        if cached[0] != key:
            with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
                cached = (key, circuit.evaluate(np.clip(vector, -REACH, REACH)))
        return cached[1]

    def residual(vector: Reals) -> Reals:
        error = (evaluate(vector)[0] - target) * weight
        value = np.concatenate([error.real, error.imag, (vector - mean) * known])
        return np.asarray(np.nan_to_num(value, nan=1e6, posinf=1e6, neginf=-1e6))

    def jacobian(vector: Reals) -> Reals:
        slope = evaluate(vector)[1] * weight[:, None]
        value = np.concatenate([slope.real, slope.imag, np.diag(known)])
        return np.asarray(np.nan_to_num(value, nan=0.0, posinf=0.0, neginf=0.0))

    try:
        found = least_squares(
            residual,
            start,
            jacobian,
            method="lm",
            xtol=tolerance,
            ftol=tolerance,
            gtol=1e-12,
            max_nfev=MOST_STEPS,
        )
    except (ValueError, np.linalg.LinAlgError):
        return None
    return np.clip(found.x, -REACH, REACH), bool(found.success)


def residual_model_error(error: Complexes, sigma: Reals, size: Reals, parameters: int) -> float:
    """Return eps, so that the residual's mean power is what noise and model error predict.

    error, sigma, size: shape (n,), residual, noise of each part, and |Z|, ohm
    parameters: how many were fitted
    returns: 1e-7 where noise alone suffices, at most 1
    """
    freedom = max(2.0 * error.size - parameters, 1.0)

    def excess(eps: float) -> float:
        return float(np.sum(np.abs(error) ** 2 / (sigma**2 + (eps * size) ** 2))) - freedom

    if excess(1e-7) <= 0.0:
        return 1e-7
    if excess(1.0) >= 0.0:
        return 1.0
    return float(brentq(excess, 1e-7, 1.0, xtol=1e-7, rtol=1e-3))
