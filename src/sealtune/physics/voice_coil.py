"""The voice coil: why a driver's impedance rises at the top of its range."""

from __future__ import annotations

from math import cos, pi, sin

import numpy as np
from numpy.typing import ArrayLike, NDArray


def semi_inductor(s: ArrayLike, factor: float, exponent: float) -> NDArray[np.complex128]:
    """Impedance of a coil whose iron carries eddy currents, K s^n, ohm [Leach2002], [Vanderkooy1989].

    s: complex frequency j w, 1/s, any shape, not 0 unless exponent > 0
    factor: K, ohm s^n, >= 0
    exponent: n, 0 (a resistor) to 1 (an inductor); 0.5 in theory, 0.6 to 0.75 on real drivers (from memory)
    Its phase is 90 n degrees at every frequency. Holds over two or three decades around the audio band.
    """
    return np.asarray(factor * np.asarray(s, dtype=np.complex128) ** exponent, dtype=np.complex128)


def lr2(s: ArrayLike, le_h: float, l2_h: float, r2_ohm: float) -> NDArray[np.complex128]:
    """Impedance of a coil in series with a second one that a resistor bridges, ohm [Leach2002].

    s: complex frequency j w, 1/s, any shape
    le_h, l2_h: the two inductances, H, >= 0
    r2_ohm: the resistor across the second, ohm, > 0
    """
    s = np.asarray(s, dtype=np.complex128)
    return np.asarray(s * le_h + s * l2_h * r2_ohm / (r2_ohm + s * l2_h), dtype=np.complex128)


def leach_parallel(omega: float, factor: float, exponent: float) -> tuple[float, float]:
    """The resistor (ohm) and inductor (H) that, side by side, equal K (j w)^n at one frequency [Leach2002].

    omega: angular frequency, rad/s, > 0
    factor, exponent: K and n of the semi-inductor, 0 < n < 1
    """
    resistance = factor * omega**exponent / cos(exponent * pi / 2.0)
    inductance = factor * omega ** (exponent - 1.0) / sin(exponent * pi / 2.0)
    return resistance, inductance
