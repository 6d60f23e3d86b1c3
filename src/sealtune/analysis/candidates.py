"""The circuits that are tried on the curves of one cabinet, and the curves as the search needs them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.intervals import LEAK_ODDS, TEXTBOOK_ODDS, weights
from sealtune.analysis.least_squares import MOST_STEPS
from sealtune.analysis.parameters import (
    COMMON,
    CROSSOVER,
    LEAK,
    PANEL,
    SPARE,
    USUAL_DUCT_SHARE,
    USUAL_VOLUME_M3,
    VENTED,
    Packing,
)
from sealtune.analysis.search import Minimum, Points, middles, polished, search
from sealtune.physics.vented_box import LeakShape, VentedBox, tuning_and_q
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover, Design
from sealtune.records.recording import Role

COARSE_POINTS = 200
"""The first search and the comparisons run on this many points of each curve; the final one on all."""

BAND_BELOW, BAND_ABOVE = 2.6, 4.0
"""The fit uses the curve from f_L / 2.6 to f_H * 4; with the vent stopped from the lowest frequency on, where a leak
shows."""

WORTH_TELLING = 0.02
"""A circuit that may be true with this probability widens the intervals by what it says otherwise."""

POOR = 0.03
"""A model error beyond this asks for other starts."""

FEWEST_POINTS = 8
"""Of one curve."""

ALIKE = 1e-3
"""A row of the jig's unknowns that varies by less over the band is the same all over."""

FEW_STEPS = 10
"""Enough to see whether a circuit is worth more of them."""

LEAK_STARTS: tuple[tuple[LeakShape, float, float], ...] = (("slit", 0.05, 6e-3), ("slit", 0.4, 2e-2))
HOLE_STARTS: tuple[tuple[LeakShape, float, float], ...] = (("hole", 0.1, 0.3),)
"""A narrow and a wide gap to begin with, and a hole: inertance of vent over leak, and h^2 rho / (4 mu) or
r^2 rho / mu, s. The open curve alone cannot tell a hole from a shorter vent."""

Fitted = Minimum[Circuit]


@dataclass(frozen=True)
class Curves:
    """The curves that are fitted together.

    by_role: within the band that is fitted; "open" is always among them
    views, points: the same as circuit and search see them
    known: circuit whose volume and duct are those of the design
    crossover: what the design says lies before the driver, None if nothing
    hidden: True where the crossover is one that the design does not tell of, its parts unknown
    rings: True where a wall rings on its own, so that the full circuit has a branch for it
    """

    by_role: Mapping[Role, ImpedanceCurve]
    views: tuple[View, ...]
    points: Points
    known: VentedBox
    crossover: Crossover | None
    rings: bool = False
    hidden: bool = False

    @classmethod
    def of(cls, by_role: Mapping[Role, ImpedanceCurve], known: VentedBox, design: Design | None) -> Curves:
        """Return the curves with what the design tells of them."""
        drivers = 1 if design is None else design.driver.count
        in_series = design is not None and design.driver.wiring == "series"
        views = tuple(View.of(role, curve, drivers, in_series=in_series) for role, curve in by_role.items())
        crossover = None if design is None else design.crossover
        return cls(by_role, views, Points.of(list(by_role.values())), known, crossover)

    def thinned(self) -> Curves:
        """Return about COARSE_POINTS points of each curve, evenly spread over the logarithm of frequency."""
        return self.picked({role: _every(curve.frequency_hz) for role, curve in self.by_role.items()})

    def picked(self, which: Mapping[Role, NDArray[np.bool_]]) -> Curves:
        """Return some points of each curve."""
        by_role = {role: part(curve, which[role]) for role, curve in self.by_role.items()}
        views = tuple(
            replace(view, s=view.s[which[view.role]], jig_slopes_ohm=view.jig_slopes_ohm[:, which[view.role]])
            for view in self.views
        )
        return replace(self, by_role=by_role, views=views, points=Points.of(list(by_role.values())))

    def with_open_rows(self, rows: NDArray[np.complex128]) -> Curves:
        """Return the curves with further unknowns of the open one, ohm per standard deviation, shape (k, n)."""
        curve = self.by_role["open"]
        known = curve.jig_slopes_ohm
        slopes = rows if known is None else np.concatenate([known, rows])
        views = tuple(
            replace(view, jig_slopes_ohm=slopes) if view.role == "open" else view for view in self.views
        )
        return replace(
            self, by_role={**self.by_role, "open": replace(curve, jig_slopes_ohm=slopes)}, views=views
        )

    def circuit(self, names: tuple[str, ...], fixed: VentedBox | None = None) -> Circuit:
        """Return the circuit with these quantities free, and those that curves and crossover bring along."""
        extra: list[str] = []
        if "volume_m3" in names and self.rings:
            extra += PANEL
        if "volume_m3" in names and "plugged" in self.by_role:
            extra.append("duct_share")
        if "free-air" in self.by_role:
            extra += ["air_load", "series_ohm"]
        if self.hidden:
            extra += [name for name in CROSSOVER if name not in extra]
        elif self.crossover is not None:
            extra += [name for name in ("series_h", "shunt_f") if getattr(self.crossover, name)]
            if self.crossover.shunt_ohm and self.crossover.shunt_f is None:
                extra.append("shunt_ohm")
        known = replace(fixed or self.known, volume_m3=self.known.volume_m3, duct_share=self.known.duct_share)
        if fixed is not None and "volume_m3" not in names:
            known = replace(known, volume_m3=fixed.volume_m3)
        return Circuit(self.views, Packing((*names, *extra), known, self.crossover, given=not self.hidden))

    def searched(
        self,
        names: tuple[str, ...],
        start: VentedBox,
        model_error: NDArray[np.float64] | float = 0.02,
        *,
        stages: int = 3,
        most_steps: int = MOST_STEPS,
        hopeless: float = float("inf"),
    ) -> Fitted | None:
        """Return the minimum near a circuit with these quantities free."""
        circuit = self.circuit(names, start)
        first = np.full(len(self.views), model_error)
        return search(
            self.points,
            circuit,
            circuit.pack(start),
            first,
            stages=stages,
            most_steps=most_steps,
            hopeless=hopeless,
        )

    def refined(self, coarse: Fitted) -> Fitted:
        """Return the minimum on these points near one on fewer, the latter where that search breaks down."""
        circuit = replace(coarse.model, views=self.views)
        count = self.points.frequency_hz.size
        cells = np.flatnonzero(np.concatenate([_every(each.frequency_hz) for each in self.by_role.values()]))
        chosen = np.zeros(count, dtype=np.bool_)
        chosen[middles(cells, count)] = True
        which = dict(zip(self.by_role, (chosen[part] for part in self.points.parts), strict=True))
        sparse = replace(coarse.model, views=self.picked(which).views)
        found = polished(self.points, circuit, cells, sparse, coarse)
        if found is not None:
            return found
        z, jacobian = circuit.evaluate(coarse.vector)
        residual = z - self.points.impedance_ohm
        return replace(coarse, model=circuit, jacobian=jacobian, residual=residual, converged=False)


