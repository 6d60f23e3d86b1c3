"""Whether magnitude and phase of an impedance belong together.

The impedance of a loudspeaker has neither poles nor zeros on the right, so its phase follows from the slope of
its magnitude [Bode1945]: phase(u) = 1/pi * integral of d ln|Z|/dv * ln coth(|v - u|/2) dv over v = ln f.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sealtune.records.curve import ImpedanceCurve
from sealtune.records.verdict import Problem

STEPS_PER_OCTAVE = 24
MARGIN_OCTAVES = 0.5
"""Near the ends of the band the phase depends on what lies beyond it."""

FEWEST_OCTAVES = 2.0

SHOWS_PEAKS = float(np.radians(8.0))
"""A curve whose slopes ask for less phase than this has no resonance to be judged by."""

FOLLOWS = (0.75, 1.35)
"""Measured phase over the phase that the magnitude asks for; virtual cabinets in bands of 15 to 300 Hz and wider,
with and without crossover, give 0.92 to 1.15."""

LEFT_OVER = 0.25
"""Phase that the magnitude does not ask for, rad; the same cabinets leave 0.16 at most."""

LEFT_OVER_WIDE = 0.12
"""The same for a band from 10 Hz or less to 900 Hz or more, where the cabinets leave 0.06 at most."""


@dataclass(frozen=True)
class PhaseMatch:
    """How far the phase follows the magnitude, over frequencies up to 300 Hz and about its mean.

    slope: regression of the measured phase on the one by Bode's integral: 1 for a loudspeaker, 0 where the phase
        is missing, -1 where its sign is wrong
    left_over: root mean square of the measured phase less that one, rad
    asked: root mean square of the phase by Bode's integral, rad
    """

    slope: float
    left_over: float
    asked: float


def phase_problems(curve: ImpedanceCurve) -> list[Problem]:
    """Return the problem `not_impedance` where the phase is missing, in radians, or of another curve."""
    match = phase_match(curve)
    if match is None or match.asked < SHOWS_PEAKS:
        return []
    wide = curve.frequency_hz[0] <= 10.0 and curve.frequency_hz[-1] >= 900.0
    noise = float(np.median(curve.sigma_ohm / np.abs(curve.impedance_ohm)))
    allowed = (LEFT_OVER_WIDE if wide else LEFT_OVER) + 3.0 * noise
    if FOLLOWS[0] < match.slope < FOLLOWS[1] and match.left_over < allowed:
        return []
    if curve.jig_slopes_ohm is not None:
        detail = (
            "Magnitude and phase do not belong together, as if one channel lagged behind the other one or samples "
            "were lost on the way."
        )
        remedy = "Use two inputs of one and the same sound card, close other programs, and record again."
        return [Problem("not_impedance", detail, remedy)]
    return [Problem("not_impedance", _table_detail(match.slope), COLUMNS)]


def _table_detail(slope: float) -> str:
    radian = float(np.pi / 180.0)
    if abs(slope - radian) < 0.3 * radian:
        return "The phase is in radians; degrees were expected."
    if abs(slope) < 0.1:
        return "The phase is zero or missing, though the magnitude has peaks: a magnitude alone is not an impedance."
    if -FOLLOWS[1] < slope < -FOLLOWS[0]:
        return "The phase has the wrong sign: it rises where the magnitude of a loudspeaker asks it to fall."
    return (
        "Magnitude and phase do not belong together: the magnitude may be in decibels or from another measurement "
        "than the phase."
    )


COLUMNS = (
    "Export frequency in Hz, magnitude in ohm and phase in degrees, under the line "
    "frequency_hz,magnitude_ohm,phase_deg."
)


def phase_match(curve: ImpedanceCurve) -> PhaseMatch | None:
    """Return how far the phase follows the magnitude, None where the band is too narrow to tell."""
    low, high = float(curve.frequency_hz[0]), float(min(curve.frequency_hz[-1], 1000.0))
    octaves = float(np.log2(high / low))
    if octaves < FEWEST_OCTAVES + 2.0 * MARGIN_OCTAVES:
        return None
    position = np.linspace(np.log(low), np.log(high), int(octaves * STEPS_PER_OCTAVE))
    measured, z = np.log(curve.frequency_hz), curve.impedance_ohm
    level = np.interp(position, measured, np.log(np.abs(z)))
    phase = np.arctan2(np.interp(position, measured, z.imag), np.interp(position, measured, z.real))
    distance = np.abs(0.5 * (position[1:] + position[:-1])[None, :] - position[:, None])
    asked = np.log(1.0 / np.tanh(0.5 * distance)) @ np.diff(level) / np.pi
    margin = MARGIN_OCTAVES * np.log(2.0)
    inner = (position > position[0] + margin) & (position < min(position[-1] - margin, np.log(300.0)))
    if inner.sum() < STEPS_PER_OCTAVE:
        return None
    asked, phase = asked[inner] - asked[inner].mean(), phase[inner] - phase[inner].mean()
    return PhaseMatch(
        float(np.dot(asked, phase) / max(np.dot(asked, asked), 1e-12)),
        float(np.sqrt(np.mean((phase - asked) ** 2))),
        float(np.sqrt(np.mean(asked**2))),
    )
