"""Which quantities of the circuit are fitted, how they make a vector, and what is known beforehand.

Every quantity is positive, so its logarithm is fitted; the coil's exponent lies between 0 and 1, so the
logarithm of n/(1 - n) is. What is known beforehand of the quantities that one curve may not determine is a
log-normal prior; it matters only where the data say little, and the intervals then grow to it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sealtune.physics.vented_box import VentedBox

COMMON = ("re_ohm", "coil_ohm", "coil_exponent", "coil_h", "res_ohm", "ws_rad_s", "qms", "creep")
VENTED = (*COMMON, "alpha", "wb_rad_s", "leakage", "friction", "absorption", "volume_m3")
SLIT = ("slit_ratio", "slit_time_s")

PRIORS: dict[str, tuple[float, float]] = {
    # median and standard deviation of the natural logarithm
    "coil_ohm": (0.5, 2.0),  # a few hundred microhenry at 200 Hz; common practice
    "coil_exponent": (0.7, 0.8),  # between sqrt(s) of eddy currents [Vanderkooy1989] and a plain coil
    "coil_h": (1e-4, 1.5),  # a tenth of a millihenry beside the lossy part; common practice
    "creep": (0.1, 0.6),  # lambda 0.05 to 0.2 on real drivers [Knudsen1993], from memory
    "leakage": (1 / 14, 1.0),  # Q_L 5 to 20 [Small1973], from memory, better in well-built boxes
    "friction": (1 / 60, 0.7),  # Q_P 50 to 100 [Small1973], from memory, less in rough vents
    "absorption": (1 / 50, 1.0),  # Q_A 30 to 100 and more [Small1973], from memory
    "slit_ratio": (0.1, 1.5),
    "slit_time_s": (6e-3, 1.2),  # gaps of 0.3 to 1.2 mm
    "qms": (5.0, 0.8),
    "alpha": (1.0, 1.5),
}
"""Log-normal priors by quantity; those not named are left to the data."""

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
        """Return the logarithms of the fitted quantities, shape (p,)."""
        return np.log([_odds(name, getattr(box, name)) for name in self.names])

    def unpack(self, vector: NDArray[np.float64]) -> VentedBox:
        """Return the circuit whose fitted quantities have the logarithms `vector`."""
        values: dict[str, Any] = {name: getattr(self.fixed, name) for name in VentedBox.__dataclass_fields__}
        values.update(zip(self.names, np.exp(vector).tolist(), strict=True))
        if "coil_exponent" in self.names:
            values["coil_exponent"] = values["coil_exponent"] / (1.0 + values["coil_exponent"])
        return VentedBox(**values)

    def prior(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return mean of the logarithms and 1/standard deviation (0: nothing known), shape (p,) each."""
        mean = np.zeros(len(self.names))
        weight = np.zeros(len(self.names))
        for index, name in enumerate(self.names):
            if name == "volume_m3":
                mean[index], weight[index] = np.log(self.fixed.volume_m3), 1.0 / RADIATION_SPREAD
            elif name in PRIORS:
                median, spread = PRIORS[name]
                mean[index] = np.log(_odds(name, median))
                weight[index] = 1.0 / spread
        return mean, weight


def _odds(name: str, value: float) -> float:
    """Return the quantity whose logarithm is fitted."""
    return value / (1.0 - value) if name == "coil_exponent" else value
