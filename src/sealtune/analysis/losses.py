"""The box's loss split into leakage, vent and absorption, as far as the curves tell them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.circuit import Circuit
from sealtune.analysis.identifiability import deviation_by_data, information
from sealtune.analysis.intervals import COVERAGE, Admissible, gradient_of, interval
from sealtune.analysis.profile import profile
from sealtune.analysis.search import Minimum, Points
from sealtune.physics.vented_box import (
    OPEN_DUCT,
    VentedBox,
    leak_factor,
    radiation,
    tuning_and_q,
    vent_friction,
)
from sealtune.records.fit import Losses
from sealtune.records.interval import Interval
from sealtune.records.recording import Role

Reals = NDArray[np.float64]

WIDEST = 3.0
"""Upper over lower bound of a Q that is told."""

SHARP = 0.28
"""Standard deviation of the logarithm of a Q that is told: its interval then spans a factor of three at most."""

BY_DATA = 0.40
"""The same with TRUST in what was known beforehand: a Q that is told stems from the curves."""

TRUST = 1e-2

SYSTEMATIC = 0.10
"""Relative standard deviation of each Q that no residual shows: the lumped vent, the radiated sound, a lining that
does not act as one resistance. Virtual cabinets, whose vents are lines, come out 3 to 7 % off."""

BROAD = 0.3
"""Standard deviation of each 1/Q that stands in for all that is known of it beside the curves: next to nothing."""

FARTHEST = 2.0
"""Standard deviations by which a measured 1/Q may be negative or above the total."""

PARTS = ("leakage", "friction", "absorption")

SKEWED = 0.15
"""From this standard deviation on the logarithm's interval is taken from the profile."""


def loss_qs(box: VentedBox, near_hz: float | None = None) -> Reals:
    """Return ln Q of leakage (gaps and holes included), vent and absorption at the tuning, shape (3,).

    Each is w over the real part of its share of the admittance; 1/Q of the box is the sum of the three 1/Q.
    """
    w = 2.0 * np.pi * tuning_and_q(box, near_hz)[0]
    s = np.array([1j * w])
    wb = box.wb_rad_s
    leakage = wb * box.leakage
    if box.leak_ratio > 0.0:
        leakage += (wb**2 * box.leak_ratio * leak_factor(s, box.leak_time_s, box.leak_shape) / s)[0].real
    vent = (wb**2 / (s + vent_friction(s, box) + wb**2 * radiation(s, box.volume_m3)))[0].real
    air = (s * (1.0 + OPEN_DUCT * box.duct_share) / (1.0 + s * box.absorption / wb))[0].real
    return np.log(w / np.maximum([leakage, vent, air], 1e-9 * w))


@dataclass(frozen=True)
class _Unpacked:
    circuit: Circuit
    near_hz: float

    def __call__(self, vector: Reals) -> Reals:
        return loss_qs(self.circuit.packing.unpack(vector), self.near_hz)


def split(circuits: Sequence[Admissible], points: Points, roles: Sequence[Role]) -> Losses:
    """Return what the curves tell of each loss.

    circuits: those that may be true, the most probable first
    roles: whose curves they were fitted to
    """
    full = [each for each in circuits if "absorption" in each.minimum.model.names]
    if not full:
        return Losses(next_role=next_role(roles))
    total = sum(each.share for each in full)
    plain = any("leak_ratio" not in each.minimum.model.names for each in full)
    values = [loss_qs(each.minimum.model.unpack(each.minimum.vector)) for each in full]
    centre = np.sum([each.share / total * value for each, value in zip(full, values, strict=True)], axis=0)
    variance, by_data = np.zeros(3), np.zeros(3)
    shares: list[tuple[float, Reals, Reals]] = []
    for each, value in zip(full, values, strict=True):
        shared, weight = len(each.minimum.model.names), each.share / total
        known = each.covariance[:shared, :shared]
        near_hz = tuning_and_q(each.minimum.model.unpack(each.minimum.vector))[0]
        gradient = gradient_of(_Unpacked(each.minimum.model, near_hz), each.minimum.vector[:shared], known)
        variance += weight * (np.einsum("qi,ij,qj->q", gradient, known, gradient) + (value - centre) ** 2)
        by_data += weight * deviation_by_data(each.minimum, points, gradient, TRUST)
        if not plain or "leak_ratio" not in each.minimum.model.names:
            shares.append((each.share, *_by_curves_alone(each.minimum, points, value, gradient)))
    deviation = np.sqrt(variance + SYSTEMATIC**2)
    told = (deviation < SHARP) & (by_data < BY_DATA)
    qs = [
        interval(float(c), float(d)) if t else None for c, d, t in zip(centre, deviation, told, strict=True)
    ]
    none_found = []
    best = full[0]
    for index, name in ((0, "leakage"), (2, "absorption")):
        if (
            len(roles) > 1
            and deviation[index] > SKEWED
            and not (index == 0 and "leak_ratio" in best.minimum.model.names)
        ):
            qs[index], least = _by_profile(best, points, name)
            if least is not None:
                none_found.append((name, least))
    inverse_q, spread = _mixed(shares)
    return Losses(
        qs[0], qs[1], qs[2], tuple(none_found), None if all(qs) else next_role(roles), inverse_q, spread
    )


