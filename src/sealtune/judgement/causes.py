"""The causes weighed against one another: how well each explains tuning, box Q and compliance ratio.

Each cause shifts the logarithms of the three by what its unknown size makes of them. The likelihood of a cause
is the average, over the sizes it may have, of the likelihood of the shift that was measured; the tolerances
of the design and the fit's uncertainty make up the covariance [MacKay2003, ch. 28].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.judgement.leak_family import LeakFamily, leak_family
from sealtune.physics.air import Air
from sealtune.records.design import Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.verdict import FaultName

Reals = NDArray[np.float64]

PRIOR: dict[FaultName | None, float] = {
    # how often each is met at the bench before anything is measured; common practice, no statistics known
    None: 0.72,
    "leak": 0.14,
    "vent_long": 0.03,
    "vent_short": 0.035,
    "vent_restricted": 0.01,
    "vent_lined": 0.015,
    "overstuffed": 0.015,
    "volume_small": 0.015,
    "volume_large": 0.015,
}
"""None is the box as designed."""

SIZES = 24

FRICTION_DROP = 0.01
"""How much the layer of air that the vent's wall holds back lowers the tuning, 1/(2 Q_P) for Q_P of 50
[Kirchhoff1868]."""


@dataclass(frozen=True)
class Weighed:
    """The causes with their probabilities, which add up to 1.

    probability: by fault; None is the box as designed
    leaks: the family of leaks
    leak_share: each leak's share of the probability of a leak that is felt, summing to 1
    hidden_share: each leak's probability, felt or not, when nothing else is wrong; with the sealed box these
        sum to 1
    """

    probability: dict[FaultName | None, float]
    leaks: LeakFamily
    leak_share: Reals
    hidden_share: Reals


def weigh(fit: BoxFit, design: Design, prediction: Prediction, air: Air) -> Weighed:
    """Return the probabilities of the causes for this fit against this design."""
    expected_hz, spread_hz = expected_tuning(design, prediction)
    alpha = prediction.compliance_ratio
    deviation = np.array(
        [
            np.log(fit.tuning_hz.value / expected_hz),
            np.log(fit.box_q.value / prediction.box_q),
            0.0 if alpha is None else np.log(fit.compliance_ratio.value / alpha),
        ]
    )
    volume = design.box.volume_tolerance / 2.0
    own = max(spread_hz**2 - (0.5 * volume) ** 2, 1e-8)
    alpha_variance = 25.0 if alpha is None else prediction.compliance_spread**2
    covariance = fit.log_covariance[:3, :3] + np.array(
        [
            [own + (0.5 * volume) ** 2, 0.0, 0.5 * volume**2],
            [0.0, prediction.box_q_spread**2, 0.0],
            [0.5 * volume**2, 0.0, alpha_variance + volume**2],
        ]
    )
    leaks = leak_family(expected_hz, prediction.box_q, design.box.volume_m3, air)
    precision = np.linalg.inv(covariance)
    likelihood = {fault: _likelihood(deviation, shift, precision) for fault, shift in _shifts(leaks).items()}
    each_leak = likelihood["leak"]
    likelihood["leak"] = each_leak[leaks.felt]
    evidence = {fault: PRIOR[fault] * float(np.mean(value)) for fault, value in likelihood.items()}
    total = sum(evidence.values())
    felt = np.where(leaks.felt, each_leak, 0.0)
    hidden = PRIOR["leak"] * each_leak / float(leaks.felt.sum())
    return Weighed(
        {fault: value / total for fault, value in evidence.items()},
        leaks,
        felt / felt.sum(),
        hidden / (hidden.sum() + evidence[None]),
    )


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


def _shifts(leaks: LeakFamily) -> dict[FaultName | None, Reals]:
    """Return for each cause the shifts of log tuning, log Q and log alpha over its sizes, shape (n, 3)."""
    size = np.linspace(0.0, 1.0, SIZES)
    nothing = np.zeros(SIZES)
    long = np.log(1.0 + 0.05 + 0.75 * size)  # effective length 5 % to 80 % off
    volume = np.log(1.0 + 0.08 + 0.42 * size)  # net volume 8 % to 50 % off
    loss = np.log(1.3 + 4.0 * size)  # box Q divided by 1.3 to 5.3
    fill = 0.25 * size  # air springs up to 25 % softer between fibres [Small1973]
    closed = np.log(1.4 + 8.0 * size)  # a narrowed passage: its air weighs 1.4 to 9.4 times as much
    return {
        None: np.zeros((1, 3)),
        "leak": np.stack([leaks.log_tuning, leaks.log_q, np.zeros(leaks.log_q.size)], axis=1),
        "vent_long": np.stack([-0.5 * long, nothing, nothing], axis=1),
        "vent_short": np.stack([0.5 * long, nothing, nothing], axis=1),
        "vent_restricted": np.stack([-0.5 * closed, -0.2 * size, nothing], axis=1),
        "vent_lined": np.stack([-0.03 * size, -loss, nothing], axis=1),
        "overstuffed": np.stack([-0.5 * fill, -loss, -fill], axis=1),
        "volume_small": np.stack([0.5 * volume, nothing, volume], axis=1),
        "volume_large": np.stack([-0.5 * volume, nothing, -volume], axis=1),
    }


def _likelihood(deviation: Reals, shift: Reals, precision: Reals) -> Reals:
    """Return the likelihood of the deviation for each shift, up to a common factor, shape (n,)."""
    rest = deviation - shift
    distance = np.einsum("ni,ij,nj->n", rest, precision, rest)
    # tails heavier than Gaussian (Student, 4 degrees of freedom): no tolerance is known that well
    return np.asarray((1.0 + distance / 4.0) ** -3.5)
