"""The inner end of a slot that shares walls with the cabinet: mirror images, and plane flow."""

from __future__ import annotations

from math import expm1, log, log1p, pi, sqrt

from sealtune.physics.end_correction import rectangle_factor


def equal_radius_m(area_m2: float) -> float:
    """Radius of the circle of that area, m."""
    return sqrt(area_m2 / pi)


def mirrored_m(width_m: float, height_m: float, shared_walls: int) -> tuple[float, float]:
    """Sides of the mouth together with its images in the walls that it shares, m.

    width_m, height_m: sides of the duct, m, > 0, in either order
    shared_walls: 0 none, 1 one of the longer sides, 2 or more that and a side wall
    The duct and its images breathe alike, so one longer duct without shared walls has the same end.
    """
    long, short = max(width_m, height_m), min(width_m, height_m)
    if shared_walls >= 1:
        short *= 2.0
    if shared_walls >= 2:
        long *= 2.0
    return long, short


def mirrored_rectangle_m(width_m: float, height_m: float, shared_walls: int, round_end: float) -> float:
    """End of a rectangular duct that shares up to two walls with the cabinet, m.

    round_end: end of a round duct over its radius, FLANGED or FREE
    That the ratio of rectangle to circle is the same for a free as for a flanged end is an assumption.
    """
    sides = mirrored_m(width_m, height_m, shared_walls)
    return rectangle_factor(*sides) * round_end * equal_radius_m(sides[0] * sides[1])


def thin_slot_m(height_m: float, box_height_m: float, wall_m: float | None = None) -> float:
    """Inner end of a slot across the whole width, between the floor and a thin shelf, m.

    height_m: h, of the slot, m, > 0
    box_height_m: H, from the floor to the lid, m; 0 where not above the slot
    wall_m: from the shelf's edge to the wall that the slot faces, m; None for far
    Plane flow, by the conformal map pi z = h ln(t + h) + (H - h) ln(t - H + h): between the air in the slot and the
    air above the shelf lies E = [H ln H - h ln h - (H - h) ln(H - h)]/pi where all flow goes straight on, E H/(H - h)
    where all turns back. A box breathes both ways: with a share q beyond the edge it is E (1 - q h/H)^2/(1 - h/H),
    which is E for q near a half, taken here. With a wall close by all must turn back, and the gap adds a term
    fitted to mode matching, within 2 % for wall_m = 0.25 to 4 h and h/H = 0.03 to 0.33
    (tests/independent/test_vent_slot_ends.py). The box's own length is left out.
    """
    h, full = height_m, box_height_m
    if full <= h:
        return 0.0
    above = full - h
    straight = (full * log(full / above) + h * log(above / h)) / pi
    if wall_m is None:
        return straight
    x = expm1(2.0 * pi * wall_m / full)
    y = x * full / (2.0 * pi * h)
    near = (above / full) ** 1.58 * (2.05 / y + 0.88 / y**2 + 0.36 / y**3)
    return straight * full / above + h / pi * (log1p(1.0 / x) + log1p(near))


def stepped_slot_m(height_m: float, box_height_m: float) -> float:
    """Inner end of a slot across the whole width that ends flush in a wall from shelf to lid, m.

    height_m: h, of the slot, m, > 0
    box_height_m: H, from the floor to the lid, m; 0 where not above the slot
    Plane flow through a step from h to H, by a conformal map; with its image in the floor it is that of a symmetrical
    step: (2 h/pi) [ln((1 - u^2)/(4 u)) + (u + 1/u)/2 ln((1 + u)/(1 - u))], u = h/H (checked by mode matching).
    """
    u = height_m / box_height_m
    if u >= 1.0:
        return 0.0
    bend = log((1.0 - u**2) / (4.0 * u)) + 0.5 * (u + 1.0 / u) * log((1.0 + u) / (1.0 - u))
    return 2.0 * height_m / pi * bend
