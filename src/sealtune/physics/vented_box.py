"""The impedance of a driver in a vented box, as one port: Small's circuit with the effects of real boxes.

    Z(s) = R_E + K s^n / (1 + G K s^n) + s L + R_ES / D(s)
    D(s) = 1 + Q_MS [ s/w_S + w_S/(s c(s)) + alpha w_S r(s) ] + alpha w_S Q_MS / y(s)
    y(s) = s / (1 + s d_A/w_B) + w_B d_L + w_B^2 / ( s + d_P sqrt(2 s w_B) + w_B^2 r(s) ) + y_leak(s)
    r(s) = -s^2 V / (2 pi c^3)

y is the acoustic admittance of the box over that of its air spring [Small1973]; c the creep of the suspension
[Knudsen1993]; d_L, d_A, d_P are 1/Q_L, 1/Q_A, 1/Q_P at w_B. The friction of the vent grows with the square
root of frequency, as a viscous boundary layer does [Kirchhoff1868], and adds as much reactance as resistance.
r is the sound that cone and vent radiate, each as a small source in a wall, rho w^2/(2 pi c) [Rayleigh1896]:
with the other quantities given it depends on the volume alone. Taken for friction it would bend the losses of
large boxes by a tenth and more. The coil is a semi-inductor with a conductance G beside it and an inductance
before it [Thorborg2011]: between a plain semi-inductor and the coil that a resistor bridges [Leach2002].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sealtune.physics.leak import slit_flow

Complexes = NDArray[np.complex128]

REFERENCE_RAD_S = 2.0 * np.pi * 200.0
"""Angular frequency at which `coil_ohm` is the magnitude of the coil's impedance."""


@dataclass(frozen=True)
class VentedBox:
    """The parameters of the circuit, all > 0 unless said.

    re_ohm: resistance at direct current, ohm
    coil_ohm, coil_exponent: semi-inductor coil_ohm (s/(2 pi 200))^n, n in 0..1 [Leach2002]
    res_ohm: motional resistance R_ES, ohm
    ws_rad_s, qms: resonance of the driver with the box's air load, rad/s, and its mechanical Q
    coil_h: further inductance in series, H, >= 0
    coil_shunt_s: conductance beside the semi-inductor, siemens, >= 0; with n = 1 that is the coil in series with
        another that a resistor bridges
    volume_m3: net volume, m3, >= 0, for the radiated sound; 0 leaves it out
    creep: lambda of c(s) = 1 - lambda log10(s/w_S), 0..0.3
    alpha: compliance ratio V_AS/V_AB; 0 is the driver in free air
    wb_rad_s: resonance of vent and air spring, rad/s; 0 is a closed box
    leakage, friction, absorption: 1/Q_L, 1/Q_P, 1/Q_A, each >= 0
    slit_ratio: inertance of the vent over that of a leaking slit, >= 0
    slit_time_s: h^2 rho / (4 mu) of the slit, s
    """

    re_ohm: float
    coil_ohm: float
    coil_exponent: float
    res_ohm: float
    ws_rad_s: float
    qms: float
    creep: float
    alpha: float
    wb_rad_s: float
    leakage: float = 0.0
    friction: float = 0.0
    absorption: float = 0.0
    slit_ratio: float = 0.0
    slit_time_s: float = 1e-3
    coil_h: float = 0.0
    volume_m3: float = 0.0
    coil_shunt_s: float = 0.0


SOUND_SPEED_M_S = 343.99
"""Speed of sound in air of 20 degrees, half saturated [Cramer1993]; enters the radiated sound alone."""


def radiation(s: Complexes, volume_m3: float) -> Complexes:
    """Return r(s), s: radiation resistance of a small source in a wall over the air's stiffness."""
    return np.asarray(-s * s * (volume_m3 / (2.0 * np.pi * SOUND_SPEED_M_S**3)))


def slit_factor(s: Complexes, time_s: float) -> Complexes:
    """Return F = 1 - tanh(k)/k with k^2 = s time_s, shape of s: the exact viscous slit [Crandall1926].

    Its inertance over that of freely moving air is 1/F; F is k^2/3 for slow flow and 1 for fast.
    """
    k2 = np.asarray(s * time_s)
    return k2 * slit_flow(k2)


def box_admittance(s: ArrayLike, box: VentedBox) -> Complexes:
    """Return y(s), 1/s: the box's acoustic admittance over that of its air spring, shape of s."""
    s = np.asarray(s, dtype=np.complex128)
    wb = box.wb_rad_s
    if wb == 0.0:
        raise ValueError("a closed box has no tuning to refer its losses to")
    vent = s + box.friction * np.sqrt(2.0 * s * wb) + wb**2 * radiation(s, box.volume_m3)
    y = s / (1.0 + s * box.absorption / wb) + wb * box.leakage + wb**2 / vent
    if box.slit_ratio > 0.0:
        y = y + wb**2 * box.slit_ratio * slit_factor(s, box.slit_time_s) / s
    return np.asarray(y, dtype=np.complex128)


def impedance(s: ArrayLike, box: VentedBox) -> Complexes:
    """Return the impedance at the terminals, ohm, at the complex frequencies s, rad/s, shape of s."""
    s = np.asarray(s, dtype=np.complex128)
    ws = box.ws_rad_s
    creep = 1.0 - box.creep * np.log10(s / ws)
    d = np.asarray(1.0 + box.qms * (s / ws + ws / (s * creep)), dtype=np.complex128)
    if box.alpha > 0.0:
        d = d + box.alpha * ws * box.qms * (1.0 / box_admittance(s, box) + radiation(s, box.volume_m3))
    lossy = box.coil_ohm * (s / REFERENCE_RAD_S) ** box.coil_exponent
    coil = lossy / (1.0 + lossy * box.coil_shunt_s) + s * box.coil_h
    return np.asarray(box.re_ohm + coil + box.res_ohm / d, dtype=np.complex128)


def tuning_and_q(box: VentedBox) -> tuple[float, float]:
    """Return the tuning, Hz, where Im y = 0, and the total box Q there, w / Re y.

    Newton's method from w_B, raised by what the leak's inertance adds. For small losses and no slit the Q is
    that of 1/Q = 1/Q_L + 1/Q_A + 1/Q_P [Small1973] to first order.
    """
    w = float(box.wb_rad_s)
    if box.slit_ratio > 0.0:
        share = slit_factor(np.array([1j * w]), box.slit_time_s)[0].real
        w *= float(np.sqrt(1.0 + box.slit_ratio * share))
    for _ in range(40):
        step = 1e-6 * w
        y = box_admittance(1j * np.array([w - step, w, w + step]), box)
        slope = (y[2].imag - y[0].imag) / (2.0 * step)
        change = float(np.clip(-y[1].imag / slope, -0.2 * w, 0.2 * w))
        w += change
        if abs(change) < 1e-12 * w:
            break
    conductance = float(box_admittance(1j * np.array([w]), box)[0].real)
    return w / (2.0 * np.pi), w / conductance if conductance > 0.0 else float("inf")
