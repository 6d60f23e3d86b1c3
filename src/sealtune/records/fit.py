"""The circuit fitted to a curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.records.interval import Interval


@dataclass(frozen=True)
class BoxFit:
    """The physical circuit that explains an impedance curve.

    tuning_hz: where the imaginary part of the box's acoustic admittance is zero, Hz
    box_q: total box Q at the tuning
    compliance_ratio: V_AS over V_AB, of the air in the box
    fs_hz, qms, qes, re_ohm, res_ohm: the driver in its box
    creep: suspension creep lambda [Knudsen1993]
    residual: root mean square of |fit - measured| / |measured| over the band that was fitted
    noise: median of the curve's noise over |Z| in the same band
    log_covariance: covariance of the logarithms of (tuning_hz, box_q, compliance_ratio, fs_hz), shape (4, 4)
    band_hz: lowest and highest frequency used
    frequency_hz, model_ohm: the fitted curve on the measured frequencies, for pictures
    closed_box_misfit: how many times larger the residual is for the best curve of a closed box
    converged: False where the search ended without reaching a minimum
    """

    tuning_hz: Interval
    box_q: Interval
    compliance_ratio: Interval
    fs_hz: Interval
    qms: float
    qes: float
    re_ohm: float
    res_ohm: float
    creep: float
    residual: float
    noise: float
    log_covariance: NDArray[np.float64]
    band_hz: tuple[float, float]
    frequency_hz: NDArray[np.float64]
    model_ohm: NDArray[np.complex128]
    closed_box_misfit: float
    converged: bool
