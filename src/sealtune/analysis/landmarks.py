"""The peaks and the saddle of an impedance curve, read from the curve itself."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks

from sealtune.records.curve import ImpedanceCurve, Landmark, Landmarks

SEARCH_HZ = (4.0, 500.0)
"""Peaks of vented boxes lie within; above, the coil and the midrange rule."""

LEAST_PARTNER = 0.08
"""Of the two impedance peaks the lesser has at least this share of the other's prominence in ln |Z|; what is
fainter is a panel or the coil."""

STEPS_PER_OCTAVE = 48


def find_landmarks(curve: ImpedanceCurve) -> Landmarks:
    """Return the peaks of |Z| from 4 to 500 Hz, and the saddle between the two most prominent.

    A peak counts where it stands at least 4 % and six standard deviations of the noise above the lower of its
    two sides.
    """
    lowest = max(SEARCH_HZ[0], float(curve.frequency_hz[0]))
    highest = min(SEARCH_HZ[1], float(curve.frequency_hz[-1]))
    if highest <= lowest * 1.2:
        return Landmarks((), None, None, None)
    grid, magnitude, noise = _smooth(curve, lowest, highest)
    level = np.log(magnitude)
    indices, shape = find_peaks(level, prominence=0.04)
    keep = shape["prominences"] > 6.0 * noise[indices]
    indices, prominences = indices[keep], shape["prominences"][keep]
    peaks = tuple(_refined(grid, level, int(index)) for index in indices)
    if len(peaks) < 2 or np.sort(prominences)[-2] < LEAST_PARTNER * prominences.max():
        return Landmarks(peaks, None, None, None)
    first, second = np.sort(np.argsort(prominences)[-2:])
    between = slice(indices[first], indices[second] + 1)
    lowest_point = int(indices[first] + np.argmin(level[between]))
    return Landmarks(peaks, peaks[first], _refined(grid, level, lowest_point), peaks[second])


def _smooth(
    curve: ImpedanceCurve, lowest: float, highest: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return a logarithmic grid, |Z| smoothed over a step of it and its relative noise."""
    steps = max(8, int(np.log2(highest / lowest) * STEPS_PER_OCTAVE))
    grid = np.geomspace(lowest, highest, steps)
    position = np.log(curve.frequency_hz)
    inside = (curve.frequency_hz >= lowest) & (curve.frequency_hz <= highest)
    cell = np.clip(np.rint((position - np.log(lowest)) / np.log(grid[1] / grid[0])).astype(int), 0, steps - 1)
    weight = np.where(inside, 1.0 / curve.sigma_ohm**2, 0.0)
    total = np.bincount(cell, weight, steps)
    filled = total > 0.0
    centre = np.bincount(cell, weight * position, steps)[filled] / total[filled]
    real, imag = (
        np.interp(np.log(grid), centre, np.bincount(cell, weight * part, steps)[filled] / total[filled])
        for part in (curve.impedance_ohm.real, curve.impedance_ohm.imag)
    )
    sigma = np.interp(np.log(grid), centre, 1.0 / np.sqrt(total[filled]))
    magnitude = np.maximum(np.hypot(real, imag), 1e-9)
    return grid, magnitude, sigma / magnitude


def _refined(grid: NDArray[np.float64], level: NDArray[np.float64], index: int) -> Landmark:
    """Return the extremum of the parabola through a point within the grid and its two neighbours."""
    left, middle, right = level[index - 1 : index + 2]
    bend = left - 2.0 * middle + right
    shift = 0.0 if bend == 0.0 else float(np.clip(0.5 * (left - right) / bend, -0.5, 0.5))
    height = middle - 0.25 * (left - right) * shift
    return Landmark(float(grid[index] * (grid[1] / grid[0]) ** shift), float(np.exp(height)))
