"""Which quantities of the circuit are fitted, how they make a vector, and what is known beforehand.

Most quantities are positive, so their logarithm is fitted; the coil's exponent and the share of plain friction lie
between 0 and 1, so the logarithm of n/(1 - n) is; creep may be none at all, so it is fitted as it stands. What is
known beforehand of the quantities that one curve may not determine is a normal prior of these coordinates; it matters
only where the data say little, and the intervals then grow to it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, log
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sealtune.physics.vented_box import VentedBox
from sealtune.records.design import Crossover

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
VENTED = (*COMMON, "alpha", "wb_rad_s", "leakage", "friction", "plain_share", "absorption", "volume_m3")
SPARE = (*COMMON, "alpha", "wb_rad_s", "leakage")
PANEL = ("panel_ratio", "panel_rad_s", "panel_loss")
LEAK = ("leak_ratio", "leak_time_s")
CROSSOVER = ("series_h", "series_ohm", "shunt_f", "shunt_ohm")

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
    "plain_share": (0.15, 1.5),  # little in a clear vent, most in a lined one; our own judgement
    "absorption": (1 / 50, 1.0),  # Q_A 30 to 100 and more [Small1973], from memory
    "leak_ratio": (0.1, 1.5),
    "leak_time_s": (6e-3, 1.2),  # gaps of 0.3 to 1.2 mm
    "panel_ratio": (
        0.005,
        1.5,
    ),  # a wall that rings gives a hundredth of what the air does; our own judgement
    "panel_loss": (0.03, 1.0),  # Q of 10 to 100 for wood; common practice
    "qms": (5.0, 0.8),
    "alpha": (1.0, 1.5),
    "air_load": (
        1.04,
        0.02,
    ),  # 4 to 15 inch: the air on one side of the cone weighs 3 to 15 % of it [Rayleigh1896]
    "series_h": (1e-3, 1.0),  # a crossover nobody told of: half a millihenry to some; common practice
    "series_ohm": (0.05, 1.5),  # leads and joints, a crossover's coil; common practice
    "shunt_f": (2e-5, 1.0),  # ten to fifty microfarad; common practice
    "shunt_ohm": (1.0, 0.8),
}
"""What is known beforehand by quantity; those not named are left to the data."""

HOLE_TIME_S = (0.6, 1.0)
"""The same for r^2 rho / mu of a round hole: 4 to 10 mm across."""

USUAL_VOLUME_M3 = 0.03
"""Net volume where no design gives it, m3: a bookshelf box."""

USUAL_DUCT_SHARE = 0.02
"""Air in the vent over that in the box, where no design gives it."""

SHARES = ("coil_exponent", "plain_share")
"""Quantities between 0 and 1."""

PROPORTIONAL = frozenset(
    ("re_ohm", "res_ohm", "coil_ohm", "coil_h", "coil_shunt_s", "alpha", "leakage", "friction",
     "absorption", "volume_m3", "leak_ratio", "panel_ratio", "series_h", "series_ohm", "shunt_f", "duct_share")
)  # fmt: skip
"""Quantities in proportion to which the curve changes, or nearly so; the search follows them in a straight line."""

MOST_SHRINKING = 0.8
"""No step takes away more than this share of such a quantity."""

GIVEN: dict[str, float] = {
    # standard deviation of the coordinate around the value of the circuit that the packing holds
    "volume_m3": 0.7,  # stands for the radiated sound, known to a factor of two: walls and floor nearby, and the
    # sound of cone and vent loading each other, double or halve it
    "duct_share": 0.4,  # how deep the bung sits is not known
}
"""What the design tells of a quantity, and how well."""

PART_SPREAD = 0.05
"""Coils and capacitors of a crossover keep their value within 5 to 10 % (common practice)."""

COIL_SPREAD = 0.7
"""Of the logarithm of the resistance of a crossover's coil where nobody told of it: 0.1 to 1 ohm (common practice)."""


