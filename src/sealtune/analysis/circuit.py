"""The circuit with its exact derivatives by the coordinate of each quantity, as one or several curves see it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.parameters import CREEP_UNIT, Packing
from sealtune.physics.crossover import shunt_admittance
from sealtune.physics.leak import hole_flow, slit_flow
from sealtune.physics.vented_box import OPEN_DUCT, REFERENCE_RAD_S, VentedBox, radiation
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover
from sealtune.records.recording import Role

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
LN10 = float(np.log(10.0))

OWN: dict[Role, dict[str, float]] = {
    # standard deviation of the logarithm against the same quantity while the vent was open
    "open": {},
    # the coil's temperature (10 K are 4 % of copper), and a suspension that remembers how it was driven
    "plugged": {"re_ohm": 0.01, "ws_rad_s": 0.004},
    "free-air": {"re_ohm": 0.01, "qms": 0.03, "res_ohm": 0.01},
}
"""What may differ from one take to the next (common practice)."""

AMONG_DRIVERS: dict[str, float] = {"re_ohm": 0.03, "ws_rad_s": 0.04, "qms": 0.10, "res_ohm": 0.08}
"""How one driver differs from the mean of those of its type that share the box (common practice)."""


@dataclass(frozen=True)
class View:
    """How one curve sees the circuit.

    role: "open", "plugged" or "free-air"
    s: shape (n,), complex frequencies, rad/s
    jig_slopes_ohm: shape (k, n), see ImpedanceCurve
    own: standard deviation of the logarithm by quantity that this curve has to itself
    scale: impedance of this curve over that of all drivers together
    """

    role: Role
    s: Complexes
    jig_slopes_ohm: Complexes
    own: Mapping[str, float]
    scale: float = 1.0

    @classmethod
    def of(cls, role: Role, curve: ImpedanceCurve, drivers: int = 1, *, in_series: bool = False) -> View:
        """Return the view of a curve; in free air it is one of several drivers that is measured."""
        s = np.asarray(2j * np.pi * curve.frequency_hz, dtype=np.complex128)
        slopes = curve.jig_slopes_ohm
        if slopes is None:
            slopes = np.zeros((0, s.size), dtype=np.complex128)
        own, scale = dict(OWN[role]), 1.0
        if role == "free-air" and drivers > 1:
            own = {name: float(np.hypot(own.get(name, 0.0), AMONG_DRIVERS[name])) for name in AMONG_DRIVERS}
            scale = 1.0 / drivers if in_series else float(drivers)
        return cls(role, s, slopes, own, scale)

    @property
    def extras(self) -> int:
        """How many quantities this curve has to itself."""
        return len(self.own) + int(self.jig_slopes_ohm.shape[0])


@dataclass(frozen=True)
class Circuit:
    """The fitted circuit as the curves see it; its vector is what they share, then what each has to itself.

    views: one by curve
    packing: which of the shared quantities vary
    """

    views: tuple[View, ...]
    packing: Packing

    @property
    def names(self) -> tuple[str, ...]:
        """The quantities that the curves share."""
        return self.packing.names

    def pack(self, box: VentedBox) -> Reals:
        """Return the vector of a circuit measured without error of the jig."""
        return np.append(self.packing.pack(box), np.zeros(sum(view.extras for view in self.views)))

    def unpack(self, vector: Reals) -> VentedBox:
        """Return the circuit in the vector, without what a curve has to itself."""
        return self.packing.unpack(vector[: len(self.names)])

    def prior(self) -> tuple[Reals, Reals]:
        """Return mean and 1/standard deviation of what is known of the vector beforehand."""
        mean, weight = self.packing.prior()
        extras = sum(view.extras for view in self.views)
        return np.append(mean, np.zeros(extras)), np.append(weight, np.ones(extras))

    def moved(self, vector: Reals, step: Reals) -> Reals:
        """Return the vector after a step of the search."""
        shared = len(self.names)
        ahead = vector + step
        ahead[:shared] = self.packing.moved(vector[:shared], step[:shared])
        return ahead

    def evaluate(self, vector: Reals) -> tuple[Complexes, Complexes]:
        """Return Z, shape (n,), and dZ/d(vector), shape (n, p), ohm, the curves one after another."""
        shared = len(self.names)
        box = self.unpack(vector)
        crossover = self.packing.unpack_crossover(vector[:shared])
        count = sum(view.s.size for view in self.views)
        z = np.empty(count, dtype=np.complex128)
        slopes = np.zeros((vector.size, count), dtype=np.complex128)
        first, extra = 0, shared
        for view in self.views:
            here = slice(first, first + view.s.size)
            last = extra + view.extras
            z[here] = _seen(
                view,
                box,
                crossover,
                self.names,
                vector[extra:last],
                slopes[:shared, here],
                slopes[extra:last, here],
            )
            first, extra = here.stop, last
        return z, slopes.T


def _seen(
    view: View,
    box: VentedBox,
    crossover: Crossover | None,
    names: tuple[str, ...],
    extras: Reals,
    shared_slopes: Complexes,
    own_slopes: Complexes,
) -> Complexes:
    """Return what the curve shows, and fill in the derivatives by the shared and by its own quantities."""
    alone = view.role == "free-air"
    shift = dict(zip(view.own, extras.tolist(), strict=False))
    if shift:
        moved = {name: getattr(box, name) * np.exp(view.own[name] * step) for name, step in shift.items()}
        box = replace(box, **moved)
    z, parts = _impedance_and_parts(view.s, box, view.role)
    if alone:
        z = z * view.scale
        parts = {name: part * view.scale for name, part in parts.items()}
    elif crossover is not None:
        z = _behind(crossover, view.s, z, parts)
    for row, name in enumerate(names):
        if name in parts:
            shared_slopes[row] = parts[name]
    for row, name in enumerate(view.own):
        own_slopes[row] = parts[name] * view.own[name]
    if view.jig_slopes_ohm.shape[0]:
        own_slopes[len(view.own) :] = view.jig_slopes_ohm
        z = z + extras[len(view.own) :] @ view.jig_slopes_ohm
    return z


def _behind(crossover: Crossover, s: Complexes, z: Complexes, parts: dict[str, Complexes]) -> Complexes:
    """Return Z at the terminals of a crossover and bring the derivatives there, those of its own parts added."""
    shunt = shunt_admittance(s, crossover)
    loading = 1.0 / (1.0 + z * shunt)
    for name in parts:
        parts[name] = parts[name] * loading**2
    by_shunt = -((z * loading) ** 2)
    if crossover.shunt_f is not None:
        by_capacitor = shunt**2 / (s * crossover.shunt_f)
        parts["shunt_f"] = by_shunt * by_capacitor
        parts["shunt_ohm"] = -by_shunt * shunt**2 * (crossover.shunt_ohm or 0.0)
    elif crossover.shunt_ohm:
        parts["shunt_ohm"] = -by_shunt * shunt
    parts["series_ohm"] = np.full(s.shape, crossover.series_ohm, dtype=np.complex128)
    parts["series_h"] = s * crossover.series_h
    return np.asarray(crossover.series_ohm + s * crossover.series_h + z * loading)


def _impedance_and_parts(s: Complexes, box: VentedBox, role: Role) -> tuple[Complexes, dict[str, Complexes]]:
    """Return Z and its derivative by the coordinate of each quantity."""
    ws, qms = box.ws_rad_s, box.qms
    log_ratio = np.log(s / REFERENCE_RAD_S)
    lossy = np.asarray(box.coil_ohm * np.exp(box.coil_exponent * log_ratio), dtype=np.complex128)
    shunted = 1.0 / (1.0 + lossy * box.coil_shunt_s)
    by_lossy = lossy * shunted**2
    slow = (log_ratio + float(np.log(REFERENCE_RAD_S / ws))) / LN10
    creep = 1.0 - box.creep * slow
    mass = s / ws
    spring = 1.0 / (mass * creep)
    load: Complexes | None = None
    load_parts: dict[str, Complexes] = {}
    if role == "free-air":
        mass = mass / box.air_load**2
    elif box.alpha > 0.0:
        load, load_parts = _box_load(s, box, plugged=role == "plugged")
    d = 1.0 + qms * (mass + spring)
    if load is not None:
        d = d + load
    motional = box.res_ohm / d
    by_d = -motional / d
    by_qms = qms * (mass + spring)
    by_ws = qms * (spring - mass - spring / creep * (box.creep / LN10))
    if load is not None:
        by_qms, by_ws = by_qms + load, by_ws + load
    parts: dict[str, Complexes] = {
        "re_ohm": np.full(s.shape, box.re_ohm, dtype=np.complex128),
        "coil_ohm": by_lossy,
        "coil_shunt_s": -by_lossy * lossy * box.coil_shunt_s,
        "coil_h": s * box.coil_h,
        "coil_exponent": by_lossy * log_ratio * (box.coil_exponent * (1.0 - box.coil_exponent)),
        "res_ohm": motional,
        "ws_rad_s": by_d * by_ws,
        "qms": by_d * by_qms,
        "creep": by_d * (qms * CREEP_UNIT) * spring / creep * slow,
    }
    if role == "free-air":
        parts["air_load"] = -2.0 * by_d * qms * mass
    for name, part in load_parts.items():
        parts[name] = by_d * part
    return box.re_ohm + lossy * shunted + s * box.coil_h + motional, parts


def _box_load(s: Complexes, box: VentedBox, *, plugged: bool) -> tuple[Complexes, dict[str, Complexes]]:
    """Return alpha w_S Q_MS (1/y + r) and its derivatives, those that are the load itself left out but for alpha."""
    wb = box.wb_rad_s
    absorbed = s * (box.absorption / wb)
    air = 1.0 + absorbed
    in_duct = box.duct_share * (1.0 if plugged else OPEN_DUCT)
    y_air = s * (1.0 + in_duct) / air
    by_absorption = -y_air * absorbed / air
    leakage = wb * box.leakage
    y = y_air + leakage
    by_wb = leakage - by_absorption
    parts_y: dict[str, Complexes] = {
        "leakage": np.full(s.shape, leakage, dtype=np.complex128),
        "absorption": by_absorption,
        "duct_share": s * in_duct / air,
    }
    sound = radiation(s, box.volume_m3)
    if not plugged:
        growing = (box.friction * (1.0 - box.plain_share)) * np.sqrt(2.0 * wb * s)
        plain = wb * box.friction * box.plain_share
        vent_sound = wb**2 * sound
        vent = s + growing + plain + vent_sound
        y_vent = wb**2 / vent
        y = y + y_vent
        share = -y_vent / vent
        parts_y["friction"] = share * (growing + plain)
        parts_y["plain_share"] = share * (plain * (1.0 - box.plain_share) - growing * box.plain_share)
        parts_y["volume_m3"] = share * vent_sound
        by_wb = by_wb + 2.0 * y_vent + share * (0.5 * growing + plain + 2.0 * vent_sound)
    if box.panel_ratio > 0.0:
        swing = s / box.panel_rad_s
        rest = 1.0 / (1.0 + swing * (box.panel_loss + swing))
        wall = box.panel_ratio * s * rest
        y = y + wall
        parts_y["panel_ratio"] = wall
        parts_y["panel_rad_s"] = wall * rest * swing * (box.panel_loss + 2.0 * swing)
        parts_y["panel_loss"] = -wall * rest * swing * box.panel_loss
    if box.leak_ratio > 0.0:
        square = s * box.leak_time_s
        slit = box.leak_shape == "slit"
        factor = square * (slit_flow(square) if slit else hole_flow(square))
        leak = wb**2 * box.leak_ratio / s
        through = leak * factor
        y = y + through
        by_wb = by_wb + 2.0 * through
        parts_y["leak_ratio"] = through
        # of F by ln k^2: with tanh k = k (1 - F), or I1(q)/I0(q) = q (1 - F)/2 and its derivative
        beside = square * (1.0 - factor) ** 2
        parts_y["leak_time_s"] = leak * (0.5 * (beside - factor) if slit else 0.25 * beside - factor)
    parts_y["wb_rad_s"] = by_wb
    scale = box.alpha * box.ws_rad_s * box.qms
    compliance = 1.0 / y
    load = scale * (compliance + sound)
    by_y = -scale * compliance**2
    parts = {name: by_y * part for name, part in parts_y.items()}
    by_sound = scale * sound
    parts["volume_m3"] = parts["volume_m3"] + by_sound if "volume_m3" in parts else by_sound
    parts["alpha"] = load
    return load, parts
