"""Mains hum in the ratio of two channels: found as lines that the ratio cannot explain, and taken out.

Only the part of the hum that does not pass through the measured object matters: hum_2 - ratio hum_1. Around
each mains harmonic the second spectrum is modelled as a smooth ratio times the first plus one spectral line;
the line's frequency is the one that explains most, and its height and phase may wander slowly over the record.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import spherical_jn

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

FAMILIES = ((45.0, 66.0, (1, 2, 3)), (16.4, 17.0, (1,)))
"""Where the fundamental is looked for, Hz, and which multiples may stand for it: 50 and 60 Hz grids and lone
generators, whose fundamental may be fainter than its multiples (a rectifier has twice the mains frequency); railway
current of 16.7 Hz (common practice)."""

MOST_SOURCES = 3
"""Two grids in one recording are rare, but a lone generator beside the grid is not."""

BESIDE_BINS = 4.0
"""What is left this near to a line that was taken out is no line of its own."""

FAINTEST = 3e-6
"""Power of a source over that of the strongest one; less is what taking that one out leaves behind."""

HALF_WINDOW_HZ = 2.0
HALF_WINDOW_BINS = 16.0
POLYNOMIAL_TERMS = 6
"""On 2 Hz to either side six terms follow a resonance of Q = 10 at 45 Hz to 0.3 % of its height."""

FINEST_STEP = 3e-3
"""A line off by this share of a bin leaves 1 % of its amplitude, pi times the share, in the next order."""

WANDERING = 4
"""Legendre polynomials of time that a line's amplitude may follow: a mains frequency that swings by 0.02 Hz within
10 s turns the phase by 0.2 rad."""

STANDS_OUT = 12.0
"""Fourth difference of the ratio over its median around, where a line is worth a closer look."""

SIGNIFICANT = 30.0
"""Explained power over the residual's mean power per bin; pure noise passes once in 10^9 (exp(-30) times trials)."""

DIFFERENCE = np.array([1.0, -4.0, 6.0, -4.0, 1.0])


@dataclass(frozen=True)
class Hum:
    """Mains hum that was taken out.

    mains_hz: its fundamental
    amplitude: peak amplitude of the strongest harmonic in channel 2, in the samples' unit
    lines_hz: the harmonics that were found, as taken out
    """

    mains_hz: float
    amplitude: float
    lines_hz: tuple[float, ...]


@dataclass(frozen=True)
class _Family:
    """The lines of one fundamental: what explains them in the second spectrum, and the power explained."""

    hum: Hum
    lines: Complexes
    power: float


def remove_hum(
    frequency_hz: Reals,
    spectrum_1: Complexes,
    spectrum_2: Complexes,
    seconds: float,
    fade_s: float = 0.0,
    highest_hz: float = 320.0,
) -> tuple[Complexes, Hum | None]:
    """Return spectrum_2 without the hum, and what the hum was (None: none found).

    frequency_hz: shape (n,), evenly spaced bins of a record `seconds` long
    spectrum_1, spectrum_2: shape (n,), Fourier integrals of the channels (sum of samples times the sample period)
    fade_s: raised-cosine fade that the record was given at either end, s
    highest_hz: harmonics above are left
    """
    record = (seconds, fade_s)
    cleaned, strongest = spectrum_2, 0.0
    hum: Hum | None = None
    for lowest, highest, multiples in FAMILIES:
        for _ in range(MOST_SOURCES):
            standing = _standing_out(spectrum_1, cleaned)
            taken: tuple[float, ...] = () if hum is None else hum.lines_hz
            for line_hz in taken:
                standing[np.abs(frequency_hz - line_hz) < BESIDE_BINS / seconds] = 0.0
            best: _Family | None = None
            for mains_hz in _candidates(frequency_hz, standing, (lowest, highest), multiples):
                family = _family(frequency_hz, spectrum_1, cleaned, record, mains_hz, highest_hz)
                if family is not None and (best is None or family.power > best.power):
                    best = family
            if best is None or best.power < FAINTEST * strongest:
                break
            strongest = max(strongest, best.power)
            cleaned = cleaned - best.lines
            hum = best.hum if hum is None else _joined(hum, best.hum)
    return cleaned, hum


