"""Weighted complex least squares with prior knowledge: Levenberg's and Marquardt's way down to the minimum.

Written here because it stops where statistics says so: as soon as what a further step could gain is far below
what noise alone does to the sum of squares. A library's solver goes on for three times as many steps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

MOST_STEPS = 80

REACH = 30.0
"""No coordinate is followed beyond; e^30 of any unit is no loudspeaker."""

FIRST_RADIUS = 1.0

POOR, GOOD = 0.25, 0.75
"""Gain of a step over what was expected: below, the radius shrinks; above, it grows."""

LEAST_GAIN = 1e-4

STALLED = 1e-12
"""A step that moves nothing by more than this share is no step."""


class Model(Protocol):
    """What can be fitted: complex values that depend smoothly on a vector of real quantities."""

    def evaluate(self, vector: Reals) -> tuple[Complexes, Complexes]:
        """Return the values, shape (n,), and their derivatives by the vector, shape (n, p)."""
        ...

    def prior(self) -> tuple[Reals, Reals]:
        """Return mean and 1/standard deviation (0: nothing known) of what is known beforehand, shape (p,) each."""
        ...

    def moved(self, vector: Reals, step: Reals) -> Reals:
        """Return the vector after a step, equal to vector + step for small ones.

        Along longer ones the values should stay as straight as can be.
        """
        ...


def descend(
    model: Model,
    target: Complexes,
    weight: Reals,
    start: Reals,
    tolerance: float,
    *,
    most_steps: int = MOST_STEPS,
    reach: float = REACH,
) -> tuple[Reals, bool] | None:
    """Return the vector at the minimum near `start` and whether it was reached, None where nothing is finite.

    target, weight: shape (n,), the values aimed at, and 1/standard deviation of each part of them
    tolerance: the search ends where the best further step would gain less than this share of the sum of squares
    reach: largest magnitude of any coordinate; the coordinates should be of the order of 1, as logarithms are
    Each step is the best one within a radius in which the linear problem is trusted [More1978].
    """
    task = _Task(model, target, weight, reach, *model.prior())
    here = task.at(np.clip(np.asarray(start, dtype=np.float64), -reach, reach))
    if here is None:
        return None
    radius = FIRST_RADIUS
    for _ in range(most_steps):
        if float(here.pull @ here.pull) <= tolerance * here.cost:
            return here.vector, True
        step = _step(here, radius)
        length = float(np.sqrt(step @ step))
        if length <= STALLED * float(np.sqrt(here.vector @ here.vector)):
            return here.vector, True
        expected = float(here.pull @ here.pull) - float(np.sum((here.triangle @ step + here.pull) ** 2))
        there = task.at(model.moved(here.vector, step))
        gain = _gain(here, there, expected)
        if there is not None and gain < GOOD:
            bent = _bend(here, there, step)
            if float(bent @ bent) < float(step @ step):
                corrected = task.at(model.moved(here.vector, step + bent))
                if _gain(here, corrected, expected) > gain:
                    there, gain = corrected, _gain(here, corrected, expected)
        if gain < POOR:
            radius = 0.3 * length
        elif gain > GOOD:
            radius = max(radius, 2.5 * length)
        if there is not None and gain > LEAST_GAIN:
            here = there
    return here.vector, False


@dataclass(frozen=True)
class _Place:
    """The problem made linear at a vector: residual, slopes (prior knowledge included), R and Q^T residual."""

    vector: Reals
    cost: float
    residual: Reals
    slopes: Reals
    triangle: Reals
    pull: Reals


@dataclass(frozen=True)
class _Task:
    model: Model
    target: Complexes
    weight: Reals
    reach: float
    mean: Reals
    known: Reals

    def at(self, vector: Reals) -> _Place | None:
        """Return the linear problem at a vector, None where it is not finite."""
        vector = np.clip(vector, -self.reach, self.reach)
        size, count = vector.size, self.target.size
        tall = np.empty((size + 1, 2 * count + size))
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            value, slopes = self.model.evaluate(vector)
            error = (value - self.target) * self.weight
            tall[size, :count], tall[size, count : 2 * count] = error.real, error.imag
            tall[size, 2 * count :] = (vector - self.mean) * self.known
            np.multiply(slopes.T.real, self.weight, out=tall[:size, :count])
            np.multiply(slopes.T.imag, self.weight, out=tall[:size, count : 2 * count])
            tall[:size, 2 * count :] = np.diag(self.known)
            cost = float(tall[size] @ tall[size])
        if not np.isfinite(cost) or not np.isfinite(tall.sum()):
            return None
        triangle = np.asarray(np.linalg.qr(tall.T, mode="r"), dtype=np.float64)
        return _Place(vector, cost, tall[size], tall[:size], triangle[:size, :size], triangle[:size, size])


def _gain(here: _Place, there: _Place | None, expected: float) -> float:
    """Return what a step gained over what was expected of it, -1 where it led nowhere."""
    return -1.0 if there is None else (here.cost - there.cost) / max(expected, 1e-300)


def _step(here: _Place, radius: float) -> Reals:
    """Return the step no longer than `radius` that makes the linear problem's sum of squares least."""
    u, singular, vt = np.linalg.svd(here.triangle)
    turned, square = u.T @ here.pull * singular, singular**2
    damping = 1e-15 * square[0] + 1e-300
    for _ in range(30):
        part = turned / (square + damping)
        length = float(np.sqrt(part @ part))
        if length <= 1.05 * radius:
            break
        # Newton's method for 1/length, which is almost linear in the damping [More1978]
        slope = float(np.sum(turned**2 / (square + damping) ** 3)) / length
        damping += (length / radius - 1.0) * length / slope
    return np.asarray(-(vt.T @ part), dtype=np.float64)


def _bend(here: _Place, there: _Place, step: Reals) -> Reals:
    """Return what to add to a step for the curvature met along it, by the residual found there [Transtrum2012]."""
    curvature = there.residual - here.residual - here.slopes.T @ step
    ridge = 1e-14 * np.abs(np.diag(here.triangle)).max() * np.eye(step.size)
    half = np.linalg.solve(here.triangle.T + ridge, here.slopes @ curvature)
    return np.asarray(-np.linalg.solve(here.triangle + ridge, half), dtype=np.float64)
