"""From two channels to their ratio."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len, rfft

from sealtune.records.recording import Recording
from sealtune.signals.hum import Hum, remove_hum
from sealtune.signals.sweep import sweep_seconds
from sealtune.signals.transfer_function import Ratio, group_bins

BAND_HZ = (3.0, 1000.0)
"""Below lies no box, above no information on it."""

SILENT_EDGE = 0.01
"""A record whose ends hold less than this share of its loudest stretch needs no taper."""

LINE_BINS = 1.0
"""Bins closer than this to a line of mains hum that was taken out are left aside."""

NOISE_ALONE = 0.3
"""Noise over the ratio; a third of an octave with more at the end of the band tells nothing."""

USABLE_POWER = 1e-5
"""Where power times frequency is below this share of its highest value, there is no stimulus: from 3 Hz to 1 kHz a
white one loses 25 dB, and two roll-offs at 8 Hz 20 dB."""

USABLE_POWER_TAPERED = 1e-3
"""The same for a record without silence around it: the taper smears a sweep that breaks off."""

BETWEEN_TONES = 0.4
"""A bin below this share of the mean power within 1 Hz of it lies beside the tones of a multitone, where two of them
mix. A sweep has no such bins; noise as a stimulus has a third, which hold 6 % of its power."""


@dataclass(frozen=True)
class Spectra:
    """Both channels' Fourier integrals on the bins of the band, hum taken out of their ratio.

    ratio: channel 2 over channel 1
    hum: what was taken out, None if nothing
    tapered: True where the record did not begin and end in silence
    """

    ratio: Ratio
    hum: Hum | None
    tapered: bool


def measure_ratio(recording: Recording) -> Spectra:
    """Return the ratio of the recording's two channels between 3 Hz and 1 kHz.

    The sound card's roll-off, its coupling capacitors and the level are the same in both and cancel.
    """
    samples = recording.channels
    frames, rate = samples.shape[0], recording.rate_hz
    taper = _taper(samples)
    length = next_fast_len(frames, real=True)
    first, last = (max(1, int(np.ceil(edge * length / rate))) for edge in BAND_HZ)
    last = min(last, length // 2)
    spectra: list[NDArray[np.complex128]] = []
    for channel in samples.T:
        centred = channel - channel.mean()
        if taper is not None:
            centred *= taper
        spectra.append(np.asarray(rfft(centred, length)[first:last] / rate, dtype=np.complex128))
    frequency = np.asarray(np.arange(first, last) * (rate / length), dtype=np.float64)
    fade_s = 0.0 if taper is None else _fade_frames(frames) / rate
    cleaned, hum = remove_hum(frequency, spectra[0], spectra[1], frames / rate, fade_s)
    used = _stimulated(frequency, spectra[0], recording, tapered=taper is not None)
    if hum is not None:
        # what is left of a line sits in the bins beside it, where no noise estimate would expect it
        used &= np.all(np.abs(frequency[:, None] - hum.lines_hz) > LINE_BINS * rate / frames, axis=1)
    ratio = _trusted(group_bins(frequency[used], spectra[0][used], cleaned[used]))
    return Spectra(ratio, hum, taper is not None)


def _trusted(ratio: Ratio) -> Ratio:
    """Return the ratio without the ends of the band that hold noise alone; all of it where there is nothing else."""
    share = ratio.sigma / np.abs(ratio.value)
    third = np.floor(3.0 * np.log2(ratio.frequency_hz / ratio.frequency_hz[0])).astype(np.int64)
    parts, part_of = np.unique(third, return_inverse=True)
    middle = np.array([np.median(share[third == part]) for part in parts])
    good = np.flatnonzero(middle[part_of] < NOISE_ALONE)
    if good.size == 0:
        return ratio
    kept = slice(int(good[0]), int(good[-1]) + 1)
    return Ratio(ratio.frequency_hz[kept], ratio.value[kept], ratio.sigma[kept], ratio.power[kept])


def _taper(samples: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Return a window that fades 5 % at either end, None where the record begins and ends in silence."""
    edge = max(1, samples.shape[0] // 100)
    blocks = samples[: samples.shape[0] // edge * edge].reshape(-1, edge, 2)
    power = ((blocks - samples.mean(axis=0)) ** 2).mean(axis=1).max(axis=1)
    if max(power[0], power[-1]) <= SILENT_EDGE * power.max():
        return None
    fade = _fade_frames(samples.shape[0])
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / fade)
    window = np.ones(samples.shape[0])
    window[:fade] = ramp
    window[-fade:] = ramp[::-1]
    return window


def _fade_frames(frames: int) -> int:
    return max(1, frames // 20)


def _stimulated(
    frequency: NDArray[np.float64], spectrum: NDArray[np.complex128], recording: Recording, *, tapered: bool
) -> NDArray[np.bool_]:
    """Return which bins the stimulus reaches."""
    sweep = recording.origin.sweep
    if sweep is not None and sweep_seconds(sweep) <= recording.channels.shape[0] / recording.rate_hz:
        used = (frequency >= sweep.start_hz * 1.05) & (frequency <= sweep.stop_hz * 0.95)
        if used.sum() >= 16:
            return np.asarray(used)
    power = np.abs(spectrum) ** 2
    total = np.concatenate([[0.0], np.cumsum(power)])

    def mean_power(first: NDArray[np.int64], stop: NDArray[np.int64]) -> NDArray[np.float64]:
        return np.asarray((total[stop] - total[first]) / (stop - first))

    number = np.arange(frequency.size)
    third = mean_power(number, np.maximum(np.searchsorted(frequency, frequency * 2 ** (1 / 3)), number + 1))
    beside = mean_power(
        np.searchsorted(frequency, frequency - 1.0), np.searchsorted(frequency, frequency + 1.0)
    )
    reached = third * frequency
    share = USABLE_POWER_TAPERED if tapered else USABLE_POWER
    return np.asarray((reached >= share * reached.max()) & (power >= BETWEEN_TONES * beside))