def _by_curves_alone(
    minimum: Minimum[Circuit], points: Points, log_q: Reals, gradient: Reals
) -> tuple[Reals, Reals]:
    """Return 1/Q of the three losses and their covariance, shapes (3,) and (3, 3), by what the curves tell.

    What was known of the losses beforehand is taken out again, and BROAD put in its place: one combination of them the
    open curve leaves open, and its other two it tells well. All are nearly in proportion to 1/Q, so that a normal
    distribution of 1/Q holds along that combination too.
    log_q, gradient: ln Q of the losses, shape (3,), and their derivatives by the coordinates, shape (3, p)
    """
    names, shared = minimum.model.names, len(minimum.model.names)
    mean, known = (each[:shared] for each in minimum.model.prior())
    loss = np.isin(names, PARTS)
    inverse_q = np.exp(-log_q)
    slope = -inverse_q[:, None] * gradient
    total = information(minimum, points) + np.diag(np.where(loss, 0.0, known**2)) + slope.T @ slope / BROAD**2
    unit = 1.0 / np.sqrt(np.maximum(np.diag(total), 1e-300))
    spread = unit[:, None] * np.linalg.pinv(total * np.outer(unit, unit), rcond=1e-13, hermitian=True) * unit
    pull = np.where(loss, known**2 * (minimum.vector[:shared] - mean), 0.0)
    return _bounded(inverse_q, slope @ spread @ pull, slope @ spread @ slope.T)


def _bounded(inverse_q: Reals, step: Reals, covariance: Reals) -> tuple[Reals, Reals]:
    """Return 1/Q after as much of the step as leads to no loss that cannot be, and the covariance with the rest in it.

    No loss is negative nor more than all of them. A step beyond, by more than FARTHEST of what the curves leave open,
    is the circuit's own error: in a curve without noise it looks like knowledge of what no curve tells.
    """
    margin = FARTHEST * np.sqrt(np.diag(covariance))
    room = np.where(step > 0.0, inverse_q.sum() + margin - inverse_q, inverse_q + margin)
    share = float(np.min(room / np.maximum(np.abs(step), room)))
    rest = (1.0 - share) * step
    return inverse_q + share * step, covariance + np.outer(rest, rest)


def _mixed(shares: Sequence[tuple[float, Reals, Reals]]) -> tuple[Reals, Reals]:
    """Return mean and covariance over circuits, each with its share, mean and covariance."""
    weight = np.array([share for share, _, _ in shares]) / sum(share for share, _, _ in shares)
    centres = np.array([centre for _, centre, _ in shares])
    mean = weight @ centres
    between = (centres - mean).T @ (weight[:, None] * (centres - mean))
    within = np.einsum("c,cij->ij", weight, np.array([spread for _, _, spread in shares]))
    return mean, within + between


def _by_profile(circuit: Admissible, points: Points, name: str) -> tuple[Interval | None, float | None]:
    """Return the interval of a Q by its profile, and the Q that it is at least where no loss at all is possible."""
    minimum, known = circuit.minimum, circuit.covariance
    row = minimum.model.names.index(name)
    slope = minimum.jacobian / points.spread_ohm(minimum.model_error)[:, None]
    plain = np.linalg.pinv(
        (slope.conj().T @ slope).real + np.diag(minimum.model.prior()[1] ** 2), hermitian=True
    )
    shrink = float(np.clip(plain[row, row] / max(known[row, row], 1e-300), 0.0, 1.0))
    found = profile(minimum, points, name, shrink, float(np.sqrt(known[row, row])))
    systematic = COVERAGE * SYSTEMATIC
    if found.high is None:
        return None, None
    low = float(np.exp(-found.high - systematic))
    if found.low is None:
        return None, low
    high = float(np.exp(-found.low + systematic))
    return (Interval(float(np.exp(-minimum.vector[row])), low, high) if high < WIDEST * low else None), None


def next_role(roles: Sequence[Role]) -> Role | None:
    """Return the measurement that would tell the losses apart, None where both have been made."""
    missing: list[Role] = [role for role in ("plugged", "free-air") if role not in roles]
    return missing[0] if missing else None