@dataclass(frozen=True)
class Packing:
    """The order of the fitted quantities in the vector, and the fixed values of the others.

    names: quantities of the circuit or of the crossover
    fixed: the values named in GIVEN are also the medians of what is known of them beforehand
    crossover: what lies between the terminals and the driver, None if nothing
    given: the parts of it among `names` are known to PART_SPREAD; False where nobody told of it
    """

    names: tuple[str, ...]
    fixed: VentedBox
    crossover: Crossover | None = None
    given: bool = True

    def pack(self, box: VentedBox) -> NDArray[np.float64]:
        """Return the coordinates of the fitted quantities, shape (p,); those of the crossover as they are known."""
        return np.array(
            [
                coordinate(name, self._known_part(name) if name in CROSSOVER else getattr(box, name))
                for name in self.names
            ]
        )

    def unpack(self, vector: NDArray[np.float64]) -> VentedBox:
        """Return the circuit whose fitted quantities have the coordinates `vector`."""
        values: dict[str, Any] = {name: getattr(self.fixed, name) for name in VentedBox.__dataclass_fields__}
        values.update((name, value) for name, value in self._values(vector) if name not in CROSSOVER)
        return VentedBox(**values)

    def unpack_crossover(self, vector: NDArray[np.float64]) -> Crossover | None:
        """Return the crossover with its fitted parts."""
        parts: dict[str, Any] = {name: value for name, value in self._values(vector) if name in CROSSOVER}
        return replace(self.crossover or Crossover(), **parts) if parts else self.crossover

    def prior(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return mean of the coordinates and 1/standard deviation (0: nothing known), shape (p,) each."""
        mean = np.zeros(len(self.names))
        weight = np.zeros(len(self.names))
        for index, name in enumerate(self.names):
            if name == "leak_time_s" and self.fixed.leak_shape == "hole":
                mean[index], weight[index] = coordinate(name, HOLE_TIME_S[0]), 1.0 / HOLE_TIME_S[1]
            elif name in CROSSOVER:
                known = (
                    name != "series_ohm"
                    and self.given
                    and bool(self.crossover and getattr(self.crossover, name))
                )
                mean[index] = coordinate(name, self._known_part(name))
                coil = name == "series_ohm" and not self.given
                weight[index] = 1.0 / (PART_SPREAD if known else COIL_SPREAD if coil else PRIORS[name][1])
            elif name in GIVEN:
                mean[index], weight[index] = coordinate(name, getattr(self.fixed, name)), 1.0 / GIVEN[name]
            elif name in PRIORS:
                median, spread = PRIORS[name]
                mean[index], weight[index] = coordinate(name, median), 1.0 / spread
        return mean, weight

    def moved(self, vector: NDArray[np.float64], step: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the coordinates after a step, along which quantities in PROPORTIONAL themselves move evenly."""
        ahead = vector + step
        for index, name in enumerate(self.names):
            if name in PROPORTIONAL:
                ahead[index] = vector[index] + np.log1p(max(step[index], -MOST_SHRINKING))
        return ahead

    def _values(self, vector: NDArray[np.float64]) -> list[tuple[str, float]]:
        return list(zip(self.names, map(quantity, self.names, vector.tolist()), strict=True))

    def _known_part(self, name: str) -> float:
        return float((self.crossover and getattr(self.crossover, name)) or PRIORS[name][0])


def coordinate(name: str, value: float) -> float:
    """Return what is fitted in place of a quantity, see the top of this file."""
    if name == "creep":
        return value / CREEP_UNIT
    return log(value / (1.0 - value)) if name in SHARES else log(value)


def quantity(name: str, position: float) -> float:
    """Return the quantity whose coordinate is `position`."""
    if name == "creep":
        return position * CREEP_UNIT
    value = exp(position)
    return value / (1.0 + value) if name in SHARES else value
