"""What keeps a design from being built, in words, each with the nearest vent that can be built."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor

from sealtune.design.fit_in_box import (
    LEAST_LENGTH_M,
    LONGEST_M,
    WALL_M,
    highest_tuning_hz,
    longest_m,
    nearest_vent,
    room_behind_m,
    takes_m3,
    takes_too_much,
    too_long,
    vent_for_tuning,
    vents_on_wall,
    wall_obstacle,
)
from sealtune.physics.air import Air
from sealtune.physics.vent import tuning_hz
from sealtune.physics.vent_opening import size_m
from sealtune.records.design import Box, Design, Vent


def with_length_for_target(design: Design, air: Air) -> tuple[Design, str | None]:
    """Return the design with the length of the vent that reaches its target, or a fault that says why there is none.

    design: with a vent, whose own length does not matter, and a target
    Only lengths from LEAST_LENGTH_M to LONGEST_M count. In a fault the nearest vent that can be built is named.
    """
    vent, target_hz = design.vent, design.tuning.target_hz
    if vent is None or target_hz is None:
        return design, None
    tuned = replace(vent_for_tuning(design.box, target_hz, vent, air), length_is_computed=True)
    fault = None
    if tuned.length_m < LEAST_LENGTH_M:
        fault = (
            f"[vent] length_mm: missing, and none reaches target_hz = {target_hz:g}; "
            f"{_unreached(design.box, vent, air)} {_nearest(design, vent, target_hz, air)}"
        )
    elif tuned.length_m > LONGEST_M:
        fault = (
            f"[vent] length_mm: missing, and {tuned.length_m:.1f} m would be needed for target_hz = {target_hz:g}. "
            f"{_nearest(design, vent, target_hz, air)}"
        )
    return replace(design, vent=tuned), fault


def obstacles(design: Design, air: Air) -> tuple[str, ...]:
    """Return what keeps the design from being built, one line each with key and value as in design.toml.

    air: of the place where the box will be measured
    Every line names the nearest vent of the same shape that can be built for the target, or without one for the
    tuning that box and vent predict. Measures that the design does not give are no obstacle.
    """
    vent, box = design.vent, design.box
    if vent is None:
        return ()
    target_hz = design.tuning.target_hz
    goal_hz = tuning_hz(box, vent, air) if target_hz is None else target_hz
    found: list[tuple[str, str]] = []  # what is wrong, and what else there is to say about it
    if target_hz is not None and vent_for_tuning(box, target_hz, vent, air).length_m < LEAST_LENGTH_M:
        found.append((f"[tuning] target_hz = {target_hz:g}: {_unreached(box, vent, air)}", ""))
    if vent.length_m < LEAST_LENGTH_M:
        words = (
            f"[vent] length_mm = {_length(vent, goal_hz)}: shorter than any wall; at least {_mm(LEAST_LENGTH_M)} mm "
            "can be built."
        )
        found.append((words, ""))
    if too_long(box, vent):
        words = (
            f"[vent] length_mm = {_length(vent, goal_hz)}: longer than the box is deep. Inside it has "
            f"depth_mm = {_mm(box.depth_m)}, of which {_mm(room_behind_m(vent))} mm must stay free behind the inner "
            f"mouth; {_mm(WALL_M)} mm of the vent may lie in the wall, so that "
            f"{_longest_words(longest_m(box, vent))}."
        )
        folded = " A folded duct may be longer: its length counts along its middle line, and depth_mm is then left out."
        found.append((words, folded))
    if (wall := wall_obstacle(box, vent)) is not None:
        key = f"{_size_words(vent)}" if vents_on_wall(box, vent) < 1 else f"count = {vent.count}"
        found.append((f"[vent] {key}: {wall} ({_wall_words(box)}).", ""))
    if takes_too_much(box, vent):
        words = (
            f"[vent] {_size_words(vent)}: with length_mm = {_length(vent, goal_hz)} the vent takes "
            f"{_litres(takes_m3(vent))} L inside the box, {_room_words(box)}."
        )
        found.append((words, ""))
    if target_hz is not None and not found and _misses(design, vent, target_hz, air):
        wanted = vent_for_tuning(box, target_hz, vent, air)
        if wanted.length_m > LONGEST_M or too_long(box, wanted) or takes_too_much(box, wanted):
            words = (
                f"[tuning] target_hz = {target_hz:g}: with {_size_words(vent)} the vent would have to be "
                f"{_mm(wanted.length_m)} mm long, which does not fit the box."
            )
            found.append((words, ""))
    if not found:
        return ()
    nearest = _nearest(design, vent, goal_hz, air)
    return tuple(f"{wrong} {nearest}{more}" for wrong, more in found)


def _misses(design: Design, vent: Vent, target_hz: float, air: Air) -> bool:
    """Return whether the vent as it is misses the target by more than its tolerance."""
    return abs(tuning_hz(design.box, vent, air) / target_hz - 1.0) > design.tuning.tolerance


def _unreached(box: Box, vent: Vent, air: Air) -> str:
    highest = floor(10.0 * highest_tuning_hz(box, vent, air)) / 10.0
    opening = "this opening" if vent.count == 1 else f"{vent.count} openings"
    verb = "reaches" if vent.count == 1 else "reach"
    return f"{opening} ({_size_words(vent)}) {verb} at most {highest:.1f} Hz in this box, however short the vent."


def _nearest(design: Design, vent: Vent, goal_hz: float, air: Air) -> str:
    found = nearest_vent(design.box, goal_hz, vent, air)
    count = "" if found.vent.count == vent.count else f"count = {found.vent.count}, "
    words = f"{count}{_size_words(found.vent)}, length_mm = {_mm(found.vent.length_m)}"
    if found.tuning_hz is None:
        return f"The nearest that can be built for {goal_hz:.3g} Hz: {words}."
    return (
        f"No vent of this shape does it at {goal_hz:.3g} Hz; the nearest that can be built is tuned to "
        f"{found.tuning_hz:.3g} Hz: {words}."
    )


def _size_words(vent: Vent) -> str:
    """Return the keys of the opening with their values, as in the file."""
    if vent.shape == "rectangular" and vent.width_m and vent.height_m:
        return f"width_mm = {_mm(vent.width_m)}, height_mm = {_mm(vent.height_m)}"
    if vent.shape == "polygon":
        return f"across_flats_mm = {_mm(size_m(vent))}"
    if vent.shape == "custom":
        return f"area_cm2 = {vent.area_m2 * 1e4:.4g}"
    return f"diameter_mm = {_mm(size_m(vent))}"


def _length(vent: Vent, goal_hz: float) -> str:
    return _mm(vent.length_m) + (f" (computed for {goal_hz:g} Hz)" if vent.length_is_computed else "")


def _longest_words(longest: float) -> str:
    return f"at most {floor(longest * 1e3 + 1e-6)} mm fit" if longest > 0.0 else "none fits"


def _wall_words(box: Box) -> str:
    given = (("width_mm", box.width_m), ("height_mm", box.height_m))
    return "[box] " + ", ".join(f"{key} = {_mm(value)}" for key, value in given if value is not None)


def _room_words(box: Box) -> str:
    if box.width_m is None or box.height_m is None or box.depth_m is None:
        return f"more than its net volume_l = {_litres(box.volume_m3)}"
    inside = box.width_m * box.height_m * box.depth_m
    return f"which holds {_litres(inside)} L in all with volume_l = {_litres(box.volume_m3)} of it net"


def _litres(volume_m3: float) -> str:
    return f"{volume_m3 * 1e3:.3g}" if volume_m3 < 1.0 else f"{ceil(volume_m3 * 1e3)}"


def _mm(length_m: float | None) -> str:
    """Return the length in millimetres, to a tenth."""
    return f"{round((length_m or 0.0) * 1e3, 1):g}"
