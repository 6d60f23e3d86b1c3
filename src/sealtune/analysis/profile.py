"""Profile likelihood: the interval of a quantity that is skewed, or that may be none at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.circuit import Circuit
from sealtune.analysis.least_squares import descend
from sealtune.analysis.search import CLOSELY, Minimum, Points

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

LIMIT = 3.84
"""95 % point of chi square with one degree of freedom, by how much the sum of squares may rise [Wilks1938]."""

FARTHEST = 5.0
"""In units of the coordinate, e^5 for a logarithm: a side where the sum of squares has not risen by then is open."""

CLOSE_ENOUGH = 0.05
"""Of a standard deviation."""


@dataclass(frozen=True)
class Profile:
    """The interval of one coordinate.

    low, high: bounds of 95 %; None where that side is open, which means that the curve knows no bound there
    """

    low: float | None
    high: float | None


@dataclass(frozen=True)
class _Held:
    """The circuit with one quantity held at a value."""

    circuit: Circuit
    index: int
    value: float

    def whole(self, vector: Reals) -> Reals:
        return np.insert(vector, self.index, self.value)

    def evaluate(self, vector: Reals) -> tuple[Complexes, Complexes]:
        z, slopes = self.circuit.evaluate(self.whole(vector))
        return z, np.delete(slopes, self.index, axis=1)

    def prior(self) -> tuple[Reals, Reals]:
        mean, known = self.circuit.prior()
        return np.delete(mean, self.index), np.delete(known, self.index)

    def moved(self, vector: Reals, step: Reals) -> Reals:
        ahead = self.circuit.moved(self.whole(vector), np.insert(step, self.index, 0.0))
        return np.delete(ahead, self.index)


def profile(minimum: Minimum[Circuit], points: Points, name: str, shrink: float, deviation: float) -> Profile:
    """Return the interval that the curves alone give one of the shared quantities.

    shrink: by how much the sum of squares counts for more than it tells, 0..1: the variance by independent points
        over that by the model's correlated error [Chandler2007]
    deviation: its standard deviation, where to look first
    What was known beforehand of this quantity itself is left out; the other quantities are fitted anew at each value.
    """
    index = minimum.model.names.index(name)
    weight = 1.0 / points.spread_ohm(minimum.model_error)
    centre = float(minimum.vector[index])

    def rise(value: float, start: Reals) -> tuple[float, Reals]:
        held = _Held(minimum.model, index, value)
        found = descend(held, points.impedance_ohm, weight, start, 10.0 * CLOSELY, most_steps=25)
        vector = start if found is None else found[0]
        mean, known = held.prior()
        missed = np.abs((held.evaluate(vector)[0] - points.impedance_ohm) * weight) ** 2
        return float(np.sum(missed)) + float(np.sum(((vector - mean) * known) ** 2)), vector

    others = np.delete(minimum.vector, index)
    least, _ = rise(centre, others)

    def bound(sign: float) -> float | None:
        inner, outer, start = 0.0, None, others
        reach = min(2.0 * max(deviation, 1e-3), FARTHEST)
        for _ in range(9):
            risen, vector = rise(centre + sign * reach, start)
            if shrink * (risen - least) < LIMIT:
                inner, start = reach, vector
                if outer is None and reach >= FARTHEST:
                    return None
            else:
                outer = reach
            if outer is not None and outer - inner < CLOSE_ENOUGH * max(deviation, inner):
                break
            # the root of the rise goes with the distance, more or less
            guess = reach * float(np.sqrt(LIMIT / max(shrink * (risen - least), 0.1 * LIMIT)))
            if outer is None:
                reach = min(max(guess, 1.5 * reach), FARTHEST)
            else:
                width = outer - inner
                reach = float(np.clip(guess, inner + 0.1 * width, outer - 0.1 * width))
        return centre + sign * (inner if outer is None else 0.5 * (inner + outer))

    return Profile(bound(-1.0), bound(1.0))
