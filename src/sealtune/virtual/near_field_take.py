"""A virtual microphone before a virtual cabinet: recordings of the roles cone and mouth.

Channel 1 is the voltage at the amplifier's output, which goes straight to the box; channel 2 is the microphone.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from sealtune.records.recording import Origin, Recording, Role, Sweep
from sealtune.signals.sweep import sweep_samples, sweep_starts
from sealtune.virtual.circuit import Complex
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.side_noise import Chuffing, Rattle, blowing, rattling
from sealtune.virtual.sound_card import SoundCard, as_recorded, hum, pink_noise, round_length
from sealtune.virtual.sound_field import Placement, near_cone, near_mouth

Real = NDArray[np.float64]

_HEADROOM = 3.0
_RING_S = 3.0
_TABLE_POINTS = 3000


@dataclass(frozen=True)
class Microphone:
    """The microphone, and what it hears beside the cabinet.

    full_scale_pa: pressure that gives full scale; None: three times the highest of cone and mouth
    reversed: True where it, or its amplifier, turns the sign
    roll_off_hz: its first-order high-pass, 0 for none
    noise_pa: noise of the room, root mean square, with 3 dB less per octave from 1 Hz up; 0.01 Pa is a quiet room
        with the rumble of a street
    hiss_dbfs: white noise of microphone and input, root mean square; None for none
    second, third: what the cone's path adds of its own, over the peak, from the square and the cube of the pressure
    """

    full_scale_pa: float | None = None
    reversed: bool = False
    roll_off_hz: float = 0.0
    noise_pa: float = 0.01
    hiss_dbfs: float | None = -90.0
    second: float = 0.003
    third: float = 0.003


def record_near_field(
    cabinet: VirtualCabinet,
    role: Role,
    sweep: Sweep,
    rng: np.random.Generator,
    *,
    place: Placement | None = None,
    microphone: Microphone | None = None,
    card: SoundCard | None = None,
    rattle: Rattle | None = None,
    chuffing: Chuffing | None = None,
    rate_hz: float = 48000.0,
    recorded_at: datetime | None = None,
    note: str | None = None,
) -> Recording:
    """Return what is recorded with the microphone before the cone or in the mouth.

    role: "cone" or "mouth"
    sweep: what is played
    rng: draws noise, and what of rattles and blowing is left to chance
    place, microphone, card: as delivered if None; of the card counts what concerns levels, noise and roll-off
    rattle, chuffing: None for none
    rate_hz: samples per second, above twice the sweep's highest frequency
    """
    place, microphone, card = place or Placement(), microphone or Microphone(), card or SoundCard()
    played = 10.0 ** (card.level_dbfs / 20.0) * sweep_samples(sweep, rate_hz)
    starts = sweep_starts(sweep, rate_hz)
    frames = starts[-1] + played.size + round(card.silence_after_s * rate_hz)
    transform = round_length(frames + round(_RING_S * rate_hz))
    hz = np.asarray(np.fft.rfftfreq(transform, 1.0 / rate_hz), dtype=np.float64)
    emf = np.zeros(transform)
    for start in starts:
        emf[start : start + played.size] = card.amplifier_v * played
    spectrum = np.fft.rfft(emf)
    table_hz = np.geomspace(max(hz[1], 0.5), hz[-1], _TABLE_POINTS)
    load = cabinet.impedance(table_hz)
    volts = _spread(load / (load + card.source_ohm), table_hz, hz) * spectrum
    hear = near_cone if role == "cone" else near_mouth
    transfer = hear(cabinet, table_hz, place)
    sound = np.fft.irfft(volts * _spread(transfer, table_hz, hz), transform)[:frames]
    sound = _bent(sound, microphone)
    flows = cabinet.flows(table_hz)
    if rattle is not None:
        sound = sound + rattling(rattle, sound, sweep, starts, rate_hz, rng)
    if chuffing is not None and cabinet.vent is not None:
        area = cabinet.vent.area_m2 * cabinet.vent.count
        speed = np.fft.irfft(volts * _spread(flows.vent / area, table_hz, hz), transform)[:frames]
        heard = 1.0 if role == "mouth" else min(place.shading * np.sqrt(area / np.pi) / place.apart_m, 1.0)
        sound = sound + heard * blowing(chuffing, speed, rate_hz, rng)
    sound = sound + microphone.noise_pa * pink_noise(frames, rate_hz, rng)
    full_pa = microphone.full_scale_pa or _full_scale_pa(cabinet, place, sweep, card)
    channels = np.stack(
        [np.fft.irfft(volts, transform)[:frames] / card.input_v / 2.0, sound / full_pa], axis=1
    )
    channels = _through_inputs(channels, card, microphone, rate_hz)
    channels += _own_noise(frames, rate_hz, card, microphone, rng)
    origin = Origin(role=role, sweep=sweep, recorded_at=recorded_at, note=note)
    return as_recorded(channels, rate_hz, card, origin)


def _bent(sound: Real, microphone: Microphone) -> Real:
    peak = max(float(np.abs(sound).max()), 1e-12)
    x = sound / peak
    return np.asarray(sound + peak * (microphone.second * (x**2 - np.mean(x**2)) + microphone.third * x**3))


def _full_scale_pa(cabinet: VirtualCabinet, place: Placement, sweep: Sweep, card: SoundCard) -> float:
    hz = np.geomspace(sweep.start_hz, min(sweep.stop_hz, 300.0), 300)
    loudest = float(np.abs(near_cone(cabinet, hz, place)).max())
    if cabinet.vent is not None:
        loudest = max(loudest, float(np.abs(near_mouth(cabinet, hz, place)).max()))
    return _HEADROOM * loudest * card.amplifier_v * float(10.0 ** (card.level_dbfs / 20.0))


def _through_inputs(channels: Real, card: SoundCard, microphone: Microphone, rate_hz: float) -> Real:
    """Return the channels behind the inputs' roll-off, and the second one behind the microphone's too."""
    frames = channels.shape[0]
    transform = round_length(frames + round(_RING_S * rate_hz))
    hz = np.fft.rfftfreq(transform, 1.0 / rate_hz)
    out = np.empty_like(channels)
    for index in (0, 1):
        spectrum = np.fft.rfft(channels[:, index], transform)
        corners = [card.roll_off_hz] + ([microphone.roll_off_hz] if index else [])
        for corner in corners:
            if corner > 0.0:
                ratio = 1j * hz / corner
                spectrum *= ratio / (1.0 + ratio)
        if index:
            spectrum *= -1.0 if microphone.reversed else 1.0
            spectrum *= np.exp(-2j * np.pi * hz * card.delay_samples / rate_hz)
        out[:, index] = np.fft.irfft(spectrum, transform)[:frames]
    return out


def _own_noise(
    frames: int, rate_hz: float, card: SoundCard, microphone: Microphone, rng: np.random.Generator
) -> Real:
    added = np.full((frames, 2), card.offset)
    for index, level in ((0, card.noise_dbfs), (1, microphone.hiss_dbfs)):
        if level is not None:
            added[:, index] += 10.0 ** (level / 20.0) * rng.standard_normal(frames)
    if card.hum_dbfs is not None:
        mains_hz = card.mains_hz + float(rng.uniform(-0.1, 0.1))
        tone = 10.0 ** (card.hum_dbfs / 20.0) * hum(frames, rate_hz, mains_hz, card.hum_harmonics, rng)
        added += tone[:, np.newaxis] * np.array([0.25, 1.0])
    return added


def _spread(values: Complex, table_hz: Real, hz: Real) -> Complex:
    """Return values of a table on all frequencies of a transform, 0 at 0 Hz."""
    at = np.log(np.maximum(hz, table_hz[0]))
    known = np.log(table_hz)
    spread = np.interp(at, known, values.real) + 1j * np.interp(at, known, values.imag)
    spread[0] = 0.0
    return np.asarray(spread, dtype=np.complex128)
