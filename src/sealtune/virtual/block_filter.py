"""Long filters applied block by block, and the disturbance of an input block by block."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.virtual.sound_card import SoundCard, round_length

Real = NDArray[np.float64]

_PINK_SECONDS = 1.0
"""Noise with 3 dB less per octave is made by a filter of this length, so it levels off below 1 Hz."""


class BlockFilter:
    """Convolution of a stream with one or more long impulse responses, in blocks, by partitioned transforms."""

    def __init__(self, taps: Real, block_frames: int) -> None:
        """Prepare the filters.

        taps: shape (filters, n)
        block_frames: frames of each block
        """
        filters, length = taps.shape
        parts = -(-length // block_frames)
        padded = np.zeros((filters, parts * block_frames))
        padded[:, :length] = taps
        pieces = padded.reshape(filters, parts, block_frames)
        self._spectra = np.fft.rfft(pieces, 2 * block_frames, axis=2)
        self._heard = np.zeros((parts, block_frames + 1), dtype=np.complex128)
        self._newest = 0
        self._sounding = 0  # parts since the first block that was not silent
        self._before = np.zeros(block_frames)

    def __call__(self, block: Real) -> Real:
        """Return the outputs for the next block of input, shape (filters, block_frames)."""
        parts, frames = self._heard.shape[0], block.size
        self.take(block)
        # what came before the first sound is nothing and adds nothing
        head = min(parts - self._newest, self._sounding)
        total = np.einsum("fpk,pk->fk", self._spectra[:, :head], self._heard[self._newest :][:head])
        if head < self._sounding:
            rest = self._sounding - head
            total += np.einsum("fpk,pk->fk", self._spectra[:, head : head + rest], self._heard[:rest])
        return np.asarray(np.fft.irfft(total, 2 * frames, axis=1)[:, frames:])

    def take(self, block: Real) -> None:
        """Let the next block of input pass without asking for what comes out."""
        parts = self._heard.shape[0]
        self._newest = (self._newest - 1) % parts
        self._heard[self._newest] = np.fft.rfft(np.concatenate([self._before, block]))
        self._before = block.copy()
        if self._sounding or block.any():
            self._sounding = min(self._sounding + 1, parts)


class Disturbance:
    """Noise, hum and offset of both inputs, as they go on from block to block."""

    def __init__(self, card: SoundCard, rate_hz: float, block_frames: int, rng: np.random.Generator) -> None:
        self._card, self._rate_hz, self._rng = card, rate_hz, rng
        self._frame = 0
        self._pink: list[BlockFilter] = []
        if card.pink_dbfs is not None:
            length = round_length(round(2.0 * _PINK_SECONDS * rate_hz))
            shape = 1.0 / np.sqrt(np.maximum(np.fft.rfftfreq(length, 1.0 / rate_hz), 1.0))
            taps = np.roll(np.fft.irfft(shape, length), length // 2)
            taps *= 10.0 ** (card.pink_dbfs / 20.0) / np.sqrt(np.sum(taps**2))
            self._pink = [BlockFilter(taps[None, :], block_frames) for _ in (1, 2)]
            for coloured in self._pink:  # so that the noise is there from the first block on
                for _ in range(-(-length // block_frames)):
                    coloured.take(rng.standard_normal(block_frames))
        self._mains_hz = card.mains_hz + float(rng.uniform(-0.1, 0.1))
        self._phases = rng.uniform(0.0, 2.0 * np.pi, card.hum_harmonics)

    def next(self, frames: int) -> Real:
        """Return what is added to the next frames, shape (frames, 2), full scale 1.0."""
        card = self._card
        added = np.full((frames, 2), card.offset)
        if card.noise_dbfs is not None:
            added += 10.0 ** (card.noise_dbfs / 20.0) * self._rng.standard_normal((frames, 2))
        for channel, coloured in enumerate(self._pink):
            added[:, channel] += coloured(self._rng.standard_normal(frames))[0]
        if card.hum_dbfs is not None:
            turns = (self._frame + np.arange(frames)) * (2.0 * np.pi * self._mains_hz / self._rate_hz)
            tone = np.zeros(frames)
            for multiple, phase in enumerate(self._phases, start=1):
                tone += 0.5 ** (multiple - 1) * np.sin(multiple * turns + phase)
            added += 10.0 ** (card.hum_dbfs / 20.0) * tone[:, None] * np.array([0.25, 1.0])
        self._frame += frames
        return added
