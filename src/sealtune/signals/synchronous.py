"""Whether a noise swells and fades in step with a tone, and how strongly, whatever else is heard.

A leak hisses twice in every period of the tone, once while the air streams out and once while it streams in: the
power of the hiss swings at twice the tone's frequency. Each band's power is divided by its own running mean, weighted
by how little else is heard there at that moment, and turned back by the tone's phase. What swings in step then stands
still: it lies at 0 Hz of the turned powers' spectrum. All that knows nothing of the tone lies there by chance, as it
lies at the frequencies beside it, and these tell how large that chance is [Thomson1982].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

HARMONIC = 2
"""The hiss swings so many times in a period of the tone."""

NEIGHBOUR_HZ = 8.0
"""Frequencies to either side of the tone's harmonic that tell how large chance is, the nearer the more."""

FEWEST_NEIGHBOURS = 6
"""Of a short window, whose neighbours lie further apart."""

MEAN_OVER_PERIODS = 3
"""Periods of the tone over which the running mean of a band's power goes."""

CLIPPED = 4.0
"""A click counts as no more than so many times the running mean."""

MAINS_LINES_HZ = (100.0, 120.0)
"""Lamps, chokes and motors hiss at twice the mains frequency, which the tone's own double often comes near."""

QUIET_SHARE = 0.4
"""In the quietest part of the window all moments weigh alike: a single silent instant must not decide."""


@dataclass(frozen=True)
class Swelling:
    """How the bands together swell and fade, moment by moment, turned back by the tone's phase.

    weighted: swing of the power, weighted by how little else is heard, shape (n,), complex
    gain: what a swing in step of density 1 would add to it, shape (n,)
    relative: swing over the running mean, the bands weighted but the moments alike, shape (n,), complex
    density: swing over the bands' widths, in the unit of the powers, shape (n,), complex
    room: power of all that is heard over the bands' widths, in the same unit, shape (n,)
    frames_per_s: moments per second
    """

    weighted: Complexes
    gain: Reals
    relative: Complexes
    density: Complexes
    room: Reals
    frames_per_s: float


@dataclass(frozen=True)
class InStep:
    """What swings in step with the tone.

    density: amplitude of the swing of the power over the bands' widths, in the unit of the powers
    ratio: power in step over that beside it; 1 on average where nothing is in step
    chance: probability of such a ratio where nothing is in step, 0..1
    room: mean power of all that is heard, over the bands' widths, in the same unit
    """

    density: float
    ratio: float
    chance: float
    room: float


def swelling(powers: Reals, widths: Reals, phase: Reals, frames_per_s: float) -> Swelling:
    """Return how the bands swell, seen from the tone.

    powers: of the bands, evenly spaced in time, shape (n, bands), >= 0
    widths: of the bands, any unit, shape (bands,)
    phase: the tone's at the microphone but for an unknown constant, rad, shape (n,)
    frames_per_s: moments per second
    What swells in step with the mains is taken out; that needs a window of more than a second, and a tone that warbles
    where its double comes near.
    """
    turns = float(phase[-1] - phase[0]) / (2.0 * np.pi)
    mean = _running_mean(powers, max(round(MEAN_OVER_PERIODS * powers.shape[0] / turns), 3))
    mean = np.maximum(mean, 1e-30)
    swing = np.minimum(powers / mean, CLIPPED) - 1.0
    # the relative swing of a band has a variance of 1 / width: these weights are the likelihood's
    moments = widths**2 / np.maximum(mean, np.quantile(mean, QUIET_SHARE, axis=0))
    bands = widths**2 / np.median(mean, axis=0)
    shares = bands**2 / widths
    both = np.stack([(swing * moments).sum(axis=1), swing @ bands], axis=1)
    turn = np.exp(-1j * HARMONIC * phase)
    weighted, relative = (_without_mains(both, frames_per_s) * turn[:, None]).T
    return Swelling(
        weighted=weighted,
        gain=np.asarray((moments * widths / mean).sum(axis=1)),
        relative=relative,
        density=np.asarray((swing * mean) @ (shares / widths) / shares.sum() * turn),
        room=np.asarray((mean / widths).mean(axis=1)),
        frames_per_s=frames_per_s,
    )


