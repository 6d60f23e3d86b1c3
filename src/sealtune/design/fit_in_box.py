"""Whether a vent fits its box, and the nearest one that does."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace
from math import floor, inf

from sealtune.physics.air import Air
from sealtune.physics.vent import length_for_tuning_m, tuning_hz
from sealtune.physics.vent_opening import size_m, with_size
from sealtune.records.design import Box, Vent

WALL_M = 0.015
"""Thickness of a usual cabinet wall: so much of a vent lies in it, and no shorter one is proposed (common practice)."""

LEAST_LENGTH_M = 0.005
"""A vent shorter than the thinnest wall cannot be built (common practice)."""

LONGEST_M = 5.0
"""No vent is longer than this."""

_SIZES_MM = range(8, 1001)
"""Openings that are proposed, mm; in narrower ones friction leaves little of the resonance (common practice)."""

_FLARE_STEPS = 60


@dataclass(frozen=True)
class Nearest:
    """The nearest vent that can be built, and its tuning where it had to be another one; else None."""

    vent: Vent
    tuning_hz: float | None = None


def room_behind_m(vent: Vent) -> float:
    """Room that must stay free behind the inner mouth, m: half a diameter, or a slot's height (common practice)."""
    return size_m(vent) * (1.0 if vent.shape == "rectangular" else 0.5)


def longest_m(box: Box, vent: Vent) -> float:
    """Length of the longest straight vent of this opening, m; its outer WALL_M may lie in the wall."""
    return LONGEST_M if box.depth_m is None else box.depth_m + WALL_M - room_behind_m(vent)


def too_long(box: Box, vent: Vent) -> bool:
    """Whether the vent is longer than the box is deep, where the depth is given."""
    return box.depth_m is not None and vent.length_m > longest_m(box, vent) * (1.0 + 1e-9)


def vents_on_wall(box: Box, vent: Vent) -> float:
    """How many such vents the wall has room for, in rows and columns; infinite where its measures do not say.

    A custom shape is held against the area of the wall only.
    """
    if vent.shape == "custom":
        if box.width_m is None or box.height_m is None:
            return inf
        return floor(box.width_m * box.height_m / vent.area_m2)
    wide, high = _extent_m(vent)
    return max(_grid(box, vent, wide, high), _grid(box, vent, high, wide))


def wall_obstacle(box: Box, vent: Vent) -> str | None:
    """Say in a few words why the vents do not fit on the wall, None where they do or nobody knows."""
    room = vents_on_wall(box, vent)
    if room >= vent.count:
        return None
    if room < 1:
        return "larger than the wall"
    return f"only {room:.0f} of {vent.count} vents find room on the wall"


def takes_m3(vent: Vent) -> float:
    """What all vents displace inside the box, their walls left out, m3."""
    return vent.count * vent.area_m2 * max(vent.length_m - WALL_M, 0.0)


def takes_too_much(box: Box, vent: Vent) -> bool:
    """Whether the vents displace more than the box has room for."""
    return takes_m3(vent) > room_m3(box) * (1.0 + 1e-9)


def room_m3(box: Box) -> float:
    """What the vents may displace, m3: the inside less the net volume; the net volume where the inside is not given."""
    if box.width_m is None or box.height_m is None or box.depth_m is None:
        return box.volume_m3
    inside = box.width_m * box.height_m * box.depth_m
    return max(inside * (1.0 + box.volume_tolerance) - box.volume_m3, 0.0)


def vent_for_tuning(box: Box, frequency_hz: float, vent: Vent, air: Air) -> Vent:
    """Return the vent with the length that gives this tuning; the length is not positive where none does.

    frequency_hz: > 0
    Flares count as no longer than the vent, so that their length is found in steps.
    """
    length = length_for_tuning_m(box, frequency_hz, replace(vent, length_m=LONGEST_M), air)
    for _ in range(_FLARE_STEPS):
        if length <= 0.0 or "flared" not in (vent.outer_end, vent.inner_end):
            break
        again = length_for_tuning_m(box, frequency_hz, replace(vent, length_m=length), air)
        if abs(again - length) < 1e-7:
            break
        length = again
    return replace(vent, length_m=length)


def highest_tuning_hz(box: Box, vent: Vent, air: Air) -> float:
    """Tuning with the shortest length that can be built, Hz."""
    return tuning_hz(box, replace(vent, length_m=LEAST_LENGTH_M), air)


