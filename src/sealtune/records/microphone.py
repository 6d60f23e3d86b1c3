"""What is known of the microphone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class MicrophoneResponse:
    """A microphone's response against frequency, relative to where it is right.

    frequency_hz: shape (n,), rising, > 0, n >= 2
    level_db: shape (n,)
    phase_deg: shape (n,), None where the file does not say
    skipped_lines: lines that were passed over
    """

    frequency_hz: NDArray[np.float64]
    level_db: NDArray[np.float64]
    phase_deg: NDArray[np.float64] | None = None
    skipped_lines: int = 0

    def at(self, frequency_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Return the response as a complex factor, straight lines over the logarithm, level ends; shape (m,)."""
        place, known = np.log(frequency_hz), np.log(self.frequency_hz)
        size = 10.0 ** (np.interp(place, known, self.level_db) / 20.0)
        if self.phase_deg is None:
            return np.asarray(size, dtype=np.complex128)
        turn = np.interp(place, known, np.unwrap(np.radians(self.phase_deg)))
        return np.asarray(size * np.exp(1j * turn))
