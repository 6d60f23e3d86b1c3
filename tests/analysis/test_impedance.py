"""From two channels to an impedance curve, for the program's own sweep and for whatever others play."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.channel_faults import channel_problems
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.records.recording import Jig, Origin, Recording, Sweep
from sealtune.signals.transfer_function import Ratio
from sealtune.virtual.sound_card import IDEAL, SoundCard, record

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
RATE = 8000.0
RE, RES, PEAK_HZ, Q = 6.0, 30.0, 40.0, 4.0


def load(hz: Reals) -> Complexes:
    """A driver in a closed box with a little semi-inductance, in closed form."""
    hz = np.maximum(hz, 1e-3)
    return RE + RES / (1 + 1j * Q * (hz / PEAK_HZ - PEAK_HZ / hz)) + 0.02 * (2j * np.pi * hz) ** 0.6


def white(rng: np.random.Generator, count: int) -> Reals:
    return rng.standard_normal(count)


def pink(rng: np.random.Generator, count: int) -> Reals:
    spectrum = np.fft.rfft(rng.standard_normal(count))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(count, 1 / RATE), 1.0))
    return np.asarray(np.fft.irfft(spectrum, count))


def sweep(_rng: np.random.Generator, count: int) -> Reals:
    rate = count / RATE / np.log(500.0)
    time_s = np.arange(count) / RATE
    return np.asarray(np.sin(2 * np.pi * 5.0 * rate * np.expm1(time_s / rate)))


def multitone(rng: np.random.Generator, _count: int) -> Reals:
    spectrum = np.zeros(8001, dtype=complex)
    spectrum[8:2000] = np.exp(2j * np.pi * rng.random(1992))  # every 0.5 Hz from 4 to 1000 Hz, 2 s long
    return np.tile(np.fft.irfft(spectrum, 16000), 10)


def take(
    stimulus: Callable[[np.random.Generator, int], Reals], jig: Jig, silence_s: float = 0.0, hum: float = 0.0
) -> Recording:
    """What the jig hands on, by Ohm's law at every frequency of the stimulus as played round and round."""
    rng = np.random.default_rng(12)
    silence = np.zeros(int(silence_s * RATE))
    played = np.concatenate([silence, stimulus(rng, int(20 * RATE)), silence])
    played = 0.5 * played / np.abs(played).max()
    z = load(np.asarray(np.fft.rfftfreq(played.size, 1 / RATE), dtype=np.float64))
    current = np.fft.rfft(played) / (jig.reference_ohm + z)
    across, sensed = (np.fft.irfft(current * part, played.size) for part in (z, jig.reference_ohm))
    pair = [across + sensed, across] if jig.wiring == "divider" else [across, sensed]
    channels = np.stack(pair, axis=1) + 1e-6 * rng.standard_normal((played.size, 2)) + 0.01
    channels[:, 1] += hum * np.sin(2 * np.pi * 50.03 * np.arange(played.size) / RATE)
    return Recording(channels, RATE)


@pytest.mark.parametrize("silence_s", [0.0, 1.0])
@pytest.mark.parametrize("stimulus", [white, pink, sweep, multitone])
@pytest.mark.parametrize("jig", [Jig("divider", 10.0), Jig("sense", 1.0)])
def test_every_stimulus_gives_the_load(
    stimulus: Callable[[np.random.Generator, int], Reals], jig: Jig, silence_s: float
) -> None:
    recording = take(stimulus, jig, silence_s)
    spectra = measure_ratio(recording)
    assert channel_problems(spectra, recording, jig) == []
    curve = impedance_curve(spectra.ratio, jig)
    assert curve.frequency_hz[0] < 8.0
    assert curve.frequency_hz[-1] > 950.0
    inside = (curve.frequency_hz > 8.0) & (curve.frequency_hz < 500.0)
    error = np.abs(curve.impedance_ohm / load(curve.frequency_hz) - 1.0)[inside]
    # exact: Ohm's law; the width of the groups bends a peak of Q = 4 by 0.1 %, noise without silence adds its ends
    assert np.median(error) < 0.003
    assert np.percentile(error, 95) < 0.02
    # zero noise would be too little, and the noise that is told covers the error's size
    noise = (curve.sigma_ohm / np.abs(curve.impedance_ohm))[inside]
    assert np.median(error) < 5.0 * np.median(noise) + 1e-3


@pytest.mark.parametrize("hum", [0.005, 0.05])
def test_hum_does_not_bend_the_curve(hum: float) -> None:
    jig = Jig("divider", 10.0)
    for silence_s in (0.0, 1.0):
        recording = take(sweep, jig, silence_s, hum)
        spectra = measure_ratio(recording)
        assert spectra.hum is not None
        assert spectra.hum.mains_hz == pytest.approx(50.03, abs=0.01)  # exact: what was put in
        assert spectra.hum.amplitude == pytest.approx(hum, rel=0.05)
        curve = impedance_curve(spectra.ratio, jig)
        near = (curve.frequency_hz > 45.0) & (curve.frequency_hz < 55.0)
        error = np.abs(curve.impedance_ohm / load(curve.frequency_hz) - 1.0)[near]
        assert near.sum() > 10
        assert error.max() < 0.05
        assert np.median(error) < 0.005
    problems = channel_problems(spectra, recording, jig)
    assert [(problem.problem, problem.spoils) for problem in problems] == (
        [("hum", False)] if hum > 0.01 else []
    )


