"""How far two impedance curves lie apart."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.intervals import COVERAGE
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.interval import Interval
from sealtune.records.pair import ImpedanceDifference

Reals = NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 20.0, 200.0
POINTS = 400
DB = 20.0 / float(np.log(10.0))

LEAST_BAND = 1.5
"""Curves that overlap over less than this ratio of frequencies are not held against each other."""


def impedance_difference(
    left: ImpedanceCurve, right: ImpedanceCurve, alike: float
) -> ImpedanceDifference | None:
    """Return how far |Z| of left lies above that of right from 20 to 200 Hz, None where the curves hardly overlap.

    alike: relative standard deviation by which two takes of one cabinet differ over the whole band
    Between its points a curve runs straight over the logarithm of frequency.
    """
    low = max(LOWEST_HZ, float(left.frequency_hz[0]), float(right.frequency_hz[0]))
    high = min(HIGHEST_HZ, float(left.frequency_hz[-1]), float(right.frequency_hz[-1]))
    if not high > LEAST_BAND * low:
        return None
    hz = np.geomspace(low, high, POINTS)
    (one, by_one), (other, by_other) = _magnitude(left, hz), _magnitude(right, hz)
    difference = DB * np.log(one / other)
    noise = DB * np.hypot(by_one, by_other)
    place = int(np.argmax(np.abs(difference)))
    rms = float(np.sqrt(np.mean(difference**2)))
    slope = difference / (POINTS * max(rms, 1e-9))
    # the points are denser than those that were measured: noise counts as if it were the same over ten of them
    by_noise = float(np.sqrt(10.0 * np.sum((slope * noise) ** 2)))
    by_take = DB * alike * abs(float(np.mean(difference))) / max(rms, 1e-9)
    reach = COVERAGE * float(np.hypot(by_noise, by_take))
    there = COVERAGE * float(np.hypot(noise[place], DB * alike))
    worst = float(difference[place])
    return ImpedanceDifference(
        low, high, Interval(rms, max(rms - reach, 0.0), rms + reach),
        Interval(worst, worst - there, worst + there), float(hz[place]),
    )  # fmt: skip


def _magnitude(curve: ImpedanceCurve, hz: Reals) -> tuple[Reals, Reals]:
    """Return |Z| at some frequencies and its relative noise, shape (n,) each."""
    position, at = np.log(curve.frequency_hz), np.log(hz)
    z = np.interp(at, position, curve.impedance_ohm.real) + 1j * np.interp(
        at, position, curve.impedance_ohm.imag
    )
    size = np.abs(z)
    return size, np.interp(at, position, curve.sigma_ohm) / size
