"""The opening of a vent: its area, and how it is made wider or narrower."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sqrt, tan

from sealtune.records.design import Vent


def polygon_area_m2(sides: int, across_flats_m: float) -> float:
    """Area of a regular polygon, m2: as many triangles of height a/2 and base a tan(pi/sides)."""
    return sides * tan(pi / sides) * across_flats_m**2 / 4.0


def size_m(vent: Vent) -> float:
    """The dimension that says how wide the vent is, m.

    Diameter of a round vent, height of a rectangular one (the shorter side), across the flats of a polygon, diameter of
    the circle of equal area of a custom shape.
    """
    if vent.shape == "round" and vent.diameter_m:
        return vent.diameter_m
    if vent.shape == "rectangular" and vent.width_m and vent.height_m:
        return min(vent.width_m, vent.height_m)
    if vent.shape == "polygon" and vent.across_flats_m:
        return vent.across_flats_m
    return 2.0 * sqrt(vent.area_m2 / pi)


def with_size(vent: Vent, to_m: float) -> Vent:
    """The vent with another size, see `size_m`; the longer side of a rectangle stays as it is.

    to_m: the new size, m, > 0
    """
    if vent.shape == "rectangular" and vent.width_m and vent.height_m:
        if vent.height_m <= vent.width_m:
            return replace(vent, height_m=to_m, area_m2=vent.width_m * to_m)
        return replace(vent, width_m=to_m, area_m2=to_m * vent.height_m)
    return _scaled(vent, to_m)


def widened(vent: Vent, by_m: float) -> Vent:
    """The vent with every dimension of its opening larger by so much, m; smaller where negative."""
    if vent.shape == "rectangular" and vent.width_m and vent.height_m:
        width, height = vent.width_m + by_m, vent.height_m + by_m
        return replace(vent, width_m=width, height_m=height, area_m2=width * height)
    return _scaled(vent, size_m(vent) + by_m)


def _scaled(vent: Vent, size: float) -> Vent:
    if vent.shape == "round":
        return replace(vent, diameter_m=size, area_m2=pi * size**2 / 4.0)
    if vent.shape == "polygon" and vent.sides:
        return replace(vent, across_flats_m=size, area_m2=polygon_area_m2(vent.sides, size))
    return replace(vent, area_m2=pi * size**2 / 4.0)
