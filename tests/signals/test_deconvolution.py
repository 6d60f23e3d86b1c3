"""The window in time leaves the answer as it is, and takes away what comes at other times."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.records.recording import Sweep
from sealtune.signals.deconvolution import windowed_ratio
from sealtune.signals.sweep import sweep_rate, sweep_samples

RATE_HZ = 4096.0
FRAMES = 10 * 4096
SWEEP = Sweep(5.0, 1000.0, 8.0, fade_s=0.05)
HZ = np.arange(53, 9500) * RATE_HZ / FRAMES  # 5.3 to 950 Hz in steps of 0.1 Hz
NOTHING = np.zeros(HZ.size, dtype=np.bool_)

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]


def filtered(hz: Reals, peak_hz: float, q: float) -> Complexes:
    """A resonance on top of a half."""
    hz = np.maximum(hz, 1e-6)
    return np.asarray(0.5 + 1.0 / (1.0 + 1j * q * (hz / peak_hz - peak_hz / hz)), dtype=np.complex128)


def channels(peak_hz: float, q: float, bend: float = 0.0) -> tuple[Complexes, Complexes]:
    """Both channels' spectra, each behind a roll-off at 3 Hz; `bend` adds the square of the sweep to channel 2."""
    sweep = np.zeros(FRAMES)
    sweep[: sweep_samples(SWEEP, RATE_HZ).size] = sweep_samples(SWEEP, RATE_HZ)
    hz = np.asarray(np.fft.rfftfreq(FRAMES, 1 / RATE_HZ), dtype=np.float64)
    roll_off = np.asarray((1j * hz / 3.0) / (1.0 + 1j * hz / 3.0), dtype=np.complex128)
    first = np.asarray(np.fft.rfft(sweep), dtype=np.complex128) * roll_off
    second = first * filtered(hz, peak_hz, q) + bend * np.fft.rfft(sweep**2) * roll_off
    return np.asarray(first[53:9500] / RATE_HZ), np.asarray(second[53:9500] / RATE_HZ)


@pytest.mark.parametrize(
    ("peak_hz", "q"), [(8.0, 8.0), (12.0, 10.0), (20.0, 10.0), (60.0, 10.0), (200.0, 15.0)]
)
def test_resonances_come_back_unbent(peak_hz: float, q: float) -> None:
    first, second = channels(peak_hz, q)
    found = windowed_ratio(HZ, first, second, NOTHING, sweep_rate(SWEEP))
    inside = (found.frequency_hz > 6.5) & (found.frequency_hz < 900.0)
    assert inside.sum() > 500
    # exact: the filter itself; its height is 1.5
    error = np.abs(found.value - filtered(found.frequency_hz, peak_hz, q))[inside]
    assert error.max() < 2e-3  # within 1.5 Hz of the band's lower end; 3e-4 elsewhere
    assert error[found.frequency_hz[inside] > 8.0].max() < 1e-3
    assert np.sqrt(np.mean(error**2)) < 2e-4
    assert np.all(np.diff(found.frequency_hz) > 0.0)
    # two bins of 0.1 Hz, or f / 110 and less, so that a resonance of Q = 10 has ten points to its width
    assert np.all(np.diff(found.frequency_hz) < np.maximum(0.21, found.frequency_hz[1:] / 110.0))


def test_a_second_harmonic_is_left_outside() -> None:
    first, clean = channels(40.0, 5.0)
    _, bent = channels(40.0, 5.0, bend=0.05)
    found = windowed_ratio(HZ, first, bent, NOTHING, sweep_rate(SWEEP))
    inside = (found.frequency_hz > 15.0) & (found.frequency_hz < 400.0)
    left = np.abs(found.value - filtered(found.frequency_hz, 40.0, 5.0))[inside]
    raw = np.abs((bent - clean) / first)[(HZ > 15.0) & (HZ < 400.0)]
    # exact: sin^2 is half less half a cosine of twice the angle, which is a sweep of the same L: 2.5 %
    assert np.median(raw) == pytest.approx(0.025, rel=0.02)
    assert np.sqrt(np.mean(left**2)) < 0.02 * np.median(raw)


def test_stated_noise_is_the_scatter_and_neighbours_are_independent() -> None:
    first, second = channels(40.0, 5.0)
    rng = np.random.default_rng(4)
    level = 1e-3 * float(np.median(np.abs(first)))
    takes = []
    for _ in range(40):
        parts = rng.standard_normal((2, HZ.size))
        takes.append(
            windowed_ratio(HZ, first, second + level * (parts[0] + 1j * parts[1]), NOTHING, sweep_rate(SWEEP))
        )
    value = np.stack([take.value for take in takes])
    deviation = value - value.mean(axis=0)
    scatter = np.sqrt(0.5 * np.sum(np.abs(deviation) ** 2, axis=0) / 39.0)
    stated = np.sqrt(np.mean([take.sigma**2 for take in takes], axis=0))
    for low, high in ((7.0, 20.0), (20.0, 80.0), (80.0, 300.0), (300.0, 900.0)):
        band = (takes[0].frequency_hz > low) & (takes[0].frequency_hz < high)
        # exact: the noise that was put in
        assert np.median(stated[band] / scatter[band]) == pytest.approx(1.0, abs=0.12)
    beside = np.sum(deviation[:, 1:] * np.conj(deviation[:, :-1]), axis=0).real / (
        39.0 * 2 * scatter[1:] * scatter[:-1]
    )
    assert abs(np.median(beside)) < 0.15


def test_bins_left_out_are_bridged() -> None:
    first, second = channels(40.0, 5.0)
    gone = np.abs(HZ - 50.0) < 0.15
    second = second + 100.0 * np.abs(second).max() * gone
    found = windowed_ratio(HZ, first, second, gone, sweep_rate(SWEEP))
    near = np.abs(found.frequency_hz - 50.0) < 2.0
    error = np.abs(found.value - filtered(found.frequency_hz, 40.0, 5.0))[near]
    assert error.max() < 2e-3
