"""The power in the bands of a hiss, some hundred times a second, from blocks as they come."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]

EDGES_HZ = (2000.0, 3000.0, 4500.0, 7000.0, 10500.0, 16000.0)
"""Edges of the bands. Below, voices, music and the loudspeaker's own overtones are loud; above, few microphones
hear. The bands are half an octave wide, so that a noise that fills one leaves the others free."""

FRAMES_PER_S = 750.0
"""Powers per second: twice the played tone, up to 300 Hz, is still followed."""


class BandPowers:
    """Powers of one channel in the bands, from blocks of any length."""

    def __init__(self, rate_hz: float) -> None:
        """Begin with silence.

        rate_hz: samples per second, at least 8000; bands that do not fit below 0.45 of it are left out
        """
        from scipy.signal import butter

        self.hop = round(rate_hz / FRAMES_PER_S)
        self.rate_hz = rate_hz
        edges_hz = [edge for edge in EDGES_HZ if edge <= 0.45 * rate_hz]
        # the tone itself is a hundred times louder than the hiss; this takes off over 150 dB of it below 100 Hz
        self._filter = butter(6, edges_hz[0], "highpass", fs=rate_hz, output="sos")
        self._state = np.zeros((self._filter.shape[0], 2))
        length = 2 * self.hop
        self._window = np.hanning(length + 1)[:-1]
        bins = np.searchsorted(np.fft.rfftfreq(length, 1.0 / rate_hz), edges_hz)
        self._first, self._starts = int(bins[0]), bins[:-1] - bins[0]
        self._last = int(bins[-1])
        self.widths: Reals = np.diff(bins).astype(np.float64)
        self._rest = np.zeros(length - self.hop)

    def add(self, block: Reals) -> Reals:
        """Return the powers that became complete, shape (n, bands).

        block: shape (frames,)
        The n-th power of all lies in the middle of the hop's first sample: at n * hop samples from the beginning.
        """
        from scipy.signal import sosfilt

        filtered, self._state = sosfilt(self._filter, block, zi=self._state)
        held = np.concatenate([self._rest, filtered])
        count = max((held.size - self.hop) // self.hop, 0)
        self._rest = held[count * self.hop :]
        if count == 0:
            return np.zeros((0, self.widths.size))
        frames = np.lib.stride_tricks.sliding_window_view(held, 2 * self.hop)[:: self.hop][:count]
        spectra = np.fft.rfft(frames * self._window, axis=1)[:, self._first : self._last]
        return np.asarray(np.add.reduceat(spectra.real**2 + spectra.imag**2, self._starts, axis=1))
