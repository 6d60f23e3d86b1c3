"""What a cabinet adds that the sweep did not play: a part that rattles, a vent that blows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.records.recording import Sweep
from sealtune.signals.sweep import sweep_rate

Real = NDArray[np.float64]


@dataclass(frozen=True)
class Rattle:
    """A loose part that is hit once in each period of what is played.

    share: root mean square over that of the sound it goes with, while it rattles
    lowest_hz, highest_hz: where the cabinet moves it far enough
    ring_hz, ring_q: what it sounds like: a short ring after each blow
    uneven: scatter of the blows' strength and, in turns of the period, a fifth of it of their moment
    """

    share: float
    lowest_hz: float
    highest_hz: float
    ring_hz: float = 900.0
    ring_q: float = 8.0
    uneven: float = 0.3


@dataclass(frozen=True)
class Chuffing:
    """A vent that blows: noise that grows with the fourth power of the air's speed.

    at_m_s: speed of the air, peak, at which the noise in the mouth has the pressure pa
    pa: root mean square while the air has that speed
    """

    at_m_s: float = 10.0
    pa: float = 1.0


def rattling(
    rattle: Rattle, sound: Real, sweep: Sweep, starts: list[int], rate_hz: float, rng: np.random.Generator
) -> Real:
    """Return what the rattle adds to a sound, Pa, shape of the sound.

    sound: what the microphone hears of the sweep, Pa, shape (frames,)
    starts: sample at which each sweep begins
    """
    added = np.zeros(sound.shape)
    rate_s = sweep_rate(sweep)
    decay = np.pi * rattle.ring_hz / rattle.ring_q
    time_s = np.arange(round(8.0 / decay * rate_hz)) / rate_hz
    ring = np.exp(-decay * time_s) * np.sin(2.0 * np.pi * rattle.ring_hz * time_s)
    energy_s = float(np.sum(ring**2)) / rate_hz
    first_turn = np.ceil(rate_s * rattle.lowest_hz)
    turns = np.arange(first_turn, np.floor(rate_s * rattle.highest_hz))
    for start in starts:
        at = turns + 0.13 + 0.2 * rattle.uneven * rng.standard_normal(turns.size)
        moments_s = rate_s * np.log(np.maximum(at, 1e-9) / (rate_s * sweep.start_hz))
        period_s = rate_s / at
        strength = np.maximum(1.0 + rattle.uneven * rng.standard_normal(turns.size), 0.0)
        for moment_s, length_s, blow in zip(moments_s, period_s, strength, strict=True):
            place = start + round(moment_s * rate_hz)
            if not 0 <= place < sound.size:
                continue
            half = round(length_s * rate_hz)
            level = float(np.sqrt(np.mean(sound[max(place - half, 0) : place + half] ** 2)))
            size = rattle.share * level * np.sqrt(length_s / energy_s) * blow
            kept = min(ring.size, sound.size - place)
            added[place : place + kept] += size * ring[:kept]
    return added


def blowing(chuffing: Chuffing, speed_m_s: Real, rate_hz: float, rng: np.random.Generator) -> Real:
    """Return the noise of the air in the mouth, Pa, shape of the speed.

    speed_m_s: speed of the air, shape (frames,)
    Noise between 300 Hz and 3 kHz, strongest while the air is fastest, twice in each period.
    """
    frames = speed_m_s.size
    hz = np.fft.rfftfreq(frames, 1.0 / rate_hz)
    spectrum = np.fft.rfft(rng.standard_normal(frames))
    ratio = np.maximum(hz, 1e-3)
    spectrum *= 1.0 / ((1.0 + (300.0 / ratio) ** 4) * (1.0 + (ratio / 3000.0) ** 4))
    noise = np.fft.irfft(spectrum, frames)
    noise /= np.sqrt(np.mean(noise**2))
    return np.asarray(chuffing.pa * (speed_m_s / chuffing.at_m_s) ** 4 * noise)
