"""The synchronised sweep against its published formulas [Novak2015], [Farina2000]."""

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.sweep_faults import answer
from sealtune.records.recording import Sweep
from sealtune.signals.sweep import sweep_rate, sweep_samples, sweep_seconds


def test_rate_and_length_of_the_synchronised_sweep() -> None:
    # published: L = round(T f1 / ln(f2/f1)) / f1 [Novak2015]; independent: for T = 10 s, 20 Hz to 20 kHz
    # L = 1.45 s, f1 L = 29, and the real length is 10.0162452 s
    sweep = Sweep(20.0, 20000.0, 10.0)
    assert sweep_rate(sweep) == pytest.approx(1.45, rel=1e-12)
    assert 20.0 * sweep_rate(sweep) == pytest.approx(29.0, rel=1e-12)
    assert sweep_seconds(sweep) == pytest.approx(10.0162452, abs=5e-8)
    assert sweep_samples(sweep, 96000.0).size == 961559  # exact: whole samples within that length


def test_rounding_is_of_f1_l_and_not_of_l() -> None:
    # exact: with f1 = 7.3 Hz, L is a multiple of 1/7.3 s; rounding T/ln(f2/f1) alone would give 2.0 s
    sweep = Sweep(7.3, 1000.0, 10.0)
    assert sweep_rate(sweep) * 7.3 == pytest.approx(round(10.0 * 7.3 / np.log(1000.0 / 7.3)), rel=1e-12)
    assert sweep_rate(sweep) != pytest.approx(2.0, rel=1e-3)


@pytest.mark.parametrize(("order", "advance_s"), [(2, 1.0034333), (3, 1.5904042), (5, 2.3299000)])
def test_harmonics_come_early(order: int, advance_s: float) -> None:
    # independent: L ln n for L = 10 s / ln 1000 = 1.4476483 s [Farina2000], which a sweep from 20/L to 1000/L has
    sweep = Sweep(20.0 / 1.4476483, 1000.0 / 1.4476483, 1.4476483 * float(np.log(50.0)))
    assert sweep_rate(sweep) == pytest.approx(1.4476483, rel=1e-9)
    # exact: the phase at t + L ln n is n times that at t, so the sweep comes back as its own harmonic
    frames = 4000 * order
    rate_hz = frames / advance_s
    samples = sweep_samples(sweep, rate_hz)
    time_s = np.arange(samples.size - frames) / rate_hz
    phase = 2.0 * np.pi * 20.0 * np.exp(time_s / 1.4476483)
    np.testing.assert_allclose(samples[frames:], np.sin(order * phase), atol=1e-3)


def _harmonic(
    record: NDArray[np.float64], sweep: Sweep, rate_hz: float, order: int, frequency_hz: list[float]
) -> NDArray[np.complex128]:
    """H_n(f) by the analytic inverse of the sweep, 2 sqrt(f/L) exp(-j 2 pi f L [1 - ln(f/f1)] + j pi/4)."""
    frames = 2 ** int(np.ceil(np.log2(record.size * 1.2)))
    frequency = np.arange(1, frames // 2 + 1) * rate_hz / frames
    rate = sweep_rate(sweep)
    turn = 2.0 * np.pi * frequency * rate
    inverse = (
        2.0
        * np.sqrt(frequency / rate)
        * np.exp(-1j * turn * (1.0 - np.log(frequency / sweep.start_hz)) + 0.25j * np.pi)
    )
    ratio = np.fft.rfft(record, frames)[1:] / rate_hz * inverse
    # the n-th harmonic's response comes L ln n early; bring it to time zero and cut it out
    response = np.fft.irfft(np.append(0.0, ratio * np.exp(-1j * turn * np.log(order))), frames)
    half = int(0.12 * rate_hz)
    window = np.hanning(2 * half + 1)
    cut = np.append(response[-half:], response[: half + 1]) * window
    time_s = np.arange(-half, half + 1) / rate_hz
    kernel = np.exp(-2j * np.pi * np.outer(frequency_hz, time_s))
    return np.asarray(kernel @ cut)


@pytest.mark.parametrize(("order", "expected"), [(1, 1.0375), (2, -0.0500j), (3, -0.0125)])
def test_polynomial_comes_back_by_its_harmonics(order: int, expected: complex) -> None:
    # exact: y = x + 0.1 x^2 + 0.05 x^3 of a sine is 1.0375 sin - 0.05 cos 2 - 0.0125 sin 3; the phases come out
    # right only where the sweep is synchronised [Novak2015]
    sweep, rate_hz = Sweep(20.0, 8000.0, 10.0, fade_s=0.01), 96000.0
    x = sweep_samples(sweep, rate_hz)
    found = _harmonic(x + 0.1 * x**2 + 0.05 * x**3, sweep, rate_hz, order, [300.0, 1000.0, 3000.0])
    np.testing.assert_allclose(found, expected, atol=3e-5)


def test_the_programs_own_answer_shows_the_third_harmonic() -> None:
    # exact: of y = x + 0.1 x^2 + 0.05 x^3 the third harmonic is 0.0125 / 1.0375 of the fundamental; it is looked for
    # L ln 3 before it, so a wrong advance would find nothing
    sweep, rate_hz = Sweep(20.0, 8000.0, 10.0, fade_s=0.01), 96000.0
    x = np.concatenate([np.zeros(48000), sweep_samples(sweep, rate_hz), np.zeros(96000)])
    found = answer(x + 0.1 * x**2 + 0.05 * x**3, rate_hz, sweep)
    assert found.third == pytest.approx(0.0125 / 1.0375, rel=0.03)
    assert answer(x, rate_hz, sweep).third < 0.001
