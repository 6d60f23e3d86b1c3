"""What a microphone reads close to a cone or in a vent's mouth, and what that says of the sound far away.

On the axis of a flat round piston in a wall, with the volume velocity U, the pressure at low frequencies is

    p = j w rho U / (pi a) [ sqrt(1 + (r/a)^2) - r/a ]                                        [Keele1974]

so the volume velocity follows from the pressure, and the volume velocities of all openings add up:

    p_cone + p_mouth sqrt(S_V/S_D)                                                            [Keele1974]

is what a cone alone would have to give for the same sound. Above ka = 1 the pressure at the cone falls behind what is
heard far away, by 20 log10 [sin(ka/2)/(ka/2)], 0.4 dB at ka = 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asinh, pi, sqrt

from sealtune.records.design import Design


def reach_of_disc_m(area_m2: float) -> float:
    """Return G of p = j w rho U / (2 pi) G at the middle of a round piston, 1/m: 2/a [Keele1974]."""
    return 2.0 / sqrt(area_m2 / pi)


def reach_of_rectangle_m(width_m: float, height_m: float) -> float:
    """Return G at the middle of a rectangular piston, 1/m: the mean of 1/r over its face (exact).

    2 [b asinh(h/b) + h asinh(b/h)] / (b h); a square has 0.6 % less than the disc of its area, 4:1 13 % less.
    """
    b, h = width_m, height_m
    return 2.0 * (b * asinh(h / b) + h * asinh(b / h)) / (b * h)


def limit_hz(area_m2: float, speed_m_s: float) -> float:
    """Return where ka = 1 for a disc of that area, Hz: up to there the near field tells the far one [Keele1974]."""
    return speed_m_s / (2.0 * pi * sqrt(area_m2 / pi))


@dataclass(frozen=True)
class Openings:
    """What sends out the sound.

    cone_area_m2, cones: of one cone, and how many there are
    mouth_area_m2, mouths: of one vent, and how many there are
    mouth_reach_m: G of one mouth, 1/m
    """

    cone_area_m2: float
    cones: int
    mouth_area_m2: float
    mouths: int
    mouth_reach_m: float

    @property
    def mouth_over_cone(self) -> float:
        """Pressure in a mouth over that at a cone where all mouths together move as much air as all cones.

        For one of each and round ones it is a_D/a_V, the inverse of Keele's weight sqrt(S_V/S_D).
        """
        return self.mouth_reach_m / self.mouths / (reach_of_disc_m(self.cone_area_m2) / self.cones)


def openings(design: Design) -> Openings | None:
    """Return the openings of a design, None where the area of cone or vent is not known."""
    driver, vent = design.driver, design.vent
    if driver.sd_m2 is None or vent is None:
        return None
    reach = reach_of_disc_m(vent.area_m2)
    if vent.shape == "rectangular" and vent.width_m is not None and vent.height_m is not None:
        reach = reach_of_rectangle_m(vent.width_m, vent.height_m)
    return Openings(driver.sd_m2, driver.count, vent.area_m2, vent.count, reach)
