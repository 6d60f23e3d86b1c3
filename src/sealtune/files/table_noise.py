"""How noisy an impedance table is, judged by its own smoothness."""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

FEWEST_ROWS = 7
"""Below this, differences say nothing, and ASSUMED stands in."""

ASSUMED = 0.002
"""Noise over |Z| of a table too short to tell (common practice: a sound-card measurement in good order)."""

LEAST = 1e-4
"""Noise over |Z| is never taken as smaller: no reference resistor is known better."""

_POINTS = 5
_NARROWEST_WINDOW = 41
_WINDOWS_PER_TABLE = 20
_MOST_WINDOWS = 500


def noise_of_table(
    frequency_hz: NDArray[np.float64],
    impedance_ohm: NDArray[np.complex128],
    least_ohm: NDArray[np.float64] | float = 0.0,
) -> NDArray[np.float64]:
    """Return the standard deviation of the noise of the real and of the imaginary part, ohm, shape (n,).

    frequency_hz: shape (n,), strictly rising, Hz
    impedance_ohm: shape (n,), ohm, none of them zero
    least_ohm: the noise is at least this, ohm, e.g. from the digits printed

    Five neighbouring points are combined with the weights of the fourth divided difference, which cancel
    every cubic; scaled to unit length, they pass white noise unchanged. The median of 41 such values over
    |Z| (of more in tables above 820 rows), times 1.4826 (the ratio for a normal distribution), is the noise
    around the middle one. On a grid so coarse that a peak has fewer than about ten points the curve itself
    does not cancel, and the result is too large; intervals drawn from it become wider, not narrower.
    """
    magnitude = np.abs(impedance_ohm)
    least = np.maximum(LEAST * magnitude, least_ohm)
    if len(frequency_hz) < FEWEST_ROWS:
        return np.asarray(np.maximum(ASSUMED * magnitude, least), dtype=np.float64)
    neighbours_hz = sliding_window_view(frequency_hz, _POINTS)
    span = neighbours_hz[:, -1] - neighbours_hz[:, 0]
    distance = (neighbours_hz[:, :, None] - neighbours_hz[:, None, :]) / span[:, None, None]
    distance[:, range(_POINTS), range(_POINTS)] = 1.0
    weight = 1.0 / np.prod(distance, axis=2)
    weight /= np.max(np.abs(weight), axis=1, keepdims=True)
    weight /= np.linalg.norm(weight, axis=1, keepdims=True)
    rough = np.sum(weight * sliding_window_view(impedance_ohm, _POINTS), axis=1) / magnitude[2:-2]
    pairs = np.abs(np.column_stack([rough.real, rough.imag]))

    window = min(max(_NARROWEST_WINDOW, len(pairs) // _WINDOWS_PER_TABLE), len(pairs))
    starts = np.unique(np.linspace(0, len(pairs) - window, _MOST_WINDOWS).astype(int))
    local = np.array([1.4826 * np.median(pairs[start : start + window]) for start in starts])
    at_row = starts + window // 2 + 2
    relative = np.interp(np.arange(len(magnitude)), at_row, local)
    return np.asarray(np.maximum(relative * magnitude, least), dtype=np.float64)
