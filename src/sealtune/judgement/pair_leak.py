"""The causes of two cabinets weighed together: each is the best witness of what the other should be.

What a design leaves open it leaves open for both: how much its joints, surround and pores leak without fault, how far
its vent's dimensions mislead, of which batch its drivers are. So the signs of the two are correlated, and the
difference tells a fault that neither shows by itself, such as a leak that costs a fifth of the box Q.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import hypot

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.circuit import AMONG_DRIVERS
from sealtune.analysis.losses import PARTS
from sealtune.analysis.mates import MatesFit
from sealtune.judgement.causes import FREEDOM, Cause, causes_of
from sealtune.judgement.signs import LUMPED, Signs, signs_of
from sealtune.physics.air import Air
from sealtune.records.design import Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.verdict import FaultName

Reals = NDArray[np.float64]

MATE_LOSS = {"leakage": 0.10, "friction": 0.05, "absorption": 0.10}
"""Standard deviation of ln of each loss of one sealed cabinet around what mates share: the same surround and glue, the
same tube, the same sheet of damping material, laid by the same hands; our own judgement, no statistics known.
`signs.PART_SPREAD` is what builders and designs differ by."""

MATE_VOLUME = 0.005
"""The same of the net volume: boards of one setting of the saw (common practice)."""

BETWEEN_SIZES = (0.012, 0.012, 0.012, 0.02, 0.005, 0.005, 0.005)
"""Half of how far the sizes of a fault lie apart, of the four signs and of 1/Q by part; mates are closer alike."""

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
    losses = _Losses.of(signs, together)
    total = np.zeros((14, 14))
    here = np.ix_(*2 * [np.r_[0:4, 7:11]])
    total[here] = _mates(*_of_signs(signs, design, prediction, together))
    there = np.ix_(*2 * [np.r_[4:7, 11:14]])
    total[there] = losses.covariance
    found = [np.append(sign.deviation, loss) for sign, loss in zip(signs, losses.excess, strict=True)]
    told = np.eye(7)
    if not all(
        "plugged" in fit.roles for fit in fits
    ):  # a large leak bends the split; the total alone is sound
        told = np.vstack([told[:4], told[4:].sum(axis=0)])
    of_both = np.kron(np.eye(2), told)
    likely = np.outer(left.prior * left.seen, right.prior * right.seen)
    for mine, its in product((left.faulty, ~left.faulty), (right.faulty, ~right.faulty)):
        steps = np.concatenate(
            [each[0] * np.array(BETWEEN_SIZES) for each in (left.faulty[mine], right.faulty[its])]
        )
        likely[np.ix_(mine, its)] *= _likelihood(
            (found[0] - left.moved[mine]) @ told.T,
            (found[1] - right.moved[its]) @ told.T,
            of_both @ (total + np.diag(steps**2)) @ of_both.T,
        )
    likely /= likely.sum()
    return left.summed(causes[0], likely.sum(axis=1)), right.summed(causes[1], likely.sum(axis=0))


def _likelihood(left: Reals, right: Reals, covariance: Reals) -> Reals:
    """Return the likelihood of what is left over, for each two sizes, shape (n, m).

    left, right: what each size leaves over, shapes (n, k) and (m, k)
    covariance: of both together, shape (2k, 2k)
    """
    white, half = np.linalg.inv(np.linalg.cholesky(covariance)), left.shape[1]
    by_left, by_right = left @ white[:, :half].T, right @ white[:, half:].T
    distance = np.sum(by_left**2, axis=1)[:, None] + np.sum(by_right**2, axis=1)[None, :]
    distance += 2.0 * by_left @ by_right.T
    density = (1.0 + distance / FREEDOM) ** (-0.5 * (FREEDOM + covariance.shape[0]))
    return np.asarray(density * np.prod(np.diag(white)))


@dataclass(frozen=True)
class _Sizes:
    """All causes of one cabinet with all their sizes, one after the other.

    moved: what each does to the four signs and adds to 1/Q by part, shape (n, 7)
    prior, seen: see Cause, shape (n,)
    faulty: all but the box as designed, shape (n,)
    """

    prior: Reals
    moved: Reals
    seen: Reals
    faulty: NDArray[np.bool_]

    @classmethod
    def of(cls, causes: tuple[Cause, ...]) -> _Sizes:
        return cls(
            np.concatenate([one.prior for one in causes]),
            np.concatenate([np.hstack([one.shift, one.adds]) for one in causes]),
            np.concatenate([one.seen for one in causes]),
            np.concatenate([np.full(one.seen.size, one.fault is not None) for one in causes]),
        )

    @staticmethod
    def summed(causes: tuple[Cause, ...], share: Reals) -> Probability:
        ends = np.cumsum([one.seen.size for one in causes])[:-1]
        return {one.fault: float(part.sum()) for one, part in zip(causes, np.split(share, ends), strict=True)}


def _mates(own: Reals, shared: Reals) -> Reals:
    """Return the covariance of left and right together, shape (2n, 2n)."""
    return np.block([[shared + own, shared], [shared, shared + own]])


def _of_signs(
    signs: tuple[Signs, ...], design: Design, prediction: Prediction, together: MatesFit | None
) -> tuple[Reals, Reals]:
    """Return the covariance of the four signs that each cabinet has of its own, and what mates share, shape (4, 4)."""
    whole = 0.5 * (signs[0].covariance + signs[1].covariance)
    own = np.diag(np.minimum(np.square(_own_spread(design, prediction)), np.diag(whole)))
    if together is not None:  # the measurement's own share
        order = [0, 2, 3]
        own[:3, :3] += 0.5 * together.covariance[np.ix_(order, order)]
    return own, _positive(whole - own)


def _own_spread(design: Design, prediction: Prediction) -> tuple[float, float, float, float]:
    """Return by how much tuning, compliance ratio, f_S and motor of one cabinet differ from what mates share."""
    length = 0.0
    if design.vent is not None and prediction.effective_length_m:
        length = 0.25 * design.vent.length_tolerance_m / prediction.effective_length_m
    stiff = AMONG_DRIVERS["ws_rad_s"]
    return (
        hypot(length, 0.5 * MATE_VOLUME),
        hypot(2.0 * stiff, MATE_VOLUME),
        stiff,
        hypot(AMONG_DRIVERS["re_ohm"], AMONG_DRIVERS["res_ohm"]),
    )


def _positive(matrix: Reals) -> Reals:
    """Return the nearest matrix without negative eigenvalues."""
    values, axes = np.linalg.eigh(0.5 * (matrix + matrix.T))
    return np.asarray((axes * np.maximum(values, 0.0)) @ axes.T)


@dataclass(frozen=True)
class _Losses:
    """The losses of both cabinets.

    excess: 1/Q of each part over what a sealed box has, of left and right, shape (3,) each
    covariance: of the six, left's first, shape (6, 6)
    """

    excess: tuple[Reals, ...]
    covariance: Reals

    @classmethod
    def of(cls, signs: tuple[Signs, ...], together: MatesFit | None) -> _Losses:
        usual, spread = signs[0].usual, signs[0].usual_spread
        own = np.array([MATE_LOSS[name] for name in PARTS]) * usual
        # what no residual shows lies in the circuit, and that is the same for both
        lumped = (LUMPED * 0.5 * (signs[0].loss + signs[1].loss)) ** 2
        covariance = _mates(np.diag(own**2), np.diag(spread**2 - own**2 + lumped))
        losses, measured, both = [], [], np.zeros((3, 3))
        for place, sign in enumerate(signs):
            loss, found = sign.loss, sign.loss_covariance
            if together is not None:  # the total by both curves; what of its error is not its own, both share
                total = float(np.exp(-(together.left, together.right)[place][1]))
                along, variance = found.sum(axis=1), float(found.sum())
                share = along / variance
                loss = loss + share * (total - loss.sum())
                alone = min(0.5 * total**2 * float(together.covariance[1, 1]), variance)
                common = (variance - alone) * np.outer(share, share)
                found, both = found - common, both + 0.5 * common
            losses.append(loss - usual)
            measured.append(found)
        none = np.zeros((3, 3))
        covariance += np.block([[measured[0], none], [none, measured[1]]]) + _mates(none, both)
        return cls(tuple(losses), covariance)
