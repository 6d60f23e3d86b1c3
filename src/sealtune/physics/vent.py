"""The vent: how long it is to the air, the tuning it gives, its own resonance and its friction."""

from __future__ import annotations

from math import pi, sqrt, tan

import numpy as np
from numpy.typing import NDArray

from sealtune.physics.air import Air
from sealtune.physics.end_correction import (
    FLANGED,
    FREE,
    facing_wall_m,
    flare_m,
    neighbours_m,
    polygon_factor,
    side_wall_m,
)
from sealtune.physics.slot_end import (
    equal_radius_m,
    mirrored_m,
    mirrored_rectangle_m,
    stepped_slot_m,
    thin_slot_m,
)
from sealtune.records.design import Box, Vent, VentEnd

Reals = float | NDArray[np.float64]

# Rounding of a flared end whose radius is not given, over the vent's radius (common practice).
_USUAL_FLARE = 0.5
# Height of a box over that of a slot in it, where the box is not at hand (common practice); it counts by its logarithm.
_USUAL_HEIGHTS = 10.0


def perimeter_m(vent: Vent) -> float:
    """Length of the wall around one vent's cross-section, m.

    A custom shape counts as round, the least wall there can be for its area.
    """
    if vent.shape == "rectangular" and vent.width_m and vent.height_m:
        return 2.0 * (vent.width_m + vent.height_m)
    if vent.shape == "polygon" and vent.sides:
        return 2.0 * sqrt(vent.sides * tan(pi / vent.sides) * vent.area_m2)
    return 2.0 * sqrt(pi * vent.area_m2)


def vent_ends_m(vent: Vent, box: Box | None = None) -> tuple[float, float]:
    """What the inner and the outer end of each vent add to the length between its mouths, m.

    vent: any shape; several vents are alike and stand in a row, spacing_m apart (None: far apart)
    box: its height counts for a slot across the whole width, the cube root of its volume where none is given
    Round ends count 0.8216 (flanged [Dalmont2001]) or 0.6127 radii (free [Levine1948]). Other
    shapes count as the circle of equal area times the ratio that Rayleigh's integral gives for a flanged
    mouth; that this ratio also holds for a free end is an assumption. The walls of the vent count as thin.
    A flare counts as no longer than the vent, or half of it where both ends have one; a wide one may make its end
    negative. A slot that shares walls with the cabinet counts with its mirror images, across the whole width as plane
    flow (`slot_end`), at its inner end only: the outer mouth counts as lying in a wide baffle, also at its edge.
    A wall beside the inner mouth lies wall_distance_m from its rim; for one that the mouth faces see
    `facing_wall_m`. That form is for a free pipe and is taken for a flanged mouth too, right to 0.25 radii for rooms
    5 to 8 radii wide either way and a wall one radius off or farther; a wall closer to a flange adds more.
    The box's other walls are left out: of a flush mouth's end they take the share 1.25 radii over half the box's width,
    and the box's depth gives some of it back (mode matching, tests/independent/test_vent_facing_wall.py).
    Good to about a tenth of the correction; worse for slots.
    Holds below the first resonance across the duct, c over twice its wider side, far above any tuning.
    """
    return _inner_m(vent, box), _end_m(vent, vent.outer_end) + _neighbours_m(vent, vent.outer_end)


def end_corrections_m(vent: Vent, box: Box | None = None) -> float:
    """What both ends add to the length between the mouths, m; see `vent_ends_m`."""
    return sum(vent_ends_m(vent, box))


def effective_length_m(vent: Vent, box: Box | None = None) -> float:
    """Length of the vent with its end corrections, m; where it holds: see `vent_ends_m`."""
    return vent.length_m + end_corrections_m(vent, box)


