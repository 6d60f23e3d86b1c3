"""When a sweep plays each frequency: by its formula, and by the phase of what was recorded."""

from __future__ import annotations

import numpy as np
import pytest

from sealtune.records.recording import Sweep
from sealtune.signals.sweep import sweep_samples, sweep_seconds
from sealtune.signals.timing import played_by_phase, played_by_sweep

RATE_HZ = 8000.0
SWEEP = Sweep(6.0, 1000.0, 8.0, fade_s=0.05)
AT_HZ = np.geomspace(8.0, 900.0, 40)


def spectrum(samples: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return np.fft.rfftfreq(samples.size, 1.0 / RATE_HZ)[1:], np.fft.rfft(samples)[1:]


def test_an_exponential_sweep_passes_equal_ratios_in_equal_times() -> None:
    played = played_by_sweep(np.array([6.0, np.sqrt(6000.0), 1000.0]), SWEEP, 1.0 / RATE_HZ)
    # exact: begin, middle and end
    assert played.when == pytest.approx([-0.5, 0.0, 0.5], abs=1e-12)
    # exact: the length over the logarithm of the ratio of its ends
    assert played.rate_s == pytest.approx(sweep_seconds(SWEEP) / np.log(1000.0 / 6.0), rel=1e-12)


@pytest.mark.parametrize("silence_s", [0.0, 0.7])
def test_the_phase_tells_the_same(silence_s: float) -> None:
    silence = np.zeros(round(silence_s * RATE_HZ))
    samples = np.concatenate([silence, sweep_samples(SWEEP, RATE_HZ), silence])
    found = played_by_phase(*spectrum(samples), AT_HZ, 1.0 / RATE_HZ)
    assert found is not None
    known = played_by_sweep(AT_HZ, SWEEP, 1.0 / RATE_HZ)
    assert found.rate_s == pytest.approx(known.rate_s, rel=0.02)
    # exact up to the ends of what is asked for, which are -1/2 and 1/2 here; cells of a sixth of an octave blur 0.01
    exact = np.log(AT_HZ / AT_HZ[0]) / np.log(AT_HZ[-1] / AT_HZ[0]) - 0.5
    assert found.when == pytest.approx(exact, abs=0.02)


def test_noise_and_multitones_are_played_all_the_time() -> None:
    rng = np.random.default_rng(4)
    assert played_by_phase(*spectrum(rng.standard_normal(80000)), AT_HZ, 1.0 / RATE_HZ) is None
    time_s = np.arange(80000) / RATE_HZ
    tones = sum(
        np.sin(2.0 * np.pi * f * time_s + rng.uniform(0.0, 6.28)) for f in np.arange(5.0, 1000.0, 0.5)
    )
    assert played_by_phase(*spectrum(np.asarray(tones)), AT_HZ, 1.0 / RATE_HZ) is None
