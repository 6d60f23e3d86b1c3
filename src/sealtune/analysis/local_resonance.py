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
    centres = np.geomspace(hz[0], hz[-1], steps)
    best = (0.0, 0.0, QS[0])
    for q in QS:
        shape = 1.0 / (1.0 + 1j * q * (hz[None, :] / centres[:, None] - centres[:, None] / hz[None, :]))
        size = np.sum(np.abs(shape) ** 2, axis=1)
        told = np.abs(shape.conj() @ error) ** 2 / np.maximum(size, 1e-300) / power
        told[size < 1.5] = 0.0  # between two points there is nothing to see
        index = int(np.argmax(told))
        if told[index] > best[0]:
            best = (float(told[index]), float(centres[index]), q)
    if best[0] < EXPLAINED:
        return None
    return Ringing(best[1], best[2])