def helmholtz_hz(
    speed_m_s: Reals,
    area_m2: Reals,
    length_m: Reals,
    inner_end_m: Reals,
    outer_end_m: Reals,
    volume_m3: Reals,
) -> NDArray[np.float64]:
    """Resonance of the air in a duct, which gives a little itself, on the air in a box, Hz [Rayleigh1896].

    speed_m_s: of sound; area_m2: of all vents together; length_m: between the mouths, >= 0; inner_end_m, outer_end_m:
        what each end adds, m; volume_m3: net volume of the box; all may be arrays that broadcast
    By Rayleigh's principle with a pressure that falls evenly along L' = length and ends: the duct's air adds the
    springy volume S int p^2 dx = S L'/3 [(1 - inner/L')^3 - (outer/L')^3] to the box's. Without ends the tuning is
    lower than the lumped mass's by a sixth of duct air over box air. Within 0.1 % of the transmission line while the
    duct holds less than a fifth of the box's air (tests/independent/test_vent_tuning.py). No losses.
    """
    whole = length_m + inner_end_m + outer_end_m
    springy = np.maximum(_springy_length(whole, inner_end_m, outer_end_m), 0.0)
    volume = volume_m3 + area_m2 * springy
    return np.asarray(speed_m_s / (2.0 * pi) * np.sqrt(area_m2 / (volume * whole)))


def tuning_hz(box: Box, vent: Vent, air: Air) -> float:
    """Resonance of the air in the vent on the air in the box, Hz; see `helmholtz_hz`.

    Holds without losses and while the box is short against a quarter of the wavelength.
    """
    inner, outer = vent_ends_m(vent, box)
    area_m2 = vent.count * vent.area_m2
    return float(helmholtz_hz(air.speed_m_s, area_m2, vent.length_m, inner, outer, box.volume_m3))


def effective_length_for_tuning_m(box: Box, frequency_hz: float, vent: Vent, air: Air) -> float:
    """Effective length at which a vent of this cross-section, count and ends gives that tuning, m.

    frequency_hz: tuning, Hz, > 0
    vent: its own length does not matter unless its flares are longer
    The exact inverse of `tuning_hz`, by Newton's method. Less than the ends alone where no vent of this area reaches
    the tuning; it is then the length of a lumped mass.
    """
    inner, outer = vent_ends_m(vent, box)
    area_m2, volume_m3 = vent.count * vent.area_m2, box.volume_m3
    needed = (air.speed_m_s / (2.0 * pi * frequency_hz)) ** 2 * area_m2
    whole = needed / volume_m3
    if whole <= inner + outer:
        return whole
    for _ in range(50):
        springy = float(_springy_length(whole, inner, outer))
        slope = volume_m3 + area_m2 * (whole * (1.0 - inner / whole) ** 2 - springy)
        step = (whole * (volume_m3 + area_m2 * springy) - needed) / slope
        whole -= step
        if abs(step) < 1e-15 * whole:
            break
    return whole


def length_for_tuning_m(box: Box, frequency_hz: float, vent: Vent, air: Air) -> float:
    """Length from mouth to mouth at which this vent gives that tuning, m.

    frequency_hz: tuning wished for, Hz, > 0
    vent: its cross-section, count and ends; its own length does not matter
        unless its flares are longer
    Returns a length not above zero where no vent of this area reaches the tuning: it needs a larger area.
    """
    return effective_length_for_tuning_m(box, frequency_hz, vent, air) - end_corrections_m(vent, box)


def pipe_resonance_hz(vent: Vent, box: Box, air: Air) -> float:
    """First resonance of the vent's duct as a pipe open at both ends, c/(2 L'), Hz.

    Holds to a few per cent: the ends are shorter at high frequency, and box and neighbours pull it a little.
    """
    return air.speed_m_s / (2.0 * effective_length_m(vent, box))


def viscous_layer_m(frequency_hz: float, air: Air) -> float:
    """Thickness of the layer of air that the wall holds back, sqrt(2 mu / (rho w)), m [Crandall1926]."""
    return sqrt(air.viscosity_pa_s / (air.density_kg_m3 * pi * frequency_hz))


