"""How loud a calibration is played, and the tone by which a multimeter tells the volts of full scale."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sealtune.capture.loudness import FIRST_DBFS, LOUDEST_DBFS, UNHEARD_DBFS
from sealtune.capture.take import take
from sealtune.records.recording import Sweep
from sealtune.records.sound_device import SoundDevice

FADE_S = 0.05

WANTED_DBFS = -15.0
"""Peak of the louder input that is aimed at."""

RAISE_DB = 20.0
TRIES = 5

TONE_HZ, TONE_S = 50.0, 15.0
"""Multimeters are made for this frequency, and settle within some seconds."""


def found_level_dbfs(
    device: SoundDevice, rate_hz: float, clock: Callable[[], float] = time.monotonic
) -> float:
    """Return the peak of a sweep, dB of full scale, that the louder input hears at about -15 dB of full scale.

    Starts quiet and rises by at most 20 dB at a time, within the bounds that hold for a box too: at most -20 dB (0.8 W
    in 10 ohm behind a loud amplifier), and -30 dB where nothing arrives.
    """
    sweep = Sweep(30.0, 500.0, 0.5, begins_s=0.2, fade_s=FADE_S)
    level = FIRST_DBFS
    for _ in range(TRIES):
        channels = take(device, sweep, rate_hz, level, after_s=0.5, clock=clock).channels
        silent = channels[: round(0.15 * rate_hz)]
        noise = float(np.abs(silent - silent.mean(axis=0)).max())
        peak = float(np.abs(channels - channels.mean(axis=0)).max())
        room = WANTED_DBFS - 20.0 * float(np.log10(max(peak, 1e-9)))
        if peak < 3.0 * noise:
            if level >= UNHEARD_DBFS:
                return level
            room = RAISE_DB
        if room < 3.0 or level >= LOUDEST_DBFS:
            return min(level + min(room, 0.0), LOUDEST_DBFS)
        level = min(level + min(room, RAISE_DB), LOUDEST_DBFS)
    return level


def play_tone(device: SoundDevice, rate_hz: float, level_dbfs: float) -> None:
    """Play a tone of 50 Hz for 15 s, faded in and out; what comes in is not kept.

    level_dbfs: its peak, dB of full scale
    """
    turns = 2.0 * np.pi * TONE_HZ * np.arange(round(TONE_S * rate_hz)) / rate_hz
    edge = np.minimum(np.arange(turns.size), np.arange(turns.size)[::-1]) / (0.1 * rate_hz)
    tone = 10.0 ** (level_dbfs / 20.0) * np.minimum(edge, 1.0) * np.sin(turns)
    at = 0

    def play(frames: int) -> NDArray[np.float64] | None:
        nonlocal at
        block, at = tone[at : at + frames], at + frames
        return np.pad(block, (0, frames - block.size)) if block.size else None

    device.exchange(rate_hz, play, lambda _samples, _flags: None)
