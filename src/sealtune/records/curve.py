"""An impedance curve and its landmarks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class ImpedanceCurve:
    """The impedance at the terminals against frequency.

    frequency_hz: shape (n,), rising, > 0
    impedance_ohm: shape (n,) complex
    sigma_ohm: shape (n,), standard deviation of the noise of the real and of the imaginary part, ohm
    skipped_lines: lines of the table that were passed over; 0 for a recording
    jig_slopes_ohm: shape (k, n) complex, change of the impedance per standard deviation of each of the k things
        that are unknown of the jig, such as the two channels' gains against each other, ohm; None for a table,
        where nothing is known of it
    drift_row: which of these rows is the drift of one channel's gain while the sweep ran, None if none is
    lag_ohm: shape (n,) complex, change of the impedance by every sample that channel 2 comes later, ohm; None for a
        table and where the frequencies were not played one after the other
    sweep_rate_s: time in which the sweep rises by a factor e, s; None likewise
    sample_s: time from one sample to the next, s; None likewise
    """

    frequency_hz: NDArray[np.float64]
    impedance_ohm: NDArray[np.complex128]
    sigma_ohm: NDArray[np.float64]
    skipped_lines: int = 0
    jig_slopes_ohm: NDArray[np.complex128] | None = None
    drift_row: int | None = None
    lag_ohm: NDArray[np.complex128] | None = None
    sweep_rate_s: float | None = None
    sample_s: float | None = None


@dataclass(frozen=True)
class Landmark:
    """A point of the curve: frequency in Hz, magnitude in ohm."""

    hz: float
    ohm: float


@dataclass(frozen=True)
class Landmarks:
    """The extrema of |Z| that a vented box shows.

    peaks: all peaks that stand out of the noise, rising in frequency
    lower, saddle, upper: the two impedance peaks and the minimum between them; None where there are not two
    """

    peaks: tuple[Landmark, ...]
    lower: Landmark | None
    saddle: Landmark | None
    upper: Landmark | None
