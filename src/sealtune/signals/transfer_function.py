"""The ratio of two channels against frequency, with its noise."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

DIFFERENCE = np.array([1.0, -4.0, 6.0, -4.0, 1.0])
"""Fourth difference: takes a smooth function away and leaves the noise, times sqrt(70)."""

BINS_PER_FREQUENCY = 240.0
"""Groups are f/240 wide: the curvature of a resonance of Q = 10 then biases them by less than 0.1 %."""


@dataclass(frozen=True)
class Played:
    """When a sweep played each of some frequencies.

    when: shape (n,), counted from the middle of the sweep and over its length, so -1/2 to 1/2
    rate_s: time in which it rises by a factor e, s; of one that is not exponential the mean
    sample_s: time from one sample to the next, s
    """

    when: Reals
    rate_s: float
    sample_s: float


@dataclass(frozen=True)
class Ratio:
    """Channel 2 over channel 1 on rising frequencies.

    frequency_hz: shape (n,)
    value: shape (n,) complex
    sigma: shape (n,), standard deviation of the real and of the imaginary part
    power: shape (n,), mean power of channel 1 per bin
    played: when they were played, None where that is not known or all were played all the time
    """

    frequency_hz: Reals
    value: Complexes
    sigma: Reals
    power: Reals
    played: Played | None = None

    def part(self, which: slice) -> Ratio:
        """Return a stretch of the frequencies."""
        played = None if self.played is None else replace(self.played, when=self.played.when[which])
        return Ratio(
            self.frequency_hz[which], self.value[which], self.sigma[which], self.power[which], played
        )


def group_bins(frequency_hz: Reals, spectrum_1: Complexes, spectrum_2: Complexes) -> Ratio:
    """Return spectrum_2 / spectrum_1, least squares within groups of neighbouring bins.

    frequency_hz: shape (n,), n > 1, evenly spaced but for bins left out, > 0; the spectra have the same shape
    returns: groups at their power-weighted mean frequency; the noise follows from fourth differences of the
        bins' own ratios, so no knowledge of the stimulus is needed
    """
    spacing = float(np.min(np.diff(frequency_hz)))
    power = np.abs(spectrum_1) ** 2
    power = np.maximum(power, max(1e-30 * float(power.max()), 1e-200))
    noise_power = bin_noise_power(spectrum_1, spectrum_2, power)
    starts = _group_starts(frequency_hz, spacing)
    cross: Complexes = np.add.reduceat(spectrum_2 * np.conj(spectrum_1), starts)
    total = np.add.reduceat(power, starts)
    centre = np.add.reduceat(power * frequency_hz, starts) / total
    noise = np.add.reduceat(power * noise_power, starts)
    count = np.diff(np.append(starts, frequency_hz.size))
    return Ratio(centre, cross / total, np.sqrt(0.5 * noise) / total, total / count)


def _group_starts(frequency_hz: Reals, spacing: float) -> NDArray[np.int64]:
    """Return the first bin of each group; a group is f / 240 wide, or one bin."""
    widest = frequency_hz + np.maximum(frequency_hz / BINS_PER_FREQUENCY, spacing)
    following = np.searchsorted(frequency_hz, widest - 0.5 * spacing)
    starts = [0]
    while (start := int(following[starts[-1]])) < frequency_hz.size:
        starts.append(start)
    return np.array(starts)


def bin_noise_power(spectrum_1: Complexes, spectrum_2: Complexes, power: Reals) -> Reals:
    """Return the expected power of the noise of spectrum_2 - ratio spectrum_1 in each bin, smoothed."""
    ratio = spectrum_2 * np.conj(spectrum_1) / power
    if ratio.size < 16:
        return np.full(ratio.size, float(np.mean(np.abs(spectrum_2 - ratio.mean() * spectrum_1) ** 2)))
    rough = np.convolve(ratio, DIFFERENCE, mode="valid")
    weight = np.convolve(1.0 / power, DIFFERENCE**2, mode="valid")
    sample = np.pad(np.abs(rough) ** 2 / weight, 2, mode="edge")
    return np.asarray(_running_median(sample, 31) / np.log(2.0))


def _running_median(values: Reals, length: int) -> Reals:
    """Return the median over blocks of `length` neighbours, joined by straight lines, shape of values."""
    blocks = max(1, values.size // length)
    edges = np.linspace(0, values.size, blocks + 1).astype(int)
    centres = 0.5 * (edges[:-1] + edges[1:] - 1)
    medians = np.array([np.median(values[a:b]) for a, b in pairwise(edges)])
    return np.asarray(np.interp(np.arange(values.size), centres, medians))
