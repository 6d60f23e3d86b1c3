"""How sure the fit is: covariance of what it says, and the spread between circuits that fit about as well."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.circuit import Circuit
from sealtune.analysis.model_error import apart, correlation, model_error
from sealtune.analysis.search import M, Minimum, Points, weighted_cost
from sealtune.physics.vented_box import VentedBox, tuning_and_q
from sealtune.records.interval import Interval

Reals = NDArray[np.float64]

CORRELATION_LENGTH = 0.12
"""Of a model's error, in ln f (a sixth of an octave), where circuits are weighed against one another."""

CELL = 0.02
"""Cells of ln f, a thirtieth of an octave, narrow against any correlation length of a model's error."""

TEXTBOOK_ODDS = 0.1
"""A box with one kind of loss alone is met in tables that somebody computed; hardly ever at the bench."""

LEAK_ODDS = 0.2
"""One finished box in six leaks; our own judgement, no statistics known."""

UNTOLD_ODDS = 0.1
"""One box in five is measured through a crossover of which its design says nothing, half of them of either kind; our
own judgement."""

LEAST_SHARE = 1e-3
"""A circuit that counts for less adds nothing to the interval."""

COVERAGE = 1.96
"""Standard deviations to a 95 % interval [TN1297]."""

SYSTEMATIC = (5e-4, 0.03, 0.01, 1e-3)
"""Relative standard deviations of tuning, Q, compliance ratio and f_S that no residual shows: the sound
card's clock, the lumped vent, the air that moves with cone and vent."""

UNTOLD_SYSTEMATIC = 1e-3
"""The same of the tuning where the crossover is one that nobody told of. A coil's loss and the resistor beside a
crossover's capacitor look alike in the band, in amounts that are not small; a resistor three times too small
moves the tuning by this much."""


def derived(box: VentedBox, near_hz: float | None = None) -> Reals:
    """Return the logarithms of tuning (Hz), box Q, compliance ratio and driver resonance (Hz), shape (4,).

    near_hz: about where the tuning is, None if not known
    """
    tuning, q = tuning_and_q(box, near_hz)
    return np.log([tuning, q, box.alpha, box.ws_rad_s / (2.0 * np.pi)])


def covariance(minimum: Minimum[M], points: Points) -> Reals:
    """Return the covariance of the fitted vector, shape (p, p).

    The noise is independent from point to point, the model's error is not: its size and correlation length come
    from the residual. Both are carried through the least squares, as is what was known beforehand [GUM].
    """
    error = model_error(minimum, points)
    size = points.size_ohm
    weight = 1.0 / points.spread_ohm(minimum.model_error)
    missed = points.each(error.size) * size * weight
    known = np.diag(minimum.model.prior()[1] ** 2)
    starts, centres = _cells(points)
    distance = apart(centres, np.searchsorted(points.starts, starts, side="right"))
    kernel = np.sum(
        [square * correlation(distance, length, kind) for kind, length, square in error.mixture], axis=0
    )
    information, meat = known.copy(), known.copy()
    for part in (minimum.jacobian.real, minimum.jacobian.imag):
        slope = part * weight[:, None]
        information += slope.T @ slope
        by_model = np.add.reduceat(slope * missed[:, None], starts)
        by_noise = slope * (points.sigma_ohm * weight)[:, None]
        meat += by_model.T @ kernel @ by_model + by_noise.T @ by_noise
    # scaled to a unit diagonal before it is inverted: the quantities need not be of one size
    unit = 1.0 / np.sqrt(np.maximum(np.diag(information), 1e-300))
    spread = unit[:, None] * np.linalg.pinv(information * np.outer(unit, unit), hermitian=True) * unit
    return np.asarray(spread @ meat @ spread)


def _cells(points: Points) -> tuple[NDArray[np.int64], Reals]:
    """Return the first point and the middle of each cell of ln f within which the model's error is one."""
    position = np.log(points.frequency_hz)
    edge = np.diff(np.floor(position / CELL)) != 0
    edge[np.array(points.starts[1:], dtype=np.int64) - 1] = True
    starts = np.concatenate([[0], np.flatnonzero(edge) + 1])
    return starts, np.add.reduceat(position, starts) / np.diff(np.append(starts, position.size))


def gradient_of(function: Callable[[Reals], Reals], vector: Reals, covariance: Reals) -> Reals:
    """Return the derivatives of function(vector), shape (q, p), by differences over a thousandth of a deviation."""
    # at most a thousandth of the value itself, where the curve says nothing at all of it
    steps = 1e-3 * np.sqrt(np.clip(np.diag(covariance), 1e-300, 1.0 + vector**2))
    columns = []
    for index, step in enumerate(steps.tolist()):
        moved = np.zeros_like(vector)
        moved[index] = step
        columns.append((function(vector + moved) - function(vector - moved)) / (2.0 * step))
    return np.array(columns).T


