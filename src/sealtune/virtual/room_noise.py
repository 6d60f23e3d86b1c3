"""What a microphone hears of a room: a hum of traffic, fans, voices, music, a workshop; invented, not recorded."""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from sealtune.errors import UsageFault
from sealtune.virtual.sound_card import pink_noise

Real = NDArray[np.float64]

RoomKind = Literal["quiet", "fan", "speech", "music", "workshop", "mains"]

ROOM_KINDS: tuple[RoomKind, ...] = get_args(RoomKind)


def room_noise(kind: RoomKind, frames: int, rate_hz: float, rng: np.random.Generator) -> Real:
    """Return noise of a room, root mean square 1, shape (frames,).

    kind: "quiet": pink noise alone; "fan": noise that swells with the shaft and the blades of a fan; "speech": two
        voices; "music": a drum machine and a bass; "workshop": hammering and a brush motor; "mains": a ballast that
        hisses at twice the mains frequency. All but the first lie over pink noise.
    frames: at least a second's
    rng: draws speeds, pitches, moments and all noise
    Raises UsageFault for another kind.
    """
    time_s = np.arange(frames) / rate_hz
    pink = pink_noise(frames, rate_hz, rng)
    if kind == "quiet":
        return pink
    if kind not in ROOM_KINDS:
        raise UsageFault("room noise", "one of " + ", ".join(ROOM_KINDS), repr(kind), "Choose one of these.")
    if kind == "fan":
        added = _fan(time_s, rate_hz, rng)
    elif kind == "speech":
        added = _voice(time_s, rate_hz, rng) + 0.6 * _voice(time_s, rate_hz, rng)
    elif kind == "music":
        added = _music(time_s, rate_hz, rng)
    elif kind == "workshop":
        added = _workshop(time_s, rate_hz, rng)
    else:
        mains_hz = float(rng.choice([50.0, 60.0])) + rng.uniform(-0.05, 0.05)
        swell = 1.0 + 0.8 * np.cos(4.0 * np.pi * mains_hz * time_s + rng.uniform(0.0, 6.28))
        added = np.sqrt(swell) * rng.standard_normal(frames)
    # as loud as the pink noise above 2 kHz, or up to ten times as strong
    loud = rng.uniform(1.0, 3.2) * _upper_rms(pink, rate_hz) / _upper_rms(added, rate_hz)
    total = pink + loud * added
    return np.asarray(total / np.sqrt(np.mean(total**2)))


def _upper_rms(noise: Real, rate_hz: float) -> float:
    spectrum = np.fft.rfft(noise)
    spectrum[: round(2000.0 * noise.size / rate_hz)] = 0.0
    return float(np.sqrt(2.0 * np.sum(np.abs(spectrum) ** 2)) / noise.size)


def _slow(time_s: Real, rng: np.random.Generator, every_s: float) -> Real:
    """Return a smooth random walk about 0, standard deviation 1, that forgets in every_s."""
    knots = np.arange(time_s[0] - every_s, time_s[-1] + 3.0 * every_s, every_s)
    return np.asarray(np.interp(time_s, knots, rng.standard_normal(knots.size)))


def _fan(time_s: Real, rate_hz: float, rng: np.random.Generator) -> Real:
    shaft_hz = rng.uniform(12.0, 50.0) * (1.0 + 0.002 * rng.random() * _slow(time_s, rng, 1.0))
    turn = 2.0 * np.pi * np.cumsum(shaft_hz) / rate_hz
    blades = int(rng.integers(3, 8))
    swell = np.ones(time_s.size)
    for multiple, depth in ((1, 0.15), (2, 0.1), (blades, 0.4), (2 * blades, 0.2)):
        swell += depth * rng.uniform(0.3, 1.0) * np.cos(multiple * turn + rng.uniform(0.0, 6.28))
    return np.asarray(np.sqrt(np.maximum(swell, 0.0)) * rng.standard_normal(time_s.size))


def _voice(time_s: Real, rate_hz: float, rng: np.random.Generator) -> Real:
    """Syllables, three to six a second, half of them a buzz of gliding pitch, the others hissed."""
    out = np.zeros(time_s.size)
    middle_hz = rng.uniform(85.0, 220.0)
    begin = rng.uniform(0.0, 0.3)
    while begin < time_s[-1]:
        length = rng.uniform(0.1, 0.3)
        inside = slice(*np.searchsorted(time_s, (begin, begin + length)))
        own = time_s[inside] - begin
        if own.size > 2:
            rise = np.sin(np.pi * np.clip(own / length, 0.0, 1.0)) ** 0.5
            pitch_hz = middle_hz * np.exp(
                0.15 * rng.standard_normal() + rng.uniform(-0.3, 0.3) * (own / length)
            )
            turn = np.cumsum(pitch_hz) / rate_hz % 1.0
            breath = rng.standard_normal(own.size)
            if rng.random() < 0.6:  # every closing of the vocal cords excites a short, rough burst
                out[inside] += rise * np.exp(-turn / 0.12) * (breath + 2.0 * np.cos(40.0 * turn))
            else:
                out[inside] += 0.7 * rise * breath
        begin += length + (rng.uniform(0.3, 1.0) if rng.random() < 0.15 else rng.uniform(0.0, 0.08))
    return out


def _music(time_s: Real, rate_hz: float, rng: np.random.Generator) -> Real:
    beat_s = 60.0 / rng.uniform(80.0, 160.0)
    since = time_s % (beat_s / 2.0)  # a cymbal on every half beat
    cymbal = np.exp(-since / 0.05) * rng.standard_normal(time_s.size)
    snare = np.exp(-((time_s + beat_s) % (2.0 * beat_s)) / 0.08) * rng.standard_normal(time_s.size)
    note = (time_s // beat_s).astype(int)
    pitch_hz = 55.0 * 2.0 ** (rng.integers(0, 12, note[-1] + 1)[note] / 12.0)
    saw = np.cumsum(pitch_hz) / rate_hz % 1.0 - 0.5  # its edge is heard up to the top
    chord = np.cumsum(4.0 * pitch_hz) / rate_hz % 1.0 - 0.5
    return np.asarray(cymbal + snare + 0.8 * saw + 0.5 * chord)


def _workshop(time_s: Real, rate_hz: float, rng: np.random.Generator) -> Real:
    speed_hz = rng.uniform(60.0, 250.0) * (1.0 + 0.02 * _slow(time_s, rng, 0.5))
    turn = 2.0 * np.pi * np.cumsum(speed_hz) / rate_hz
    brushes = (1.0 + 0.7 * np.cos(turn)) * rng.standard_normal(time_s.size)
    runs = np.where(_slow(time_s, rng, 2.0) > -0.3, 1.0, 0.05)
    blows = np.zeros(time_s.size)
    for begin in rng.uniform(0.0, time_s[-1], max(int(2.0 * time_s[-1]), 1)):
        rings = slice(*np.searchsorted(time_s, (begin, begin + 0.3)))
        blows[rings] += np.exp(-(time_s[rings] - begin) / 0.02) * rng.uniform(2.0, 10.0)
    return np.asarray(runs * brushes + blows * rng.standard_normal(time_s.size))
