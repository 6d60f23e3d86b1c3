"""A virtual sound card, amplifier and jig: from a cabinet's impedance to a two-channel recording."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from sealtune import __version__
from sealtune.records.recording import Jig, Origin, Recording, Role, Sweep
from sealtune.signals.sweep import sweep_samples, sweep_starts

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]
Impedance = Callable[[Real], Complex]


@dataclass(frozen=True)
class SoundCard:
    """What stands between the loudspeaker and the file.

    level_dbfs: peak of the sweep as played
    amplifier_v: volts at the amplifier's output for full scale, before its own resistance
    source_ohm: resistance of amplifier and leads
    input_v: volts at either input that give full scale
    mismatch_db, delay_samples: channel 2 against channel 1; how much louder and how much later
    roll_off_hz: first-order high-pass of both inputs; 0 for none
    roll_off_mismatch: channel 2's roll-off frequency over channel 1's, less 1
    noise_dbfs: white noise of each channel, root mean square
    pink_dbfs: noise with 3 dB less per octave, root mean square from 1 Hz up; None for none
    hum_dbfs: peak of the mains frequency in channel 2; channel 1 has a quarter of it; None for none
    mains_hz: mains frequency; the real one is up to 0.1 Hz off
    hum_harmonics: how many multiples of it are there, each half as strong as the one before
    offset: direct-current offset of both channels over full scale
    driver_second, driver_third: what the driver adds of its own, as peak voltage over the peak voltage across
        the box, from the square and the cube of that voltage
    bits: 16 or 24; 0 for floating point without rounding and clipping
    silence_after_s: recorded after the sweep
    """

    level_dbfs: float = -12.0
    amplifier_v: float = 10.0
    source_ohm: float = 0.1
    input_v: float = 5.0
    mismatch_db: float = 0.02
    delay_samples: float = 0.02
    roll_off_hz: float = 3.0
    roll_off_mismatch: float = 0.0
    noise_dbfs: float | None = -95.0
    pink_dbfs: float | None = -100.0
    hum_dbfs: float | None = -70.0
    mains_hz: float = 50.0
    hum_harmonics: int = 5
    offset: float = 1e-4
    driver_second: float = 0.0
    driver_third: float = 0.0
    bits: int = 24
    silence_after_s: float = 1.0

    @property
    def step(self) -> float:
        """Return the smallest difference between two samples, full scale 1.0; 0 for floating point."""
        return 2.0 ** (1 - self.bits) if self.bits else 0.0


IDEAL = SoundCard(
    source_ohm=0.0,
    mismatch_db=0.0,
    delay_samples=0.0,
    roll_off_hz=0.0,
    noise_dbfs=None,
    pink_dbfs=None,
    hum_dbfs=None,
    offset=0.0,
    bits=0,
)


def record(
    impedance: Impedance,
    jig: Jig,
    sweep: Sweep,
    role: Role,
    rng: np.random.Generator,
    *,
    card: SoundCard | None = None,
    rate_hz: float = 48000.0,
    recorded_at: datetime | None = None,
    note: str | None = None,
) -> Recording:
    """Return the recording that a sound card makes of an impedance.

    impedance: impedance in ohm of frequencies in Hz, both of shape (n,), all frequencies above 0
    jig: wiring and reference resistor, which the recording's metadata repeat
    sweep: what is played, as often as its `repeats` say; its begins_s is the silence before the first
    role: what the recording is said to be
    rng: draws noise, hum and its phases
    card: SoundCard() if None
    rate_hz: samples per second, above twice the sweep's highest frequency
    recorded_at: time of the take, for the metadata
    note: for the metadata; name the fault and the seed here
    The network is solved at every frequency of a Fourier transform with four seconds of silence on top, and
    taken from a fine table above four times the sweep's highest frequency, where nothing is played.
    """
    card = card or SoundCard()
    played = 10.0 ** (card.level_dbfs / 20.0) * sweep_samples(sweep, rate_hz)
    starts = sweep_starts(sweep, rate_hz)
    frames = starts[-1] + played.size + round(card.silence_after_s * rate_hz)
    transform = round_length(frames + round(4.0 * rate_hz))
    frequency_hz = np.asarray(np.fft.rfftfreq(transform, 1.0 / rate_hz), dtype=np.float64)
    emf = np.zeros(transform)
    for start in starts:
        emf[start : start + played.size] = card.amplifier_v * played
    load = sampled_impedance(impedance, frequency_hz, 4.0 * sweep.stop_hz)
    volts = _voltages(np.fft.rfft(emf), load, jig, card, transform)
    channels = np.empty((frames, 2))
    for n in (0, 1):
        response = input_response(frequency_hz, rate_hz, card, second=n == 1)
        channels[:, n] = np.fft.irfft(np.multiply(volts[n], response), transform)[:frames] / card.input_v
    channels += _disturbance(frames, rate_hz, card, rng)
    origin = Origin(role=role, jig=jig, sweep=sweep, recorded_at=recorded_at, note=note)
    return as_recorded(channels, rate_hz, card, origin)


def as_recorded(channels: Real, rate_hz: float, card: SoundCard, origin: Origin) -> Recording:
    """Return channels as the card writes them, with its level and its name in what is known of their origin."""
    made = replace(
        origin,
        level_dbfs=card.level_dbfs,
        device="virtual sound card",
        program=f"sealtune {__version__}",
        simulated=True,
    )
    return Recording(
        quantised(channels, card.step), rate_hz, card.step, made, expected_frames=channels.shape[0]
    )


def quantised(channels: Real, step: float) -> Real:
    """Return samples rounded to a step and kept within full scale; unchanged for a step of 0."""
    if step == 0.0:
        return channels
    return np.asarray(np.clip(np.round(channels / step) * step, -1.0, 1.0 - step))


def pink_noise(frames: int, rate_hz: float, rng: np.random.Generator) -> Real:
    """Return noise with 3 dB less per octave from 1 Hz up, root mean square 1, shape (frames,)."""
    length = round_length(frames)
    spectrum = np.fft.rfft(rng.standard_normal(length))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(length, 1.0 / rate_hz), 1.0))
    noise = np.fft.irfft(spectrum, length)[:frames]
    return np.asarray(noise / np.sqrt(np.mean(noise**2)))


def hum(frames: int, rate_hz: float, mains_hz: float, harmonics: int, rng: np.random.Generator) -> Real:
    """Return mains hum with its multiples, the fundamental's peak 1, shape (frames,)."""
    time_s = np.arange(frames) / rate_hz
    tone = np.zeros(frames)
    for multiple in range(1, harmonics + 1):
        phase = rng.uniform(0.0, 2.0 * np.pi)
        tone += 0.5 ** (multiple - 1) * np.sin(2.0 * np.pi * multiple * mains_hz * time_s + phase)
    return tone


