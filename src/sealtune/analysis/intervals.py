"""How sure the fit is: covariance of what it says, and the spread between circuits that fit about as well."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.model_error import correlation, model_error
from sealtune.analysis.search import Minimum, weighted_cost
from sealtune.physics.vented_box import VentedBox, tuning_and_q
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.interval import Interval

Reals = NDArray[np.float64]

CORRELATION_LENGTH = 0.12
"""Of a model's error, in ln f (a sixth of an octave), where circuits are weighed against one another."""

CELL = 0.02
"""Cells of ln f, a thirtieth of an octave, narrow against any correlation length of a model's error."""

LEAST_SHARE = 1e-3
"""A circuit that counts for less adds nothing to the interval."""

COVERAGE = 1.96
"""Standard deviations to a 95 % interval [TN1297]."""

SYSTEMATIC = (5e-4, 0.03, 0.005, 1e-3)
"""Relative standard deviations of tuning, Q, compliance ratio and f_S that no residual shows: the sound
card's clock, the lumped vent, the air that moves with cone and vent."""


def derived(box: VentedBox) -> Reals:
    """Return the logarithms of tuning (Hz), box Q, compliance ratio and driver resonance (Hz), shape (4,)."""
    tuning, q = tuning_and_q(box)
    return np.log([tuning, q, box.alpha, box.ws_rad_s / (2.0 * np.pi)])


def covariance(minimum: Minimum, curve: ImpedanceCurve) -> Reals:
    """Return the covariance of the derived quantities, shape (4, 4).

    The noise is independent from point to point, the model's error is not: its size and correlation length come
    from the residual. Both are carried through the least squares [GUM].
    """
    error = model_error(minimum, curve)
    size = np.abs(curve.impedance_ohm)
    weight = 1.0 / np.sqrt(curve.sigma_ohm**2 + (minimum.model_error * size) ** 2)
    known = np.diag(minimum.circuit.prior()[1] ** 2)
    starts, centres = _cells(np.log(curve.frequency_hz))
    kernel = correlation(np.abs(centres[:, None] - centres[None, :]), error.length)
    information, meat = known.copy(), known.copy()
    for part in (minimum.jacobian.real, minimum.jacobian.imag):
        slope = part * weight[:, None]
        information += slope.T @ slope
        by_model = np.add.reduceat(slope * (error.size * size * weight)[:, None], starts)
        by_noise = slope * (curve.sigma_ohm * weight)[:, None]
        meat += by_model.T @ kernel @ by_model + by_noise.T @ by_noise
    spread = np.linalg.pinv(information, hermitian=True)
    gradient = _gradient(minimum)
    return np.asarray(gradient @ spread @ meat @ spread @ gradient.T)


def _cells(position: Reals) -> tuple[NDArray[np.int64], Reals]:
    """Return the first point and the middle of each cell of ln f within which the model's error is one."""
    cell = np.floor(position / CELL)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(cell)) + 1])
    return starts, np.add.reduceat(position, starts) / np.diff(np.append(starts, position.size))


def _gradient(minimum: Minimum) -> Reals:
    """Return the derivatives of the derived quantities by the fitted vector, shape (4, p)."""
    step = 1e-5
    gradient = np.empty((4, minimum.vector.size))
    for index in range(minimum.vector.size):
        ahead, behind = minimum.vector.copy(), minimum.vector.copy()
        ahead[index] += step
        behind[index] -= step
        gradient[:, index] = derived(minimum.circuit.unpack(ahead)) - derived(minimum.circuit.unpack(behind))
    return gradient / (2.0 * step)


def weights(minima: list[Minimum], curve: ImpedanceCurve) -> Reals:
    """Return how probable each circuit is among these, shape (m,), summing to 1.

    Laplace's approximation to the evidence [MacKay2003, ch. 27 and 28], all with the least model error among
    them and with as many independent points as that error leaves.
    """
    least = min(minimum.model_error for minimum in minima)
    size = np.abs(curve.impedance_ohm)
    share = float(np.mean((least * size) ** 2 / (curve.sigma_ohm**2 + (least * size) ** 2)))
    points = curve.frequency_hz.size
    bands = float(np.log(curve.frequency_hz[-1] / curve.frequency_hz[0])) / CORRELATION_LENGTH
    independent = ((1.0 - share) * points + share * min(bands, points)) / points
    lengths = np.array([_description_length(minimum, curve, least, independent) for minimum in minima])
    probability = np.exp(lengths.min() - lengths)
    return np.asarray(probability / probability.sum())


def _description_length(
    minimum: Minimum, curve: ImpedanceCurve, model_error: float, independent: float
) -> float:
    """Return minus the logarithm of the evidence, up to what all circuits share.

    independent: share of the points that count as independent
    """
    known = minimum.circuit.prior()[1]
    spread = np.sqrt(curve.sigma_ohm**2 + (model_error * np.abs(curve.impedance_ohm)) ** 2)
    slope = minimum.jacobian / spread[:, None]
    information = independent * (slope.conj().T @ slope).real + np.diag(known**2)
    cost = weighted_cost(minimum, curve, model_error, independent)
    return cost - float(np.log(known[known > 0.0]).sum()) + 0.5 * float(np.linalg.slogdet(information)[1])


def combined(minima: list[Minimum], curve: ImpedanceCurve) -> tuple[int, Reals, Reals]:
    """Return the index of the best circuit, the weighted mean of what all say, and its covariance.

    returns: index, logarithms shape (4,), covariance shape (4, 4) with the spread between circuits and what
        SYSTEMATIC adds
    """
    shares = weights(minima, curve)
    values = np.array([derived(minimum.box) for minimum in minima])
    centre = shares @ values
    total = np.diag(np.square(SYSTEMATIC))
    for share, value, minimum in zip(shares, values, minima, strict=True):
        total = total + share * np.outer(value - centre, value - centre)
        if share > LEAST_SHARE:
            total = total + share * covariance(minimum, curve)
    return int(np.argmax(shares)), centre, total


def interval(centre: float, deviation: float) -> Interval:
    """Return value and 95 % interval from the mean and the standard deviation of the logarithm."""
    low, value, high = np.exp(
        np.clip([centre - COVERAGE * deviation, centre, centre + COVERAGE * deviation], -60, 60)
    )
    return Interval(float(value), float(low), float(high))
