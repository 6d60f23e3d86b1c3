"""How far, and over how wide a band at a stretch, a circuit misses a real box: restricted maximum likelihood.

What a fit leaves over understates what it got wrong, the more so the smoother the error is: much of it has gone
into the fitted quantities. The likelihood of the residual with the fitted quantities integrated out
[Patterson1971] takes that into account and finds both the size and the correlation length of the error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

from sealtune.analysis.search import M, Minimum, Points

Reals = NDArray[np.float64]

LENGTHS = (0.05, 0.13, 0.35, 0.9)
"""Correlation lengths tried, in ln f: from a sixth of a third-octave band to more than an octave."""

ROUGH, SMOOTH = "3/2", "5/2"
KINDS = (ROUGH, SMOOTH)
"""Exponents of Matern's correlation: errors with one derivative, and with two."""

STEPS = 6
"""Sizes tried for each, from half of what the residual shows to ten times as much."""

NEGLIGIBLE = 0.1
"""A model's error below this share of the noise changes no interval."""

MOST_POINTS = 100
"""Of one curve; their covariance is factored for every size and length tried."""


@dataclass(frozen=True)
class ModelError:
    """The error of a circuit against a real box: what the residual tells of its size and its correlation.

    size: unit of size over |Z|, of real and of imaginary part, of each curve, shape (c,)
    mixture: kind and length in ln f of each correlation that may be, see `correlation`, and the mean square of the
        error in that unit times how probable that correlation is
    """

    size: Reals
    mixture: tuple[tuple[str, float, float], ...]


def correlation(distance: Reals, length: float, kind: str) -> Reals:
    """Return the correlation of the error at a distance in ln f: Matern's with exponent 3/2 or 5/2 [Matern1960].

    The two stand for errors that run smoothly but not endlessly so, such as those of a lumped circuit.
    """
    if kind == ROUGH:
        reach = np.minimum(np.sqrt(3.0) * distance / length, 700.0)
        return np.asarray((1.0 + reach) * np.exp(-reach))
    reach = np.minimum(np.sqrt(5.0) * distance / length, 700.0)
    return np.asarray((1.0 + reach + reach**2 / 3.0) * np.exp(-reach))


def apart(position: Reals, curve: NDArray[np.int64]) -> Reals:
    """Return the distance of each two points in ln f, infinite between points of different curves, shape (n, n)."""
    distance = np.abs(position[:, None] - position[None, :])
    return np.where(curve[:, None] == curve[None, :], distance, np.inf)


@dataclass(frozen=True)
class _Part:
    """Some points of one curve: residual and slopes over |Z|, noise over |Z|, and distances in ln f."""

    observed: NDArray[np.complex128]
    noise: Reals
    distance: Reals

    @classmethod
    def of(cls, minimum: Minimum[M], points: Points, part: slice) -> _Part:
        pick = np.unique(np.linspace(part.start, part.stop - 1, MOST_POINTS).astype(np.int64))
        size = points.size_ohm[pick]
        observed = np.column_stack([minimum.residual[pick], minimum.jacobian[pick]]) / size[:, None]
        position = np.log(points.frequency_hz[pick])
        return cls(observed, points.sigma_ohm[pick] / size, np.abs(position[:, None] - position[None, :]))

    def told(self, size: float, correlated: Reals) -> tuple[float, Reals]:
        """Return the logarithm of the determinant of this curve's covariance, and what it tells."""
        kernel = size**2 * correlated + np.diag(self.noise**2)
        factor = np.linalg.cholesky(kernel)
        white = solve_triangular(factor, self.observed, lower=True, check_finite=False)
        return 2.0 * float(np.log(np.diag(factor)).sum()), (white.conj().T @ white).real


def model_error(minimum: Minimum[M], points: Points) -> ModelError:
    """Return the sizes and correlation lengths that the circuit's error may have, each as probable as it is.

    minimum: the fit to `points`
    The sizes of several curves keep the ratio that their residuals have. Not the likeliest pair alone counts: where
    the residual leaves it open, large and smooth errors keep their say.
    """
    parts = [_Part.of(minimum, points, part) for part in points.parts]
    noise = float(np.median(np.concatenate([part.noise for part in parts])))
    least = np.maximum(minimum.model_error / np.sqrt(2.0), 1e-7)
    if np.all(minimum.model_error < NEGLIGIBLE * noise):
        return ModelError(least, ((ROUGH, LENGTHS[0], 0.25),))
    mean, known = minimum.model.prior()
    gone = np.diag(known**2)
    pull = known**2 * (minimum.vector - mean)
    sizes = np.geomspace(0.5, 10.0, STEPS)
    tried = [(kind, length) for kind in KINDS for length in LENGTHS]
    values = np.empty((len(tried), STEPS))
    for row, (kind, length) in enumerate(tried):
        correlated = [correlation(part.distance, length, kind) for part in parts]
        for column, times in enumerate(sizes):
            each = [
                part.told(float(size), kernel)
                for part, size, kernel in zip(parts, times * least, correlated, strict=True)
            ]
            told = np.sum([information for _, information in each], axis=0)
            information, gradient = told[1:, 1:] + gone, told[1:, 0] + pull
            shift = np.linalg.solve(information, gradient)
            value = sum(determinant for determinant, _ in each) + 0.5 * float(
                np.linalg.slogdet(information)[1]
            )
            values[row, column] = value + 0.5 * (float(told[0, 0]) - float(gradient @ shift))
    share = np.exp(values.min() - values)
    square = (share / share.sum()) @ sizes**2
    return ModelError(least, tuple((*pair, float(each)) for pair, each in zip(tried, square, strict=True)))