def within(curve: ImpedanceCurve, lowest_hz: float, highest_hz: float) -> ImpedanceCurve:
    """Return the points of a band that are not lost in noise."""
    inside = (curve.frequency_hz >= lowest_hz) & (curve.frequency_hz <= highest_hz)
    return part(curve, inside & (curve.sigma_ohm < 0.5 * np.abs(curve.impedance_ohm)))


def part(curve: ImpedanceCurve, which: NDArray[np.bool_]) -> ImpedanceCurve:
    """Return some points of a curve."""
    slopes = curve.jig_slopes_ohm
    return ImpedanceCurve(
        curve.frequency_hz[which],
        curve.impedance_ohm[which],
        curve.sigma_ohm[which],
        jig_slopes_ohm=None if slopes is None else slopes[:, which],
        drift_row=curve.drift_row,
        lag_ohm=None if curve.lag_ohm is None else curve.lag_ohm[which],
        sweep_rate_s=curve.sweep_rate_s,
        sample_s=curve.sample_s,
    )


def bending(curve: ImpedanceCurve) -> ImpedanceCurve:
    """Return the curve without those unknowns of its jig that bend nothing: all ohms in proportion, or some ohms more.

    The circuit takes these up by itself, in R_E, the coil and R_ES; tuning and box Q do not feel them.
    """
    slopes = curve.jig_slopes_ohm
    if slopes is None:
        return curve
    kept: list[NDArray[np.complex128]] = []
    drift_row = None
    for index, row in enumerate(slopes):
        size = float(np.abs(row).max())
        of_z = row / curve.impedance_ohm
        if np.ptp(row.real) + np.abs(row.imag).max() < ALIKE * size:
            continue
        if np.ptp(of_z.real) + np.abs(of_z.imag).max() < ALIKE * float(np.abs(of_z).max()):
            continue
        if index == curve.drift_row:
            drift_row = len(kept)
        kept.append(row)
    return replace(curve, jig_slopes_ohm=np.array(kept) if kept else None, drift_row=drift_row)


def _every(frequency_hz: NDArray[np.float64]) -> NDArray[np.bool_]:
    position = np.log(frequency_hz)
    cells = np.floor((position - position[0]) / max(position[-1] - position[0], 1e-9) * COARSE_POINTS)
    return np.concatenate([[True], np.diff(cells) > 0])


