"""What swings in step with a tone: size, chance, and what must not count."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, hilbert, sosfiltfilt
from scipy.stats import f, kstest

from sealtune.signals.band_power import BandPowers
from sealtune.signals.synchronous import InStep, in_step, in_step_now, swelling
from sealtune.signals.warble import Warble

Reals = NDArray[np.float64]

FRAMES_PER_S = 750.0
WIDTHS = np.array([3.0, 4.0, 7.0, 9.0, 15.0])
TIME_S = np.arange(1500) / FRAMES_PER_S


def gaussian_powers(rng: np.random.Generator, swing: Reals | float = 0.0, level: float = 1.0) -> Reals:
    """Powers of bands of Gaussian noise: a bin is exponential, a band of w bins a gamma variable of shape w."""
    shapes = np.broadcast_to(WIDTHS, (TIME_S.size, WIDTHS.size))
    mean = level * np.broadcast_to(1.0 + np.asarray(swing), TIME_S.shape)[:, None]
    return np.asarray(mean * rng.gamma(shapes))


def seen(powers: Reals, warble: Warble) -> InStep:
    return in_step(swelling(powers, WIDTHS, warble.phase(TIME_S), FRAMES_PER_S))


def test_the_chance_is_the_tail_of_the_f_distribution() -> None:
    # independent: scipy.stats.f. 16 neighbours on either side (8 Hz by 0.5 Hz) weighted by a raised cosine count as
    # (sum w)^2 / sum w^2 = 16^2 / 11.75 = 21.8, with two degrees of freedom each
    for n in range(5):
        one = seen(gaussian_powers(np.random.default_rng(n)), Warble(57.0))
        assert one.chance == pytest.approx(float(f.sf(one.ratio, 2, 2 * 21.8)), rel=0.05)


def test_in_gaussian_noise_the_chance_is_evenly_distributed() -> None:
    # exact: a probability of the null is uniform; a variance wrong by a factor of two gives p < 1e-9 here
    rng = np.random.default_rng(20)
    frequencies_hz = rng.uniform(40.0, 48.0, 400)  # away from the mains, whose lines are taken out
    whole, now = [], []
    for frequency_hz in frequencies_hz:
        phase = Warble(float(frequency_hz)).phase(TIME_S)
        one = swelling(gaussian_powers(rng), WIDTHS, phase, FRAMES_PER_S)
        whole.append(in_step(one).chance)
        now.append(in_step_now(one, 0.2).chance)
    assert kstest(whole, "uniform").pvalue > 0.01
    assert kstest(now, "uniform").pvalue > 0.01


def test_the_swing_has_the_size_that_was_put_in() -> None:
    # exact: powers 1 + 0.3 cos(2 phase + any) swing by 0.3 of the room; weighing quiet moments more and clipping what
    # exceeds four times the mean take about 5 % off
    warble = Warble(57.0)
    for turn in (0.0, 1.0, 4.0):
        swing = 0.3 * np.cos(2.0 * warble.phase(TIME_S) + turn)
        one = seen(gaussian_powers(np.random.default_rng(1), swing, level=5.0), warble)
        assert one.density == pytest.approx(0.3 * 5.0, rel=0.08)
        assert one.room == pytest.approx(5.0, rel=0.02)
        assert one.chance < 1e-15


def test_a_constant_in_the_phase_changes_nothing() -> None:
    # exact: how late the microphone hears is not known to a fraction of a period
    powers = gaussian_powers(np.random.default_rng(2), 0.05 * np.cos(2.0 * Warble(57.0).phase(TIME_S)))
    phase = Warble(57.0).phase(TIME_S)
    first = in_step(swelling(powers, WIDTHS, phase, FRAMES_PER_S))
    second = in_step(swelling(powers, WIDTHS, phase + 2.1, FRAMES_PER_S))
    assert second.chance == pytest.approx(first.chance, rel=1e-6)
    assert second.density == pytest.approx(first.density, rel=1e-9)


def test_agrees_with_a_lock_in_on_the_envelope_of_the_sound() -> None:
    # independent: band-pass and Hilbert envelope by scipy, squared, times exp(-2 j phase), averaged
    rate_hz = 48000.0
    rng = np.random.default_rng(5)
    time_s = np.arange(round(2.2 * rate_hz)) / rate_hz
    warble = Warble(61.0)
    hiss = np.sqrt(1.5 + np.cos(2.0 * warble.phase(time_s) + 0.4)) * rng.standard_normal(time_s.size)
    band = sosfiltfilt(butter(4, [4500.0, 16000.0], "bandpass", fs=rate_hz, output="sos"), hiss)
    inner = slice(round(0.1 * rate_hz), round(2.1 * rate_hz))
    envelope = np.abs(hilbert(band))[inner] ** 2
    lock_in = 2.0 * abs(np.mean(envelope * np.exp(-2j * warble.phase(time_s)[inner]))) / envelope.mean()
    assert lock_in == pytest.approx(1.0 / 1.5, rel=0.05)
    bands = BandPowers(rate_hz)
    powers = bands.add(hiss)[75:1575]
    phase = warble.phase(np.arange(75, 1575) / FRAMES_PER_S)
    one = in_step(swelling(powers, bands.widths, phase, FRAMES_PER_S))
    # clipping what exceeds four times the mean takes a little off the swing of narrow bands
    assert one.density / one.room == pytest.approx(lock_in, rel=0.1)


def test_a_steady_foreign_line_at_twice_the_tone_is_no_leak_if_the_tone_warbles() -> None:
    # a fan whose blades pass with exactly twice the tone's middle: told by a steady tone, not by a warbled one
    fan = 0.5 * np.cos(2.0 * np.pi * 2.0 * 43.0 * TIME_S + 0.3)
    steady = [
        seen(gaussian_powers(np.random.default_rng(n), fan), Warble(43.0, 1e-9)).chance for n in range(10)
    ]
    warbled = [
        seen(gaussian_powers(np.random.default_rng(n), fan), Warble(43.0, 2.0)).chance for n in range(10)
    ]
    assert max(steady) < 1e-15
    assert min(warbled) > 1e-4


def test_a_line_near_the_middle_is_no_leak_wherever_it_lies() -> None:
    for offset_hz in np.arange(-6.0, 6.1, 0.5):
        fan = 0.5 * np.cos(2.0 * np.pi * (86.0 + offset_hz) * TIME_S + offset_hz)
        assert seen(gaussian_powers(np.random.default_rng(7), fan), Warble(43.0)).chance > 1e-5


def test_the_mains_is_taken_out_and_a_leak_beside_it_is_told() -> None:
    # lamps at 100.1 Hz swing eight times as strongly as the hiss
    warble = Warble(51.0)
    lamps = 0.8 * np.cos(2.0 * np.pi * 100.1 * TIME_S + 1.0)
    hiss = 0.1 * np.cos(2.0 * warble.phase(TIME_S))
    assert seen(gaussian_powers(np.random.default_rng(8), lamps), warble).chance > 1e-3
    assert seen(gaussian_powers(np.random.default_rng(8), lamps + hiss), warble).chance < 1e-5


def test_claps_do_not_hide_a_leak() -> None:
    # a thousand times the power in a fifth of the time: without weights the swing of 0.3 would drown
    rng = np.random.default_rng(9)
    warble = Warble(57.0)
    powers = gaussian_powers(rng, 0.3 * np.cos(2.0 * warble.phase(TIME_S)))
    for first in range(100, 1500, 250):
        powers[first : first + 50] += 1000.0 * gaussian_powers(rng)[:50]
    one = seen(powers, warble)
    assert one.chance < 1e-10
    assert one.density == pytest.approx(0.3, rel=0.25)


def test_what_swings_with_the_tone_itself_and_not_with_its_double_does_not_count() -> None:
    # a microphone whose gain is bent by the loud tone lets the room's noise swing once in a period
    warble = Warble(57.0)
    bent = 0.3 * np.cos(warble.phase(TIME_S))
    chances = [seen(gaussian_powers(np.random.default_rng(n), bent), warble).chance for n in range(10)]
    assert min(chances) > 1e-3


def test_silence_is_no_leak() -> None:
    one = seen(np.zeros((1500, 5)), Warble(57.0))
    assert one.density == pytest.approx(0.0, abs=1e-20)
    assert one.chance > 0.01
