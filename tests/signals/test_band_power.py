"""Powers of the bands, block by block."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.signal import butter, sosfilt, stft

from sealtune.signals.band_power import EDGES_HZ, BandPowers


@pytest.mark.parametrize("rate_hz", [44100.0, 48000.0, 96000.0])
def test_agrees_with_a_spectrogram(rate_hz: float) -> None:
    # independent: scipy.signal.stft of the high-passed noise, its bins summed between the edges
    noise = np.random.default_rng(1).standard_normal(round(rate_hz))
    bands = BandPowers(rate_hz)
    powers = bands.add(noise)
    length = 2 * bands.hop
    high = sosfilt(butter(6, EDGES_HZ[0], "highpass", fs=rate_hz, output="sos"), noise)
    hz, _, spectra = stft(
        high, rate_hz, "hann", length, length - bands.hop, boundary=None, padded=False, scaling="spectrum"
    )
    # that scaling divides by the sum of the window, which is half its length
    squares = np.abs(spectra * length / 2.0) ** 2
    for n, (low, high_hz) in enumerate(pairwise(EDGES_HZ)):
        expected = squares[(hz >= low) & (hz < high_hz)].sum(axis=0)
        assert powers[1 : 1 + expected.size, n] == pytest.approx(expected[: powers.shape[0] - 1], rel=1e-6)


def test_white_noise_has_the_power_of_its_bins() -> None:
    # exact: a bin of white noise of variance 1 has the mean power sum(w^2) = 3/8 of a Hann window's length
    bands = BandPowers(48000.0)
    powers = bands.add(np.random.default_rng(2).standard_normal(480000))
    inner = powers[100:, 2:].mean(axis=0) / bands.widths[2:]  # away from the high-pass's edge
    assert inner == pytest.approx(0.375 * 2 * bands.hop, rel=0.02)


def test_blocks_of_any_length_give_the_same_powers() -> None:
    # exact: nothing depends on how the samples arrive
    noise = np.random.default_rng(3).standard_normal(20000)
    whole = BandPowers(48000.0).add(noise)
    piecewise = BandPowers(48000.0)
    parts = [piecewise.add(noise[first : first + 333]) for first in range(0, noise.size, 333)]
    assert np.concatenate(parts) == pytest.approx(whole, rel=1e-9, abs=1e-12)


def test_a_tone_a_million_times_stronger_than_the_hiss_is_not_heard() -> None:
    # exact: the tone adds nothing; a high-pass of order 2 would let -63 dB of it through, 1000 times the hiss
    time_s = np.arange(96000) / 48000.0
    hiss = 1e-3 * np.random.default_rng(4).standard_normal(time_s.size)
    quiet = BandPowers(48000.0).add(hiss)[200:]
    loud = BandPowers(48000.0).add(hiss + np.sin(2.0 * np.pi * 57.0 * time_s))[200:]
    assert loud.mean(axis=0) == pytest.approx(quiet.mean(axis=0), rel=0.01)