def in_step(seen: Swelling) -> InStep:
    """Return what swings in step with the tone over the whole window, at least a second.

    The chance is that of the F distribution with 2 degrees of freedom and those of the neighbours. It holds for any
    noise whose swelling has a spectrum that is even over the neighbours, and for lines in that spectrum if the tone
    warbles. What follows the tone itself (a rattling part, the vent's air) is in step and is told as such.
    """
    fitted, ratio, chance = _test(seen.weighted, seen.gain, seen.frames_per_s)
    return InStep(2.0 * abs(fitted), ratio, chance, float(seen.room.mean()))


def in_step_now(seen: Swelling, last_s: float) -> InStep:
    """Return the same of the last seconds alone, quick to show a hiss that has only begun.

    last_s: at least six periods of the tone
    All moments count alike: a hiss louder than the room must not be held against itself.
    """
    count = round(last_s * seen.frames_per_s)
    _, ratio, chance = _test(seen.relative[-count:], np.ones(count), seen.frames_per_s)
    density = 2.0 * abs(complex(seen.density[-count:].mean()))
    return InStep(density, ratio, chance, float(seen.room[-count:].mean()))


def _test(turned: Complexes, gain: Reals, frames_per_s: float) -> tuple[complex, float, float]:
    """Return how many times the gain lies in the turned series, the power of that over chance, and its probability.

    Neighbours count the more the nearer they are, by a raised cosine; the sum is taken as a chi-squared variable of as
    many degrees of freedom as have its variance [Satterthwaite1946].
    """
    beside = max(round(NEIGHBOUR_HZ * gain.size / frames_per_s), FEWEST_NEIGHBOURS)
    bins, shape = _about_zero(turned, beside), _about_zero(gain.astype(np.complex128), beside)
    power = float(np.sum(np.abs(shape) ** 2))
    fitted = complex(np.vdot(shape, bins)) / power
    weight = 0.5 + 0.5 * np.cos(np.pi * np.arange(-beside, beside + 1) / (beside + 1))
    weight[beside] = 0.0
    rest = float(weight @ np.abs(bins - fitted * shape) ** 2) / float(weight.sum())
    even = float(gain.sum() ** 2 / (gain @ gain)) / gain.size  # the share of the window that really counts
    others = max(float(weight.sum() ** 2 / (weight @ weight)) * even, 1.0)
    ratio = abs(fitted) ** 2 * power / max(rest, 1e-300)
    return fitted, ratio, float((1.0 + ratio / others) ** -others)  # the tail of F with 2 and 2 `others`


def _about_zero(series: Complexes, beside: int) -> Complexes:
    """Return the bins -beside..beside of the discrete Fourier transform, shape (2 beside + 1,)."""
    spectrum = np.fft.fft(series)
    return np.concatenate([spectrum[-beside:], spectrum[: beside + 1]])


def _running_mean(powers: Reals, length: int) -> Reals:
    """Return the mean over a raised cosine of that length about each moment, shorter at the ends."""
    window = np.hanning(length + 2)[1:-1]
    held = np.convolve(np.ones(powers.shape[0]), window, mode="same")
    return np.stack([np.convolve(band, window, mode="same") / held for band in powers.T], axis=1)


def _without_mains(series: Reals, frames_per_s: float) -> Reals:
    """Return series, shape (n, any), less what lies within 0.2 Hz of twice the mains frequencies."""
    time_s = np.arange(series.shape[0]) / frames_per_s
    offset = 2.0 * time_s / time_s[-1] - 1.0
    columns = []
    for line_hz in MAINS_LINES_HZ:
        line = np.exp(2j * np.pi * line_hz * time_s)
        columns += [line.real, line.imag, offset * line.real, offset * line.imag]
    basis, _ = np.linalg.qr(np.stack(columns, axis=1))
    return np.asarray(series - basis @ (basis.T @ series))
