"""Mains hum in the ratio of two channels: found as a line that the ratio cannot explain, and taken out.

Only the part of the hum that does not pass through the measured object matters: hum_2 - ratio hum_1. Around
each mains harmonic the second spectrum is modelled as a smooth ratio times the first plus one spectral line;
the line's frequency is the one that explains most.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

MAINS_HZ = (50.0, 60.0)
SEARCH_HZ = 1.0
"""How far the mains may be from nominal; public grids stay within (common practice: 0.5 Hz)."""

HALF_WINDOW_HZ = 4.0
POLYNOMIAL_TERMS = 6
FINEST_STEP = 3e-4
"""A line off by this share of a bin leaves 0.1 % of its amplitude, pi times the share."""

SIGNIFICANT = 30.0
"""Explained power over the residual's mean power per bin; pure noise passes once in 10^9 (exp(-30) times trials)."""


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
    """
    record = (seconds, fade_s)
    best: tuple[float, Complexes, Hum] | None = None
    for nominal in MAINS_HZ:
        cleaned, explained = spectrum_2.copy(), 0.0
        mains, amplitude = nominal, 0.0
        found: list[float] = []
        for harmonic in range(1, int(highest_hz / nominal) + 1):
            reach = 0.5 / seconds if found else SEARCH_HZ
            line = _strongest_line(
                frequency_hz, spectrum_1, cleaned, record, mains * harmonic, reach * harmonic
            )
            if line is None:
                continue
            line_hz, line_amplitude, power = line
            if not found:
                mains = line_hz / harmonic
            cleaned -= line_amplitude * _line_spectrum(frequency_hz, line_hz, record)
            cleaned -= np.conj(line_amplitude) * _line_spectrum(frequency_hz, -line_hz, record)
            amplitude = max(amplitude, 2.0 * abs(line_amplitude))
            explained += power
            found.append(line_hz)
        if found and (best is None or explained > best[0]):
            best = (explained, cleaned, Hum(mains, amplitude, tuple(found)))
    return (spectrum_2, None) if best is None else (best[1], best[2])


def _line_spectrum(frequency_hz: Reals, line_hz: float, record: tuple[float, float]) -> Complexes:
    """Return the Fourier integral of exp(j 2 pi line_hz t) over 0..seconds with raised-cosine fades.

    The window is a rectangle shorter by one fade, smoothed by half a cosine as long as the fade; its transform
    is the product of both.
    """
    seconds, fade_s = record
    away = frequency_hz - line_hz
    level = seconds - fade_s
    spectrum = level * np.sinc(away * level) * np.exp(-1j * np.pi * away * seconds)
    if fade_s > 0.0:
        turns = 2.0 * away * fade_s
        # cos(pi x / 2) / (1 - x^2), whose value at x = 1 is pi / 4
        pole = np.abs(1.0 - turns**2) < 1e-6
        rest = np.where(pole, 1.0, 1.0 - turns**2)
        spectrum = spectrum * np.where(pole, np.pi / 4.0, np.cos(0.5 * np.pi * turns) / rest)
    return np.asarray(spectrum)


def _strongest_line(
    frequency_hz: Reals,
    spectrum_1: Complexes,
    spectrum_2: Complexes,
    record: tuple[float, float],
    near_hz: float,
    reach_hz: float,
) -> tuple[float, complex, float] | None:
    """Return frequency, complex amplitude and explained power of the line within reach, None if not significant."""
    seconds = record[0]
    inside = np.abs(frequency_hz - near_hz) <= max(HALF_WINDOW_HZ, reach_hz + 2.0)
    if inside.sum() < 4 * POLYNOMIAL_TERMS:
        return None
    bins, target = frequency_hz[inside], spectrum_2[inside]
    offset = (bins - near_hz) / (bins[-1] - near_hz)
    basis, _ = np.linalg.qr(
        spectrum_1[inside, None] * np.polynomial.chebyshev.chebvander(offset, POLYNOMIAL_TERMS - 1)
    )
    rest = target - basis @ (basis.conj().T @ target)

    def explained(lines_hz: Reals) -> tuple[Reals, Complexes]:
        lines = np.stack([_line_spectrum(bins, line, record) for line in lines_hz], axis=1)
        lines = lines - basis @ (basis.conj().T @ lines)
        energy = np.sum(np.abs(lines) ** 2, axis=0)
        amplitude = (lines.conj().T @ rest) / energy
        return np.abs(amplitude) ** 2 * energy, amplitude

    candidates = near_hz + np.arange(-reach_hz, reach_hz + 1e-9, 0.5 / seconds)
    step = 0.5 / seconds
    while True:
        power, amplitude = explained(candidates)
        best = int(np.argmax(power))
        if step < FINEST_STEP / seconds:
            break
        centre = candidates[best]
        candidates = centre + step * np.linspace(-1.0, 1.0, 9)
        step /= 4.0
    left = float(np.sum(np.abs(rest) ** 2)) - float(power[best])
    freedom = bins.size - POLYNOMIAL_TERMS - 2
    if power[best] < SIGNIFICANT * max(left, 1e-300) / freedom:
        return None
    return float(candidates[best]), complex(amplitude[best]), float(power[best])
