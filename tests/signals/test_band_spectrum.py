"""The low end of a spectrum against the whole transform."""

import numpy as np
import pytest

from sealtune.signals.band_spectrum import band_spectrum, transform_length


@pytest.mark.parametrize("frames", [9000, 9001, 48017])
@pytest.mark.parametrize("fade", [0, 300])
@pytest.mark.parametrize("highest_hz", [100.0, 1000.0, 20000.0])
def test_bins_are_those_of_the_whole_transform(frames: int, fade: int, highest_hz: float) -> None:
    rng = np.random.default_rng(frames)
    rate_hz = 44100.0
    channel = 0.3 + rng.standard_normal(frames)
    length = transform_length(frames, rate_hz, highest_hz)
    assert frames <= length <= 1.1 * frames + 64
    window = np.ones(frames)
    if fade:
        ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / fade)
        window[:fade], window[-fade:] = ramp, ramp[::-1]
    stop = int(highest_hz * length / rate_hz)
    found = band_spectrum(channel, rate_hz, length, (1, stop), highest_hz=highest_hz, fade=fade)
    # exact: the definition of the discrete Fourier transform
    expected = np.fft.rfft((channel - channel.mean()) * window, length)[1:stop]
    np.testing.assert_allclose(found, expected, atol=1e-9 * float(np.abs(expected).max()))
