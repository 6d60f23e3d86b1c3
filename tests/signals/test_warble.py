"""The warbled tone and how late a channel carries it."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import correlate

from sealtune.signals.warble import Baseband, Warble, find_delay

RATE_HZ = 48000.0
HOP = 320


def heard(
    warble: Warble, delay_s: float, noise: float, seed: int = 1, seconds: float = 4.0
) -> NDArray[np.float64]:
    rng = np.random.default_rng(seed)
    time_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return np.asarray(
        np.sin(warble.phase(time_s - delay_s) + 1.234) + noise * rng.standard_normal(time_s.size)
    )


def found(channel: NDArray[np.float64], warble: Warble) -> tuple[float, float]:
    bands = Baseband(RATE_HZ, warble.centre_hz, HOP, 1).add(channel[:, None])[:, 0]
    return find_delay(bands, (np.arange(bands.size, dtype=np.float64) + 0.5) * HOP / RATE_HZ, warble)


def test_the_phase_is_the_integral_of_the_frequency() -> None:
    # exact: the derivative of the phase is 2 pi (centre + swing cos(2 pi t / period)); a longer swing would fail
    warble = Warble(57.0, 2.0, 2.0)
    time_s = np.linspace(0.0, 3.0, 3001)
    step = 1e-6
    frequency_hz = (warble.phase(time_s + step) - warble.phase(time_s - step)) / (4.0 * np.pi * step)
    assert frequency_hz == pytest.approx(57.0 + 2.0 * np.cos(np.pi * time_s), abs=1e-5)


@pytest.mark.parametrize("delay_s", [0.0032, 0.0253, 0.111, 0.42])
def test_a_delay_is_found_whatever_the_phase(delay_s: float) -> None:
    # exact: what was put in; noise as strong as the tone over the whole band; 20 ms would spoil the detection
    delay, agreement = found(heard(Warble(57.0), delay_s, 0.7), Warble(57.0))
    assert delay == pytest.approx(delay_s, abs=0.002)
    assert agreement > 0.98


def test_the_delay_agrees_with_a_cross_correlation() -> None:
    # independent: the peak of the magnitude of scipy.signal.correlate of the two complex basebands
    warble, delay_s = Warble(57.0), 0.087
    time_s = np.arange(round(4.0 * RATE_HZ)) / RATE_HZ
    played = np.exp(1j * warble.phase(time_s))[::HOP]
    late = np.exp(1j * (warble.phase(time_s - delay_s) + 0.7))[::HOP]
    shifted = np.exp(-2j * np.pi * warble.centre_hz * time_s[::HOP])
    peak = int(np.abs(correlate(late * shifted, played * shifted)).argmax()) - (played.size - 1)
    assert peak * HOP / RATE_HZ == pytest.approx(delay_s, abs=0.007)
    assert found(heard(warble, delay_s, 0.0), warble)[0] == pytest.approx(peak * HOP / RATE_HZ, abs=0.007)


@pytest.mark.parametrize("seed", range(5))
def test_noise_or_another_tone_does_not_agree(seed: int) -> None:
    rng = np.random.default_rng(seed)
    noise = rng.standard_normal(round(4.0 * RATE_HZ))
    time_s = np.arange(noise.size) / RATE_HZ
    assert found(noise, Warble(57.0))[1] < 0.3
    assert found(np.sin(2.0 * np.pi * 50.0 * time_s), Warble(52.0))[1] < 0.4
    assert found(np.zeros(noise.size), Warble(52.0)) == (0.0, 0.0)


def test_blocks_of_any_length_give_the_same_baseband() -> None:
    # exact: nothing depends on how the samples arrive
    channel = heard(Warble(57.0), 0.02, 0.1, seconds=1.0)[:, None]
    whole = Baseband(RATE_HZ, 57.0, HOP, 1).add(channel)
    piecewise = Baseband(RATE_HZ, 57.0, HOP, 1)
    parts = [piecewise.add(channel[first : first + 777]) for first in range(0, channel.shape[0], 777)]
    assert np.concatenate(parts) == pytest.approx(whole, abs=1e-9)