def start_of(
    curve: ImpedanceCurve, marks_hz: tuple[float, float, float], design: Design | None, shift: float = 1.0
) -> VentedBox:
    """Return a circuit by the closed forms of the lossless box [Thiele1971], [Small1973].

    The volume and the duct's share of it are those of the design.
    marks_hz: lower peak, saddle and upper peak
    shift: of the saddle's frequency, which is not quite the tuning
    """
    lower_hz, saddle_hz, upper_hz = marks_hz
    saddle_hz = float(np.clip(saddle_hz * shift, lower_hz * 1.02, upper_hz * 0.98))
    size = np.abs(curve.impedance_ohm)
    re = float(np.min(size)) * 0.97
    fs = lower_hz * upper_hz / saddle_hz
    alpha = (upper_hz**2 - saddle_hz**2) * (saddle_hz**2 - lower_hz**2) / (upper_hz * lower_hz) ** 2
    peak = float(np.interp([lower_hz, upper_hz], curve.frequency_hz, size).max())
    coil = float(np.clip(curve.impedance_ohm.imag[-1] * 200.0 / curve.frequency_hz[-1], 0.05, 50.0))
    volume_m3, share = USUAL_VOLUME_M3, USUAL_DUCT_SHARE
    if design is not None:
        volume_m3 = design.box.volume_m3
        if design.vent is not None:
            share = max(design.vent.count * design.vent.area_m2 * design.vent.length_m / volume_m3, 1e-3)
    return VentedBox(
        re_ohm=re, coil_ohm=coil, coil_exponent=0.7, coil_h=1e-4, coil_shunt_s=0.03,
        res_ohm=max(peak - re, 0.2 * re) * 1.3, ws_rad_s=2.0 * np.pi * fs, qms=4.0, creep=0.08,
        alpha=float(np.clip(alpha, 0.05, 20.0)), wb_rad_s=2.0 * np.pi * saddle_hz,
        leakage=1 / 30, friction=1 / 50, plain_share=0.15, absorption=1 / 50,
        volume_m3=volume_m3, duct_share=share,
    )  # fmt: skip


def leaking(best: Fitted, curves: Curves) -> Fitted | None:
    """Return the best circuit with a leak of its own, None where it explains no more than the one without."""
    box, names = best.model.unpack(best.vector), (*VENTED, *LEAK)
    starts = LEAK_STARTS if "plugged" not in curves.by_role else LEAK_STARTS + HOLE_STARTS
    found: dict[LeakShape, Fitted] = {}
    for shape, ratio, time_s in starts:
        start = replace(box, leak_ratio=ratio, leak_time_s=time_s, leak_shape=shape)
        minimum = curves.searched(names, start, best.model_error, stages=1, most_steps=FEW_STEPS)
        if minimum is not None and (shape not in found or minimum.cost < found[shape].cost):
            found[shape] = minimum
    minima = [
        search(curves.points, minimum.model, minimum.vector, minimum.model_error, stages=2) or minimum
        for minimum in found.values()
    ]
    if not minima:
        return None
    leak = minima[int(np.argmax(weights(minima, curves.points)))]
    share = weights([best, leak], curves.points, [1.0, LEAK_ODDS])[1]
    return leak if share > WORTH_TELLING else None


def with_leakage_alone(best: Fitted, curves: Curves) -> Fitted | None:
    """Return the circuit of the textbooks, all of whose losses leak, None where the curves need more."""
    box = best.model.unpack(best.vector)
    start = replace(
        box,
        friction=0.0,
        plain_share=0.0,
        absorption=0.0,
        volume_m3=0.0,
        leakage=1.0 / tuning_and_q(box)[1],
    )
    noise = float(np.median(curves.points.sigma_ohm / curves.points.size_ohm))
    found = curves.searched(
        SPARE,
        start,
        best.model_error,
        most_steps=FEW_STEPS,
        hopeless=3.0 * float(best.model_error[0]) + 2.0 * noise,
    )
    if found is None:
        return None
    share = weights([best, found], curves.points, [1.0, TEXTBOOK_ODDS])[1]
    return found if share > WORTH_TELLING else None


def closed_misfit(vented: Fitted, curves: Curves) -> float:
    """Return the residual of the best closed box over that of the vented one."""
    box = replace(vented.model.unpack(vented.vector), alpha=0.0)
    closed = curves.searched(COMMON, box, 0.2, stages=1, most_steps=FEW_STEPS)
    if closed is None:
        return float("inf")
    return relative(closed, curves.points) / max(relative(vented, curves.points), 1e-9)


def relative(minimum: Fitted, points: Points, which: slice = slice(None)) -> float:
    """Return the root mean square of the residual over |Z|."""
    return float(np.sqrt(np.mean(np.abs(minimum.residual[which] / points.impedance_ohm[which]) ** 2)))