def vent_q(vent: Vent, frequency_hz: float, air: Air, box: Box | None = None) -> float:
    """Q of the vent by friction on smooth walls: reactance of its air over friction, > 0.

    vent: any shape, wide against the viscous layer (0.35 mm at 40 Hz)
    box: see `vent_ends_m`
    frequency_hz: > 0. Friction grows with the square root of frequency, and so does Q.
    The wide tube of [Kirchhoff1868]; the rims count as one diameter more of wall [Ingard1953, from
    memory]. Heat conduction is left out: it damps the springiness of the air in the vent, which is small
    beside the box's. Real vents have half of this Q or less: rough walls, edges, loud sound.
    """
    wall_m = vent.length_m + 2.0 * equal_radius_m(vent.area_m2)
    layer_m = viscous_layer_m(frequency_hz, air)
    return 2.0 * vent.area_m2 * effective_length_m(vent, box) / (perimeter_m(vent) * layer_m * wall_m)


def _springy_length(whole_m: Reals, inner_m: Reals, outer_m: Reals) -> Reals:
    """Length of duct at the box's pressure that would give as much as the duct does, m."""
    return whole_m / 3.0 * ((1.0 - inner_m / whole_m) ** 3 - (outer_m / whole_m) ** 3)


def _inner_m(vent: Vent, box: Box | None) -> float:
    end, wall_m = vent.inner_end, vent.wall_distance_m
    facing = wall_m is not None and vent.wall_position == "facing"
    across = vent.shared_walls >= 3 and end != "flared"
    if across and vent.width_m and vent.height_m:
        height = min(vent.width_m, vent.height_m)
        full = _box_height_m(box) if box is not None else _USUAL_HEIGHTS * height
        if end == "flanged":
            return stepped_slot_m(height, full)
        return thin_slot_m(height, full, wall_m if facing else None)
    total = _end_m(vent, end, vent.shared_walls) + _neighbours_m(vent, end)
    if wall_m is None:
        return total
    radius = _radius_m(vent, vent.shared_walls)
    if facing:
        return total + facing_wall_m(radius, max(wall_m, 1e-3 * radius))
    return total + (0.5 if end == "free" else 1.0) * side_wall_m(radius, radius + wall_m)


def _box_height_m(box: Box) -> float:
    return box.height_m if box.height_m is not None else box.volume_m3 ** (1.0 / 3.0)


def _radius_m(vent: Vent, shared_walls: int) -> float:
    """Radius of the circle as large as the mouth and its images in the walls that it shares, m."""
    if vent.width_m and vent.height_m:
        width, height = mirrored_m(vent.width_m, vent.height_m, shared_walls)
        return equal_radius_m(width * height)
    return equal_radius_m(vent.area_m2)


def _neighbours_m(vent: Vent, end: VentEnd) -> float:
    if vent.spacing_m is None or vent.count < 2:
        return 0.0
    share = 0.5 if end == "free" else 1.0
    return share * neighbours_m(equal_radius_m(vent.area_m2), vent.spacing_m, vent.count)


def _end_m(vent: Vent, end: VentEnd, shared_walls: int = 0) -> float:
    radius = equal_radius_m(vent.area_m2)
    if end == "flared":
        flare = vent.flare_radius_m if vent.flare_radius_m is not None else _USUAL_FLARE * radius
        flare = min(flare, vent.length_m / (vent.outer_end, vent.inner_end).count("flared"))
        return flare_m(radius, flare) - flare
    round_end = FREE if end == "free" else FLANGED
    if vent.shape == "rectangular" and vent.width_m and vent.height_m:
        return mirrored_rectangle_m(vent.width_m, vent.height_m, shared_walls, round_end)
    if vent.shape == "polygon" and vent.sides:
        return polygon_factor(vent.sides) * radius * round_end
    return radius * round_end
