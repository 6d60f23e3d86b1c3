"""The impedance of a driver in a vented box, as one port: Small's circuit with the effects of real boxes.

    Z(s) = R_E + K s^n / (1 + G K s^n) + s L + R_ES / D(s)
    D(s) = 1 + Q_MS [ s/w_S + w_S/(s c(s)) + alpha w_S r(s) ] + alpha w_S Q_MS / y(s)
    y(s) = s / (1 + s d_A/w_B) + w_B d_L + w_B^2 / ( s + d_P [(1-p) sqrt(2 s w_B) + p w_B] + w_B^2 r(s) ) + y_leak(s)
    r(s) = -s^2 V / (2 pi c^3)

y is the acoustic admittance of the box over that of its air spring [Small1973]; c the creep of the suspension
[Knudsen1993]; d_L, d_A, d_P are 1/Q_L, 1/Q_A, 1/Q_P at w_B. The friction of the vent grows with the square root of
frequency, as a viscous boundary layer does [Kirchhoff1868], and adds as much reactance as resistance; a share p of
it is the same at all frequencies, as textbooks have it [Small1973] and as material in the vent does it.
r is the sound that cone and vent radiate, each as a small source in a wall, rho w^2/(2 pi c) [Rayleigh1896]:
with the other quantities given it depends on the volume alone. Taken for friction it would bend the losses of
large boxes by a tenth and more. The coil is a semi-inductor with a conductance G beside it and an inductance
before it [Thorborg2011]: between a plain semi-inductor and the coil that a resistor bridges [Leach2002].

The air in the vent's duct adds to the spring: a third of it while the vent is open, all of it while it is stopped, and
then the vent's own term is gone; in free air the whole load of the box is
gone, and the cone moves less air.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sealtune.physics.leak import hole_flow, slit_flow
from sealtune.records.circuit import LeakShape as LeakShape
from sealtune.records.circuit import VentedBox as VentedBox
from sealtune.records.recording import Role

Complexes = NDArray[np.complex128]

REFERENCE_RAD_S = 2.0 * np.pi * 200.0
"""Angular frequency at which `coil_ohm` is the magnitude of the coil's impedance."""


SOUND_SPEED_M_S = 343.99
"""Speed of sound in air of 20 degrees, half saturated [Cramer1993]; enters the radiated sound alone."""


OPEN_DUCT = 1.0 / 3.0
"""Share of a duct's air that acts as a spring while the far end is open: cot x = 1/x - x/3 for short ducts (exact)."""


def radiation(s: Complexes, volume_m3: float) -> Complexes:
    """Return r(s), s: radiation resistance of a small source in a wall over the air's stiffness."""
    return np.asarray(-s * s * radiation_growth_s3(volume_m3))


def radiation_growth_s3(volume_m3: float) -> float:
    """Return r(j w)/w^2 of `radiation`, s3; volume_m3: of the box, m3."""
    return volume_m3 / (2.0 * np.pi * SOUND_SPEED_M_S**3)


def leak_factor(s: Complexes, time_s: float, shape: LeakShape) -> Complexes:
    """Return the inertance of freely moving air over that of the leak, shape of s [Crandall1926].

    Exact for viscous flow: 1 - tanh(k)/k with k^2 = s time_s for a slit, 1 - 2 I1(q)/(q I0(q)) with q^2 = s time_s
    for a round hole; proportional to s for slow flow, 1 for fast.
    """
    square = np.asarray(s * time_s)
    return square * (slit_flow(square) if shape == "slit" else hole_flow(square))


def vent_friction(s: Complexes, box: VentedBox) -> Complexes:
    """Return the friction of the vent over its inertance, 1/s, shape of s."""
    wb, share = box.wb_rad_s, box.plain_share
    return np.asarray(box.friction * ((1.0 - share) * np.sqrt(2.0 * s * wb) + share * wb))


def box_admittance(s: ArrayLike, box: VentedBox, *, plugged: bool = False) -> Complexes:
    """Return y(s), 1/s: the box's acoustic admittance over that of its air spring, shape of s.

    plugged: the vent is stopped at its outer mouth
    """
    s = np.asarray(s, dtype=np.complex128)
    wb = box.wb_rad_s
    if wb == 0.0:
        raise ValueError("a closed box has no tuning to refer its losses to")
    spring = s * (1.0 + box.duct_share * (1.0 if plugged else OPEN_DUCT))
    y: Complexes = np.asarray(spring / (1.0 + s * box.absorption / wb) + wb * box.leakage)
    if not plugged:
        friction = vent_friction(s, box)
        y = y + wb**2 / (s + friction + wb**2 * radiation(s, box.volume_m3))
    if box.panel_ratio > 0.0:
        y = y + box.panel_ratio * s / (1.0 + s / box.panel_rad_s * (box.panel_loss + s / box.panel_rad_s))
    if box.leak_ratio > 0.0:
        y = y + wb**2 * box.leak_ratio * leak_factor(s, box.leak_time_s, box.leak_shape) / s
    return y


def impedance(s: ArrayLike, box: VentedBox, role: Role = "open") -> Complexes:
    """Return the impedance at the terminals, ohm, at the complex frequencies s, rad/s, shape of s.

    role: "open", "plugged" or "free-air"; the other roles have no impedance and count as "open"
    """
    s = np.asarray(s, dtype=np.complex128)
    ws = box.ws_rad_s
    creep = 1.0 - box.creep * np.log10(s / ws)
    mass = s / ws / (box.air_load**2 if role == "free-air" else 1.0)
    d = np.asarray(1.0 + box.qms * (mass + ws / (s * creep)), dtype=np.complex128)
    if box.alpha > 0.0 and role != "free-air":
        load = 1.0 / box_admittance(s, box, plugged=role == "plugged") + radiation(s, box.volume_m3)
        d = d + box.alpha * ws * box.qms * load
    lossy = box.coil_ohm * (s / REFERENCE_RAD_S) ** box.coil_exponent
    coil = lossy / (1.0 + lossy * box.coil_shunt_s) + s * box.coil_h
    return np.asarray(box.re_ohm + coil + box.res_ohm / d, dtype=np.complex128)


def tuning_and_q(box: VentedBox, near_hz: float | None = None) -> tuple[float, float]:
    """Return the tuning, Hz, where Im y = 0, and the total box Q there, w / Re y.

    near_hz: where to begin, None if not known
    Newton's method, by itself from w_B, raised by what the leak's inertance adds. For small losses and no leak the Q is
    that of 1/Q = 1/Q_L + 1/Q_A + 1/Q_P [Small1973] to first order.
    """
    w = float(box.wb_rad_s) if near_hz is None else 2.0 * np.pi * near_hz
    if near_hz is None:
        share = leak_factor(np.array([1j * w]), box.leak_time_s, box.leak_shape)[0].real
        w *= float(np.sqrt(1.0 + box.leak_ratio * share))
    conductance = 0.0
    for _ in range(40):
        step = 1e-6 * w
        y = box_admittance(1j * np.array([w - step, w, w + step]), box)
        slope = (y[2] - y[0]) / (2.0 * step)
        change = float(np.clip(-y[1].imag / slope.imag, -0.2 * w, 0.2 * w))
        w += change
        conductance = float(y[1].real + slope.real * change)
        if abs(change) < 1e-7 * w:  # the next one would be its square
            break
    return w / (2.0 * np.pi), w / conductance if conductance > 0.0 else float("inf")
