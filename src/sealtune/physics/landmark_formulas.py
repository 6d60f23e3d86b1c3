"""Closed forms that read a vented box from the peaks of its impedance curve.

They are exact for a box without losses and a driver without coil inductance. On real boxes they err by
several per cent; they serve as first guess and as a check, never as the result.
"""

from __future__ import annotations

from math import sqrt


def tuning_from_closed_vent_hz(lower_hz: float, upper_hz: float, closed_hz: float) -> float:
    """Tuning from the two peaks and the one peak with the vent closed, Hz [Thiele1971], [Small1973, Part II].

    lower_hz, upper_hz: peaks with the vent open, Hz
    closed_hz: peak with the vent closed, Hz, between sqrt(upper^2 - lower^2) and sqrt(upper^2 + lower^2)
    Returns NaN where the three do not belong to one box: the square of the tuning would be negative.
    """
    square = lower_hz**2 + upper_hz**2 - closed_hz**2
    return sqrt(square) if square > 0.0 else float("nan")


def driver_resonance_hz(lower_hz: float, upper_hz: float, tuning_hz: float) -> float:
    """Resonance of the driver with the air load it has in the box, Hz [Thiele1971], [Small1973, Part II].

    lower_hz, upper_hz: peaks with the vent open, Hz
    tuning_hz: of the box, Hz
    """
    return lower_hz * upper_hz / tuning_hz


def compliance_ratio(lower_hz: float, upper_hz: float, tuning_hz: float) -> float:
    """Compliance ratio V_AS / V_AB from the two peaks and the tuning [Thiele1971], [Small1973, Part II].

    lower_hz, upper_hz: peaks with the vent open, Hz
    tuning_hz: of the box, Hz, between the two
    """
    return (upper_hz**2 - tuning_hz**2) * (tuning_hz**2 - lower_hz**2) / (upper_hz * lower_hz) ** 2


def leakage_q(h: float, alpha: float, qes: float, qms: float, saddle_ratio: float) -> float:
    """Leakage Q from the height of the saddle, all losses of the box taken as leakage [Small1973, Part II].

    h, alpha: tuning ratio f_B / f_S and compliance ratio
    qes, qms: electrical and mechanical Q of the driver in the box
    saddle_ratio: |Z| at the saddle over the direct-current resistance, > 1
    Exact at h = 1 without coil inductance; a small error of the resistance is a large error of Q.
    """
    return h / alpha * (1.0 / (qes * (saddle_ratio - 1.0)) - 1.0 / qms)
