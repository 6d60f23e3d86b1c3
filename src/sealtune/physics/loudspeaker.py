"""What a driver does in a vented, a closed and no box: the textbook circuit, for what a design predicts.

    x/x_0 = g u / D,  D = (s/w_S)^2 + (s/w_S) (1/Q_MS + g/Q_ES) + 1 + alpha s/y
    y = s/(1 + s d_A/w_B) + w_B d_L + w_B^2/(s + w_B d_P)          (closed: without the last term)
    Z = R_E + R_E (Q_MS/Q_ES) / [1 + Q_MS (s/w_S + w_S/s) + alpha w_S Q_MS / y]

x is the cone's travel and x_0 what the voltage E would move it at direct current; the volume that the cone moves
divides among air spring, leakage and vent as the three terms of y do, and what the air spring takes up is what the
cabinet as a whole sends out [Small1973, Part I]. An amplifier behind a crossover feeds u E through an impedance Z_g,
g = R_E/(R_E + Z_g). The coil's inductance, creep and radiation are left out: they are small beside the tolerances
of a data sheet; `physics.vented_box` has them for what is measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from sealtune.physics.air import Air

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Value = float | Reals


@dataclass(frozen=True)
class Loudspeaker:
    """Driver and box, each a number or an array that broadcasts with the frequencies.

    ws_rad_s, qms, qes: resonance of the driver, rad/s, and its Q factors, > 0
    alpha: compliance ratio V_AS/V_AB, >= 0; 0 is free air
    wb_rad_s: tuning, rad/s, > 0; the losses of a closed box refer to it too
    leakage, friction, absorption: 1/Q_L, 1/Q_P, 1/Q_A at the tuning, >= 0
    """

    ws_rad_s: Value
    qms: Value
    qes: Value
    alpha: Value
    wb_rad_s: Value
    leakage: Value = 0.0
    friction: Value = 0.0
    absorption: Value = 0.0


@dataclass(frozen=True)
class Motion:
    """What moves, over the cone's static travel x_0, shape of the frequencies.

    cone: travel
    vent: volume velocity in all vents over S_D x_0, rad/s
    sound: volume acceleration of the whole cabinet over S_D x_0 w_S^2: 1 far above all resonances
    """

    cone: Complexes
    vent: Complexes
    sound: Complexes


def air_and_vent(
    s: Complexes, speaker: Loudspeaker, *, closed: bool = False
) -> tuple[Complexes, Complexes, Complexes]:
    """Return the admittances of air spring, leakage and vent over C_AB, rad/s, each of the shape of s."""
    wb = speaker.wb_rad_s
    spring = np.asarray(s / (1.0 + s * (speaker.absorption / wb)))
    leakage = np.asarray(wb * speaker.leakage + 0.0 * s)
    vent = 0.0 * s if closed else wb**2 / (s + wb * speaker.friction)
    return spring, leakage, np.asarray(vent)


def motion(
    s: Complexes,
    speaker: Loudspeaker,
    *,
    closed: bool = False,
    feed: tuple[Complexes, Complexes] | None = None,
) -> Motion:
    """Return what cone, vent and cabinet do.

    s: complex frequencies, rad/s
    closed: the same box without its vent
    feed: u and g of the source, shape of s; None for an amplifier straight at the driver
    """
    u, g = (1.0, 1.0) if feed is None else feed
    spring, leakage, vent = air_and_vent(s, speaker, closed=closed)
    y = spring + leakage + vent
    x = s / speaker.ws_rad_s
    cone = np.asarray(
        u * g / (x**2 + x * (1.0 / speaker.qms + g / speaker.qes) + 1.0 + speaker.alpha * s / y)
    )
    return Motion(cone, np.asarray(s * cone * vent / y), np.asarray(x**2 * cone * spring / y))


def impedance_ratio(s: Complexes, speaker: Loudspeaker, *, closed: bool = False) -> Complexes:
    """Return Z/R_E of the driver in its box, shape of s, rad/s."""
    y = sum(air_and_vent(s, speaker, closed=closed))
    x = s / speaker.ws_rad_s
    d = 1.0 + speaker.qms * (x + 1.0 / x + speaker.alpha * speaker.ws_rad_s / y)
    return np.asarray(1.0 + speaker.qms / speaker.qes / d)


def static_volume_m3(ws_rad_s: float, qes: float, vas_m3: float, air: Air) -> float:
    """Return S_D x_0 for 1 W, E^2/R_E, root mean square, m3 per root of a watt [Small1972].

    x_0 = E Bl C_MS/R_E with (Bl)^2 = w_S M_MS R_E/Q_ES and V_AS = rho c^2 S_D^2 C_MS: the area drops out.
    ws_rad_s: resonance, rad/s; qes: electrical Q; vas_m3: V_AS, m3; all > 0
    """
    return float(np.sqrt(vas_m3 / (air.bulk_modulus_pa * ws_rad_s * qes)))


def passband_level_db(ws_rad_s: float, qes: float, vas_m3: float, air: Air) -> float:
    """Return the level at 1 m in half space for 1 W, E^2/R_E, far above all resonances, dB re 20 uPa [Small1972].

    The reference efficiency 4 pi^2 f_S^3 V_AS/(c^3 Q_ES) as pressure: p = rho/(2 pi r) times the volume acceleration.
    """
    pressure = air.density_kg_m3 / (2.0 * pi) * ws_rad_s**2 * static_volume_m3(ws_rad_s, qes, vas_m3, air)
    return float(20.0 * np.log10(pressure / 20e-6))


def lossless_landmarks_rad_s(speaker: Loudspeaker) -> tuple[Value, Value, Value]:
    """Return lower peak, saddle and upper peak of |Z|, rad/s, of the box without losses [Small1973, Part II].

    The squares of the peaks are the roots of x^2 - x [w_B^2 + w_S^2 (1 + alpha)] + w_S^2 w_B^2; the saddle is w_B.
    """
    ws2, wb2 = speaker.ws_rad_s**2, speaker.wb_rad_s**2
    total = wb2 + ws2 * (1.0 + speaker.alpha)
    root = np.sqrt(total**2 - 4.0 * ws2 * wb2)
    upper = (total + root) / 2.0
    return np.sqrt(ws2 * wb2 / upper), speaker.wb_rad_s, np.sqrt(upper)
