"""What a recorded sweep tells of the recording: whether it is the sweep that was played, and whether it was bent.

Divided by the sweep that was played, a channel becomes its impulse response. What the sweep's harmonics make of
it arrives earlier by L ln k for the k-th one [Novak2015]; a wrong sample rate smears it; a knock is another pulse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft

from sealtune.analysis.sample_faults import step_of
from sealtune.records.recording import Recording, Sweep
from sealtune.records.verdict import Problem
from sealtune.signals.band_spectrum import band_spectrum, transform_length
from sealtune.signals.sweep import sweep_rate, sweep_samples, sweep_seconds

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

HIGHEST_HZ = 2000.0
"""A sweep is judged by what is of use; more would only take time and memory."""

WINDOW_S = 0.05
"""Half the length of an impulse response: reverberation is not in it, and a roll-off at 3 Hz is over by then."""

ANSWER_S = (-0.3, 1.2)
"""Within, the loudspeaker itself still answers: a resonance at 10 Hz rings for about a second."""

COMPACT = 0.75
"""Less of the energy than this within the window is another sweep, or another clock: clean takes have 0.94, and a
rate misnamed by 4 % leaves 0.6 of a sweep of 4 s, less of a longer one."""

BENT = 0.02
"""A third harmonic beyond this share is far from small signals; the fundamental is bent by three times as much."""

FEWEST_STEPS = 64.0
"""A sweep whose peak is fewer steps of the converter high is bent by being rounded: 5 bits and a sign."""

STRAY = 0.006
"""A foreign sound beyond this share of the answer; clean takes stay below 0.3 %."""

ABOVE_NOISE = 20.0
"""Energy over the median of all other moments; even of 10^4 windows of noise none comes to 10."""


@dataclass(frozen=True)
class Answer:
    """What one channel answers to the sweep.

    compact: share of its energy above the noise, per octave alike, near the peak of the impulse response
    third: amplitude of the third harmonic over that of the fundamental
    stray: largest amplitude that comes neither from the answer nor from its harmonics, over the answer's
    """

    compact: float
    third: float
    stray: float


@dataclass(frozen=True)
class Heard:
    """What is wrong with a sweep as recorded, and the share of foreign sound in it (the larger of two channels')."""

    problems: list[Problem]
    stray: float


def sweep_problems(recording: Recording) -> list[Problem]:
    """Return what is wrong with the sweep as recorded; nothing where the metadata name none."""
    return hear_sweep(recording).problems


def hear_sweep(recording: Recording) -> Heard:
    """Return what is wrong with the one sweep of a recording, and how much foreign sound is in it."""
    sweep = recording.origin.sweep
    if sweep is None or 2.0 * sweep.stop_hz > recording.rate_hz:
        return Heard([], 0.0)
    played = _played(sweep, recording.channels.shape[0], recording.rate_hz)
    answers = [answer(channel, recording.rate_hz, sweep, played) for channel in recording.channels.T]
    return Heard(_judged(answers, sweep, recording), max(found.stray for found in answers))


def _judged(answers: list[Answer], sweep: Sweep, recording: Recording) -> list[Problem]:
    if max(found.compact for found in answers) < COMPACT:
        return [
            Problem(
                "dropout",
                f"The sound is not the sweep from {sweep.start_hz:g} to {sweep.stop_hz:g} Hz in "
                f"{sweep_seconds(sweep):.1f} s that the file's metadata tell of: samples were lost, or the sample "
                f"rate is not the {recording.rate_hz:.0f} Hz that the file says.",
                "Set the sound card and the recording program to the same sample rate, and record again.",
            )
        ]
    bent = max((0, 1), key=lambda index: answers[index].third)
    if answers[bent].third > BENT:
        channel = recording.channels[:, bent]
        steps = float(np.abs(channel).max()) / max(step_of(channel, recording.step), 1e-12)
        if steps < FEWEST_STEPS:
            return [
                Problem(
                    "too_quiet",
                    f"The sweep is only {steps:.0f} steps of the converter high in channel {bent + 1}: the recording "
                    "is far too quiet, or was made with 8 bits.",
                    "Set the recording program to 24 bits, or 16, raise the input gain until the peaks reach -20 to "
                    "-6 dB, and record again.",
                )
            ]
        return [
            Problem(
                "clipped",
                f"The sweep comes back bent in channel {bent + 1} ({100 * answers[bent].third:.0f} % of third "
                "harmonic): an input, the amplifier or the driver is driven too hard.",
                "Turn the amplifier, and then the input gain, down by 6 dB or more, and record again.",
            )
        ]
    stray = max((0, 1), key=lambda index: answers[index].stray)
    if answers[stray].stray > STRAY:
        return [
            Problem(
                "noisy",
                f"A sound that is not the sweep's, such as a knock or a door, is in channel {stray + 1} "
                f"({100 * answers[stray].stray:.0f} % of the sweep).",
                "Keep still while the sweep runs, and record again.",
            )
        ]
    return []


def _played(sweep: Sweep, frames: int, rate_hz: float) -> Complexes:
    """Return the spectrum of the sweep as played, on the bins that a channel of that many frames gets."""
    length, bins, highest_hz = _bins(sweep, frames, rate_hz)
    samples = sweep_samples(sweep, rate_hz)[:length]
    return band_spectrum(samples, rate_hz, length, bins, highest_hz=highest_hz)


def _bins(sweep: Sweep, frames: int, rate_hz: float) -> tuple[int, tuple[int, int], float]:
    """Return the transform's length, its first bin and the one after its last, and the highest frequency, Hz."""
    highest_hz = min(sweep.stop_hz, HIGHEST_HZ)
    length = transform_length(frames, rate_hz, highest_hz)
    return length, (0, int(highest_hz * length / rate_hz) + 1), highest_hz


def answer(channel: Reals, rate_hz: float, sweep: Sweep, played: Complexes | None = None) -> Answer:
    """Return what a channel answers to the sweep.

    channel: shape (frames,)
    rate_hz: samples per second, above twice the sweep's highest frequency
    played: the sweep's own spectrum, where another channel needed it before
    """
    length, bins, highest_hz = _bins(sweep, channel.size, rate_hz)
    if played is None:
        played = _played(sweep, channel.size, rate_hz)
    kept = bins[1]
    hz = np.arange(kept) * rate_hz / length
    used = (hz > 1.05 * sweep.start_hz) & (hz < 0.95 * highest_hz)
    spectrum = band_spectrum(channel, rate_hz, length, bins, highest_hz=highest_hz)
    spectrum[used] /= played[used]
    spectrum[~used] = 0.0
    # nothing lies above the highest frequency: the response needs no more samples than this
    length, rate_hz = 2 * kept, 2 * kept * rate_hz / length
    half = round(WINDOW_S * rate_hz)
    evenly = _energy_around(irfft(spectrum, length), half)
    spectrum /= np.sqrt(np.maximum(hz, hz[1]))
    per_octave = _energy_around(irfft(spectrum, length), half)
    low = _energy_around(irfft(spectrum * _hump(hz, sweep.start_hz), length), half)
    peak = int(np.argmax(evenly))
    steps = sweep_rate(sweep) * rate_hz
    third = (peak - round(steps * np.log(3.0))) % length
    beyond = np.ones(length, dtype=np.bool_)
    beyond[np.arange(peak + round(ANSWER_S[0] * rate_hz), peak + round(ANSWER_S[1] * rate_hz)) % length] = (
        False
    )
    for harmonic in range(2, 8):
        centre = peak - round(steps * np.log(harmonic))
        beyond[np.arange(centre - 4 * half, centre + 4 * half) % length] = False
    floor = float(np.median(per_octave))
    total = float(per_octave.sum()) / (2 * half + 1) - floor * length / (2 * half + 1)
    return Answer(
        min((float(per_octave[peak]) - floor) / max(total, 1e-300), 1.0),
        _above_noise(float(evenly[third]), evenly) / float(np.sqrt(max(evenly[peak], 1e-300))),
        _above_noise(float(np.max(low, where=beyond, initial=0.0)), low)
        / float(np.sqrt(max(low.max(), 1e-300))),
    )


def _hump(hz: Reals, start_hz: float) -> Reals:
    """Return a weight for the lowest three octaves of the sweep, smooth so that its own echo stays short."""
    octave = np.log2(np.maximum(hz, 1e-3) / (1.05 * start_hz)) / 4.0
    return np.where((octave > 0.0) & (octave < 1.0), np.sin(np.pi * np.clip(octave, 0.0, 1.0)) ** 2, 0.0)


def _energy_around(response: Reals, half: int) -> Reals:
    """Return the energy within `half` samples of each sample of a response that closes on itself."""
    energy = response**2
    total = np.cumsum(np.concatenate([[0.0], energy[-half:], energy, energy[:half]]))
    return np.asarray(total[2 * half + 1 :] - total[: energy.size])


def _above_noise(energy: float, energies: Reals) -> float:
    """Return the root of the energy, 0 where it does not stand out of the median of all."""
    floor = float(np.median(energies))
    return float(np.sqrt(energy - floor)) if energy > ABOVE_NOISE * floor else 0.0
