"""The minimum near a starting vector, with the weights it implies.

What is minimised is |Z_model - Z|^2 over sigma^2 + (eps |Z|)^2: the noise, and an error of the model in
proportion to the impedance. eps is found from the residual itself, so that a curve the circuit explains is
weighed by its noise alone, as maximum likelihood asks, and a real box by how well any circuit can follow it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from sealtune.analysis.least_squares import MOST_STEPS, Model, descend
from sealtune.records.curve import ImpedanceCurve

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
M = TypeVar("M", bound=Model)

ROUGHLY, CLOSELY = 3e-4, 1e-5
"""Share of the sum of squares that a further step may still gain: before the weights are right, and after. Of a sum
of 1000 the latter is a step of a tenth of a standard deviation."""


GATHERED = 4e-5
"""The same where the noise of several points has been gathered into one: the sum of squares is so much smaller."""


@dataclass(frozen=True)
class Points:
    """The points of the curves that are fitted together, one curve after another.

    frequency_hz, impedance_ohm, sigma_ohm: shape (n,), see ImpedanceCurve
    starts: first point of each curve
    """

    frequency_hz: Reals
    impedance_ohm: Complexes
    sigma_ohm: Reals
    starts: tuple[int, ...] = (0,)

    @classmethod
    def of(cls, curves: Sequence[ImpedanceCurve]) -> Points:
        """Return the points of some curves."""
        sizes = [curve.frequency_hz.size for curve in curves]
        return cls(
            np.concatenate([curve.frequency_hz for curve in curves]),
            np.concatenate([curve.impedance_ohm for curve in curves]),
            np.concatenate([curve.sigma_ohm for curve in curves]),
            tuple(int(start) for start in np.cumsum([0, *sizes[:-1]])),
        )

    @property
    def size_ohm(self) -> Reals:
        """|Z|, ohm, shape (n,)."""
        return np.abs(self.impedance_ohm)

    @property
    def parts(self) -> tuple[slice, ...]:
        """The points of each curve."""
        ends = (*self.starts[1:], self.frequency_hz.size)
        return tuple(slice(start, stop) for start, stop in zip(self.starts, ends, strict=True))

    @property
    def noise(self) -> Reals:
        """Median of sigma over |Z| of each curve, shape (c,)."""
        relative = self.sigma_ohm / self.size_ohm
        return np.array([np.median(relative[part]) for part in self.parts])

    def each(self, by_curve: Reals) -> Reals:
        """Return one value for each curve, shape (c,), as one for each point, shape (n,)."""
        sizes = np.diff((*self.starts, self.frequency_hz.size))
        return np.repeat(by_curve, sizes)

    def spread_ohm(self, model_error: Reals) -> Reals:
        """Return the standard deviation of noise and model error together, ohm, shape (n,).

        model_error: eps of each curve, shape (c,)
        """
        return np.hypot(self.sigma_ohm, self.each(model_error) * self.size_ohm)


@dataclass(frozen=True)
class Minimum(Generic[M]):
    """Where the search ended.

    model: what was fitted
    vector: shape (p,), its quantities
    jacobian: shape (n, p), dZ/d(vector), ohm
    residual: shape (n,), Z_model - Z, ohm
    model_error: eps of each curve, shape (c,)
    cost: half the weighted sum of squares, what is known beforehand included
    converged: False where the search gave up
    """

    model: M
    vector: Reals
    jacobian: Complexes
    residual: Complexes
    model_error: Reals
    cost: float
    converged: bool


def search(
    points: Points,
    model: M,
    start: Reals,
    model_error: Reals,
    *,
    stages: int = 3,
    most_steps: int = MOST_STEPS,
    hopeless: float = float("inf"),
) -> Minimum[M] | None:
    """Return the minimum near the vector `start`, None where the search breaks down.

    model_error: first guess of eps, shape (c,)
    stages: how often at most search and eps are brought into line
    most_steps: of each stage
    hopeless: an eps of the first curve beyond which the search is not worth going on
    """
    vector, converged, settled = start, False, False
    for stage in range(stages):
        weight = 1.0 / points.spread_ohm(model_error)
        tolerance = ROUGHLY if stage == 0 else CLOSELY
        found = descend(model, points.impedance_ohm, weight, vector, tolerance, most_steps=most_steps)
        if found is None:
            return None
        vector, converged = found
        z, jacobian = model.evaluate(vector)
        residual = z - points.impedance_ohm
        updated = residual_model_errors(residual, points, vector.size)
        settled = stage > 0 and bool(np.all(np.abs(updated - model_error) < 0.05 * model_error + 1e-6))
        model_error = updated
        if settled or model_error[0] > hopeless:
            break
    minimum = Minimum(
        model, vector, jacobian, residual, model_error, 0.0, converged and (settled or stages == 1)
    )
    return replace(minimum, cost=weighted_cost(minimum, points, model_error))


def polished(
    points: Points, model: M, cells: NDArray[np.int64], sparse: M, near: Minimum[M], stages: int = 3
) -> Minimum[M] | None:
    """Return the minimum on all points, near one found on a few of them, None where the search breaks down.

    model, points: on all points
    cells: shape (m,), first point of each stretch of ln f that is narrow against any resonance
    sparse: the same model on the middle point of each cell, see `middles`
    What is left over at all points is gathered in each cell, by its weight, and the model is made to follow the sum
    of it and its own former value at the middle. As long as the vector moves little, that is the search on all
    points, at the price of a few.
    """
    middle = middles(cells, points.frequency_hz.size)
    vector, model_error, converged, settled = near.vector, near.model_error, False, False
    z, jacobian = model.evaluate(vector)
    for stage in range(stages):
        updated = residual_model_errors(z - points.impedance_ohm, points, vector.size)
        settled = stage > 0 and bool(np.all(np.abs(updated - model_error) < 0.05 * model_error + 1e-6))
        model_error = updated
        if settled and converged:
            break
        weight = 1.0 / points.spread_ohm(model_error) ** 2
        total = np.add.reduceat(weight, cells)
        missed = np.add.reduceat(weight * (points.impedance_ohm - z), cells) / total
        found = descend(sparse, z[middle] + missed, np.sqrt(total), vector, GATHERED)
        if found is None:
            return None
        vector, converged = found
        z, jacobian = model.evaluate(vector)
    residual = z - points.impedance_ohm
    if not settled:
        model_error = residual_model_errors(residual, points, vector.size)
    minimum = Minimum(model, vector, jacobian, residual, model_error, 0.0, converged)
    return replace(minimum, cost=weighted_cost(minimum, points, model_error))


def middles(cells: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """Return the middle point of each cell, shape (m,); count: of all points."""
    return np.asarray((cells + np.append(cells[1:], count) - 1) // 2)


def weighted_cost(minimum: Minimum[M], points: Points, model_error: Reals, independent: float = 1.0) -> float:
    """Return half the sum of squares with the weights of given model errors, prior knowledge included.

    independent: share of the points that count as independent, 0..1
    """
    mean, weight = minimum.model.prior()
    known = float(np.sum(((minimum.vector - mean) * weight) ** 2))
    missed = float(np.sum(np.abs(minimum.residual / points.spread_ohm(model_error)) ** 2))
    return 0.5 * (independent * missed + known)


def residual_model_errors(residual: Complexes, points: Points, parameters: int) -> Reals:
    """Return eps of each curve, shape (c,); the fitted quantities count in proportion to its points."""
    share = parameters / points.frequency_hz.size
    size = points.size_ohm
    return np.array(
        [
            residual_model_error(
                residual[part], points.sigma_ohm[part], size[part], share * (part.stop - part.start)
            )
            for part in points.parts
        ]
    )


def residual_model_error(error: Complexes, sigma: Reals, size: Reals, parameters: float) -> float:
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
