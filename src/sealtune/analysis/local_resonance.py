"""A wall or another part that rings on its own: its stretch of the curve is found and left out of the fit.

Such a resonance is narrow against those of driver and box. Left in, it would bend the whole fit a little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.search import M, Minimum, Points

Complexes = NDArray[np.complex128]

QS = (15.0, 30.0, 60.0, 120.0)
"""Sharpness tried; the box's own resonances have 2 to 10."""

STEPS_PER_OCTAVE = 36

EXPLAINED = 0.4
"""Share of the residual's power that one resonance must explain."""

REACH = 4.0
"""Half the width of the stretch that is left out, in widths f/Q of the resonance."""

LEAST_REACH = 0.08
"""The same at least, in ln f."""


@dataclass(frozen=True)
class Ringing:
    """A narrow resonance: its frequency and its Q."""

    hz: float
    q: float

    def shape(self, frequency_hz: NDArray[np.float64]) -> Complexes:
        """Return the resonance over its height, 1/(1 + jQ(f/f0 - f0/f)), shape of frequency_hz."""
        return np.asarray(1.0 / (1.0 + 1j * self.q * (frequency_hz / self.hz - self.hz / frequency_hz)))

    @property
    def stretch_hz(self) -> tuple[float, float]:
        """Lowest and highest frequency of the curve that it bends."""
        reach = float(np.exp(max(REACH / self.q, LEAST_REACH)))
        return self.hz / reach, self.hz * reach


def ringing(minimum: Minimum[M], points: Points) -> Ringing | None:
    """Return the narrow resonance in the first curve's residual, None for none.

    It must explain much of the residual, while the rest of the residual is what the circuit leaves over elsewhere.
    """
    here = points.parts[0]
    hz = points.frequency_hz[here]
    error: Complexes = minimum.residual[here] / points.impedance_ohm[here]
    power = float(np.sum(np.abs(error) ** 2))
    if power == 0.0:
        return None
    steps = max(2, int(np.log2(hz[-1] / hz[0]) * STEPS_PER_OCTAVE))
    told, found = _most_telling(hz, error, np.geomspace(hz[0], hz[-1], steps), QS)
    if told < EXPLAINED * power:
        return None
    for reach in (1.0, 0.25):
        near = found.hz * 2.0 ** (reach * np.linspace(-1.0, 1.0, 9) / STEPS_PER_OCTAVE)
        sharp = tuple((found.q * 2.0 ** (reach * np.linspace(-1.0, 1.0, 9))).tolist())
        _, found = _most_telling(hz, error, near, sharp)
    return found


def _most_telling(
    hz: NDArray[np.float64], error: Complexes, centres_hz: NDArray[np.float64], qs: tuple[float, ...]
) -> tuple[float, Ringing]:
    """Return the power that the best of some resonances explains, and that resonance."""
    best = (0.0, Ringing(float(centres_hz[0]), qs[0]))
    for q in qs:
        shape = 1.0 / (1.0 + 1j * q * (hz[None, :] / centres_hz[:, None] - centres_hz[:, None] / hz[None, :]))
        size = np.sum(np.abs(shape) ** 2, axis=1)
        told = np.abs(shape.conj() @ error) ** 2 / np.maximum(size, 1e-300)
        told[size < 1.5] = 0.0  # between two points there is nothing to see
        index = int(np.argmax(told))
        if told[index] > best[0]:
            best = (float(told[index]), Ringing(float(centres_hz[index]), float(q)))
    return best
