"""Mains hum is found, measured and taken out of the ratio of two channels."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.signals.hum import remove_hum

RATE = 2000.0
FRAMES = 20000
SECONDS = FRAMES / RATE
RATIO = 0.5

Reals = NDArray[np.float64]


def bins(samples: Reals) -> tuple[Reals, NDArray[np.complex128]]:
    """Fourier integral of the samples on the bins from 3 to 500 Hz, by definition the sum over the rate."""
    first, last = int(3 * SECONDS), int(500 * SECONDS)
    return np.arange(first, last) / SECONDS, np.fft.rfft(samples)[first:last] / RATE


def window(fade: int) -> Reals:
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / fade)
    shape = np.ones(FRAMES)
    shape[:fade], shape[FRAMES - fade :] = ramp, ramp[::-1]
    return shape


@pytest.mark.parametrize("mains_hz", [45.31, 49.93, 54.48, 60.07, 65.6])
@pytest.mark.parametrize("fade", [0, 1000])
def test_hum_is_found_and_taken_out(mains_hz: float, fade: int) -> None:
    rng = np.random.default_rng(3)
    time_s = np.arange(FRAMES) / RATE
    played = rng.standard_normal(FRAMES)
    hum = 0.2 * np.sin(2 * np.pi * mains_hz * time_s + 1.0) + 0.07 * np.sin(4 * np.pi * mains_hz * time_s)
    shape = window(fade) if fade else np.ones(FRAMES)
    hz, first = bins(shape * played)
    _, second = bins(shape * (RATIO * played + hum))
    cleaned, found = remove_hum(hz, first, second, SECONDS, fade / RATE)
    assert found is not None
    # exact: the tone that was put in; the stimulus leaks into the estimate by its own power in one bin (1 %)
    assert found.mains_hz == pytest.approx(mains_hz, abs=0.003)
    assert found.amplitude == pytest.approx(0.2, rel=0.03)
    assert found.lines_hz == pytest.approx((mains_hz, 2 * mains_hz), abs=0.01)
    # exact: without hum the second channel is RATIO times the first
    assert np.abs(second - RATIO * first).max() > 0.5
    left = np.abs(cleaned - RATIO * first)
    assert left.max() < 0.03 * np.abs(second - RATIO * first).max()
    assert np.median(left) < 2e-3 * np.median(np.abs(first))


def test_nothing_is_found_where_nothing_is() -> None:
    # of 20 records of noise none may show a line; the threshold lets one in 10^9 pass
    for seed in range(20):
        rng = np.random.default_rng(seed)
        played = rng.standard_normal(FRAMES)
        hz, first = bins(played)
        _, second = bins(RATIO * played + 0.1 * rng.standard_normal(FRAMES))
        cleaned, found = remove_hum(hz, first, second, SECONDS)
        assert found is None
        np.testing.assert_array_equal(cleaned, second)


def test_hum_that_passes_through_the_box_is_left_alone() -> None:
    # the same ratio in both channels: it is a signal like any other and must not be taken out
    rng = np.random.default_rng(5)
    time_s = np.arange(FRAMES) / RATE
    played = rng.standard_normal(FRAMES) + 3.0 * np.sin(2 * np.pi * 50.0 * time_s)
    hz, first = bins(played)
    _, second = bins(RATIO * played + 0.01 * rng.standard_normal(FRAMES))
    cleaned, found = remove_hum(hz, first, second, SECONDS)
    assert found is None
    at_50 = int(np.argmin(np.abs(hz - 50.0)))
    assert abs(cleaned[at_50] / first[at_50]) == pytest.approx(RATIO, rel=1e-3)


def hidden(tone: Reals, seed: int = 6) -> tuple[Reals, NDArray[np.complex128], NDArray[np.complex128]]:
    """Noise through a known ratio, and the tone in the second channel alone."""
    played = np.random.default_rng(seed).standard_normal(FRAMES)
    hz, first = bins(played)
    _, second = bins(RATIO * played + tone)
    return hz, first, second


def test_railway_current_is_found() -> None:
    time_s = np.arange(FRAMES) / RATE
    hz, first, second = hidden(
        0.3 * np.sin(2 * np.pi * 16.71 * time_s) + 0.1 * np.cos(2 * np.pi * 50.13 * time_s)
    )
    cleaned, found = remove_hum(hz, first, second, SECONDS)
    assert found is not None
    assert max(found.lines_hz) > 50.0
    assert min(found.lines_hz) == pytest.approx(16.71, abs=0.003)  # exact: what was put in
    assert np.abs(cleaned - RATIO * first).max() < 0.05 * np.abs(second - RATIO * first).max()


def test_a_rectifiers_hum_has_no_fundamental() -> None:
    time_s = np.arange(FRAMES) / RATE
    hz, first, second = hidden(
        0.3 * np.sin(2 * np.pi * 99.9 * time_s) + 0.1 * np.sin(2 * np.pi * 199.8 * time_s)
    )
    cleaned, found = remove_hum(hz, first, second, SECONDS)
    assert found is not None
    assert found.mains_hz == pytest.approx(49.95, abs=0.003)  # exact: half of 99.9
    assert np.abs(cleaned - RATIO * first).max() < 0.05 * np.abs(second - RATIO * first).max()


def test_a_mains_frequency_that_swings_is_followed() -> None:
    # +-0.02 Hz in 10 s: the phase swings by 0.2 rad; a steady line would leave a tenth
    time_s = np.arange(FRAMES) / RATE
    hz, first, second = hidden(
        0.3 * np.sin(2 * np.pi * 50.0 * time_s + 0.2 * np.sin(2 * np.pi * time_s / 10.0))
    )
    cleaned, found = remove_hum(hz, first, second, SECONDS)
    assert found is not None
    hum = np.abs(second - RATIO * first)
    # exact: the Bessel function J_1(0.2) = 0.0995 is what a steady line leaves on either side
    assert np.sort(hum)[-2] > 0.08 * hum.max()
    assert np.abs(cleaned - RATIO * first).max() < 0.03 * hum.max()


def test_two_sources_are_both_taken_out() -> None:
    time_s = np.arange(FRAMES) / RATE
    tone = 0.02 * np.sin(2 * np.pi * 49.96 * time_s) + 0.3 * np.sin(2 * np.pi * 60.02 * time_s + 1.0)
    hz, first, second = hidden(tone)
    # a little noise, as there always is
    rng = np.random.default_rng(1)
    second = second + 1e-3 * (rng.standard_normal(hz.size) + 1j * rng.standard_normal(hz.size))
    cleaned, found = remove_hum(hz, first, second, SECONDS)
    assert found is not None
    assert found.mains_hz == pytest.approx(60.02, abs=0.003)  # exact: the louder of the two
    assert min(abs(line - 49.96) for line in found.lines_hz) < 0.01
    for line_hz, height in ((49.96, 0.02), (60.02, 0.3)):
        near = np.abs(hz - line_hz) < 0.5
        assert np.abs(cleaned - RATIO * first)[near].max() < 0.02 * 0.5 * height * SECONDS + 5e-3
