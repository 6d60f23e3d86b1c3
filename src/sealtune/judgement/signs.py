"""What was measured beside what the design lets expect: the signs that the causes are weighed by.

Four signs are logarithms of measured over expected. The losses are 1/Q of leakage, vent and absorption, with the
covariance that says which combinations of them the curves tell: the open curve leaves one open, and two it tells well.
Each loss has what a well-built box loses, give or take, and what a fault adds.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, log

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.intervals import COVERAGE
from sealtune.analysis.losses import PARTS, SYSTEMATIC
from sealtune.design.losses import usual_losses
from sealtune.design.terminals import effective_driver
from sealtune.physics.air import Air
from sealtune.records.design import Design, Driver, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval

Reals = NDArray[np.float64]

PART_SPREAD = {"leakage": 0.31, "friction": 0.35, "absorption": 0.4}
"""Standard deviation of each 1/Q among sealed boxes, relative: Q_L 15 to 45, Q_P 50 to 100, Q_A 30 to 80 lined and
above 100 unlined [Small1973, Part I, from memory, of Q_P and Q_A]. A box with more leakage has a leak, whatever its
shape."""

WALLS = 0.015
"""Standard deviation of the absorption's 1/Q at least: thin walls, a cable, a driver's basket take some of it in a box
without any lining (our own judgement)."""

LUMPED = SYSTEMATIC
"""Relative standard deviation of each 1/Q that no residual shows, see `analysis.losses`."""

OPEN = 0.3
"""Standard deviation of the combinations of 1/Q that a fit without a split leaves open: next to nothing is known."""

BY_SUSPENSION = 0.8
"""Share of the scatter that the suspension's give brings into f_S and V_AS alike; with none of it the moving mass of
drivers of one type would differ by a quarter. What remains is mass, cone area and the data sheet."""

UNKNOWN = 5.0
"""Standard deviation of a logarithm of which nothing is known."""

MOTOR_MEASURED = 0.05
"""How well one curve tells R_E/Q_ES, relative; see `resistance`."""

FRICTION_DROP = 0.01
"""How much the layer of air that the vent's wall holds back lowers the tuning, 1/(2 Q_P) for Q_P of 50
[Kirchhoff1868]."""


@dataclass(frozen=True)
class Signs:
    """The signs of one box.

    deviation: ln(measured/expected) of tuning, compliance ratio, f_S and R_E/Q_ES, shape (4,)
    covariance: of these by the design's tolerances and by the measurement, shape (4, 4)
    loss, loss_covariance: 1/Q of each part as measured, in the order of PARTS, shapes (3,) and (3, 3)
    usual: 1/Q that a well-built box has in each part, shape (3,), and its standard deviation
    expected_hz, expected_q: tuning and total Q of the box as designed
    """

    deviation: Reals
    covariance: Reals
    loss: Reals
    loss_covariance: Reals
    usual: Reals
    usual_spread: Reals
    expected_hz: float
    expected_q: float


def signs_of(fit: BoxFit, design: Design, prediction: Prediction, air: Air) -> Signs:
    """Return the signs of a fit against its design."""
    expected_hz, tuning_spread = expected_tuning(design, prediction)
    driver = effective_driver(design)
    alpha, volume = prediction.compliance_ratio, design.box.volume_tolerance / 2.0
    measured = np.zeros((4, 4))
    order = [0, 2, 3]  # tuning, compliance ratio and f_S among the fit's four
    measured[:3, :3] = fit.log_covariance[np.ix_(order, order)]
    measured[3, 3] = MOTOR_MEASURED**2
    motor = None if driver.re_ohm is None or driver.qes is None else driver.re_ohm / driver.qes
    deviation = np.array(
        [
            log(fit.tuning_hz.value / expected_hz),
            0.0 if alpha is None else log(fit.compliance_ratio.value / alpha),
            0.0 if driver.fs_hz is None else log(fit.fs_hz.value / (MOUNTED_SHARE * driver.fs_hz)),
            0.0 if motor is None else log(fit.re_ohm / fit.qes / motor),
        ]
    )
    own = max(tuning_spread**2 - (0.5 * volume) ** 2, 1e-8)
    known = np.diag(
        [
            own + (0.5 * volume) ** 2,
            UNKNOWN**2 if alpha is None else prediction.compliance_spread**2 + volume**2,
            UNKNOWN**2 if driver.fs_hz is None else driver.fs_tolerance**2,
            UNKNOWN**2 if motor is None else hypot(driver.re_tolerance, driver.qes_tolerance) ** 2,
        ]
    )
    known[0, 1] = known[1, 0] = 0.5 * volume**2
    if alpha is not None and driver.fs_hz is not None:  # a softer suspension lowers f_S and raises V_AS
        known[1, 2] = known[2, 1] = suspension_covariance(driver)
    usual, spread = _usual_losses(design, prediction, air)
    loss, loss_covariance = _measured_losses(fit, usual)
    return Signs(
        deviation,
        known + measured,
        loss,
        loss_covariance,
        usual,
        spread,
        expected_hz,
        1.0 / float(usual.sum()),
    )


def suspension_covariance(driver: Driver) -> float:
    """Return the covariance of ln V_AS and ln f_S that the suspension's give brings."""
    give = min(driver.vas_tolerance, 2.0 * driver.fs_tolerance)
    return -0.5 * BY_SUSPENSION * give**2


