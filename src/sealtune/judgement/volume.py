"""A wrong net volume in numbers: how much air there is, how much too much or too little, what vent would do instead."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sealtune.analysis.intervals import COVERAGE
from sealtune.design.fit_in_box import LEAST_LENGTH_M
from sealtune.design.losses import usual_losses
from sealtune.design.terminals import effective_driver
from sealtune.physics.air import Air
from sealtune.physics.vent import effective_length_for_tuning_m, effective_length_m, tuning_hz
from sealtune.records.design import Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval

MOST_BY_WALLS = 2.0
"""Friction beyond so many times the usual is material in the vent, which weighs nothing (our own judgement)."""


@dataclass(frozen=True)
class VolumeOff:
    """What follows if the air in the box, and nothing else, is not as designed.

    volume_m3: of air in the box, m3
    excess_m3: that less the designed one, m3
    length_change_m: of each vent's length that reaches the target with this much air, m; None without a vent's
        dimensions, or where no length of this opening reaches it
    by_peaks: whether the distance of the peaks told along, which wants V_AS
    """

    volume_m3: Interval
    excess_m3: Interval
    length_change_m: Interval | None
    by_peaks: bool = True


def volume_off(design: Design, prediction: Prediction, fit: BoxFit, air: Air) -> VolumeOff | None:
    """Return how much air the box holds by its tuning and by its compliance ratio; None where neither can say.

    By the tuning the volume is as sure as the vent's dimensions and its ends, twice the spread of the tuning they
    predict; by the compliance ratio as sure as V_AS. The two are weighed by their variances [GUM].
    Holds if vent and driver are as designed: a wrong vent or a leak passes for a wrong volume.
    """
    told: list[tuple[float, float]] = []  # logarithm and its standard deviation
    deviation = np.sqrt(np.diag(fit.log_covariance))
    measured_hz = frictionless_hz(fit.tuning_hz.value, design, fit, air)
    vent, box = design.vent, design.box
    if vent is not None:
        stiff = (
            (air.speed_m_s / (2.0 * np.pi)) ** 2 * vent.count * vent.area_m2 / effective_length_m(vent, box)
        )
        by_tuning = box.volume_m3 + stiff * (1.0 / measured_hz**2 - 1.0 / tuning_hz(box, vent, air) ** 2)
        of_vent = max(prediction.tuning_spread**2 - (0.25 * box.volume_tolerance) ** 2, 0.0)
        if by_tuning > 0.0:
            told.append((np.log(by_tuning), 2.0 * float(np.sqrt(of_vent + deviation[0] ** 2))))
    driver = effective_driver(design)
    if driver.vas_m3 is not None:
        spread = float(np.hypot(driver.vas_tolerance, deviation[2]))
        told.append((np.log(driver.vas_m3 / fit.compliance_ratio.value), spread))
    if not told:
        return None
    centre, spread = _weighed(told)
    low, value, high = (float(np.exp(centre + COVERAGE * spread * side)) for side in (-1.0, 0.0, 1.0))
    change = None
    if vent is not None:
        real = replace(box, volume_m3=value)
        target_hz = frictionless_hz(prediction.target_hz, design, fit, air)
        length = effective_length_for_tuning_m(real, measured_hz, vent, air)
        by = effective_length_for_tuning_m(real, target_hz, vent, air) - length
        reach = COVERAGE * float(np.hypot(spread * by, 2.0 * deviation[0] * length))
        if vent.length_m + by > LEAST_LENGTH_M:
            change = Interval(by, by - reach, by + reach)
    designed = box.volume_m3
    excess = Interval(value - designed, low - designed, high - designed)
    return VolumeOff(Interval(value, low, high), excess, change, by_peaks=driver.vas_m3 is not None)


def frictionless_hz(real_hz: float, design: Design, fit: BoxFit, air: Air) -> float:
    """Return the tuning that a box tuned to `real_hz` would have if the vent's walls held no air back, Hz.

    That air moves with a lag that adds 1/Q_P to the mass of the vent's and lowers the tuning by 1/(2 Q_P)
    [Kirchhoff1868]; Q_P is the measured one where the curves tell it, as far as walls alone can have it, else the usual
    one of such a vent.
    """
    friction = usual_losses(design, real_hz, air).friction
    if fit.losses.vent_q is not None:
        friction = min(1.0 / fit.losses.vent_q.value, MOST_BY_WALLS * friction)
    return real_hz / (1.0 - 0.5 * friction)


def _weighed(told: list[tuple[float, float]]) -> tuple[float, float]:
    """Return the mean of values with standard deviations, weighed by their variances, and its own deviation."""
    weight = np.array([1.0 / max(spread, 1e-6) ** 2 for _, spread in told])
    mean = float(weight @ np.array([value for value, _ in told]) / weight.sum())
    return mean, float(weight.sum() ** -0.5)
