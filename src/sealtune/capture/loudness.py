"""How loud the sweep is to be: quiet at first, louder by short sweeps until they stand out of the noise."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sealtune.capture.heard_delay import heard_delay_s
from sealtune.capture.take import Taken, take
from sealtune.records.recording import Sweep
from sealtune.records.sound_device import SoundDevice
from sealtune.signals.sweep import sweep_samples, sweep_seconds

Reals = NDArray[np.float64]

FIRST_DBFS = -50.0
"""Behind an amplifier that makes 40 V of full scale this is 0.13 V."""

LOUDEST_DBFS = -20.0
"""Where nobody told what full scale is in volts: half a volt behind a headphone socket, 4 V peak behind a loud
amplifier; the program does not go there unless the noise asks for it."""

STEP_DB = 10.0
"""Largest step upwards: whoever sits beside it has time to stop it."""

WANTED_DB = 46.0
"""Sweep over noise from 8 Hz to 1 kHz in the weaker channel: behind it, noise moves the tuning by far less than a
verdict asks for."""

CLOSE_DB = 2.0
"""So near is near enough to need no further step."""

HIGHEST_PEAK = 0.5
"""Of full scale: the driver's peaks change with the day, and tops that are cut off cannot be mended."""

UNHEARD_DBFS = -30.0
"""A sweep that cannot be heard at this level does not arrive; louder ones would only endanger box and ears."""

PROBE = Sweep(15.0, 1000.0, 1.0, begins_s=0.4, fade_s=0.05)
PROBE_AFTER_S = 0.6
NOISE_BAND_HZ = (8.0, 1000.0)
QUIETEST_DBFS = -70.0


@dataclass(frozen=True)
class Probe:
    """One short sweep and what came in of it.

    level_dbfs: at which it was played
    peak: loudest sample of either channel, full scale 1.0
    over_noise_db: of the weaker channel; infinite without noise
    unheard: channels, 1 or 2, in which the sweep cannot be found
    """

    level_dbfs: float
    peak: float
    over_noise_db: float
    unheard: tuple[int, ...]


@dataclass(frozen=True)
class Loudness:
    """The level that was found, and why it is that one.

    level_dbfs: peak of the sweep as it is to be played
    because: "enough": the sweep stands out of the noise; "limit": it may not be louder; "peak": the inputs may not be
        driven farther; "unheard": it does not arrive, so nothing may be recorded
    last: the last short sweep
    """

    level_dbfs: float
    because: Literal["enough", "limit", "peak", "unheard"]
    last: Probe


def find_loudness(
    device: SoundDevice,
    rate_hz: float,
    most_dbfs: float,
    *,
    told: Callable[[Probe], None] | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Loudness:
    """Return how loud the sweep is to be.

    device: where it is played
    rate_hz: samples per second
    most_dbfs: the loudest that is allowed, dB of full scale
    told: each short sweep as it is over
    Raises DeviceFault where the device fails.
    """
    level_dbfs = min(FIRST_DBFS, most_dbfs)
    while True:
        probe = _probed(take(device, PROBE, rate_hz, level_dbfs, after_s=PROBE_AFTER_S, clock=clock))
        if told is not None:
            told(probe)
        room_db = 20.0 * np.log10(HIGHEST_PEAK / max(probe.peak, 1e-9))
        if room_db < 0.0:
            quieter = max(level_dbfs + min(room_db, -1.0), QUIETEST_DBFS)
            if quieter == level_dbfs or not probe.unheard:
                return Loudness(quieter, "peak", probe)
            level_dbfs = quieter  # so loud a foreign sound that the sweep is lost in it
            continue
        if not probe.unheard and probe.over_noise_db >= WANTED_DB - CLOSE_DB:
            return Loudness(level_dbfs, "enough", probe)
        if probe.unheard and level_dbfs >= min(UNHEARD_DBFS, most_dbfs):
            return Loudness(level_dbfs, "unheard", probe)
        wanted_db = STEP_DB if probe.unheard else WANTED_DB - probe.over_noise_db
        step_db = float(min(max(wanted_db, 1.0), STEP_DB, room_db))
        ceiling = min(most_dbfs, UNHEARD_DBFS) if probe.unheard else most_dbfs
        louder = min(level_dbfs + step_db, ceiling)
        if louder - level_dbfs < 0.5:
            return Loudness(level_dbfs, "limit" if room_db > 1.0 else "peak", probe)
        level_dbfs = louder


def _probed(taken: Taken) -> Probe:
    channels, rate_hz = taken.channels, taken.rate_hz
    tone = sweep_samples(PROBE, rate_hz)
    start = round(PROBE.begins_s * rate_hz)
    room = channels.shape[0] - start - tone.size
    delays = [heard_delay_s(channels[:, [index]], tone, start, room, rate_hz, PROBE) for index in (0, 1)]
    late = round((taken.delay_s or 0.0) * rate_hz)
    silence = channels[:start]
    sounding = channels[start + late : start + late + round(sweep_seconds(PROBE) * rate_hz)]
    over = [
        _decibels(_band_power(sounding[:, index], rate_hz), _band_power(silence[:, index], rate_hz))
        for index in (0, 1)
    ]
    unheard = tuple(index + 1 for index, delay in enumerate(delays) if delay is None)
    return Probe(taken.level_dbfs, float(np.abs(channels).max()), min(over), unheard)


def _band_power(samples: Reals, rate_hz: float) -> float:
    """Return the mean power within NOISE_BAND_HZ."""
    window = np.hanning(samples.size)
    frequency_hz = np.fft.rfftfreq(samples.size, 1.0 / rate_hz)
    inside = (frequency_hz >= NOISE_BAND_HZ[0]) & (frequency_hz <= NOISE_BAND_HZ[1])
    spectrum = np.fft.rfft((samples - samples.mean()) * window)[inside]
    return float(2.0 * np.sum(np.abs(spectrum) ** 2) / (samples.size * np.sum(window**2)))


def _decibels(signal: float, noise: float) -> float:
    if signal <= noise:
        return 0.0
    return float(10.0 * np.log10((signal - noise) / noise)) if noise > 0.0 else float("inf")