@pytest.mark.parametrize(
    ("wiring", "ohm"), [("divider", 0.5), ("divider", 1000.0), ("sense", 0.05), ("sense", 50.0)]
)
def test_both_formulas_of_the_jig(wiring: str, ohm: float) -> None:
    # exact: T = Z/(R+Z) and T = R/Z turned round; gain error of 0.6 %: Z (1 + Z/R) and Z
    hz = np.geomspace(5.0, 900.0, 50)
    z = load(hz)
    divider = wiring == "divider"
    value = z / (ohm + z) if divider else ohm / z
    jig = Jig("divider" if divider else "sense", ohm)
    curve = impedance_curve(Ratio(hz, value, 1e-6 * np.abs(value), np.ones(50)), jig)
    np.testing.assert_allclose(curve.impedance_ohm, z, rtol=1e-9)
    assert curve.jig_slopes_ohm is not None
    expected = 0.006 * z * (1.0 + z / ohm) if divider else -0.006 * z
    np.testing.assert_allclose(curve.jig_slopes_ohm[0], expected, rtol=1e-6)
    spread = np.abs(1.0 + z / ohm) if divider else np.ones(50)
    np.testing.assert_allclose(curve.sigma_ohm, 1e-6 * np.abs(z) * spread, rtol=1e-6)


def test_channels_that_hear_one_signal_are_told() -> None:
    jig = Jig("divider", 10.0)
    clean = take(sweep, jig, 1.0)
    rng = np.random.default_rng(2)
    for first, second, noise, expected in (
        (1.0, 1.002, 1e-5, "Both channels"),
        (1.0, 1e-3, 1e-6, "Channel 2"),
        (1e-3, 1.0, 1e-6, "Channel 1"),
        (1.0, 0.0, 1e-5, "Channel 2"),
        (0.0, 1.0, 1e-5, "Channel 1"),
    ):
        channels = clean.channels[:, [0, 0]] * [first, second]
        recording = Recording(channels + noise * rng.standard_normal(channels.shape), RATE)
        problems = channel_problems(measure_ratio(recording), recording, jig)
        assert [problem.problem for problem in problems] == ["channel_missing"]
        assert problems[0].detail.startswith(expected)


def recorded(card: SoundCard, seed: int = 5) -> Recording:
    """The load through a virtual sound card, by the program's own sweep with metadata."""
    own = Sweep(6.0, 1000.0, 6.0, begins_s=0.5, fade_s=0.05)
    return record(
        load, Jig("divider", 10.0), own, "open", np.random.default_rng(seed), card=card, rate_hz=RATE
    )


def ratio_error(recording: Recording) -> tuple[Reals, Reals]:
    """Relative error of the ratio from 8 to 400 Hz against Ohm's law, and the one that is told."""
    ratio = measure_ratio(recording).ratio
    inside = (ratio.frequency_hz > 8.0) & (ratio.frequency_hz < 400.0)
    z = load(ratio.frequency_hz)
    error = np.abs(ratio.value * (10.0 + z) / z - 1.0)
    return error[inside], (ratio.sigma / np.abs(ratio.value))[inside]


@pytest.mark.parametrize("roll_off_hz", [0.0, 3.0, 10.0])
@pytest.mark.parametrize("change", [{}, {"level_dbfs": -32.0}, {"offset": 0.05}, {"source_ohm": 2.0}])
def test_roll_off_level_and_offset_cancel(roll_off_hz: float, change: dict[str, float]) -> None:
    # exact: what both channels see cancels in their ratio
    silent = replace(IDEAL, roll_off_hz=roll_off_hz, silence_after_s=2.0, **change)  # type: ignore[arg-type]
    error, _ = ratio_error(recorded(silent))
    assert error.size > 200
    assert np.sqrt(np.mean(error**2)) < 2e-4
    # and with noise nothing but the noise is left: the error of one complex number is sqrt(2) of its parts'
    card = SoundCard(noise_dbfs=-70.0, mismatch_db=0.0, delay_samples=0.0, roll_off_hz=roll_off_hz)
    error, told = ratio_error(recorded(replace(card, **change)))  # type: ignore[arg-type]
    assert np.sqrt(np.mean((error / told) ** 2) / 2.0) == pytest.approx(1.0, abs=0.2)


def test_harmonics_of_the_driver_stay_outside() -> None:
    bent = replace(IDEAL, driver_second=0.05, silence_after_s=2.0)
    error, _ = ratio_error(recorded(bent))
    assert np.sqrt(np.mean(error**2)) < 1e-3
    # the same samples without metadata: the harmonics are in the ratio
    blind, _ = ratio_error(replace(recorded(bent), origin=Origin()))
    assert np.sqrt(np.mean(blind**2)) > 5e-3


def test_the_curve_reaches_nearly_from_end_to_end_of_the_sweep() -> None:
    # exact: 5 % inside the ends of 6 and 1000 Hz, to a step of a hundredth
    hz = measure_ratio(recorded(IDEAL)).ratio.frequency_hz
    assert hz[0] == pytest.approx(1.05 * 6.0, rel=0.03)
    assert hz[-1] == pytest.approx(0.95 * 1000.0, rel=0.03)
