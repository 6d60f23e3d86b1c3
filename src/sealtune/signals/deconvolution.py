"""The ratio of two channels that a sweep has driven, without what comes at other times than the answer.

Divided by channel 1, channel 2 becomes an impulse response: the answer of the circuit, which begins at once and
rings for some of its own periods. What a driver's distortion adds lies before it, by L ln k for the k-th harmonic
[Novak2015]; a knock, and noise, lie anywhere. A window that is short for high frequencies and long for low ones
keeps the answer alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.fft import fft, ifft, next_fast_len

from sealtune.signals.transfer_function import Ratio, bin_noise_power

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

PERIODS = 240.0
"""How many of its periods an answer may last: of a resonance of Q = 10, exp(-75) is left, and no peak is bent by the
width of the window's own line, f / 240."""

LONGEST_S = 6.0
"""The longest window: a resonance of Q = 10 at 8 Hz has died away to exp(-15) by then."""

LONGEST_SHARE, EARLIEST_SHARE = 0.6, 0.25
"""The window takes this share of the record at most, after and before: the higher harmonics wait at its end."""

SHORTEST_S = 0.25
"""A panel or the air in the room may ring for so long."""

BEFORE_PERIODS = 25.0
BEFORE_SHORTEST_S = 0.1
BEFORE_SHARE = 0.7
"""The window opens this many periods before the answer, and after this share of the way from the second harmonic."""

RISE, FALL = 0.8, 0.25
"""Shares of the time before and after that the window takes to open and to close."""

BANDS_PER_OCTAVE = 4
EDGE_BINS = 8
MARGIN_HZ = 60.0
"""Beyond either end the ratio is continued as a mirror image, so that the window sees no step there."""


def windowed_ratio(
    frequency_hz: Reals,
    spectrum_1: Complexes,
    spectrum_2: Complexes,
    left_out: NDArray[np.bool_],
    rate_s: float,
) -> Ratio:
    """Return spectrum_2 / spectrum_1 through a window in time that keeps the answer alone.

    frequency_hz: shape (n,), n > 32, evenly spaced, all driven by the sweep
    left_out: shape (n,), bins that are bridged by a straight line, such as those of a line of hum
    rate_s: the sweep's L, s
    returns: frequencies as far apart as the window's own line is wide, so that the noise of neighbours is
        independent; the noise follows from fourth differences of the bins' ratios
    """
    power = np.abs(spectrum_1) ** 2
    power = np.maximum(power, max(1e-30 * float(power.max()), 1e-200))
    ratio = spectrum_2 * np.conj(spectrum_1) / power
    if left_out.any():
        kept = ~left_out
        ratio = np.interp(frequency_hz, frequency_hz[kept], ratio[kept])
    sigma = np.sqrt(0.5 * bin_noise_power(spectrum_1, spectrum_2, power) / power)
    spacing = float(frequency_hz[1] - frequency_hz[0])
    response, lag_s, margin = _response(ratio, spacing)
    places, values, noise = [], [], []
    lowest = float(frequency_hz[0])
    while lowest < frequency_hz[-1]:
        highest = min(lowest * 2.0 ** (1.0 / BANDS_PER_OCTAVE), float(frequency_hz[-1]))
        window = _window(lag_s, float(np.sqrt(lowest * highest)), rate_s, 1.0 / spacing)
        share = float(np.mean(window**2))
        width = max(spacing, spacing / share)  # the line's width: white noise keeps this share of its power
        points = np.arange(lowest, highest, width)
        place = np.clip(np.rint((points - frequency_hz[0]) / spacing).astype(int), 0, ratio.size - 1)
        places.append(place)
        values.append(fft(response * window)[margin + place])
        noise.append(np.sqrt(share) * sigma[place])
        lowest = float(points[-1]) + width
    index = np.concatenate(places)
    return Ratio(frequency_hz[index], np.concatenate(values), np.concatenate(noise), power[index])


def _response(ratio: Complexes, spacing_hz: float) -> tuple[Complexes, Reals, int]:
    """Return the impulse response of a ratio, the lag of each of its samples, s, and where the ratio begins in it."""
    margin = min(ratio.size // 3, int(MARGIN_HZ / spacing_hz))
    first, last = _end(ratio[:EDGE_BINS]), _end(ratio[: -EDGE_BINS - 1 : -1])
    extended = np.concatenate(
        [2.0 * first - ratio[margin:0:-1], ratio, 2.0 * last - ratio[-2 : -margin - 2 : -1]]
    )
    length = int(next_fast_len(extended.size + 2 * margin))
    way = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, length - extended.size + 2)[1:-1])
    closed = np.concatenate([extended, extended[-1] + way * (extended[0] - extended[-1])])
    turns = np.arange(length) / length
    lag_s = np.where(turns > 1.0 - EARLIEST_SHARE, turns - 1.0, turns) / spacing_hz
    return np.asarray(ifft(closed), dtype=np.complex128), lag_s, margin


def _end(ratio: Complexes) -> complex:
    """Return the value at the first of some bins by a straight line through all of them."""
    return complex(np.polyfit(np.arange(ratio.size), ratio, 1)[-1])


def _window(lag_s: Reals, at_hz: float, rate_s: float, record_s: float) -> Reals:
    """Return the weight of each lag for the answer at a frequency."""
    after = min(max(PERIODS / at_hz, SHORTEST_S), LONGEST_S, LONGEST_SHARE * record_s)
    before = min(
        max(BEFORE_PERIODS / at_hz, BEFORE_SHORTEST_S),
        BEFORE_SHARE * rate_s * float(np.log(2.0)),
        EARLIEST_SHARE * record_s,
    )
    opening = np.clip((lag_s + before) / (RISE * before), 0.0, 1.0)
    closing = np.clip((after - lag_s) / (FALL * after), 0.0, 1.0)
    return np.asarray((0.5 - 0.5 * np.cos(np.pi * opening)) * (0.5 - 0.5 * np.cos(np.pi * closing)))
