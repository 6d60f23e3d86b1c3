"""What was measured beside what the design lets expect: the signs that the causes are weighed by.

Each sign is the logarithm of measured over expected. The losses come as parts: those that the curves tell apart, and
the rest of the total together. Each part has what a well-built box loses, known to within a factor, and what a fault
adds.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, log

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.intervals import COVERAGE
from sealtune.design.losses import Losses, usual_losses
from sealtune.design.terminals import effective_driver
from sealtune.physics.air import Air
from sealtune.records.design import Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval

Reals = NDArray[np.float64]

PARTS = ("leakage", "friction", "absorption")

PART_SPREAD = {"leakage": 0.35, "friction": 0.4, "absorption": 0.5}
"""Standard deviation of ln Q of each loss among sealed boxes: Q_L 11 to 44, Q_P 50 to 100, Q_A 30 to 80 lined and above
100 unlined [Small1973, Part I, from memory, of Q_P and Q_A]. A box with more leakage has a leak, whatever its shape."""

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
    loss: 1/Q of each group of losses as measured, shape (g,), and the spread of its logarithm by the measurement
    usual: 1/Q that a well-built box has in each part, shape (3,), and its spread in ln, in the order of PARTS
    groups: which parts each group holds, shape (g, 3)
    expected_hz, expected_q: tuning and total Q of the box as designed
    """

    deviation: Reals
    covariance: Reals
    loss: Reals
    loss_spread: Reals
    usual: Reals
    usual_spread: Reals
    groups: Reals
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
    usual, spread = _usual_losses(design, prediction, air)
    loss, loss_spread, groups = _grouped(fit)
    return Signs(
        deviation, known + measured, loss, loss_spread, usual, spread, groups, expected_hz,
        1.0 / float(usual.sum()),
    )  # fmt: skip


MOUNTED_SHARE = 0.97
"""Resonance of a driver in a box over that in free air: the air that moves along is heavier [Rayleigh1896]."""


def _usual_losses(design: Design, prediction: Prediction, air: Air) -> tuple[Reals, Reals]:
    """Return what a sealed box loses in each part, and the spread of each; both scaled to the prediction's total."""
    usual: Losses = usual_losses(design, prediction.target_hz, air)
    parts = np.array([usual.leakage, usual.friction, usual.absorption])
    parts *= 1.0 / prediction.box_q / parts.sum()
    spread = np.array([PART_SPREAD[name] for name in PARTS])
    of_total = float(np.linalg.norm(parts * spread) / parts.sum())
    return parts, spread * prediction.box_q_spread / of_total


def _grouped(fit: BoxFit) -> tuple[Reals, Reals, Reals]:
    """Return the losses that are told one by one, and the rest of the total as one group."""
    told: list[Interval | None] = [fit.losses.leakage_q, fit.losses.vent_q, fit.losses.absorption_q]
    loss, spread, groups = [], [], []
    rest, variance, left = 1.0 / fit.box_q.value, (_spread(fit.box_q) / fit.box_q.value) ** 2, np.ones(3)
    for place, part in enumerate(told):
        if part is None:
            continue
        loss.append(1.0 / part.value)
        spread.append(_spread(part))
        groups.append(np.eye(3)[place])
        rest -= 1.0 / part.value
        variance += (_spread(part) / part.value) ** 2
        left[place] = 0.0
    if left.any():
        sigma = float(np.sqrt(variance))
        floor = max(rest, 0.3 * sigma, 1e-4)  # a small rest is known to be small, and no better
        loss.append(floor)
        spread.append(min(sigma / floor, 2.0))
        groups.append(left)
    return np.array(loss), np.array(spread), np.array(groups)


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
