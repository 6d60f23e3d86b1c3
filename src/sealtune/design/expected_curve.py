"""Where the impedance curve has its two peaks and the saddle, for many boxes at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.physics.crossover import impedance_behind
from sealtune.physics.loudspeaker import Loudspeaker, Value, impedance_ratio, lossless_landmarks_rad_s
from sealtune.records.design import Crossover

Reals = NDArray[np.float64]

_STEPS = (0.02, 0.01, 0.004, 0.002)
_FARTHEST = 3.0


def landmarks(speaker: Loudspeaker, re_ohm: Value, crossover: Crossover | None) -> tuple[Reals, Reals]:
    """Return frequency, rad/s, and |Z|, ohm, of lower peak, saddle and upper peak, shape (3, n) each.

    speaker: n boxes, each of its values a number or an array of shape (n,)
    re_ohm: R_E, a number or an array of shape (n,)
    crossover: what lies before the driver
    Begins at the closed forms of the lossless box and climbs by parabolas through three points, ever closer ones.
    """
    start = lossless_landmarks_rad_s(speaker)
    n = np.broadcast_shapes(*(np.shape(one) for one in (*start, re_ohm)), (1,))
    w = np.array([np.broadcast_to(one, n) for one in start], dtype=np.float64)
    sign = np.array([[1.0], [-1.0], [1.0]])

    def height(at: Reals) -> Reals:
        s = np.asarray(1j * at, dtype=np.complex128)
        return np.log(
            np.abs(impedance_behind(s, crossover, np.asarray(re_ohm * impedance_ratio(s, speaker))))
        )

    for step in _STEPS:
        below, here, above = (sign * height(w * factor) for factor in (1.0 - step, 1.0, 1.0 + step))
        slope, bend = above - below, above + below - 2.0 * here
        by = np.where(bend < 0.0, -0.5 * slope / np.minimum(bend, -1e-300), _FARTHEST * np.sign(slope))
        w = w * (1.0 + step * np.clip(by, -_FARTHEST, _FARTHEST))
    return w, np.exp(height(w))
