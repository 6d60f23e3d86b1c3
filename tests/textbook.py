"""Published formulas that the program itself does not need, to hold it against."""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

Complexes = NDArray[np.complex128]


def semi_inductor(s: Complexes, factor: float, exponent: float) -> Complexes:
    """Impedance of a coil whose iron carries eddy currents, K s^n, ohm [Leach2002], [Vanderkooy1989]."""
    return np.asarray(factor * s**exponent)


def lr2(s: Complexes, le_h: float, l2_h: float, r2_ohm: float) -> Complexes:
    """Impedance of a coil in series with a second one that a resistor bridges, ohm [Leach2002]."""
    return np.asarray(s * le_h + s * l2_h * r2_ohm / (r2_ohm + s * l2_h))


def response_coefficients(h: float, alpha: float, qt: float, ql: float) -> tuple[float, float, float]:
    """a1, a2, a3 of the response of a box with leakage Q, s in units of w_S sqrt(h) [Small1973, Part I]."""
    r = sqrt(h)
    return 1.0 / (r * qt) + r / ql, 1.0 / (ql * qt) + (alpha + 1.0 + h**2) / h, r / qt + 1.0 / (r * ql)
