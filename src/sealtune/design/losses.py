"""What a well-built box of this design loses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.physics.air import Air
from sealtune.physics.vent import vent_q
from sealtune.records.design import Design, Lining

# Real vents against smooth ones: rough walls, rims, bends (common practice). Q_P then lies about 70, in the middle
# of the usual 50 to 100 [Small1973, Part I, from memory].
_VENT_Q_SHARE = 2.0 / 3.0
# Vent Q where the design does not describe the vent [Small1973, Part I, from memory: 50 to 100].
_USUAL_VENT_Q = 60.0
# What a box with sealed joints still leaks, through the driver's surround and dust cap among others: Q_L. Measured
# boxes have 5 to 20 [Small1973, Part I, from memory], with whatever leaks they had; our own judgement for one without.
_USUAL_LEAKAGE_Q = 25.0
# Absorption Q [Small1973, Part I, from memory: above 100 without lining, 30 to 80 with].
_ABSORPTION_Q: dict[Lining, float] = {"none": 120.0, "walls": 50.0, "filled": 15.0}


@dataclass(frozen=True)
class Losses:
    """1/Q_L, 1/Q_P and 1/Q_A at the tuning."""

    leakage: float
    friction: float
    absorption: float

    @property
    def shares(self) -> NDArray[np.float64]:
        """1/Q of leakage, vent and absorption, shape (3,)."""
        return np.array([self.leakage, self.friction, self.absorption])

    @property
    def box_q(self) -> float:
        """The total box Q."""
        return 1.0 / (self.leakage + self.friction + self.absorption)


def usual_losses(design: Design, tuning_hz: float, air: Air) -> Losses:
    """Return what a sealed box of this design usually loses.

    A leakage Q of 25, two thirds of the vent's Q by smooth-wall friction and a typical absorption Q of the lining;
    measured totals are mostly 5 to 10 for boxes of 25 to 100 L [Small1973, Part III, sec. 11], often with leaks
    that need not be there.
    """
    friction_q = _USUAL_VENT_Q
    if design.vent is not None:
        friction_q = _VENT_Q_SHARE * vent_q(design.vent, tuning_hz, air, design.box)
    return Losses(1.0 / _USUAL_LEAKAGE_Q, 1.0 / friction_q, 1.0 / _ABSORPTION_Q[design.box.lining])
