"""Which way the cone moves, by the phase of its near field against the voltage.

Above all resonances the pressure close to a cone goes with its acceleration, and that with the voltage: a positive
voltage makes a positive pressure at once. What coil, crossover and the resonances turn is known well enough.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.records.near_field import Polarity, Reading

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

LEAST = 0.35
"""Mean of the phasors' real parts that says which way; 0 would be a quarter of a turn."""

KNOWN_BAND, OTHER_BAND = (1.3, 6.0), (3.0, 8.0)
"""Bands over the tuning: with the response known, and by mass and voltage alone."""

HIGHEST_HZ = 600.0
LATEST_S = 1.2e-3
"""A microphone farther away than 40 cm is no near field; up to there its delay is found."""


def polarity(reading: Reading, tuning_hz: float, expected: Complexes | None) -> Polarity:
    """Return the polarity by the cone's reading.

    tuning_hz: where the box is tuned to, roughly
    expected: response of the cone to the voltage, shape of the reading's frequencies; None where nothing is known
    """
    low, high = (part * tuning_hz for part in (OTHER_BAND if expected is None else KNOWN_BAND))
    hz = reading.frequency_hz
    used = (hz >= low) & (hz <= min(high, HIGHEST_HZ))
    if np.count_nonzero(used) < 8:
        return Polarity("unclear", 0.0)
    value = reading.value[used]
    turned = value if expected is None else value * np.conj(expected[used] / np.abs(expected[used]))
    weight = 1.0 / (1.0 + 2.0 * (reading.sigma[used] / np.abs(value)) ** 2)
    phasor = turned / np.abs(turned) * weight / weight.sum()
    # the way from the cone to the microphone and the coil make it late, if anything
    delays = np.linspace(0.0, LATEST_S, 13)
    turns = np.exp(2j * np.pi * np.outer(delays, hz[used]))
    seen = (turns @ phasor).real
    best = seen[int(np.argmax(np.abs(seen) - 0.15 * delays / LATEST_S))]
    if abs(best) < LEAST:
        return Polarity("unclear", float(abs(best)))
    return Polarity("normal" if best > 0.0 else "reversed", float(min(abs(best), 1.0)))
