"""Faults of a measurement, put into a recording: what goes wrong at the bench rather than in the box."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sealtune.errors import UsageFault
from sealtune.records.recording import Recording
from sealtune.records.verdict import ProblemName
from sealtune.virtual import channel_spoilers as spoilers
from sealtune.virtual.sound_card import hum, pink_noise, quantised

Real = NDArray[np.float64]


@dataclass(frozen=True)
class MeasurementFault:
    """A kind of measurement fault.

    name: what `spoil` is asked for
    problem: the problem that `check` should name; None where the contract has no word of its own for it
    meaning: what strength 0 and 1 are
    """

    name: str
    problem: ProblemName | None
    meaning: str


MEASUREMENT_FAULTS: tuple[MeasurementFault, ...] = (
    MeasurementFault(
        "clipped",
        "clipped",
        "the input is turned up until the sweep would peak at 1.1 to 3.3 times full scale",
    ),
    MeasurementFault("too_quiet", "too_quiet", "both channels 40 to 100 dB down, the noise stays"),
    MeasurementFault("noisy", "noisy", "pink and white noise 40 to 0 dB below the sweep, both channels"),
    MeasurementFault("hum", "hum", "hum in channel 2, 40 dB below to 6 dB above the sweep's level there"),
    MeasurementFault("dropout", "dropout", "1 to 10 gaps of 5 to 100 ms in both channels within the sweep"),
    MeasurementFault("slipped", "dropout", "1 to 2000 samples are missing from the sweep's middle on"),
    MeasurementFault("channels_swapped", "channels_swapped", "channel 1 and 2 exchanged"),
    MeasurementFault("channel_missing", "channel_missing", "channel 2 (below 0.5) or 1 carries noise alone"),
    MeasurementFault("wrong_wiring", "wrong_wiring", "the metadata name the other wiring"),
    MeasurementFault(
        "wrong_reference", "wrong_reference", "the metadata's resistor is 1.5 to 10 times too large"
    ),
    MeasurementFault("truncated", "truncated", "the recording ends after 90 to 10 % of its samples"),
    MeasurementFault("bump", None, "a door slams: a 12 Hz thump in channel 2, 10 to 200 % of its level"),
    MeasurementFault("polarity", "wrong_wiring", "channel 2 is upside down"),
    MeasurementFault(
        "hard_clipped_float", "clipped", "cut at 90 to 30 % of the peaks, in a floating point file"
    ),
    MeasurementFault("one_channel_clipped", "clipped", "one channel cut at 90 to 30 % of its peak"),
    MeasurementFault("softly_clipped", "clipped", "tops bent towards 90 to 30 % of the peaks"),
    MeasurementFault("amplifier_clipped", "clipped", "the amplifier cuts at 90 to 30 % of the peak"),
    MeasurementFault("identical_channels", "channel_missing", "both channels hold the same samples"),
    MeasurementFault(
        "nearly_identical", "channel_missing", "both clips on one point, noise at -100 to -80 dB"
    ),
    MeasurementFault("one_channel_constant", "channel_missing", "one channel holds an offset alone"),
    MeasurementFault("crosstalk_only", "channel_missing", "one channel hears the other one at -80 to -40 dB"),
    MeasurementFault("zeroed", "dropout", "1 to 10 gaps of 5 to 100 ms in one channel"),
    MeasurementFault(
        "one_channel_slipped", "dropout", "from the middle on one channel is 1 to 1000 samples late"
    ),
    MeasurementFault("one_channel_late", "not_impedance", "one channel is 1 to 1000 samples late throughout"),
    MeasurementFault(
        "gain_drift", "dropout", "the gain of one channel drifts by 0.1 to 1 dB over the recording"
    ),
    MeasurementFault("gain_drift_both", None, "the gain of both channels drifts by 0.1 to 1 dB"),
    MeasurementFault("gain_step", "dropout", "from the middle on one channel is 0.1 to 1 dB quieter"),
    MeasurementFault(
        "bump_in_one_repeat", "noisy", "a 12 Hz thump in channel 2 in one of several sweeps, 10 to 200 %"
    ),
    MeasurementFault(
        "loose_clip", "dropout", "one input's clip comes off 1 to 20 times for 2 to 200 ms, quite or in part"
    ),
    MeasurementFault(
        "loose_lead", "dropout", "a lead to the box loses up to 2 to 60 % of the current 1 to 20 times"
    ),
    MeasurementFault(
        "clocks_apart", "dropout", "the clock of one channel runs 3 to 300 parts in a million fast"
    ),
    MeasurementFault("eight_bits", None, "rounded to 8 bits, the peak 2 to 30 dB below full scale"),
)


def spoil(recording: Recording, name: str, strength: float, rng: np.random.Generator) -> Recording:
    """Return the recording with a measurement fault.

    name: one of `MEASUREMENT_FAULTS`
    strength: 0 to 1, meaning see there; not used by faults that have no strength
    rng: draws noise and places
    Raises UsageFault for an unknown name, a strength outside 0..1, or a fault of metadata that are not there.
    """
    if not 0.0 <= strength <= 1.0:
        raise UsageFault(
            "measurement fault", "a strength from 0 to 1", f"{strength:g}", "Choose a number in that range."
        )
    makers: dict[str, Callable[[Recording, float, np.random.Generator], Recording]] = {
        "clipped": _clipped,
        "too_quiet": _too_quiet,
        "noisy": _noisy,
        "hum": _hum,
        "dropout": _dropout,
        "slipped": _slipped,
        "channels_swapped": lambda take, _strength, _rng: replace(
            take, channels=np.ascontiguousarray(take.channels[:, ::-1])
        ),
        "channel_missing": _channel_missing,
        "wrong_wiring": _wrong_wiring,
        "wrong_reference": _wrong_reference,
        "truncated": _truncated,
        "bump": _bump,
        "hard_clipped_float": spoilers.hard_clipped_float,
        "one_channel_clipped": spoilers.one_channel_clipped,
        "softly_clipped": spoilers.softly_clipped,
        "amplifier_clipped": spoilers.amplifier_clipped,
        "identical_channels": spoilers.identical_channels,
        "nearly_identical": spoilers.nearly_identical_channels,
        "one_channel_constant": spoilers.one_channel_constant,
        "crosstalk_only": spoilers.crosstalk_only,
        "zeroed": spoilers.zeroed,
        "one_channel_slipped": spoilers.one_channel_slipped,
        "one_channel_late": spoilers.one_channel_late,
        "gain_drift": spoilers.gain_drift,
        "gain_drift_both": spoilers.gain_drift_both,
        "gain_step": spoilers.gain_step,
        "bump_in_one_repeat": spoilers.bump_in_one_repeat,
        "loose_clip": spoilers.loose_clip,
        "loose_lead": spoilers.loose_lead,
        "clocks_apart": spoilers.clocks_apart,
        "eight_bits": spoilers.eight_bits,
        "polarity": lambda take, _strength, _rng: _with(take, take.channels * np.array([1.0, -1.0])),
    }
    if name not in makers:
        raise UsageFault(
            "measurement fault", "one of " + ", ".join(makers), repr(name), "Choose one of these."
        )
    return makers[name](recording, strength, rng)


def _with(take: Recording, channels: Real) -> Recording:
    return replace(take, channels=quantised(channels, take.step))


def _levels(take: Recording) -> Real:
    """Root mean square of each channel where the sweep is."""
    first, last = _span(take)
    return np.asarray(np.sqrt(np.mean(take.channels[first:last] ** 2, axis=0)))


def _span(take: Recording) -> tuple[int, int]:
    """First and last sample of the sweep, by the metadata or, without them, the loud part."""
    frames = take.channels.shape[0]
    sweep = take.origin.sweep
    if sweep is not None:
        first = round(sweep.begins_s * take.rate_hz)
        return first, max(min(frames, first + round(sweep.seconds * take.rate_hz)), first + 1)
    loud = np.flatnonzero(np.abs(take.channels).max(axis=1) > 0.1 * np.abs(take.channels).max())
    return int(loud[0]), int(loud[-1]) + 1


def _decibels(value: float) -> float:
    return float(10.0 ** (value / 20.0))


def _clipped(take: Recording, strength: float, _rng: np.random.Generator) -> Recording:
    # as if the input's gain were too high: the samples stop at full scale, as a real converter's do
    peak = float(np.abs(take.channels).max())
    full = 1.0 - take.step
    return _with(take, np.clip(take.channels * full / (peak * (0.9 - 0.6 * strength)), -full, full))


def _too_quiet(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    silent = take.channels[: max(_span(take)[0], 1)]
    floor = np.std(silent, axis=0) if silent.shape[0] > 100 else np.zeros(2)
    noise = floor * rng.standard_normal(take.channels.shape)
    return _with(take, take.channels * _decibels(-40.0 - 60.0 * strength) + noise)


def _noisy(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    frames = take.channels.shape[0]
    noise = np.stack(
        [0.7 * pink_noise(frames, take.rate_hz, rng) + 0.7 * rng.standard_normal(frames) for _ in (0, 1)],
        axis=1,
    )
    return _with(take, take.channels + _levels(take) * _decibels(-40.0 + 40.0 * strength) * noise)


def _hum(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    mains_hz = 50.0 + float(rng.uniform(-0.1, 0.1))
    tone = hum(take.channels.shape[0], take.rate_hz, mains_hz, 5, rng)
    level = np.sqrt(2.0) * _levels(take)[1] * _decibels(-40.0 + 46.0 * strength)
    return _with(take, take.channels + tone[:, np.newaxis] * np.array([0.0, level]))


def _dropout(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    channels = take.channels.copy()
    first, last = _span(take)
    length = round((0.005 + 0.095 * strength) * take.rate_hz)
    for _ in range(1 + round(9 * strength)):
        start = int(rng.integers(first, max(last - length, first + 1)))
        channels[start : start + length] = 0.0
    return replace(take, channels=channels)


def _slipped(take: Recording, strength: float, _rng: np.random.Generator) -> Recording:
    first, last = _span(take)
    middle = (first + last) // 2
    missing = min(1 + round(1999 * strength), take.channels.shape[0] - middle)
    shorter = np.delete(take.channels, slice(middle, middle + missing), axis=0)
    return replace(take, channels=shorter, expected_frames=shorter.shape[0])


def _channel_missing(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    channels = take.channels.copy()
    missing = 1 if strength < 0.5 else 0
    channels[:, missing] = _decibels(-95.0) * rng.standard_normal(channels.shape[0])
    return _with(take, channels)


def _wrong_wiring(take: Recording, _strength: float, _rng: np.random.Generator) -> Recording:
    jig = take.origin.jig
    if jig is None:
        raise UsageFault("wrong_wiring", "a recording that names its jig", "none", "Record it with metadata.")
    other = replace(jig, wiring="sense" if jig.wiring == "divider" else "divider")
    return replace(take, origin=replace(take.origin, jig=other))


def _wrong_reference(take: Recording, strength: float, _rng: np.random.Generator) -> Recording:
    jig = take.origin.jig
    if jig is None:
        raise UsageFault(
            "wrong_reference", "a recording that names its jig", "none", "Record it with metadata."
        )
    wrong = replace(jig, reference_ohm=jig.reference_ohm * 1.5 * (10.0 / 1.5) ** strength)
    return replace(take, origin=replace(take.origin, jig=wrong))


def _truncated(take: Recording, strength: float, _rng: np.random.Generator) -> Recording:
    frames = take.channels.shape[0]
    kept = max(round(frames * (0.9 - 0.8 * strength)), 1)
    return replace(take, channels=take.channels[:kept].copy(), expected_frames=frames)


def _bump(take: Recording, strength: float, rng: np.random.Generator) -> Recording:
    first, last = _span(take)
    # somewhere in the first half, where the sweep passes the box's resonances
    start = int(rng.integers(first, first + max((last - first) // 2, 1)))
    time_s = np.arange(take.channels.shape[0] - start) / take.rate_hz
    level = np.sqrt(2.0) * _levels(take)[1] * 0.1 * 20.0**strength
    channels = take.channels.copy()
    channels[start:, 1] += level * np.exp(-time_s / 0.15) * np.sin(2.0 * np.pi * 12.0 * time_s)
    return _with(take, channels)
