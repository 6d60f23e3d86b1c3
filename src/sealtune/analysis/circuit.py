"""The circuit with its exact derivatives by the coordinate of each quantity, behind a known crossover."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.parameters import CREEP_UNIT, Packing
from sealtune.physics.vented_box import REFERENCE_RAD_S, VentedBox, radiation, slit_factor
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover

Complexes = NDArray[np.complex128]
LN10 = float(np.log(10.0))


def shunt_admittance(s: Complexes, crossover: Crossover) -> Complexes:
    """Return the admittance of the branch across the driver, 1/ohm, shape of s."""
    if crossover.shunt_f is not None:
        return np.asarray(
            s * crossover.shunt_f / (1.0 + s * crossover.shunt_f * (crossover.shunt_ohm or 0.0))
        )
    if crossover.shunt_ohm:
        return np.full(s.shape, 1.0 / crossover.shunt_ohm, dtype=np.complex128)
    return np.zeros(s.shape, dtype=np.complex128)


@dataclass(frozen=True)
class Circuit:
    """The fitted circuit on fixed frequencies.

    s: shape (n,), complex frequencies, rad/s
    packing: which quantities vary
    crossover: what lies between the terminals and the driver, None if nothing
    gain_slope_ohm: shape (n,), change of Z by one standard deviation of the channels' gain error, ohm; None
        for no such error
    """

    s: Complexes
    packing: Packing
    crossover: Crossover | None = None
    gain_slope_ohm: Complexes | None = None

    @classmethod
    def on(cls, curve: ImpedanceCurve, packing: Packing, crossover: Crossover | None) -> Circuit:
        """Return the circuit on the frequencies of a curve, with the gain error of its channels."""
        s = np.asarray(2j * np.pi * curve.frequency_hz, dtype=np.complex128)
        return cls(s, packing, crossover, None if curve.jig_slopes_ohm is None else curve.jig_slopes_ohm[0])

    def pack(self, box: VentedBox) -> NDArray[np.float64]:
        """Return the vector of a circuit measured without gain error."""
        packed = self.packing.pack(box)
        return packed if self.gain_slope_ohm is None else np.append(packed, 0.0)

    def unpack(self, vector: NDArray[np.float64]) -> VentedBox:
        """Return the circuit in the vector, its gain error left out."""
        return self.packing.unpack(vector[: len(self.packing.names)])

    def prior(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return mean and 1/standard deviation of what is known of the vector beforehand."""
        mean, weight = self.packing.prior()
        if self.gain_slope_ohm is None:
            return mean, weight
        return np.append(mean, 0.0), np.append(weight, 1.0)

    def evaluate(self, vector: NDArray[np.float64]) -> tuple[Complexes, Complexes]:
        """Return Z, shape (n,), and dZ/d(vector), shape (n, p), ohm."""
        box = self.unpack(vector)
        z, parts = _impedance_and_parts(self.s, box)
        jacobian = np.stack([parts[name] for name in self.packing.names], axis=1)
        if self.crossover is not None:
            series = self.crossover.series_ohm + self.s * self.crossover.series_h
            loading = 1.0 / (1.0 + z * shunt_admittance(self.s, self.crossover))
            z, jacobian = series + z * loading, jacobian * (loading**2)[:, None]
        if self.gain_slope_ohm is not None:
            z = z + self.gain_slope_ohm * vector[-1]
            jacobian = np.column_stack([jacobian, self.gain_slope_ohm])
        return z, jacobian


def _impedance_and_parts(s: Complexes, box: VentedBox) -> tuple[Complexes, dict[str, Complexes]]:
    """Return Z and its derivative by the coordinate of each quantity."""
    ws, qms = box.ws_rad_s, box.qms
    log_ratio = np.log(s / REFERENCE_RAD_S)
    lossy = np.asarray(box.coil_ohm * np.exp(box.coil_exponent * log_ratio), dtype=np.complex128)
    shunted = 1.0 / (1.0 + lossy * box.coil_shunt_s)
    by_lossy = lossy * shunted**2
    creep = 1.0 - box.creep * np.log10(s / ws)
    spring = ws / (s * creep)
    nothing = np.zeros(s.shape, dtype=np.complex128)
    load, load_parts = (nothing, {"ws_rad_s": nothing, "qms": nothing})
    if box.alpha > 0.0:
        load, load_parts = _box_load(s, box)
    d = 1.0 + qms * (s / ws + spring) + load
    motional = box.res_ohm / d
    by_d = -motional / d
    parts: dict[str, Complexes] = {
        "re_ohm": np.full(s.shape, box.re_ohm, dtype=np.complex128),
        "coil_ohm": by_lossy,
        "coil_shunt_s": -by_lossy * lossy * box.coil_shunt_s,
        "coil_h": s * box.coil_h,
        "coil_exponent": by_lossy * log_ratio * box.coil_exponent * (1.0 - box.coil_exponent),
        "res_ohm": motional,
        "ws_rad_s": by_d
        * (qms * (-s / ws + spring - spring / creep * box.creep / LN10) + load_parts["ws_rad_s"]),
        "qms": by_d * (qms * (s / ws + spring) + load_parts["qms"]),
        "creep": by_d * qms * spring / creep * np.log10(s / ws) * CREEP_UNIT,
    }
    for name, part in load_parts.items():
        if name not in parts:
            parts[name] = by_d * part
    return box.re_ohm + lossy * shunted + s * box.coil_h + motional, parts


def _box_load(s: Complexes, box: VentedBox) -> tuple[Complexes, dict[str, Complexes]]:
    """Return alpha w_S Q_MS (1/y + r) and its derivatives."""
    wb = box.wb_rad_s
    air = 1.0 + s * box.absorption / wb
    friction = box.friction * np.sqrt(2.0 * s * wb)
    sound = radiation(s, box.volume_m3)
    vent_sound = wb**2 * sound
    vent = s + friction + vent_sound
    y_air, y_vent = s / air, wb**2 / vent
    y = y_air + wb * box.leakage + y_vent
    by_absorption = -y_air * (s * box.absorption / wb) / air
    by_wb = -by_absorption + wb * box.leakage + y_vent * (2.0 - (0.5 * friction + 2.0 * vent_sound) / vent)
    parts_y = {
        "leakage": np.full(s.shape, wb * box.leakage, dtype=np.complex128),
        "friction": -y_vent * friction / vent,
        "absorption": by_absorption,
        "volume_m3": -y_vent * vent_sound / vent,
    }
    if box.slit_ratio > 0.0:
        factor = slit_factor(s, box.slit_time_s)
        gap = wb**2 * box.slit_ratio / s
        y = y + gap * factor
        by_wb = by_wb + 2.0 * gap * factor
        parts_y["slit_ratio"] = gap * factor
        # of F by ln k^2, with tanh k = k (1 - F)
        parts_y["slit_time_s"] = gap * 0.5 * (s * box.slit_time_s * (1.0 - factor) ** 2 - factor)
    parts_y["wb_rad_s"] = by_wb
    scale = box.alpha * box.ws_rad_s * box.qms
    load = scale * (1.0 / y + sound)
    parts = {name: -scale / y**2 * part for name, part in parts_y.items()}
    parts["volume_m3"] = parts["volume_m3"] + scale * sound
    parts.update(alpha=load, ws_rad_s=load, qms=load)
    return load, parts
