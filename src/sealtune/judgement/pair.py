"""Two cabinets of one design: what differs, what that costs, and what makes them match."""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.curve_difference import impedance_difference
from sealtune.analysis.intervals import COVERAGE, SYSTEMATIC
from sealtune.analysis.mates import MatesFit
from sealtune.judgement.near_field_pair import near_field_pair
from sealtune.judgement.pair_cost import band_differences, logs_of
from sealtune.judgement.pair_leak import weigh_mates
from sealtune.judgement.pair_steps import matching_steps
from sealtune.judgement.pair_words import DRIVERS_APART_DB, HEARD_FROM_DB, LEAK_TOLD, notes_of, summary_of
from sealtune.judgement.resistance import LEADS_OHM, OWN_TAKE
from sealtune.judgement.two_takes import LEAKING, MAY_LEAK, other_jig, own_covariance, weather
from sealtune.physics.air import Air
from sealtune.records.design import Climate, Tuning
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.near_field import NearFieldPair
from sealtune.records.pair import SIDES, BandDifference, Difference, Pair, QuantityName, Side
from sealtune.records.verdict import Result, VerdictWord

Reals = NDArray[np.float64]

BY_OPEN_CURVE = (0.12, 0.05, 0.03, 0.12)
"""Relative standard deviations of Q_MS, Q_ES, R_E and R_ES of one cabinet by its open curve alone, where the two could
not be fitted together. Q_MS and R_ES were off by 7 % on 60 sealed virtual cabinets and by 15 % on 60 with a leak that
halves the box Q; this is the mean square of one of each. Q_ES and R_E were off by 0.4 % at most, but behind a
crossover or beside a wall they are known less well: our own judgement. The driver's own curve would tell Q_MS."""

BETWEEN_TAKES = (5e-4, 0.01, 0.008, 0.004, 0.01)
"""Relative standard deviations of the ratio of two takes of tuning, box Q, compliance ratio, f_S and Q_MS within one
session: some tenths of a kelvin in the room, and a suspension that remembers how it was driven (common practice)."""

SAME_AIR_DAYS = 0.125
"""Recordings made within three hours count as made in the same air (common practice)."""

RANK: tuple[VerdictWord, ...] = ("good", "rework", "remeasure")


@dataclass(frozen=True)
class _Compared:
    """Logarithms of the eight quantities of left and right, and the covariance of left less right, shape (8, 8)."""

    left: Reals
    right: Reals
    covariance: Reals
    joint: bool


def judge_pair(
    left: Result,
    right: Result,
    air: Air,
    together: MatesFit | None = None,
    *,
    days_apart: float | None = None,
) -> Pair:
    """Return how well two cabinets match that were judged against the same design.

    together: both fitted together; None where that could not be done
    days_apart: between the two recordings, None where not known; on one day the air counts as the same
    """
    tolerance = (left.design.tuning if left.design else Tuning()).tolerance
    own: VerdictWord = max(left.verdict, right.verdict, key=RANK.index)
    near = _near(left, right)
    opposed = near is not None and near.polarity == "opposite"
    if own == "remeasure" or left.fit is None or right.fit is None:
        summary = summary_of(left, right, None, tolerance, (), None)
        return Pair(
            left, right, own, None if own == "remeasure" else False, summary, tolerance,
            steps=() if own == "remeasure" else matching_steps(left, right, None, None, LEAK_TOLD),
            near_field=near,
        )  # fmt: skip
    fits = (left.fit, right.fit)
    same_jig = left.jig_words == right.jig_words
    climate = left.design.climate if left.design else Climate()
    other_day = days_apart is not None and days_apart > SAME_AIR_DAYS
    compared = _compared(left, right, fits, together, same_jig=same_jig)
    compared.covariance[0, 0] += weather(climate) ** 2 if other_day else 0.0
    differences = _differences(compared)
    tuning = differences[0]
    bands = band_differences(
        fits, (compared.left[:6], compared.right[:6]), compared.covariance[:6, :6], left.design, air
    )
    leaks = _leaks(left, right, fits, together if compared.joint else None, air)
    leaking = leaks is not None and max(leaks) >= LEAK_TOLD
    steps = matching_steps(left, right, tuning, leaks, LEAK_TOLD)
    off = abs(tuning.left / tuning.right - 1.0) > tolerance
    matched = not (off or leaking or opposed or _apart(bands))
    verdict: VerdictWord = "rework" if own == "good" and not matched else own
    by_curves = None
    if left.curve is not None and right.curve is not None:
        jig = other_jig(same_jig=same_jig)
        by_curves = impedance_difference(left.curve, right.curve, float(np.hypot(jig, OWN_TAKE)))
    return Pair(
        left, right, verdict, matched,
        f"Not matched: {near.words[0]}"
        if near is not None and opposed
        else summary_of(left, right, tuning, tolerance, bands, leaks),
        tolerance, differences, compared.joint, by_curves, bands, leaks,
        _farther(left, tuning), steps,
        notes_of(joint=compared.joint, same_jig=same_jig, other_day=other_day, dated=days_apart is not None),
        near,
    )  # fmt: skip


