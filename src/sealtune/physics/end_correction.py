"""How much longer a vent is to the air than to the ruler, at each of its mouths."""

from __future__ import annotations

from math import asinh, atan, hypot, log, pi, sqrt

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


def neighbours_m(radius_m: float, spacing_m: float, count: int) -> float:
    """Length that each of several equal mouths in a row gains from all others, mean of the row, m.

    radius_m: of each mouth, or of the circle of its area, m, > 0
    spacing_m: between the centres of neighbours, m, taken as 2 radius_m where less
    count: 1 or more
    Mouths in a wide wall that breathe alike: the sum of `neighbour_m` over all pairs. Free pipes side by side, whose
    sound goes all round, gain half of it, exactly so only far apart. Good for mouths about as wide as high.
    """
    far = ((count - apart) * neighbour_m(radius_m, apart * spacing_m) for apart in range(1, count))
    return 2.0 / count * sum(far)


def facing_wall_m(radius_m: float, distance_m: float) -> float:
    """Length that a thin-walled free pipe gains from a wide wall that its mouth faces, m.

    radius_m: of the pipe, m, > 0
    distance_m: from the mouth's plane to the wall, m, > 0
    (a/pi) ln(1 + pi a/(8 s) + a^2/(4 s^2)) joins two limits. Far off, the mouth's mirror image, a source at 2 s, adds
    a^2/(8 s). Close by, all air passes the gap between rim and wall, of which rim and image make a slit 2 s wide: its
    drop grows as (2 a/pi) ln(a/s), slower than the a^2/(8 s) of air that rises evenly over the mouth. Within 1.6 % of
    the whole end from s = 0.1 to 4 a, against coaxial rings (tests/independent/test_vent_facing_wall.py).
    """
    ratio = radius_m / distance_m
    return radius_m / pi * log(1.0 + pi / 8.0 * ratio + 0.25 * ratio**2)


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