def round_length(frames: int) -> int:
    """Return the next length with no prime factor above 5 in 2^a, 3 2^a and 5 2^a, for a quick transform."""
    power = 1 << max(frames - 1, 1).bit_length()
    return min(length for length in (power, power * 3 // 4, power * 5 // 8) if length >= frames)


def sampled_impedance(impedance: Impedance, frequency_hz: Real, solved_to_hz: float) -> Complex:
    """Return an impedance on evenly spaced frequencies from 0 Hz up, above `solved_to_hz` from a fine table."""
    solved = frequency_hz <= solved_to_hz
    # no sweep reaches 0 Hz; the lowest bin above it is as good
    low = np.maximum(frequency_hz[solved], frequency_hz[1])
    load = np.empty(frequency_hz.shape, dtype=np.complex128)
    load[solved] = impedance(low)
    if not solved.all():
        above = frequency_hz[~solved]
        table_hz = np.geomspace(above[0], max(above[-1], above[0] * 1.001), 2000)
        table = impedance(table_hz)
        position = np.log(above)
        load[~solved] = np.interp(position, np.log(table_hz), table.real) + 1j * np.interp(
            position, np.log(table_hz), table.imag
        )
    return load


def _voltages(
    emf: Complex, load: Complex, jig: Jig, card: SoundCard, transform: int
) -> tuple[Complex, Complex]:
    reference = jig.reference_ohm
    total = card.source_ohm + reference + load
    own = np.zeros_like(emf)
    if card.driver_second or card.driver_third:
        across = np.fft.irfft(emf * load / total, transform)
        peak = max(float(np.abs(across).max()), 1e-12)
        x = across / peak
        own = np.fft.rfft(peak * (card.driver_second * x**2 + card.driver_third * x**3))
    current = (emf - own) / total
    amplifier = emf - current * card.source_ohm
    if jig.wiring == "divider":
        return amplifier, amplifier - current * reference
    return amplifier - current * reference, current * reference


def input_response(frequency_hz: Real, rate_hz: float, card: SoundCard, *, second: bool) -> Complex:
    """Return what an input makes of its voltage: roll-off, and for the second its gain and delay against the first."""
    response = np.ones(frequency_hz.shape, dtype=np.complex128)
    if card.roll_off_hz > 0.0:
        corner_hz = card.roll_off_hz * (1.0 + card.roll_off_mismatch if second else 1.0)
        ratio = 1j * frequency_hz / corner_hz
        response = ratio / (1.0 + ratio)
    if second:
        response = response * 10.0 ** (card.mismatch_db / 20.0)
        response = response * np.exp(-2j * np.pi * frequency_hz * card.delay_samples / rate_hz)
    return response


def _disturbance(frames: int, rate_hz: float, card: SoundCard, rng: np.random.Generator) -> Real:
    added = np.full((frames, 2), card.offset)
    for channel in (0, 1):
        if card.noise_dbfs is not None:
            added[:, channel] += 10.0 ** (card.noise_dbfs / 20.0) * rng.standard_normal(frames)
        if card.pink_dbfs is not None:
            added[:, channel] += 10.0 ** (card.pink_dbfs / 20.0) * pink_noise(frames, rate_hz, rng)
    if card.hum_dbfs is not None:
        mains_hz = card.mains_hz + float(rng.uniform(-0.1, 0.1))
        tone = 10.0 ** (card.hum_dbfs / 20.0) * hum(frames, rate_hz, mains_hz, card.hum_harmonics, rng)
        added += tone[:, np.newaxis] * np.array([0.25, 1.0])
    return added
