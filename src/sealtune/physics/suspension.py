"""The suspension creeps: the longer it is pushed, the further it gives."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def creep_factor(s: ArrayLike, creep: float, omega_s: float) -> NDArray[np.complex128]:
    """Compliance of the suspension over that at its resonance, 1 - lambda log10(s/w_S) [Knudsen1993].

    The formula is from memory.
    s: complex frequency j w, 1/s, any shape, not 0
    creep: lambda, 0 (none) to about 0.2 on real drivers
    omega_s: angular frequency of the driver's resonance, rad/s, > 0
    Returns a complex factor: its real part grows towards low frequencies, its negative imaginary part is
    friction. At 1/lambda decades above resonance it reaches zero and no longer means anything; the cone's
    mass rules there anyway.
    """
    ratio = np.asarray(s, dtype=np.complex128) / omega_s
    return np.asarray(1.0 - creep * np.log10(ratio), dtype=np.complex128)
