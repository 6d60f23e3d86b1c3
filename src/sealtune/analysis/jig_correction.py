"""From the ratio of two channels to an impedance curve, and what of the jig remains unknown."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Jig
from sealtune.signals.transfer_function import Ratio

GAIN_UNCERTAINTY = 0.006
"""Relative standard deviation of one input's gain against the other's, 0.05 dB, not calibrated (common practice)."""


def impedance_curve(ratio: Ratio, jig: Jig) -> ImpedanceCurve:
    """Return the impedance from the ratio of channel 2 to channel 1.

    divider: Z = R T / (1 - T); sense: Z = R / T. A gain error of the channels bends the divider's impedance by
    Z (1 + Z/R) per unit and scales that of the sense wiring.
    """
    t, r = ratio.value, jig.reference_ohm
    z: NDArray[np.complex128]
    slope: NDArray[np.complex128]
    if jig.wiring == "divider":
        rest = np.where(np.abs(1.0 - t) < 1e-9, 1e-9 + 0j, 1.0 - t)
        z, slope = np.asarray(r * t / rest, np.complex128), np.asarray(r / rest**2, np.complex128)
    else:
        t = np.where(np.abs(t) < 1e-12, 1e-12 + 0j, t)
        z, slope = np.asarray(r / t, np.complex128), np.asarray(-r / t**2, np.complex128)
    sigma = np.maximum(ratio.sigma * np.abs(slope), 1e-6 * np.abs(z))
    jig_slopes = np.asarray(slope * t * GAIN_UNCERTAINTY)[None, :]
    return ImpedanceCurve(ratio.frequency_hz, z, np.maximum(sigma, 1e-9), jig_slopes_ohm=jig_slopes)
