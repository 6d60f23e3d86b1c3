"""The causes of two cabinets weighed together: each is the best witness of what the other should be.

What a design leaves open it leaves open for both: how much its joints, surround and pores leak without fault, how far
its vent's dimensions mislead, of which batch its drivers are. So the signs of the two are correlated, and the
difference tells a fault that neither shows by itself, such as a leak that costs a fifth of the box Q.
"""

from __future__ import annotations

from math import hypot

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.circuit import AMONG_DRIVERS
from sealtune.analysis.mates import MatesFit
from sealtune.judgement.causes import FREEDOM, Cause, causes_of
from sealtune.judgement.signs import PARTS, Signs, signs_of
from sealtune.physics.air import Air
from sealtune.records.design import Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.verdict import FaultName

Reals = NDArray[np.float64]

MATE_LOSS = {"leakage": 0.12, "friction": 0.10, "absorption": 0.15}
"""Standard deviation of ln of each loss of one sealed cabinet around that of its mate's design and builder; our own
judgement, no statistics known. `signs.PART_SPREAD` is what builders and designs differ by."""

MATE_VOLUME = 0.005
"""The same of the net volume: boards of one setting of the saw (common practice)."""

LEAST_TUNING = 0.002
"""The same of the tuning, at least."""

Probability = dict[FaultName | None, float]


def weigh_mates(
    fits: tuple[BoxFit, BoxFit],
    design: Design,
    prediction: Prediction,
    air: Air,
    together: MatesFit | None = None,
) -> tuple[Probability, Probability]:
    """Return the probabilities of the causes of left and right; of each cabinet one cause at a time.

    together: both fitted together, where that could be done; it knows their difference better
    """
    signs = tuple(signs_of(fit, design, prediction, air) for fit in fits)
    causes = tuple(causes_of(sign, fit, design, air) for sign, fit in zip(signs, fits, strict=True))
    left, right = (_Sizes.of(each) for each in causes)
    distance, volume = _by_signs(signs[0], signs[1], (left.shift, right.shift), design, prediction, together)
    spread, degrees = np.full(distance.shape, volume), FREEDOM + 8.0
    for group in _common_groups(signs[0], signs[1], fits, together):
        more, wide = group.told(left.adds, right.adds)
        distance, spread, degrees = distance + more, spread * wide, degrees + 2.0
    told = (1.0 + distance / FREEDOM) ** (-0.5 * degrees) / spread
    told *= np.outer(left.prior * left.seen, right.prior * right.seen)
    told /= told.sum()
    return left.summed(causes[0], told.sum(axis=1)), right.summed(causes[1], told.sum(axis=0))


class _Sizes:
    """All causes of one cabinet with all their sizes, one after the other."""

    def __init__(self, prior: Reals, shift: Reals, adds: Reals, seen: Reals) -> None:
        self.prior, self.shift, self.adds, self.seen = prior, shift, adds, seen

    @classmethod
    def of(cls, causes: tuple[Cause, ...]) -> _Sizes:
        return cls(
            np.concatenate([np.full(one.seen.size, one.prior) for one in causes]),
            np.concatenate([one.shift for one in causes]),
            np.concatenate([one.adds for one in causes]),
            np.concatenate([one.seen for one in causes]),
        )

    @staticmethod
    def summed(causes: tuple[Cause, ...], share: Reals) -> Probability:
        ends = np.cumsum([one.seen.size for one in causes])[:-1]
        return {one.fault: float(part.sum()) for one, part in zip(causes, np.split(share, ends), strict=True)}


def _by_signs(
    left: Signs,
    right: Signs,
    shifts: tuple[Reals, Reals],
    design: Design,
    prediction: Prediction,
    together: MatesFit | None,
) -> tuple[Reals, float]:
    """Return the squared distance of the signs for each two sizes, shape (n, m), and the covariance's volume."""
    whole = 0.5 * (left.covariance + right.covariance)
    own = np.diag(np.minimum(np.square(_own_spread(design, prediction)), np.diag(whole)))
    if together is not None:  # the measurement's own share
        order = [0, 2, 3]
        own[:3, :3] += 0.5 * together.covariance[np.ix_(order, order)]
    shared = _positive(whole - own)
    total = np.block([[shared + own, shared], [shared, shared + own]])
    white = np.linalg.inv(np.linalg.cholesky(total))
    by_left = (left.deviation - shifts[0]) @ white[:, :4].T
    by_right = (right.deviation - shifts[1]) @ white[:, 4:].T
    square = np.sum(by_left**2, axis=1)[:, None] + np.sum(by_right**2, axis=1)[None, :]
    return square + 2.0 * by_left @ by_right.T, 1.0 / float(np.prod(np.diag(white)))


