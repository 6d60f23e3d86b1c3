"""How far, and over how wide a band at a stretch, a circuit misses a real box: restricted maximum likelihood.

What a fit leaves over understates what it got wrong, the more so the smoother the error is: much of it has gone
into the fitted quantities. The likelihood of the residual with the fitted quantities integrated out
[Patterson1971] takes that into account and finds both the size and the correlation length of the error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from sealtune.analysis.search import Minimum
from sealtune.records.curve import ImpedanceCurve

Reals = NDArray[np.float64]

LENGTHS = (0.03, 0.07, 0.15, 0.3, 0.6)
"""Correlation lengths tried, in ln f: from a tenth of a third-octave band to almost an octave."""

STEPS = 8
"""Sizes tried for each, from half of what the residual shows to ten times as much."""

NEGLIGIBLE = 0.1
"""A model's error below this share of the noise changes no interval."""

MOST_POINTS = 100


@dataclass(frozen=True)
class ModelError:
    """The error of a circuit against a real box.

    size: standard deviation over |Z| of its real and of its imaginary part
    length: its correlation length in ln f, see `correlation`
    """

    size: float
    length: float


def correlation(distance: Reals, length: float) -> Reals:
    """Return the correlation of the error at a distance in ln f: Matern's with exponent 3/2 [Matern1960].

    It stands for errors that run smoothly but not endlessly so, such as those of a lumped circuit.
    """
    reach = np.sqrt(3.0) * distance / length
    return np.asarray((1.0 + reach) * np.exp(-reach))


def model_error(minimum: Minimum, curve: ImpedanceCurve) -> ModelError:
    """Return the likeliest size and correlation length of the circuit's error.

    minimum: the fit to `curve`
    """
    pick = np.unique(np.linspace(0, curve.frequency_hz.size - 1, MOST_POINTS).astype(int))
    z = np.abs(curve.impedance_ohm[pick])
    residual = minimum.residual[pick] / z
    slope = minimum.jacobian[pick] / z[:, None]
    noise = curve.sigma_ohm[pick] / z
    position = np.log(curve.frequency_hz[pick])
    mean, known = minimum.circuit.prior()
    gone = np.diag(known**2)
    pull = known**2 * (minimum.vector - mean)
    distance = np.abs(position[:, None] - position[None, :])
    least = max(minimum.model_error / np.sqrt(2.0), 1e-7)
    best = (np.inf, ModelError(least, LENGTHS[0]))
    if minimum.model_error < NEGLIGIBLE * float(np.median(noise)):
        return best[1]
    for length in LENGTHS:
        kernel = correlation(distance, length)
        for size in least * np.geomspace(0.5, 10.0, STEPS):
            factor = cho_factor(size**2 * kernel + np.diag(noise**2), lower=True)
            solved = cho_solve(factor, np.column_stack([residual, slope]))
            information = (slope.conj().T @ solved[:, 1:]).real + gone
            gradient = (slope.conj().T @ solved[:, 0]).real + pull
            misfit = float((residual.conj() @ solved[:, 0]).real)
            shift = np.linalg.solve(information, gradient)
            value = 2.0 * float(np.log(np.diag(factor[0])).sum()) + 0.5 * float(
                np.linalg.slogdet(information)[1]
            )
            value += 0.5 * (misfit - float(gradient @ shift))
            if value < best[0]:
                best = (value, ModelError(float(size), length))
    return best[1]
