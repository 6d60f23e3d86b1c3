"""Functions that fade smoothly over frequency, as sums of simple relaxations, which coils and resistors can make.

What a voice coil, a creeping suspension, the air at a vent's walls and a leaking gap do to a circuit follows no
polynomial: powers and logarithms of frequency. Each of them, divided by s where need be, is a function that relaxes:

    f(s) = r + sum over i of r_i / (1 + s/w_i),    r, r_i >= 0,

a sum without end, or an integral, over all w_i. A few terms for each decade come as near as one likes, and none of
them is negative: a network of such parts is passive, whatever it is connected to [Guillemin1957].
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Complexes = NDArray[np.complex128]

LOW_HZ, HIGH_HZ = 1.0, 20000.0
"""The band in which the sum is to follow the function."""

POLES_PER_DECADE = 2
"""Offered to the fit on a grid; it takes those that help. Two follow the root of s to a thousandth."""

_BEYOND = 30.0
"""So far the grid of relaxations goes on beyond either end of the band."""

_LEAST = 1e-7
"""Terms below this share of the largest are left out."""


@dataclass(frozen=True)
class Relaxations:
    """A constant, and the sizes and corner frequencies of terms size / (1 + s/corner_rad_s), none negative."""

    constant: float
    sizes: tuple[float, ...]
    corners_rad_s: tuple[float, ...]

    def __call__(self, s: Complexes) -> Complexes:
        """Return the sum at the complex frequencies s, rad/s, shape of s."""
        total = np.full(s.shape, self.constant, dtype=np.complex128)
        for size, corner in zip(self.sizes, self.corners_rad_s, strict=True):
            total += size / (1.0 + s / corner)
        return total


def relaxations(function: Callable[[Complexes], Complexes], known_rad_s: Sequence[float] = ()) -> Relaxations:
    """Return the sum that follows a function from LOW_HZ to HIGH_HZ, by least squares of the relative error.

    function: of complex frequencies s, rad/s; it must relax, see the top of this file: s^-n with 0 <= n < 1,
        1 - lambda log(s) as long as it is well above zero, the flow through a narrow gap or hole
    known_rad_s: the lowest corners of a function that has none below and between them, rising; a grid follows above
    """
    from scipy.optimize import nnls

    decades = np.log10(HIGH_HZ / LOW_HZ)
    s = np.asarray(2j * np.pi * np.geomspace(LOW_HZ, HIGH_HZ, int(16 * decades)), dtype=np.complex128)
    count = round(POLES_PER_DECADE * (decades + 2.0 * np.log10(_BEYOND))) + 1
    grid = 2.0 * np.pi * np.geomspace(LOW_HZ / _BEYOND, HIGH_HZ * _BEYOND, count)
    corners = np.append(known_rad_s, grid[grid > max(known_rad_s, default=0.0)])
    wanted = function(s)
    columns = np.column_stack([np.ones_like(s), *(1.0 / (1.0 + s / corner) for corner in corners)])
    weighted = columns / np.abs(wanted)[:, np.newaxis]
    scale = np.linalg.norm(weighted, axis=0)
    weighted /= scale
    target = wanted / np.abs(wanted)
    found, _ = nnls(np.vstack([weighted.real, weighted.imag]), np.append(target.real, target.imag))
    sizes = found / scale
    kept = found[1:] > _LEAST * found.max()
    return Relaxations(float(sizes[0]), tuple(sizes[1:][kept].tolist()), tuple(corners[kept].tolist()))