def _joined(one: Hum, other: Hum) -> Hum:
    louder = one if one.amplitude >= other.amplitude else other
    return Hum(louder.mains_hz, louder.amplitude, (*one.lines_hz, *other.lines_hz))


def _standing_out(spectrum_1: Complexes, spectrum_2: Complexes) -> Reals:
    """Return how far each bin's ratio stands out of its neighbours', over the median of the bins around."""
    power = np.abs(spectrum_1) ** 2
    power = np.maximum(power, max(1e-30 * float(power.max()), 1e-200))
    if power.size < 64:
        return np.zeros(power.size)
    rough = np.convolve(spectrum_2 * np.conj(spectrum_1) / power, DIFFERENCE, mode="valid")
    rough = np.pad(np.abs(rough) ** 2 / np.convolve(1.0 / power, DIFFERENCE**2, mode="valid"), 2, mode="edge")
    blocks = rough[: rough.size // 32 * 32].reshape(-1, 32)
    floor = np.interp(np.arange(rough.size), 32.0 * np.arange(len(blocks)) + 15.5, np.median(blocks, axis=1))
    return np.asarray(rough / np.maximum(floor, 1e-300))


def _candidates(
    frequency_hz: Reals, standing: Reals, range_hz: tuple[float, float], multiples: tuple[int, ...]
) -> list[float]:
    """Return fundamentals whose lines, or whose multiples' lines, stand out."""
    found: list[float] = []
    for multiple in multiples:
        inside = np.flatnonzero(
            (frequency_hz >= multiple * range_hz[0]) & (frequency_hz <= multiple * range_hz[1])
        )
        if inside.size == 0:
            continue
        best = int(inside[np.argmax(standing[inside])])
        mains_hz = float(frequency_hz[best]) / multiple
        near = [other for other in found if abs(other - mains_hz) < 2.0 * (frequency_hz[1] - frequency_hz[0])]
        if standing[best] > STANDS_OUT and not near:
            found.append(mains_hz)
    return found


def _family(
    frequency_hz: Reals,
    spectrum_1: Complexes,
    spectrum_2: Complexes,
    record: tuple[float, float],
    mains_hz: float,
    highest_hz: float,
) -> _Family | None:
    """Return the lines of a fundamental near `mains_hz` and of its multiples, None where none is significant."""
    lines = np.zeros(spectrum_2.size, dtype=np.complex128)
    found: list[float] = []
    explained, amplitude = 0.0, 0.0
    for harmonic in range(1, int(highest_hz / mains_hz) + 1):
        reach = (0.5 if found else 1.5) / record[0] * harmonic
        line = _strongest_line(
            frequency_hz, spectrum_1, spectrum_2 - lines, record, mains_hz * harmonic, reach
        )
        if line is None:
            continue
        line_hz, heights, power = line
        if not found:
            mains_hz = line_hz / harmonic
        lines += _line_spectra(frequency_hz, line_hz, record, heights.size) @ heights
        # the line at the negative frequency; the polynomials are real, so its heights are the conjugates
        lines += _line_spectra(frequency_hz, -line_hz, record, heights.size) @ np.conj(heights)
        amplitude = max(amplitude, 2.0 * abs(complex(heights[0])))
        explained += power
        found.append(line_hz)
    return _Family(Hum(mains_hz, amplitude, tuple(found)), lines, explained) if found else None


def _line_spectra(
    frequency_hz: Reals, line_hz: Reals | float, record: tuple[float, float], orders: int
) -> Complexes:
    """Return the Fourier integrals of P_n(t) exp(j 2 pi line_hz t) over 0..seconds, shape (..., orders).

    frequency_hz, line_hz: shapes that broadcast to (...)

    P_n is the Legendre polynomial over the record; its transform is a spherical Bessel function. A record with
    raised-cosine fades has only the order 0: the window is a rectangle shorter by one fade, smoothed by half a
    cosine as long as the fade, and its transform is the product of both.
    """
    seconds, fade_s = record
    away = frequency_hz - line_hz
    turn = np.exp(-1j * np.pi * away * seconds)
    if fade_s <= 0.0:
        columns = [
            seconds * (-1j) ** order * _bessel(order, np.pi * away * seconds) * turn
            for order in range(orders)
        ]
        return np.asarray(np.stack(columns, axis=-1), dtype=np.complex128)
    level = seconds - fade_s
    turns = 2.0 * away * fade_s
    # cos(pi x / 2) / (1 - x^2), whose value at x = 1 is pi / 4
    pole = np.abs(1.0 - turns**2) < 1e-6
    rest = np.where(pole, 1.0, 1.0 - turns**2)
    fade = np.where(pole, np.pi / 4.0, np.cos(0.5 * np.pi * turns) / rest)
    return np.asarray((level * np.sinc(away * level) * turn * fade)[..., None], dtype=np.complex128)


def _bessel(order: int, x: Reals) -> Reals:
    """Return the spherical Bessel function, even or odd in x as its order is."""
    if order == 0:
        return np.asarray(np.sinc(x / np.pi))
    return np.asarray(spherical_jn(order, np.abs(x)) * np.where(x < 0.0, (-1.0) ** order, 1.0))


def _strongest_line(
    frequency_hz: Reals,
    spectrum_1: Complexes,
    spectrum_2: Complexes,
    record: tuple[float, float],
    near_hz: float,
    reach_hz: float,
) -> tuple[float, Complexes, float] | None:
    """Return frequency, complex heights and explained power of the line within reach, None if not significant."""
    seconds, fade_s = record
    half = max(HALF_WINDOW_HZ, HALF_WINDOW_BINS / seconds)
    inside = slice(*np.searchsorted(frequency_hz, (near_hz - reach_hz - half, near_hz + reach_hz + half)))
    bins, target = frequency_hz[inside], spectrum_2[inside]
    if bins.size < 4 * POLYNOMIAL_TERMS:
        return None
    offset = 2.0 * (bins - bins[0]) / (bins[-1] - bins[0]) - 1.0
    smooth = spectrum_1[inside, None] * np.polynomial.chebyshev.chebvander(offset, POLYNOMIAL_TERMS - 1)
    basis, _ = np.linalg.qr(smooth)
    rest = target - basis @ (basis.conj().T @ target)

    def explained(lines_hz: Reals) -> Reals:
        lines = _line_spectra(bins[:, None], lines_hz, record, 1)[..., 0]
        lines = lines - basis @ (basis.conj().T @ lines)
        energy = np.sum(np.abs(lines) ** 2, axis=0)
        return np.asarray(np.abs(lines.conj().T @ rest) ** 2 / energy)

    step = 0.5 / seconds
    candidates = near_hz + np.arange(-reach_hz, reach_hz + 1e-9, step)
    while True:
        power = explained(candidates)
        best = int(np.argmax(power))
        line_hz = float(candidates[best])
        if step < FINEST_STEP / seconds:
            break
        candidates = line_hz + step * np.linspace(-1.0, 1.0, 9)
        step /= 4.0
    orders = 1 if fade_s > 0.0 else WANDERING
    lines = _line_spectra(bins, line_hz, record, orders)
    # lines in the unit of the spectrum's own columns, so that both are resolved equally well
    scale = float(np.linalg.norm(smooth)) / float(np.linalg.norm(lines))
    solved = np.linalg.lstsq(np.concatenate([smooth, scale * lines], axis=1), target, rcond=None)[0]
    left = target - smooth @ solved[:POLYNOMIAL_TERMS] - scale * (lines @ solved[POLYNOMIAL_TERMS:])
    freedom = bins.size - POLYNOMIAL_TERMS - orders - 1
    if float(power[best]) < SIGNIFICANT * max(float(np.sum(np.abs(left) ** 2)), 1e-300) / freedom:
        return None
    heights = np.asarray(scale * solved[POLYNOMIAL_TERMS:], dtype=np.complex128)
    return line_hz, heights, float(power[best])
