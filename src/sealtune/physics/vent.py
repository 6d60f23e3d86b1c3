"""The vent: how long it is to the air, the tuning it gives, and its friction."""

from __future__ import annotations

from math import pi, sqrt, tan

from sealtune.physics.air import Air
from sealtune.physics.end_correction import (
    FLANGED,
    FREE,
    flare_m,
    polygon_factor,
    rectangle_factor,
    side_wall_m,
)
from sealtune.records.design import Vent, VentEnd

# Rounding of a flared end whose radius is not given, over the vent's radius (common practice).
_USUAL_FLARE = 0.5


def equal_radius_m(area_m2: float) -> float:
    """Radius of the circle of that area, m."""
    return sqrt(area_m2 / pi)


def perimeter_m(vent: Vent) -> float:
    """Length of the wall around one vent's cross-section, m.

    A custom shape counts as round, the least wall there can be for its area.
    """
    if vent.shape == "rectangular" and vent.width_m and vent.height_m:
        return 2.0 * (vent.width_m + vent.height_m)
    if vent.shape == "polygon" and vent.sides:
        return 2.0 * sqrt(vent.sides * tan(pi / vent.sides) * vent.area_m2)
    return 2.0 * sqrt(pi * vent.area_m2)


def end_corrections_m(vent: Vent) -> float:
    """What both ends add to the length between the mouths, m; a wide flare may make it negative.

    vent: any shape; several vents are taken as alike and far apart (each end its own; how close they stand
        to each other is not part of a design, two that touch in one wall would add 0.27 radii more)
    Round ends count 0.8216 (flanged [Dalmont2001]) or 0.6127 radii (free [Levine1948]). Other
    shapes count as the circle of equal area times the ratio that Rayleigh's integral gives for a flanged
    mouth; that this ratio also holds for a free end is an assumption. The walls of the vent count as thin.
    A flare counts as no longer than the vent, or half of it where both ends have one.
    A wall near the inner mouth is taken as standing beside it, wall_distance_m from its rim. Good to about
    a tenth of the correction; worse for slots, and for a wall that the mouth faces closer than its diameter.
    """
    total = _end_m(vent, vent.outer_end) + _end_m(vent, vent.inner_end)
    if vent.wall_distance_m is not None:
        radius = equal_radius_m(vent.area_m2)
        share = 0.5 if vent.inner_end == "free" else 1.0
        total += share * side_wall_m(radius, radius + vent.wall_distance_m)
    return total


def effective_length_m(vent: Vent) -> float:
    """Length of the vent with its end corrections, m; where it holds: see end_corrections_m."""
    return vent.length_m + end_corrections_m(vent)


def tuning_hz(volume_m3: float, vent: Vent, air: Air) -> float:
    """Resonance of the air in the vent on the air in the box, Hz [Rayleigh1896].

    volume_m3: net volume of the box, m3, > 0
    Holds without losses and while vent and box are short against a quarter of the wavelength.
    """
    area_m2 = vent.count * vent.area_m2
    return air.speed_m_s / (2.0 * pi) * sqrt(area_m2 / (volume_m3 * effective_length_m(vent)))


def effective_length_for_tuning_m(volume_m3: float, frequency_hz: float, vent: Vent, air: Air) -> float:
    """Effective length at which a vent of this cross-section and count gives that tuning, m.

    volume_m3: net volume, m3, > 0
    frequency_hz: tuning, Hz, > 0
    """
    area_m2 = vent.count * vent.area_m2
    return (air.speed_m_s / (2.0 * pi * frequency_hz)) ** 2 * area_m2 / volume_m3


def length_for_tuning_m(volume_m3: float, frequency_hz: float, vent: Vent, air: Air) -> float:
    """Length from mouth to mouth at which this vent gives that tuning, m.

    volume_m3: net volume, m3, > 0
    frequency_hz: tuning wished for, Hz, > 0
    vent: its cross-section, count and ends; its own length does not matter
        unless its flares are longer
    Returns a negative length where no vent of this area reaches the tuning: it needs a larger area.
    """
    return effective_length_for_tuning_m(volume_m3, frequency_hz, vent, air) - end_corrections_m(vent)


def viscous_layer_m(frequency_hz: float, air: Air) -> float:
    """Thickness of the layer of air that the wall holds back, sqrt(2 mu / (rho w)), m [Crandall1926]."""
    return sqrt(air.viscosity_pa_s / (air.density_kg_m3 * pi * frequency_hz))


def vent_q(vent: Vent, frequency_hz: float, air: Air) -> float:
    """Q of the vent by friction on smooth walls: reactance of its air over friction, > 0.

    vent: any shape, wide against the viscous layer (0.35 mm at 40 Hz)
    frequency_hz: > 0. Friction grows with the square root of frequency, and so does Q.
    The wide tube of [Kirchhoff1868]; the rims count as one diameter more of wall [Ingard1953, from
    memory]. Heat conduction is left out: it damps the springiness of the air in the vent, which is small
    beside the box's. Real vents have half of this Q or less: rough walls, edges, loud sound.
    """
    wall_m = vent.length_m + 2.0 * equal_radius_m(vent.area_m2)
    layer_m = viscous_layer_m(frequency_hz, air)
    return 2.0 * vent.area_m2 * effective_length_m(vent) / (perimeter_m(vent) * layer_m * wall_m)


def _end_m(vent: Vent, end: VentEnd) -> float:
    radius = equal_radius_m(vent.area_m2)
    if end == "flared":
        flare = vent.flare_radius_m if vent.flare_radius_m is not None else _USUAL_FLARE * radius
        flare = min(flare, vent.length_m / (vent.outer_end, vent.inner_end).count("flared"))
        return flare_m(radius, flare) - flare
    return _shape_factor(vent) * radius * (FREE if end == "free" else FLANGED)


def _shape_factor(vent: Vent) -> float:
    if vent.shape == "rectangular" and vent.width_m and vent.height_m:
        return rectangle_factor(vent.width_m, vent.height_m)
    if vent.shape == "polygon" and vent.sides:
        return polygon_factor(vent.sides)
    return 1.0
