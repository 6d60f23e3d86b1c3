"""From two channels to their ratio."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.repeats import combine, left_out, parts_of
from sealtune.analysis.sample_faults import lost_samples
from sealtune.analysis.sweep_faults import hear_sweep
from sealtune.records.recording import Recording, Sweep
from sealtune.records.verdict import Problem
from sealtune.signals.band_spectrum import band_spectrum, transform_length
from sealtune.signals.deconvolution import windowed_ratio
from sealtune.signals.hum import Hum, remove_hum
from sealtune.signals.sweep import sweep_rate, sweep_seconds
from sealtune.signals.timing import played_by_phase, played_by_sweep
from sealtune.signals.transfer_function import Played, Ratio, group_bins

BAND_HZ = (3.0, 1000.0)
"""Below lies no box, above no information on it."""

SILENT_EDGE = 0.01
"""A record whose ends hold less than this share of its loudest stretch needs no taper."""

LINE_BINS = 1.0
"""Bins closer than this to a line of mains hum that was taken out are left aside."""

FEWEST_BINS = 48
"""A sweep that reaches fewer bins than this is judged as any other stimulus is."""

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
    """Both channels' ratio in the band, hum taken out, and how it came about.

    ratio: channel 2 over channel 1
    hum: what was taken out, None if nothing
    tapered: True where the record did not begin and end in silence
    problems: of a recording with several sweeps, what was wrong with one of them and what was left out
    """

    ratio: Ratio
    hum: Hum | None
    tapered: bool
    problems: tuple[Problem, ...] = ()


def measure_ratio(recording: Recording) -> Spectra:
    """Return the ratio of the recording's two channels between 3 Hz and 1 kHz.

    The sound card's roll-off, its coupling capacitors and the level are the same in both and cancel. Of several
    sweeps in one recording those that are sound are taken together, and what was left out is told.
    """
    sweep = recording.origin.sweep
    parts = parts_of(recording)
    if sweep is None or sweep.repeats == 1 or not parts:
        return _one_take(recording)
    faults = [lost_samples(part.recording, part.offset_s) for part in parts]
    heard = [hear_sweep(part.recording) for part in parts]
    faults = [found or other.problems for found, other in zip(faults, heard, strict=True)]
    sound = [index for index, found in enumerate(faults) if not found]
    if sound:
        problems = [
            left_out(part, found[0], sweep.repeats)
            for part, found in zip(parts, faults, strict=True)
            if found
        ]
    else:
        problems, sound = list(faults[0]), list(range(len(parts)))
    spectra = [_one_take(parts[index].recording, repeated=True) for index in sound]
    combined = combine(
        [parts[index] for index in sound],
        [one.ratio for one in spectra],
        sweep.repeats,
        [heard[index].stray for index in sound],
    )
    hum = max((one.hum for one in spectra if one.hum), key=lambda hum: hum.amplitude, default=None)
    return Spectra(_trusted(combined.ratio), hum, False, (*problems, *combined.problems))


def _one_take(recording: Recording, *, repeated: bool = False) -> Spectra:
    """Return the ratio from one sweep, or whatever else was played; `repeated` for one sweep of several."""
    samples = recording.channels
    frames, rate = samples.shape[0], recording.rate_hz
    fade = 0 if repeated or _silent_edges(samples) else _fade_frames(frames)
    length = transform_length(frames, rate, BAND_HZ[1])
    first, last = (max(1, int(np.ceil(edge * length / rate))) for edge in BAND_HZ)
    last = min(last, length // 2)
    one, two = (
        band_spectrum(channel, rate, length, (first, last), highest_hz=BAND_HZ[1], fade=fade) / rate
        for channel in samples.T
    )
    frequency = np.asarray(np.arange(first, last) * (rate / length), dtype=np.float64)
    two, hum = remove_hum(frequency, one, two, frames / rate, fade / rate)
    near_line = np.zeros(frequency.size, dtype=np.bool_)
    if hum is not None:
        # what is left of a line sits in the bins beside it, where no noise estimate would expect it
        near_line = np.any(np.abs(frequency[:, None] - hum.lines_hz) <= LINE_BINS * rate / frames, axis=1)
    swept = _swept(frequency, recording)
    if swept is not None and fade == 0:
        rate_s = sweep_rate(swept[0])
        ratio = windowed_ratio(frequency[swept[1]], one[swept[1]], two[swept[1]], near_line[swept[1]], rate_s)
        ratio = replace(ratio, played=played_by_sweep(ratio.frequency_hz, swept[0], 1.0 / rate))
        return Spectra(ratio if repeated else _trusted(ratio), hum, False)
    used = _stimulated(frequency, one, tapered=fade > 0) if swept is None else _inside(frequency, swept[1])
    used &= ~near_line
    ratio = group_bins(frequency[used], one[used], two[used])
    if swept is not None:
        played: Played | None = played_by_sweep(ratio.frequency_hz, swept[0], 1.0 / rate)
    else:
        played = played_by_phase(frequency, one, ratio.frequency_hz, 1.0 / rate)
    ratio = replace(ratio, played=played)
    return Spectra(_trusted(ratio), hum, fade > 0)


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
    return ratio.part(kept)


def _silent_edges(samples: NDArray[np.float64]) -> bool:
    """Return whether the record begins and ends in silence in both channels."""
    edge = max(1, samples.shape[0] // 100)
    for channel in samples.T:
        mean = float(channel.mean())
        power = [
            float(np.mean((channel[start : start + edge] - mean) ** 2))
            for start in range(0, channel.size - edge + 1, edge)
        ]
        if max(power[0], power[-1]) > SILENT_EDGE * max(power):
            return False
    return True


def _fade_frames(frames: int) -> int:
    return max(1, frames // 20)


def _swept(frequency: NDArray[np.float64], recording: Recording) -> tuple[Sweep, slice] | None:
    """Return the sweep of the metadata and the bins that it drives, None where none is known or it cannot be so."""
    sweep = recording.origin.sweep
    if sweep is None or sweep_seconds(sweep) > recording.channels.shape[0] / recording.rate_hz:
        return None
    first, stop = np.searchsorted(frequency, (sweep.start_hz * 1.05, sweep.stop_hz * 0.95))
    return (sweep, slice(int(first), int(stop))) if stop - first >= FEWEST_BINS else None


def _inside(frequency: NDArray[np.float64], part: slice) -> NDArray[np.bool_]:
    used = np.zeros(frequency.size, dtype=np.bool_)
    used[part] = True
    return used


def _stimulated(
    frequency: NDArray[np.float64], spectrum: NDArray[np.complex128], *, tapered: bool
) -> NDArray[np.bool_]:
    """Return which bins the stimulus reaches."""
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