def propagated(function: Callable[[Reals], Reals], vector: Reals, covariance: Reals) -> Reals:
    """Return the covariance of function(vector) by the law of propagation of uncertainty, shape (q, q) [GUM].

    function: from a vector of shape (p,) to one of shape (q,), nearly linear within the uncertainty
    covariance: of the vector, shape (p, p)
    """
    slope = gradient_of(function, vector, covariance)
    return np.asarray(slope @ covariance @ slope.T)


def derived_covariance(minimum: Minimum[Circuit], covariance: Reals) -> Reals:
    """Return the covariance of the derived quantities from that of the fitted vector, shape (4, 4)."""
    shared = len(minimum.model.names)
    unpack = minimum.model.packing.unpack
    near_hz = float(np.exp(derived(minimum.model.unpack(minimum.vector))[0]))
    return propagated(
        lambda vector: derived(unpack(vector), near_hz), minimum.vector[:shared], covariance[:shared, :shared]
    )


@dataclass(frozen=True)
class Admissible:
    """A circuit that may be true, how probable it is among those tried, and the covariance of its vector."""

    minimum: Minimum[Circuit]
    share: float
    covariance: Reals


def odds_of(circuit: Circuit) -> float:
    """Return how probable a circuit is beforehand against the full one."""
    odds = 1.0 if circuit.packing.given else UNTOLD_ODDS
    if "absorption" not in circuit.names:
        return odds * TEXTBOOK_ODDS
    return odds * LEAK_ODDS if "leak_ratio" in circuit.names else odds


def admissible(minima: Sequence[Minimum[Circuit]], points: Points) -> tuple[Admissible, ...]:
    """Return the circuits that count, the most probable first."""
    odds = [odds_of(minimum.model) for minimum in minima]
    ranked = sorted(zip(weights(minima, points, odds), minima, strict=True), key=lambda pair: -pair[0])
    counted = [(float(share), minimum) for share, minimum in ranked if share > LEAST_SHARE]
    total = sum(share for share, _ in counted)
    return tuple(
        Admissible(minimum, share / total, covariance(minimum, points)) for share, minimum in counted
    )


def independent_share(points: Points, model_error: Reals) -> float:
    """Return the share of the points that count as independent, 0..1: all where noise rules.

    Where the model's error rules, it is one for each CORRELATION_LENGTH of each curve.
    """
    error = (points.each(model_error) * points.size_ohm) ** 2
    share = float(np.mean(error / (points.sigma_ohm**2 + error)))
    count = points.frequency_hz.size
    stretch = sum(
        float(np.log(points.frequency_hz[part.stop - 1] / points.frequency_hz[part.start]))
        for part in points.parts
    )
    return (1.0 - share) + share * min(stretch / CORRELATION_LENGTH, count) / count


def weights(minima: Sequence[Minimum[M]], points: Points, odds: Sequence[float] | None = None) -> Reals:
    """Return how probable each circuit is among these, shape (m,), summing to 1.

    Laplace's approximation to the evidence [MacKay2003, ch. 27 and 28], all with the least model error among
    them and with as many independent points as that error leaves.
    odds: how probable each is beforehand, up to a common factor; None for all alike
    """
    least = np.min([minimum.model_error for minimum in minima], axis=0)
    independent = independent_share(points, least)
    lengths = np.array([_description_length(minimum, points, least, independent) for minimum in minima])
    if odds is not None:
        lengths -= np.log(odds)
    probability = np.exp(lengths.min() - lengths)
    return np.asarray(probability / probability.sum())


def _description_length(minimum: Minimum[M], points: Points, model_error: Reals, independent: float) -> float:
    """Return minus the logarithm of the evidence, up to what all circuits share.

    independent: share of the points that count as independent
    """
    known = minimum.model.prior()[1]
    slope = minimum.jacobian / points.spread_ohm(model_error)[:, None]
    information = independent * (slope.conj().T @ slope).real + np.diag(known**2)
    cost = weighted_cost(minimum, points, model_error, independent)
    return cost - float(np.log(known[known > 0.0]).sum()) + 0.5 * float(np.linalg.slogdet(information)[1])


def combined(circuits: Sequence[Admissible]) -> tuple[Reals, Reals]:
    """Return the weighted mean of what the circuits say, and its covariance.

    returns: logarithms shape (4,), covariance shape (4, 4) with the spread between circuits and what SYSTEMATIC
        adds
    """
    values = [derived(each.minimum.model.unpack(each.minimum.vector)) for each in circuits]
    centre = np.sum([each.share * value for each, value in zip(circuits, values, strict=True)], axis=0)
    total = np.diag(np.square(SYSTEMATIC))
    for each, value in zip(circuits, values, strict=True):
        total = total + each.share * np.outer(value - centre, value - centre)
        total = total + each.share * derived_covariance(each.minimum, each.covariance)
        if not each.minimum.model.packing.given:
            total[0, 0] += each.share * UNTOLD_SYSTEMATIC**2
    return np.asarray(centre), total


def interval(centre: float, deviation: float) -> Interval:
    """Return value and 95 % interval from the mean and the standard deviation of the logarithm."""
    low, value, high = np.exp(
        np.clip([centre - COVERAGE * deviation, centre, centre + COVERAGE * deviation], -60, 60)
    )
    return Interval(float(value), float(low), float(high))
