"""Which quantities of the circuit are fitted, how they make a vector, and what is known beforehand.

Most quantities are positive, so their logarithm is fitted; the coil's exponent lies between 0 and 1, so the
logarithm of n/(1 - n) is; creep may be none at all, so it is fitted as it stands. What is known beforehand of
the quantities that one curve may not determine is a normal prior of these coordinates; it matters only where
the data say little, and the intervals then grow to it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sealtune.physics.vented_box import VentedBox

COMMON = (
    "re_ohm",
    "coil_ohm",
    "coil_exponent",
    "coil_h",
    "coil_shunt_s",
    "res_ohm",
    "ws_rad_s",
    "qms",
    "creep",
)
VENTED = (*COMMON, "alpha", "wb_rad_s", "leakage", "friction", "absorption", "volume_m3")
SPARE = (*COMMON, "alpha", "wb_rad_s", "leakage")
SLIT = ("slit_ratio", "slit_time_s")

CREEP_UNIT = 0.05
"""Creep that counts as 1, so that its coordinate is as large as a logarithm."""

PRIORS: dict[str, tuple[float, float]] = {
    # median, and standard deviation of the coordinate
    "coil_ohm": (0.5, 2.0),  # a few hundred microhenry at 200 Hz; common practice
    "coil_exponent": (0.7, 0.8),  # between sqrt(s) of eddy currents [Vanderkooy1989] and a plain coil
    "coil_h": (1e-4, 1.5),  # a tenth of a millihenry beside the lossy part; common practice
    "coil_shunt_s": (0.02, 1.2),  # five to some hundred ohms beside the lossy part; common practice
    "creep": (0.1, 1.2),  # lambda 0.05 to 0.2 on real drivers [Knudsen1993], from memory
    "leakage": (1 / 14, 1.0),  # Q_L 5 to 20 [Small1973], from memory, better in well-built boxes
    "friction": (1 / 60, 0.7),  # Q_P 50 to 100 [Small1973], from memory, less in rough vents
    "absorption": (1 / 50, 1.0),  # Q_A 30 to 100 and more [Small1973], from memory
    "slit_ratio": (0.1, 1.5),
    "slit_time_s": (6e-3, 1.2),  # gaps of 0.3 to 1.2 mm
    "qms": (5.0, 0.8),
    "alpha": (1.0, 1.5),
}
"""What is known beforehand by quantity; those not named are left to the data."""

USUAL_VOLUME_M3 = 0.03
"""Net volume where no design gives it, m3: a bookshelf box."""

RADIATION_SPREAD = 0.7
"""The radiated sound, for which the volume stands, is known to a factor of two: walls and floor nearby, and
the sound of cone and vent loading each other, double or halve it."""


@dataclass(frozen=True)
class Packing:
    """The order of the fitted quantities in the vector, and the fixed values of the others.

    fixed: its volume is also the median of what is known of the volume beforehand
    """

    names: tuple[str, ...]
    fixed: VentedBox

    def pack(self, box: VentedBox) -> NDArray[np.float64]:
        """Return the coordinates of the fitted quantities, shape (p,)."""
        return np.array([coordinate(name, getattr(box, name)) for name in self.names])

    def unpack(self, vector: NDArray[np.float64]) -> VentedBox:
        """Return the circuit whose fitted quantities have the coordinates `vector`."""
        values: dict[str, Any] = {name: getattr(self.fixed, name) for name in VentedBox.__dataclass_fields__}
        values.update(zip(self.names, map(quantity, self.names, vector.tolist()), strict=True))
        return VentedBox(**values)

    def prior(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return mean of the coordinates and 1/standard deviation (0: nothing known), shape (p,) each."""
        mean = np.zeros(len(self.names))
        weight = np.zeros(len(self.names))
        for index, name in enumerate(self.names):
            if name == "volume_m3":
                mean[index], weight[index] = np.log(self.fixed.volume_m3), 1.0 / RADIATION_SPREAD
            elif name in PRIORS:
                median, spread = PRIORS[name]
                mean[index], weight[index] = coordinate(name, median), 1.0 / spread
        return mean, weight


def coordinate(name: str, value: float) -> float:
    """Return what is fitted in place of a quantity, see the top of this file."""
    if name == "creep":
        return value / CREEP_UNIT
    return log(value / (1.0 - value)) if name == "coil_exponent" else log(value)


def quantity(name: str, position: float) -> float:
    """Return the quantity whose coordinate is `position`."""
    if name == "creep":
        return position * CREEP_UNIT
    value = exp(position)
    return value / (1.0 + value) if name == "coil_exponent" else value
