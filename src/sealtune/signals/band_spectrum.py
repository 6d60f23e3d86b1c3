"""The low end of a long channel's spectrum, exactly, without room for the rest of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len, rfft

ROOM = 2.1
"""Samples per period of the highest frequency in each of the pieces."""


def transform_length(frames: int, rate_hz: float, highest_hz: float) -> int:
    """Return a length, at least `frames`, that `band_spectrum` transforms quickly up to highest_hz."""
    pieces = _pieces(rate_hz, highest_hz)
    return pieces * int(next_fast_len(-(-frames // pieces), real=True))


def band_spectrum(
    channel: NDArray[np.float64],
    rate_hz: float,
    length: int,
    bins: tuple[int, int],
    *,
    highest_hz: float,
    fade: int = 0,
) -> NDArray[np.complex128]:
    """Return the bins of the discrete Fourier transform of a channel, its mean taken off and zeros added behind.

    channel: shape (frames,)
    length: of the transform, from `transform_length` with the same rate and highest frequency
    bins: the first bin returned and the one after the last; the last lies at highest_hz or below
    fade: samples over which either end is faded by a raised cosine
    Every D-th sample is transformed on its own and D such spectra are added with their delays; this is exact, as
    the first step of a fast Fourier transform is, and needs the memory of one piece only.
    """
    pieces = _pieces(rate_hz, highest_hz)
    first, stop = bins
    delay = np.exp((-2j * np.pi / length) * np.arange(first, stop))
    turn = np.ones(stop - first, dtype=np.complex128)
    mean = float(channel.mean())
    total = np.zeros(stop - first, dtype=np.complex128)
    for offset in range(pieces):
        piece = channel[offset::pieces] - mean
        if fade > 0:
            _fade(piece, offset, pieces, channel.size, fade)
        total += turn * rfft(piece, length // pieces, overwrite_x=True)[first:stop]
        turn *= delay
    return total


def _pieces(rate_hz: float, highest_hz: float) -> int:
    return min(max(1, int(rate_hz / (ROOM * highest_hz))), 32)


def _fade(piece: NDArray[np.float64], offset: int, step: int, frames: int, fade: int) -> None:
    """Fade in place the samples offset, offset + step, ... of a channel of that many frames."""
    place = offset + step * np.arange(piece.size)
    for away in (place, frames - 1 - place):
        inside = away < fade
        piece[inside] *= 0.5 - 0.5 * np.cos(np.pi * away[inside] / fade)
