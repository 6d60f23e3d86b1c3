"""From the readings at cone and mouth to what the cabinet sends out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.near_field_model import NearFieldFit
from sealtune.physics.near_field import Openings

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

POINTS_PER_BAND = 24

EXACT_BANDS = tuple(range(13, 31))
"""Third octaves from 20 Hz to 1 kHz: the exact midband frequencies are 10^(n/10) [IEC61260]."""

NOMINAL_HZ = (
    20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0, 800.0,
    1000.0,
)  # fmt: skip


def apart(
    frequency_hz: Reals, cone: Complexes, mouth: Complexes, fit: NearFieldFit
) -> tuple[Complexes, Complexes]:
    """Return what cone and vents send out, over the cone's own near field, without crosstalk and the room's answer.

    frequency_hz, cone, mouth: readings, shape (n,)
    fit: whose matrix is inverted at each frequency
    """
    own, beside, from_vent = fit.matrix(frequency_hz)
    determinant = own * from_vent - beside**2
    by_cone = (from_vent * cone - beside * mouth) / determinant
    by_vent = (own * mouth - beside * cone) / determinant
    return np.asarray(by_cone), np.asarray(by_vent)


def plainly(cone: Complexes, mouth: Complexes, openings: Openings) -> tuple[Complexes, Complexes]:
    """Return the same by the areas alone: p_cone and p_mouth sqrt(S_V/S_D), several openings counted [Keele1974].

    Crosstalk stays in; for round openings, one of each, exactly Keele's sum.
    """
    return cone, np.asarray(mouth / openings.mouth_over_cone)


def piston_droop(frequency_hz: Reals, area_m2: float, speed_m_s: float) -> Reals:
    """Return sin(ka/2)/(ka/2), what a piston's middle loses against the far field, shape (n,) [Keele1974]."""
    half = np.pi * frequency_hz * np.sqrt(area_m2 / np.pi) / speed_m_s
    return np.asarray(np.sinc(half / np.pi))


def band_levels_db(
    frequency_hz: Reals, value: Complexes, highest_hz: float
) -> tuple[tuple[float, float], ...]:
    """Return nominal frequency and level of each whole third octave within the readings, dB.

    The level is that of pink noise: the mean power over the band's logarithm.
    """
    found = []
    power = np.abs(value) ** 2
    for number, nominal in zip(EXACT_BANDS, NOMINAL_HZ, strict=True):
        centre = 10.0 ** (number / 10.0)
        low, high = centre * 10.0**-0.05, centre * 10.0**0.05
        if low < frequency_hz[0] or high > min(frequency_hz[-1], highest_hz):
            continue
        parts = centre * 10.0 ** (0.1 * ((np.arange(POINTS_PER_BAND) + 0.5) / POINTS_PER_BAND - 0.5))
        level = np.interp(np.log(parts), np.log(frequency_hz), power)
        found.append((nominal, float(10.0 * np.log10(np.mean(level)))))
    return tuple(found)
