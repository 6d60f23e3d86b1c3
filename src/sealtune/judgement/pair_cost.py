"""What the difference of two cabinets costs between left and right, in third octaves."""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.intervals import COVERAGE
from sealtune.design.losses import usual_losses
from sealtune.judgement.box_pair import BANDS_HZ, band_levels_db, boxed, shares_of
from sealtune.judgement.cost import HEARD_DB, UNTOLD_DESIGN
from sealtune.physics.air import Air
from sealtune.physics.loudspeaker import Loudspeaker
from sealtune.records.design import Crossover, Design
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.pair import BandDifference

Reals = NDArray[np.float64]

SIMPLIFIED_DB = 0.05
"""Standard deviation of what the textbook circuit leaves out of a difference, dB; most of it is alike in both."""

STEP = 1e-3
"""Of a logarithm, for the derivatives."""


def band_differences(
    fits: tuple[BoxFit, BoxFit], at: tuple[Reals, Reals], covariance: Reals, design: Design | None, air: Air
) -> tuple[BandDifference, ...]:
    """Return the level of the left cabinet less that of the right in each third octave.

    at: logarithms of tuning, box Q, compliance ratio, f_S, Q_MS and Q_ES of left and right, shape (6,) each
    covariance: of left less right, shape (6, 6)
    Each is held against its own passband: how loud the two drivers play for the same voltage no impedance tells. Losses
    count as usual, what is too much as leakage.
    """
    middle = 0.5 * (at[0] + at[1])
    built = design or UNTOLD_DESIGN
    shares = usual_losses(built, float(np.exp(middle[0])), air).shares
    hidden = next((fit.hidden_crossover for fit in fits if fit.hidden_crossover is not None), None)
    crossover = built.crossover or hidden
    re_ohm = float(np.sqrt(fits[0].re_ohm * fits[1].re_ohm))

    def levels_db(of: Reals) -> Reals:
        return _levels_db(of, shares, crossover, re_ohm)

    found = [levels_db(each) for each in at]
    boxes = [np.append(each[:2], middle[2:]) for each in at]
    by_boxes = levels_db(boxes[0]) - levels_db(boxes[1])
    slope = np.array(
        [(levels_db(middle + step) - levels_db(middle - step)) / (2.0 * STEP) for step in STEP * np.eye(6)]
    ).T
    whole = _reach(slope, covariance)
    of_boxes = _reach(slope[:, :2], covariance[:2, :2])
    heard = np.maximum(*found) > HEARD_DB
    rows = zip(BANDS_HZ, found[0] - found[1], whole, by_boxes, of_boxes, heard, strict=True)
    return tuple(
        BandDifference(
            hz, Interval(float(d), float(d - r), float(d + r)), Interval(float(b), float(b - q), float(b + q)), bool(h)
        )
        for hz, d, r, b, q, h in rows
    )  # fmt: skip


def band_levels_of(fit: BoxFit, design: Design | None, air: Air) -> Reals:
    """Return the level of one cabinet in each third octave over its own passband, dB, shape (bands,)."""
    built = design or UNTOLD_DESIGN
    shares = usual_losses(built, fit.tuning_hz.value, air).shares
    return _levels_db(logs_of(fit)[:6], shares, built.crossover or fit.hidden_crossover, fit.re_ohm)


def logs_of(fit: BoxFit) -> Reals:
    """Return the logarithms of tuning, box Q, compliance ratio, f_S, Q_MS, Q_ES, R_E and R_ES, shape (8,)."""
    q = (fit.tuning_hz.value, fit.box_q.value, fit.compliance_ratio.value, fit.fs_hz.value)
    return np.log([*q, fit.qms, fit.qes, fit.re_ohm, fit.res_ohm])


def _reach(slope: Reals, covariance: Reals) -> Reals:
    variance = np.einsum("bi,ij,bj->b", slope, covariance, slope)
    return np.asarray(COVERAGE * np.sqrt(np.maximum(variance, 0.0) + SIMPLIFIED_DB**2))


def _levels_db(of: Reals, usual: Reals, crossover: Crossover | None, re_ohm: float) -> Reals:
    tuning_hz, box_q, alpha, fs_hz, qms, qes = (float(value) for value in np.exp(of))
    plain = Loudspeaker(2.0 * pi * fs_hz, qms, qes, alpha, 1.0)
    box = boxed(plain, tuning_hz, shares_of(1.0 / box_q, usual, (None, None, None), "leakage"))
    return band_levels_db(box, crossover, re_ohm, 0.0)
