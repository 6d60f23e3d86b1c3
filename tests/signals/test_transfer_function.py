"""A known filter comes back from the two channels' spectra, with the noise that is really there."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import chi2

from sealtune.records.recording import Sweep
from sealtune.signals.sweep import sweep_samples
from sealtune.signals.transfer_function import Ratio, group_bins

RATE_HZ = 4096.0
FRAMES = 4 * 8192
FREQUENCY_HZ = np.arange(24, FRAMES * 900 // 4096) * RATE_HZ / FRAMES  # 3 to 900 Hz in steps of 1/8 Hz


def _filter(frequency_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    """A resonance of Q = 10 at 60 Hz on top of a half."""
    return np.asarray(
        0.5 + 1.0 / (1.0 + 10j * (frequency_hz / 60.0 - 60.0 / frequency_hz)), dtype=np.complex128
    )


def _spectrum(samples: NDArray[np.float64]) -> NDArray[np.complex128]:
    return np.asarray(np.fft.rfft(samples, FRAMES)[24 : 24 + FREQUENCY_HZ.size], dtype=np.complex128)


def _sweep() -> NDArray[np.complex128]:
    return _spectrum(sweep_samples(Sweep(5.0, 1000.0, 6.0, fade_s=0.05), RATE_HZ))


def _noise(rng: np.random.Generator, power: float) -> NDArray[np.complex128]:
    parts = rng.standard_normal((2, FREQUENCY_HZ.size))
    return np.asarray(np.sqrt(0.5 * power) * (parts[0] + 1j * parts[1]))


@pytest.mark.parametrize("stimulus", ["sweep", "noise"])
def test_known_filter_comes_back(stimulus: str) -> None:
    # exact: the filter itself; grouping bends a resonance of Q = 10 by 0.1 % of its height at most
    rng = np.random.default_rng(3)
    first = _sweep() if stimulus == "sweep" else _spectrum(rng.standard_normal(FRAMES))
    found = group_bins(FREQUENCY_HZ, first, _filter(FREQUENCY_HZ) * first)
    inside = found.frequency_hz > 6.0
    assert inside.sum() > 300
    error = np.abs(found.value - _filter(found.frequency_hz))[inside]
    assert error.max() < 1.5e-3
    assert np.all(np.diff(found.frequency_hz) > 0.0)


@pytest.mark.parametrize("noise_in", ["second", "both"])
def test_stated_noise_is_the_scatter_of_repeats(noise_in: str) -> None:
    # exact: over 100 repeats and a third of an octave the mean square of either part's deviation is sigma^2
    rng = np.random.default_rng(11)
    first = _sweep()
    power = 1e-4 * float(np.median(np.abs(first) ** 2))
    takes: list[Ratio] = []
    for _ in range(100):
        heard = first + (_noise(rng, power) if noise_in == "both" else 0.0)
        takes.append(group_bins(FREQUENCY_HZ, heard, _filter(FREQUENCY_HZ) * first + _noise(rng, power)))
    # the groups' centres move with the noise by far less than a bin; compare with the filter at each centre
    deviation = np.array([take.value - _filter(take.frequency_hz) for take in takes])
    deviation -= deviation.mean(axis=0)
    sigma_squared = np.mean([take.sigma**2 for take in takes], axis=0)
    centre_hz = takes[0].frequency_hz
    for low_hz in (10.0, 20.0, 40.0, 55.0, 80.0, 160.0, 320.0, 640.0):
        band = (centre_hz >= low_hz) & (centre_hz < low_hz * 2 ** (1 / 3))
        assert band.sum() >= 8
        for part in (deviation.real, deviation.imag):
            scatter = np.mean(part[:, band] ** 2 / sigma_squared[band])
            assert np.sqrt(scatter) == pytest.approx(1.0, abs=0.2), low_hz
            # what chance alone does to this mean is far less than what is allowed
            assert chi2.ppf(0.999, 99 * band.sum()) / (99 * band.sum()) < 1.2


def test_noise_scales_with_itself() -> None:
    # exact: ten times the noise, ten times sigma
    first = _sweep()
    quiet, loud = (
        group_bins(
            FREQUENCY_HZ,
            first,
            _filter(FREQUENCY_HZ) * first + scale * _noise(np.random.default_rng(5), 1e-2),
        )
        for scale in (1.0, 10.0)
    )
    assert np.median(loud.sigma / quiet.sigma) == pytest.approx(10.0, rel=0.02)


def test_groups_narrow_towards_low_frequencies() -> None:
    # exact: below 240 bins' spacing every bin stands alone, at 900 Hz about f/240 = 30 bins of 1/8 Hz are one
    first = np.ones(FREQUENCY_HZ.size, dtype=np.complex128)
    found = group_bins(FREQUENCY_HZ, first, 0.3j * first)
    assert found.frequency_hz[:100] == pytest.approx(FREQUENCY_HZ[:100])
    assert np.diff(found.frequency_hz)[-2] == pytest.approx(900.0 / 240.0, rel=0.02)
    np.testing.assert_allclose(found.value, 0.3j, rtol=1e-12)
    np.testing.assert_allclose(found.power, 1.0, rtol=1e-12)


def test_silent_first_channel_is_no_error() -> None:
    nothing = np.zeros(FREQUENCY_HZ.size, dtype=np.complex128)
    found = group_bins(FREQUENCY_HZ, nothing, nothing)
    assert np.all(np.isfinite(found.value))
    assert np.all(np.isfinite(found.sigma))


def test_few_bins_are_no_error() -> None:
    first = np.ones(10, dtype=np.complex128)
    found = group_bins(FREQUENCY_HZ[:10], first, 2.0 * first)
    np.testing.assert_allclose(found.value, 2.0)
    assert np.all(np.isfinite(found.sigma))