def _own_spread(design: Design, prediction: Prediction) -> tuple[float, float, float, float]:
    """Return by how much tuning, compliance ratio, f_S and motor of one cabinet differ from what mates share."""
    length = 0.0
    if design.vent is not None and prediction.effective_length_m:
        length = 0.25 * design.vent.length_tolerance_m / prediction.effective_length_m
    stiff = AMONG_DRIVERS["ws_rad_s"]
    return (
        max(hypot(length, 0.5 * MATE_VOLUME), LEAST_TUNING),
        hypot(2.0 * stiff, MATE_VOLUME),
        stiff,
        hypot(AMONG_DRIVERS["re_ohm"], AMONG_DRIVERS["res_ohm"]),
    )


def _positive(matrix: Reals) -> Reals:
    """Return the nearest matrix without negative eigenvalues."""
    values, axes = np.linalg.eigh(0.5 * (matrix + matrix.T))
    return np.asarray((axes * np.maximum(values, 0.0)) @ axes.T)


class _Group:
    """One group of losses in both cabinets.

    loss: 1/Q of left and right; measured: variance of their logarithms by the measurement, and what both share of it
    parts: which of the losses it holds, shape (3,); usual, usual_spread: see Signs
    """

    def __init__(
        self, loss: tuple[float, float], measured: tuple[float, float, float], parts: Reals, signs: Signs
    ) -> None:
        self.loss, self.measured, self.parts = loss, measured, parts
        self.usual = float(parts @ signs.usual)
        own = np.array([MATE_LOSS[name] for name in PARTS])
        own = np.minimum(own, 0.9 * signs.usual_spread)
        self.own = float((parts * signs.usual * own) @ (parts * signs.usual * own))
        self.whole = float((parts * signs.usual) ** 2 @ signs.usual_spread**2)

    def told(self, left: Reals, right: Reals) -> tuple[Reals, Reals]:
        """Return the squared distance and the spread for each two sizes, shape (n, m) each.

        left, right: what each size adds to 1/Q by part, shapes (n, 3) and (m, 3)
        """
        expected = tuple(self.usual + added @ self.parts for added in (left, right))
        first, second = (np.log(loss / each) for loss, each in zip(self.loss, expected, strict=True))
        one, other = (
            self.whole / each**2 + spread for each, spread in zip(expected, self.measured, strict=False)
        )
        both = (self.whole - self.own) / np.outer(*expected) + self.measured[2]
        determinant = np.outer(one, other) - both**2
        square = np.outer(first**2, other) + np.outer(one, second**2) - 2.0 * both * np.outer(first, second)
        return square / determinant, np.sqrt(determinant)


def _common_groups(
    left: Signs, right: Signs, fits: tuple[BoxFit, BoxFit], together: MatesFit | None
) -> list[_Group]:
    """Return the losses that both tell one by one; the total alone where they do not tell the same ones."""
    if left.groups.shape[0] > 1 and np.array_equal(left.groups, right.groups):
        rows = zip(left.loss, right.loss, left.loss_spread, right.loss_spread, left.groups, strict=True)
        return [
            _Group((float(a), float(b)), (float(u) ** 2, float(v) ** 2, 0.0), parts, left)
            for a, b, u, v, parts in rows
        ]
    spread = [float(fit.log_covariance[1, 1]) for fit in fits]
    shared = 0.0
    if together is not None:
        half = 0.5 * float(together.covariance[1, 1])
        shared = max(0.5 * (spread[0] + spread[1]) - half, 0.0)
        spread = [shared + half, shared + half]
    loss = (1.0 / fits[0].box_q.value, 1.0 / fits[1].box_q.value)
    if together is not None:
        loss = (float(np.exp(-together.left[1])), float(np.exp(-together.right[1])))
    return [_Group(loss, (spread[0], spread[1], shared), np.ones(3), left)]
