"""Two cabinets of one design fitted together: what their difference is, better known than either.

Of each quantity the mean of the two and their difference are fitted. The mean is known beforehand as well as the
quantity of one cabinet is; of the difference more is known, for both have the same type of driver, a vent and a lining
of the same kind, and were measured through the same jig beside the same walls. Of the quantities that the comparison
is about, such as tuning, leakage and driver resonance, nothing is taken to be alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.candidates import Curves, Fitted
from sealtune.analysis.circuit import Circuit
from sealtune.analysis.hidden_parts import without_ringing
from sealtune.analysis.intervals import covariance, derived, propagated
from sealtune.analysis.open_curve import begin
from sealtune.analysis.search import Minimum, Points, search
from sealtune.physics.vented_box import VentedBox
from sealtune.records.curve import ImpedanceCurve, Landmarks
from sealtune.records.design import Design

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

ALIKE: dict[str, float] = {
    # standard deviation of the coordinate of one cabinet around what both have in common; our own judgement
    "coil_ohm": 0.05,  # coils of one type: a few percent of turns and iron
    "coil_exponent": 0.1,
    "coil_h": 0.1,
    "coil_shunt_s": 0.15,
    "creep": 0.2,  # of the same rubber and spider, lambda to 0.01
    "friction": 0.15,  # vents of one tube or board
    "plain_share": 0.3,
    "absorption": 0.25,  # the same lining, laid by hand
    "volume_m3": 0.1,  # stands for the radiated sound: the same room
}
"""Quantities in which mates of one design are alike. Those not named are taken as independent."""

JIG_ALIKE = 0.1
"""The same for what is unknown of the jig where it is the same one, in standard deviations of that."""

DRIVER = ("qms", "qes", "re_ohm", "res_ohm")
"""What is told of the driver beside its resonance, in the order of `MatesFit`."""

STRAINED = 4.0
"""Standard deviations by which what should be alike may differ; beyond it the two are not alike."""

GROWTH = 1.3
"""How many times the error of either curve may grow, noise included, where both are fitted together."""


@dataclass(frozen=True)
class Mates:
    """The circuits of two cabinets; the vector holds the mean of theirs, then left less right.

    left, right: with the same quantities, each as its own curve sees it
    alike: standard deviation of each coordinate of one cabinet around the mean, 0 where nothing is known of it,
        shape (p,)
    """

    left: Circuit
    right: Circuit
    alike: Reals

    def joined(self, left: Reals, right: Reals) -> Reals:
        """Return the vector of two circuits."""
        return np.concatenate([0.5 * (left + right), left - right])

    def parted(self, vector: Reals) -> tuple[Reals, Reals]:
        """Return the vectors of left and right."""
        mean, half = vector[: self.alike.size], 0.5 * vector[self.alike.size :]
        return mean + half, mean - half

    def prior(self) -> tuple[Reals, Reals]:
        """Return mean and 1/standard deviation of what is known beforehand."""
        middle, weight = self.left.prior()
        total = np.where(weight > 0.0, 1.0 / np.maximum(weight, 1e-12) ** 2, 0.0)
        apart = np.where(self.alike > 0.0, np.minimum(self.alike**2, total), total)
        known = weight > 0.0
        of_mean = np.where(known, 1.0 / np.sqrt(np.where(known, total - 0.5 * apart, 1.0)), 0.0)
        of_difference = np.where(known, 1.0 / np.sqrt(np.where(known, 2.0 * apart, 1.0)), 0.0)
        return np.append(middle, np.zeros(middle.size)), np.append(of_mean, of_difference)

    def moved(self, vector: Reals, step: Reals) -> Reals:
        """Return the vector after a step of the search."""
        (left, right), (by_left, by_right) = self.parted(vector), self.parted(step)
        return self.joined(self.left.moved(left, by_left), self.right.moved(right, by_right))

    def evaluate(self, vector: Reals) -> tuple[Complexes, Complexes]:
        """Return Z of left and right one after the other, and the derivatives by the vector."""
        left, right = self.parted(vector)
        (z_left, of_left), (z_right, of_right) = self.left.evaluate(left), self.right.evaluate(right)
        slopes = np.block([[of_left, 0.5 * of_left], [of_right, -0.5 * of_right]])
        return np.concatenate([z_left, z_right]), slopes


@dataclass(frozen=True)
class MatesFit:
    """Two cabinets fitted together.

    left, right: logarithms of tuning, box Q, compliance ratio, f_S and of what DRIVER names, shape (8,)
    covariance: of left less right, shape (8, 8), by the curves and what is alike
    """

    left: Reals
    right: Reals
    covariance: Reals


def fit_mates(
    curves: tuple[ImpedanceCurve, ImpedanceCurve],
    landmarks: tuple[Landmarks, Landmarks],
    design: Design | None = None,
    *,
    same_jig: bool = True,
) -> MatesFit | None:
    """Return what two cabinets of one design are, fitted together, None where they are not enough alike for that.

    curves, landmarks: of left and right, measured with the vent open
    same_jig: whether both were measured through the same jig
    """
    alone = [_alone(curve, marks, design) for curve, marks in zip(curves, landmarks, strict=True)]
    if alone[0] is None or alone[1] is None:
        return None
    (left_curves, left), (right_curves, right) = alone[0], alone[1]
    views = (*left.model.views, *right.model.views)
    if left.model.names != right.model.names or views[0].extras != views[1].extras:
        return None
    mates = Mates(left.model, right.model, _alike(left.model, same_jig=same_jig))
    points = Points.of([left_curves.by_role["open"], right_curves.by_role["open"]])
    error = np.concatenate([left.model_error, right.model_error])
    best: Minimum[Mates] | None = None
    for start in _starts(mates, left.vector, right.vector):
        found = search(points, mates, start, error, stages=2)
        if found is not None and (best is None or found.cost < best.cost):
            best = found
        if best is not None and _alike_enough(best, points, error):
            return _told(best, points)
    return None


def _alone(curve: ImpedanceCurve, marks: Landmarks, design: Design | None) -> tuple[Curves, Fitted] | None:
    """Return the curve of one cabinet and the plain circuit that explains it best."""
    begun = begin(curve, marks, design)
    if begun is None:
        return None
    rest, best, _ = without_ringing(begun.curves, begun.best, begun.starts)
    return rest, rest.refined(best)


def _alike(circuit: Circuit, *, same_jig: bool) -> Reals:
    view = circuit.views[0]
    shared = [ALIKE.get(name, 0.0) for name in circuit.names]
    jig = np.full(view.extras, JIG_ALIKE if same_jig else 0.0)
    return np.append(shared, jig)


def _starts(mates: Mates, left: Reals, right: Reals) -> list[Reals]:
    """Return vectors to start from: each cabinet as it is alone, and both on the one's or the other's hill of the coil.

    A semi-inductor and a coil with a bridged one behind it look alike, so that the two may have ended apart.
    """
    coil = [n for n, name in enumerate(mates.left.names) if name.startswith("coil_")]
    starts = [mates.joined(left, right)]
    for source in (left, right):
        one, other = left.copy(), right.copy()
        one[coil], other[coil] = source[coil], source[coil]
        starts.append(mates.joined(one, other))
    return starts


def _alike_enough(found: Minimum[Mates], points: Points, alone: Reals) -> bool:
    """Return whether both curves are followed as well as alone, and nothing that should be alike is far apart."""
    if np.any(np.hypot(found.model_error, points.noise) > GROWTH * np.hypot(alone, points.noise)):
        return False
    size = found.model.alike.size
    apart = np.abs(found.vector[size:]) * found.model.prior()[1][size:]
    return bool(np.all(apart[found.model.alike > 0.0] < STRAINED))


def _told(found: Minimum[Mates], points: Points) -> MatesFit:
    mates = found.model
    near = [float(np.exp(derived(mates.left.unpack(each))[0])) for each in mates.parted(found.vector)]

    def both(vector: Reals) -> Reals:
        left, right = mates.parted(vector)
        return _quantities(mates.left.unpack(left), near[0]) - _quantities(mates.right.unpack(right), near[1])

    spread = propagated(both, found.vector, covariance(found, points))
    left, right = mates.parted(found.vector)
    return MatesFit(
        _quantities(mates.left.unpack(left), near[0]), _quantities(mates.right.unpack(right), near[1]), spread
    )


def _quantities(box: VentedBox, near_hz: float) -> Reals:
    """Return the logarithms that MatesFit holds."""
    qes = box.qms * box.re_ohm / box.res_ohm
    return np.append(derived(box, near_hz), np.log([box.qms, qes, box.re_ohm, box.res_ohm]))