def _compared(
    left: Result, right: Result, fits: tuple[BoxFit, BoxFit], together: MatesFit | None, *, same_jig: bool
) -> _Compared:
    """Return the quantities by both curves together, else by each alone as if their errors were independent.

    To the resistances is added what a coil's warmth and the clips do from one take to the next, to the others
    BETWEEN_TAKES.
    """
    take = np.hypot(OWN_TAKE, LEADS_OHM / fits[0].re_ohm)
    jig = other_jig(same_jig=same_jig)
    between = np.diag(np.square([*BETWEEN_TAKES, 0.0, 0.0, 0.0]))
    between[5:7, 5:7] = take**2  # R_E, and Q_ES along with it
    between[6, 6] += jig**2
    between[7, 7] += jig**2
    if together is not None:
        for one in (left, right):  # the circuit that fits both has no gap
            if one.leak.probability > MAY_LEAK:
                between[:4, :4] += one.leak.probability * np.diag(np.square(LEAKING))
        return _Compared(together.left, together.right, together.covariance + between, joint=True)
    spread = np.zeros((8, 8))
    for one, fit in zip((left, right), fits, strict=True):
        spread[:4, :4] += own_covariance(fit, one.leak)
        spread[4:, 4:] += np.diag(np.square(BY_OPEN_CURVE))
    return _Compared(logs_of(fits[0]), logs_of(fits[1]), spread + between, joint=False)


def _differences(compared: _Compared) -> tuple[Difference, ...]:
    """Return the differences in the quantities' own units; what both share scales them and does not make them."""
    names: tuple[QuantityName, ...] = get_args(QuantityName)
    shared = np.append(SYSTEMATIC, (0.03, 0.03, 0.01, 0.01))
    found = []
    for row, name in enumerate(names):
        one, other = float(np.exp(compared.left[row])), float(np.exp(compared.right[row]))
        spread = float(np.sqrt(compared.covariance[row, row] * one * other))
        reach = COVERAGE * float(np.hypot(spread, shared[row] * (one - other)))
        found.append(
            Difference(name, one, other, Interval(one - other, one - other - reach, one - other + reach))
        )
    return tuple(found)


def _near(left: Result, right: Result) -> NearFieldPair | None:
    if left.near_field is None or right.near_field is None:
        return None
    return near_field_pair((left.cabinet, right.cabinet), left.near_field, right.near_field)


def _leaks(
    left: Result, right: Result, fits: tuple[BoxFit, BoxFit], together: MatesFit | None, air: Air
) -> tuple[float, float] | None:
    if left.design is None or left.prediction is None or right.prediction is None:
        return None
    by_left, by_right = weigh_mates(fits, left.design, left.prediction, air, together)
    return by_left["leak"], by_right["leak"]


def _apart(bands: tuple[BandDifference, ...]) -> bool:
    return any(
        abs(band.boxes_db.value) > HEARD_FROM_DB or abs(band.difference_db.value) > DRIVERS_APART_DB
        for band in bands
        if band.heard
    )


def _farther(left: Result, tuning: Difference) -> Side | None:
    """Return the cabinet whose tuning lies farther from the design's, None where that is not certain."""
    if left.prediction is None or not tuning.certain:
        return None
    target = left.prediction.target_hz
    off = [abs(float(np.log(hz / target))) for hz in (tuning.left, tuning.right)]
    return SIDES[int(off[1] > off[0])]
