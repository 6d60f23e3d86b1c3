"""Published models of a voice coil, other than the one that is fitted."""

import numpy as np
from numpy.typing import NDArray

Complexes = NDArray[np.complex128]


def semi_inductor(s: Complexes, factor: float, exponent: float) -> Complexes:
    """Impedance of a coil whose iron carries eddy currents, K s^n, ohm [Leach2002], [Vanderkooy1989]."""
    return np.asarray(factor * s**exponent)


def lr2(s: Complexes, le_h: float, l2_h: float, r2_ohm: float) -> Complexes:
    """Impedance of a coil in series with a second one that a resistor bridges, ohm [Leach2002]."""
    return np.asarray(s * le_h + s * l2_h * r2_ohm / (r2_ohm + s * l2_h))
