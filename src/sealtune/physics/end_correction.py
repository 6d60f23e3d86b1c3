"""How much longer a vent is to the air than to the ruler, at each of its mouths."""

from __future__ import annotations

from math import asinh, atan, hypot, pi, sqrt

import numpy as np

# Length added at a round mouth over its radius, far below the first resonance of the vent.
FLANGED = 0.8216  # in a wide flat wall [Dalmont2001]
FREE = 0.6127  # a thin-walled pipe in open air; [Levine1948] print 0.6133, their integral gives 0.6127
PISTON = 8.0 / (3.0 * pi)  # in a wide wall, air moving like a rigid piston [Rayleigh1896]; 3 % above FLANGED


def rectangular_piston_m(width_m: float, height_m: float) -> float:
    """End correction of a rectangular mouth in a wide wall, air moving as one, m [Rayleigh1896].

    width_m, height_m: sides, m, > 0, in either order
    Closed form of Rayleigh's double integral. Real air moves faster near the rim, which takes off about 3 %.
    """
    a, b = width_m, height_m
    integral = 2.0 * (a**2 * b * asinh(b / a) + a * b**2 * asinh(a / b)) + (2.0 / 3.0) * (
        a**3 + b**3 - hypot(a, b) ** 3
    )
    return integral / (2.0 * pi * a * b)


def rectangle_factor(width_m: float, height_m: float) -> float:
    """End correction of a rectangle over that of the circle of equal area, 0 to 0.99.

    width_m, height_m: sides, m, > 0
    """
    return rectangular_piston_m(width_m, height_m) / (PISTON * sqrt(width_m * height_m / pi))


def polygon_factor(sides: int) -> float:
    """End correction of a regular polygon over that of the circle of equal area, 0.96 to 1.

    sides: 3 or more
    1 - 3.1/sides^4 follows Rayleigh's integral over the polygon to 0.0008 (derived; see the tests).
    """
    return 1.0 - 3.1 / sides**4


def neighbour_m(radius_m: float, distance_m: float) -> float:
    """Length that each of two equal round mouths in one wide wall gains from the other, m [Rayleigh1896].

    radius_m: radius of either mouth, m, > 0
    distance_m: between the centres, m; taken as 2 radius_m where less, for mouths cannot overlap
    The series of 2 a int (J1(t)/t)^2 J0(t d/a) dt in (a/d)^2; far apart it tends to a^2/(2 d).
    """
    ratio = radius_m / max(distance_m, 2.0 * radius_m)
    k = np.arange(600.0)
    growth = 2.0 * (2.0 * k + 3.0) * (k + 0.5) ** 2 / ((k + 1.0) * (k + 2.0) * (k + 3.0)) * ratio**2
    return float(radius_m * 0.5 * ratio * (1.0 + np.cumprod(growth).sum()))


def side_wall_m(radius_m: float, distance_m: float) -> float:
    """Length that a round mouth in a wide wall gains from a wall at right angles beside it, m.

    radius_m: of the mouth, m
    distance_m: from the mouth's centre to the wall, m, taken as radius_m where less
    The wall acts as the mouth's mirror image, twice as far off. For a free pipe, whose sound goes all round,
    half of it holds, exactly so only far from the wall.
    """
    return neighbour_m(radius_m, 2.0 * distance_m)


def flare_m(radius_m: float, flare_radius_m: float) -> float:
    """Length that a rounded flare and the air beyond it count for, m.

    radius_m: of the straight part of the vent, m, > 0
    flare_radius_m: of the rounding, a quarter circle in section, m, >= 0
    No universal figure for flared ends is known. This is an approximation: the air in the flare is taken as
    moving in flat slices (common practice in horn design), and the wide mouth as flanged. It tends to the
    flanged end as the flare vanishes and is rather too short for a strong flare, where slices are not flat.
    """
    wide, r = radius_m + flare_radius_m, flare_radius_m
    square = wide**2 - r**2
    angle = 2.0 / sqrt(square) * atan(sqrt((wide + r) / radius_m))
    slices = (1.0 + r * angle) / square  # int_0^{pi/2} cos t dt / (wide - r cos t)^2
    return radius_m**2 * (r * slices + FLANGED / wide)