def nearest_vent(box: Box, frequency_hz: float, vent: Vent, air: Air) -> Nearest:
    """Return the vent of the same shape that gives this tuning, can be built and is nearest in its opening.

    frequency_hz: > 0
    Its opening is a whole number of millimetres, or the design's own. Where no opening does, another number of
    vents is tried, and after that another tuning.
    """
    base = _no_wider_than_the_wall(box, vent)
    counts = {vent.count, max(vent.count - 1, 1), vent.count + 1, 1, 2}
    for count in sorted(counts, key=lambda n: (abs(n - vent.count), n)):
        found = _nearest_opening(box, frequency_hz, replace(base, count=count), air)
        if found is not None:
            return Nearest(found)
    return _nearest_tuning(box, frequency_hz, base, air)


def _nearest_tuning(box: Box, frequency_hz: float, vent: Vent, air: Air) -> Nearest:
    """Return the widest vent that the wall holds, as short as can be; for a low tuning the longest of its own size."""

    def too_wide(mm: float) -> bool:
        one = with_size(vent, mm / 1e3)
        return vents_on_wall(box, one) < one.count or longest_m(box, one) < WALL_M

    widest = bisect_left(_SIZES_MM, True, key=too_wide)
    if widest == 0 and vent.count > 1:
        return _nearest_tuning(box, frequency_hz, replace(vent, count=1), air)
    widest_m = _SIZES_MM[max(widest - 1, 0)] / 1e3
    own = replace(with_size(vent, min(size_m(vent), widest_m)), length_m=WALL_M)
    if frequency_hz > tuning_hz(box, own, air):
        chosen = replace(with_size(vent, widest_m), length_m=WALL_M)
    else:
        filled_m = WALL_M + room_m3(box) / (own.count * own.area_m2)
        chosen = replace(own, length_m=max(min(longest_m(box, own), filled_m), WALL_M))
    return Nearest(chosen, tuning_hz(box, chosen, air))


def _nearest_opening(box: Box, frequency_hz: float, vent: Vent, air: Air) -> Vent | None:
    def tuned(size: float) -> Vent:
        return vent_for_tuning(box, frequency_hz, with_size(vent, size), air)

    def long_enough(mm: float) -> bool:
        return tuned(mm / 1e3).length_m >= WALL_M

    def too_large(mm: float) -> bool:
        one = tuned(mm / 1e3)
        fits = one.length_m <= longest_m(box, one) and not takes_too_much(box, one)
        return not fits or vents_on_wall(box, one) < one.count

    own_mm = size_m(vent) * 1e3
    if long_enough(own_mm) and not too_large(own_mm):
        return tuned(size_m(vent))
    least = bisect_left(_SIZES_MM, True, key=long_enough)
    most = bisect_left(_SIZES_MM, True, key=too_large) - 1
    if least > most:
        return None
    return tuned(min(max(round(own_mm), _SIZES_MM[least]), _SIZES_MM[most]) / 1e3)


def _extent_m(vent: Vent) -> tuple[float, float]:
    if vent.shape == "rectangular" and vent.width_m and vent.height_m:
        return vent.width_m, vent.height_m
    size = size_m(vent)
    return size, size


def _grid(box: Box, vent: Vent, wide_m: float, high_m: float) -> float:
    columns = _along(box.width_m, wide_m, vent.spacing_m)
    rows = _along(box.height_m, high_m, vent.spacing_m)
    return 0.0 if columns == 0.0 or rows == 0.0 else columns * rows


def _along(wall_m: float | None, opening_m: float, spacing_m: float | None) -> float:
    if wall_m is None:
        return inf
    if opening_m > wall_m * (1.0 + 1e-9):
        return 0.0
    return 1.0 + floor((wall_m - opening_m) / max(opening_m, spacing_m or 0.0) + 1e-9)


def _no_wider_than_the_wall(box: Box, vent: Vent) -> Vent:
    """Cut the longer side of a rectangle down to the longer side of the wall."""
    if vent.shape != "rectangular" or not vent.width_m or not vent.height_m:
        return vent
    if box.width_m is None or box.height_m is None:
        return vent
    most = max(box.width_m, box.height_m)
    width, height = min(vent.width_m, most), min(vent.height_m, most)
    return replace(vent, width_m=width, height_m=height, area_m2=width * height)
