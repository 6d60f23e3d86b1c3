"""What two recordings do not share: the errors that remain when one is held against the other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.intervals import COVERAGE, SYSTEMATIC
from sealtune.judgement.resistance import MEASURED_R
from sealtune.records.design import Climate
from sealtune.records.fit import BoxFit
from sealtune.records.verdict import Leak

LEAKING = (0.0015, 0.04, 0.03, 0.0025)
"""Relative standard deviations by which tuning, Q, compliance ratio and f_S of a leaking box come out off by its open
curve alone, beyond what the fit knows: its circuit has no gap. Measured on 22 virtual cabinets with a gap that halves
the box Q. It does not cancel against a sealed box."""

MAY_LEAK = 0.1
"""Probability of a leak from which LEAKING counts."""

KELVIN = 293.15


def own_covariance(fit: BoxFit, leak: Leak | None = None) -> NDArray[np.float64]:
    """Return the covariance of ln(tuning, Q, compliance ratio, f_S) without what every recording shares.

    fit, leak: of one recording; where it may leak, what a leak puts in is added; None where the leak stays as it is
    """
    own: NDArray[np.float64] = fit.log_covariance - np.diag(np.square(SYSTEMATIC))
    np.fill_diagonal(own, np.maximum(np.diag(own), 0.0))
    if leak is not None and leak.probability > MAY_LEAK:
        own += np.diag(np.square(LEAKING))
    return own


def other_jig(*, same_jig: bool) -> float:
    """Return the relative standard deviation that two jigs bring into the ratio of two resistances."""
    return 0.0 if same_jig else float(np.sqrt(2.0)) * MEASURED_R


def weather(climate: Climate) -> float:
    """Return the relative standard deviation of the ratio of two tunings that were measured on different days.

    The speed of sound follows the root of the absolute temperature, off by the climate's tolerance at both times.
    """
    return float(np.sqrt(2.0) * climate.temperature_tolerance_k / COVERAGE / (2.0 * KELVIN))