MOUNTED_SHARE = 0.97
"""Resonance of a driver in a box over that in free air: the air that moves along is heavier [Rayleigh1896]."""


def _usual_losses(design: Design, prediction: Prediction, air: Air) -> tuple[Reals, Reals]:
    """Return what a sealed box loses in each part, and its standard deviation; scaled to the prediction's total.

    A spread of the total wider than usual is that of vent and lining: how much a sealed box leaks needs no design.
    """
    usual = usual_losses(design, prediction.target_hz, air)
    parts = usual.shares
    parts *= 1.0 / prediction.box_q / parts.sum()
    spread = parts * np.array([PART_SPREAD[name] for name in PARTS])
    spread[2] = max(spread[2], WALLS)
    rest = float(np.sqrt(max((prediction.box_q_spread * parts.sum()) ** 2 - spread[0] ** 2, 0.0)))
    spread[1:] *= max(rest / float(np.linalg.norm(spread[1:])), 1.0)
    return parts, spread


def _measured_losses(fit: BoxFit, usual: Reals) -> tuple[Reals, Reals]:
    """Return 1/Q of the parts and its covariance; where the fit has no split, the total alone is known."""
    if fit.losses.inverse_q is not None and fit.losses.inverse_q_covariance is not None:
        return fit.losses.inverse_q, fit.losses.inverse_q_covariance
    total = 1.0 / fit.box_q.value
    even = np.full((3, 3), 1.0 / 3.0)
    covariance = OPEN**2 * (np.eye(3) - even) + (total * _spread(fit.box_q)) ** 2 / 3.0 * even
    return usual + (total - usual.sum()) / 3.0, covariance


def _spread(one: Interval) -> float:
    """Return the standard deviation of the logarithm of a 95 % interval."""
    return log(one.high / one.low) / (2.0 * COVERAGE)


def expected_tuning(design: Design, prediction: Prediction) -> tuple[float, float]:
    """Return the tuning that a box without fault has, Hz, and the standard deviation of its logarithm.

    Where both a target and the vent's dimensions are given, the truth is taken to lie between what the two say,
    and their disagreement widens the spread. FRICTION_DROP comes off what the dimensions say.
    """
    if prediction.tuning_hz is None:
        return prediction.target_hz, design.tuning.tolerance / 2.0
    by_vent = prediction.tuning_hz * (1.0 - FRICTION_DROP)
    gap = float(np.log(by_vent / prediction.target_hz))
    middle = float(np.sqrt(by_vent * prediction.target_hz))
    return middle, float(np.hypot(prediction.tuning_spread, 0.5 * gap))
