"""Faults of the channels of a recording, one function each: tops cut, inputs mixed up, samples lost, gain unsteady.

Every function takes the recording, a strength from 0 to 1 and a random generator, and returns the spoilt recording.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sealtune.records.recording import Recording
from sealtune.signals.sweep import sweep_seconds, sweep_starts
from sealtune.virtual.sound_card import quantised

Reals = NDArray[np.float64]


def _edited(take: Recording, channels: Reals) -> Recording:
    return replace(take, channels=quantised(channels, take.step))


def _limits(take: Recording, strength: float) -> Reals:
    return np.asarray((0.9 - 0.6 * strength) * np.abs(take.channels).max(axis=0))


def hard_clipped_float(take: Recording, strength: float, _rng: np.random.Generator) -> Recording:
    """Cut both channels at 90 to 30 % of their peaks, in a floating point file."""
    top = _limits(take, strength)
    return replace(take, channels=np.clip(take.channels, -top, top), step=0.0)


def one_channel_clipped(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """Cut one channel alone."""
    top = _limits(take, strength)
    top[int(rng.integers(2))] = 2.0
    return _edited(take, np.clip(take.channels, -top, top))


def softly_clipped(take: Recording, strength: float, _rng: np.random.Generator) -> Recording:
    """Bend the tops of both channels, as an analogue stage does."""
    top = _limits(take, strength)
    return _edited(take, top * np.tanh(take.channels / top))


def amplifier_clipped(take: Recording, strength: float, _rng: np.random.Generator) -> Recording:
    """Cut channel 1 and let channel 2 follow it linearly, as with an overdriven amplifier (frequency-flat load)."""
    top = _limits(take, strength)[0]
    cut = np.clip(take.channels[:, 0], -top, top) - take.channels[:, 0]
    share = np.dot(take.channels[:, 0], take.channels[:, 1]) / np.sum(take.channels[:, 0] ** 2)
    return _edited(take, take.channels + cut[:, np.newaxis] * np.array([1.0, share]))


def identical_channels(take: Recording, _strength: float, rng: np.random.Generator) -> Recording:
    """Both channels hold the same."""
    return _edited(take, take.channels[:, [k := int(rng.integers(2)), k]])


def nearly_identical_channels(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """Both inputs hang on the same point, each with its own noise and gain."""
    channels = take.channels[:, [0, 0]] * [1.0, 1.0 + 0.005 * rng.standard_normal()]
    return _edited(take, channels + 10.0 ** (-5.0 + strength) * rng.standard_normal(channels.shape))


def one_channel_constant(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """One channel holds nothing but an offset."""
    channels = take.channels.copy()
    channels[:, int(rng.integers(2))] = strength - 0.5
    return _edited(take, channels)


def crosstalk_only(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """One clip is off: its channel hears the other one at -80 to -40 dB, and noise."""
    channels, k = take.channels.copy(), int(rng.integers(2))
    channels[:, k] = 10.0 ** (-4.0 + 2.0 * strength) * channels[:, 1 - k]
    channels[:, k] += 2e-5 * rng.standard_normal(channels.shape[0])
    return _edited(take, channels)


def zeroed(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """Replace 1 to 10 stretches of one channel by zeros."""
    channels, k = take.channels.copy(), int(rng.integers(2))
    length = round((0.005 + 0.095 * strength) * take.rate_hz)
    for _ in range(1 + round(9 * strength)):
        start = int(rng.integers(channels.shape[0] // 8, channels.shape[0] * 3 // 4))
        channels[start : start + length, k] = 0.0
    return replace(take, channels=channels)


def one_channel_slipped(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """From the middle on, one channel is 1 to 1000 samples late."""
    channels, k = take.channels.copy(), int(rng.integers(2))
    middle, late = channels.shape[0] // 2, round(10.0 ** (3.0 * strength))
    channels[middle:, k] = np.roll(channels[:, k], late)[middle:]
    return replace(take, channels=channels)


def one_channel_late(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """One channel is 1 to 1000 samples late throughout."""
    channels, k = take.channels.copy(), int(rng.integers(2))
    channels[:, k] = np.roll(channels[:, k], round(10.0 ** (3.0 * strength)))
    return replace(take, channels=channels)


def gain_drift(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """The gain of one channel drifts by 0.1 to 1 dB, evenly over the recording."""
    channels, k = take.channels.copy(), int(rng.integers(2))
    channels[:, k] *= _drift(channels.shape[0], strength)
    return _edited(take, channels)


def gain_drift_both(take: Recording, strength: float, _rng: np.random.Generator) -> Recording:
    """The gain of both channels drifts by 0.1 to 1 dB, evenly over the recording, as that of an amplifier does."""
    return _edited(take, take.channels * _drift(take.channels.shape[0], strength)[:, None])


def _drift(frames: int, strength: float) -> Reals:
    return np.asarray(10.0 ** ((0.1 + 0.9 * strength) / 20.0 * np.linspace(-0.5, 0.5, frames)))


def gain_step(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """A clip gives way: from the middle on, one channel is 0.1 to 1 dB quieter."""
    channels, k = take.channels.copy(), int(rng.integers(2))
    channels[channels.shape[0] // 2 :, k] *= 10.0 ** (-(0.1 + 0.9 * strength) / 20.0)
    return _edited(take, channels)


def loose_clip(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """The clip of one input comes off 1 to 20 times for 2 to 200 ms; meanwhile 0 to 90 % comes through."""
    channels, k = take.channels.copy(), int(rng.integers(2))
    channels[:, k] *= 1.0 - _breaks(take, 1 + round(19 * strength), (0.002, 0.2), (0.1, 1.0), rng)
    return _edited(take, channels)


def loose_lead(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """A lead to the box makes poor contact 1 to 20 times for 20 to 500 ms, and 2 to 60 % of the current is lost.

    The voltage across resistor and box stays, that across the resistor falls: true as far as the load is a resistance.
    """
    channels = take.channels.copy()
    current = 1.0 - _breaks(take, 1 + round(19 * strength), (0.02, 0.5), (0.02, 0.02 + 0.58 * strength), rng)
    if take.origin.jig is not None and take.origin.jig.wiring == "sense":
        channels[:, 0] += (1.0 - current) * channels[:, 1]
        channels[:, 1] *= current
    else:
        channels[:, 1] = channels[:, 0] - current * (channels[:, 0] - channels[:, 1])
    return _edited(take, channels)


def _breaks(
    take: Recording,
    count: int,
    seconds: tuple[float, float],
    depth: tuple[float, float],
    rng: np.random.Generator,
) -> Reals:
    """Return what is lost at each sample, 0 to 1: so many breaks of random length and depth at random places."""
    lost = np.zeros(take.channels.shape[0])
    for _ in range(count):
        start = int(rng.integers(lost.size // 8, lost.size * 3 // 4))
        length = round(float(np.exp(rng.uniform(*np.log(seconds)))) * take.rate_hz)
        lost[start : start + length] = rng.uniform(*depth)
    return lost


def clocks_apart(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """The channels come from two sound cards: the clock of one runs 3 to 300 parts in a million fast."""
    from scipy.interpolate import CubicSpline

    channels, k = take.channels.copy(), int(rng.integers(2))
    samples = np.arange(channels.shape[0], dtype=np.float64)
    late = np.minimum(samples * (1.0 + 3e-6 * 100.0**strength), samples[-1])
    channels[:, k] = CubicSpline(samples, channels[:, k])(late)
    return _edited(take, channels)


def eight_bits(take: Recording, strength: float, _rng: np.random.Generator) -> Recording:
    """Round the samples to 8 bits, the peak 2 to 30 dB below full scale, in a file of finer steps."""
    peak = 10.0 ** (-(2.0 + 28.0 * strength) / 20.0)
    return replace(take, channels=quantised(take.channels * peak / np.abs(take.channels).max(), 2.0**-7))


def bump_in_one_repeat(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    """A door slams in one of several sweeps: a 12 Hz thump in channel 2, 10 to 200 % of its level."""
    channels, rate_hz, sweep = take.channels.copy(), take.rate_hz, take.origin.sweep
    first, last = 0, channels.shape[0]
    if sweep is not None:
        starts = sweep_starts(sweep, rate_hz)
        first = starts[int(rng.integers(len(starts)))]
        last = min(last, first + int(sweep_seconds(sweep) * rate_hz))
    # in the first half, where the sweep passes the box's resonances
    start = int(rng.integers(first, first + max((last - first) // 2, 1)))
    level = np.sqrt(2.0) * np.sqrt(np.mean(channels[first:last, 1] ** 2)) * 0.1 * 20.0**strength
    time_s = np.arange(channels.shape[0] - start) / rate_hz
    channels[start:, 1] += level * np.exp(-time_s / 0.15) * np.sin(2.0 * np.pi * 12.0 * time_s)
    return _edited(take, channels)
