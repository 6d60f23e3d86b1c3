"""What cannot be built is said in words, with the nearest vent that can: and that one can indeed."""

import re
from dataclasses import replace
from math import inf, pi

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sealtune.design.buildable import obstacles, with_length_for_target
from sealtune.design.fit_in_box import (
    LEAST_LENGTH_M,
    longest_m,
    nearest_vent,
    room_behind_m,
    room_m3,
    takes_m3,
    too_long,
    vent_for_tuning,
    vents_on_wall,
    wall_obstacle,
)
from sealtune.physics.air import standard_air
from sealtune.physics.vent import tuning_hz
from sealtune.physics.vent_opening import polygon_area_m2, size_m, with_size
from sealtune.records.design import Box, Design, Tuning, Vent, VentEnd

AIR = standard_air()
BOX = Box(0.018, width_m=0.20, height_m=0.32, depth_m=0.32)


def round_vent(diameter_m: float, length_m: float, count: int = 1, spacing_m: float | None = None) -> Vent:
    area_m2 = pi * diameter_m**2 / 4
    return Vent("round", area_m2, length_m, count, diameter_m=diameter_m, spacing_m=spacing_m)


def slot(width_m: float, height_m: float, length_m: float, count: int = 1) -> Vent:
    return Vent("rectangular", width_m * height_m, length_m, count, width_m=width_m, height_m=height_m)


def design(box: Box, vent: Vent | None, target_hz: float | None = 44.0) -> Design:
    return Design("invented", box, vent, Tuning(target_hz))


HEXAGON = Vent("polygon", polygon_area_m2(6, 0.1), 0.5, sides=6, across_flats_m=0.1)
CUSTOM = Vent("custom", 0.03, 0.5)

NOT_BUILDABLE = {
    "too long": (BOX, round_vent(0.06, 0.42), 44.0),
    "too long without a target": (BOX, round_vent(0.06, 0.42), None),
    "too long and wide": (BOX, round_vent(0.09, 0.42), 40.0),
    "two too long": (BOX, round_vent(0.06, 0.42, 2, 0.08), 44.0),
    "hexagon too long": (BOX, HEXAGON, 44.0),
    "custom too long": (BOX, CUSTOM, 44.0),
    "slot too long": (BOX, slot(0.18, 0.03, 0.4), 44.0),
    "larger than the wall": (BOX, round_vent(0.25, 0.1), 44.0),
    "slot wider than the wall": (BOX, slot(0.4, 0.02, 0.2), 44.0),
    "too many": (BOX, round_vent(0.06, 0.14, 16), 44.0),
    "too many for their spacing": (BOX, round_vent(0.06, 0.14, 4, 0.2), 44.0),
    "takes more than there is": (Box(0.018), round_vent(0.3, 1.0), 44.0),
    "takes more than the rest": (BOX, round_vent(0.15, 0.25), 60.0),
    "target out of reach": (BOX, round_vent(0.03, 0.14), 80.0),
    "target far out of reach": (BOX, round_vent(0.03, 0.14), 400.0),
    "target too low for the depth": (BOX, round_vent(0.06, 0.42), 3.0),
}


@pytest.mark.parametrize("name", NOT_BUILDABLE)
def test_the_vent_that_is_named_can_be_built(name: str) -> None:
    box, vent, target_hz = NOT_BUILDABLE[name]
    assert obstacles(design(box, vent, target_hz), AIR)
    goal_hz = tuning_hz(box, vent, AIR) if target_hz is None else target_hz
    found = nearest_vent(box, goal_hz, vent, AIR)
    # Exact: no obstacle is left, and the tuning is the one aimed at or the one that was said instead
    assert obstacles(design(box, found.vent, found.tuning_hz or goal_hz), AIR) == ()
    assert tuning_hz(box, found.vent, AIR) == pytest.approx(found.tuning_hz or goal_hz, rel=1e-6)
    assert found.vent.shape == vent.shape
    assert (found.tuning_hz is not None) is ("far out" in name or "too low" in name)


@pytest.mark.parametrize("name", NOT_BUILDABLE)
def test_every_obstacle_names_key_value_and_a_way_out(name: str) -> None:
    box, vent, target_hz = NOT_BUILDABLE[name]
    for line in obstacles(design(box, vent, target_hz), AIR):
        assert re.match(r"\[(vent|tuning)\] \w+_\w+ = [\d.]+|\[vent\] count = \d+", line)
        assert "nearest that can be built" in line
        assert re.search(
            r"(diameter_mm|height_mm|across_flats_mm|area_cm2) = [\d.]+, length_mm = [\d.]+", line
        )


@pytest.mark.parametrize(
    "vent", [round_vent(0.06, 0.2), HEXAGON, CUSTOM, slot(0.18, 0.03, 0.2)], ids=lambda vent: vent.shape
)
def test_the_nearest_opening_is_the_largest_that_fits(vent: Vent) -> None:
    vent = with_size(vent, 3 * size_m(vent))
    found = nearest_vent(BOX, 44.0, vent, AIR)
    assert found.tuning_hz is None
    assert size_m(found.vent) < size_m(vent)
    # Exact: in whole millimetres, and one more does not fit
    assert size_m(found.vent) * 1e3 == pytest.approx(round(size_m(found.vent) * 1e3), abs=1e-9)
    wider = vent_for_tuning(BOX, 44.0, with_size(found.vent, size_m(found.vent) + 1e-3), AIR)
    assert too_long(BOX, wider) or wall_obstacle(BOX, wider) or takes_m3(wider) > room_m3(BOX)


def test_an_opening_that_fits_is_kept() -> None:
    found = nearest_vent(BOX, 44.0, round_vent(0.0523, 0.42), AIR)
    # Exact: only the length has to change, to that of the target
    assert size_m(found.vent) == 0.0523
    assert found.vent.length_m == pytest.approx(
        vent_for_tuning(BOX, 44.0, round_vent(0.0523, 0.1), AIR).length_m, rel=1e-9
    )


def test_fewer_vents_where_so_many_do_not_fit() -> None:
    # two of this tuning need 0.4 m of wall each way that the box does not have
    box = replace(BOX, width_m=0.07, height_m=0.07, depth_m=0.7, volume_m3=0.003)
    found = nearest_vent(box, 44.0, round_vent(0.05, 0.2, 2, 0.05), AIR)
    assert obstacles(design(box, found.vent), AIR) == ()


def test_how_long_a_straight_vent_may_be() -> None:
    # Common practice: 15 mm of wall, half a diameter or the slot's height behind the inner mouth
    assert room_behind_m(round_vent(0.06, 0.1)) == pytest.approx(0.03)
    assert room_behind_m(slot(0.18, 0.025, 0.1)) == pytest.approx(0.025)
    assert longest_m(BOX, round_vent(0.06, 0.1)) == pytest.approx(0.305)
    assert not too_long(BOX, round_vent(0.06, 0.305))
    assert too_long(BOX, round_vent(0.06, 0.3051))
    assert not too_long(replace(BOX, depth_m=None), round_vent(0.06, 4.0))


@pytest.mark.parametrize(
    ("vent", "expected"),
    [
        # Exact: counted by hand on a wall of 200 x 320 mm, in rows and columns
        (round_vent(0.06, 0.1), 3 * 5),
        (round_vent(0.06, 0.1, 2, 0.07), 3 * 4),
        (round_vent(0.06, 0.1, 2, 0.2), 1 * 2),
        (round_vent(0.2, 0.1), 1),
        (round_vent(0.2001, 0.1), 0),
        (slot(0.2, 0.025, 0.1), 1 * 12),
        (slot(0.3, 0.025, 0.1), 8 * 1),
        (slot(0.321, 0.025, 0.1), 0),
        (Vent("custom", 0.02, 0.1), 3),
        (Vent("custom", 0.065, 0.1), 0),
    ],
)
def test_how_many_vents_a_wall_has_room_for(vent: Vent, expected: int) -> None:
    assert vents_on_wall(BOX, vent) == expected
    assert vents_on_wall(Box(0.018), vent) == inf


def test_a_wall_with_one_measure_limits_that_one_only() -> None:
    narrow = Box(0.018, width_m=0.2)
    assert wall_obstacle(narrow, round_vent(0.25, 0.1)) == "larger than the wall"
    assert wall_obstacle(narrow, slot(0.25, 0.02, 0.1)) is None  # it may stand upright
    assert wall_obstacle(narrow, round_vent(0.06, 0.1, 50)) is None


def test_the_words_of_a_vent_that_is_too_long() -> None:
    (line,) = obstacles(design(BOX, round_vent(0.06, 0.42)), AIR)
    # Exact: 320 + 15 - 30 = 305 mm
    assert line.startswith(
        "[vent] length_mm = 420: longer than the box is deep. Inside it has depth_mm = 320, "
    )
    assert "at most 305 mm fit." in line
    assert "for 44 Hz: diameter_mm = 60, length_mm = 19" in line  # 198 mm, see the test of the file's length
    assert "A folded duct may be longer" in line
    computed, fault = with_length_for_target(design(replace(BOX, depth_m=0.19), round_vent(0.06, 0.1)), AIR)
    assert fault is None
    (line, *_) = obstacles(computed, AIR)
    assert re.match(r"\[vent\] length_mm = (197|198)[.\d]* \(computed for 44 Hz\): longer", line)


def test_all_obstacles_are_told_together() -> None:
    found = obstacles(design(BOX, round_vent(0.25, 0.6), 500.0), AIR)
    starts = ("[tuning] target_hz = 500: ", "[vent] length_mm = 600: ", "[vent] diameter_mm = 250: ")
    assert [any(line.startswith(start) for line in found) for start in starts] == [True] * 3
    assert len(found) == 4
    assert "the vent takes 28.7 L inside the box" in found[3]  # Exact: pi/4 0.25^2 x (0.6 - 0.015) m3


def test_the_highest_tuning_of_an_opening() -> None:
    (line,) = obstacles(design(BOX, round_vent(0.03, 0.14), 80.0), AIR)
    named = re.search(r"this opening \(diameter_mm = 30\) reaches at most ([\d.]+) Hz", line)
    assert named is not None
    # Exact: that with a vent as thick as a thin wall
    highest = tuning_hz(BOX, round_vent(0.03, LEAST_LENGTH_M), AIR)
    assert 0.0 <= highest - float(named[1]) < 0.1


def test_what_is_not_given_is_no_obstacle() -> None:
    assert obstacles(design(BOX, None), AIR) == ()
    assert obstacles(design(Box(0.018), round_vent(0.06, 0.9)), AIR) == ()
    assert obstacles(design(BOX, round_vent(0.06, 0.14)), AIR) == ()
    assert obstacles(design(BOX, round_vent(0.06, 0.14), None), AIR) == ()
    plain = design(Box(0.018), None)
    assert with_length_for_target(plain, AIR) == (plain, None)


@pytest.mark.parametrize("diameter_m", [0.03, 0.05, 0.08, 0.12])
@pytest.mark.parametrize("hz", [20.0, 40.0, 60.0])
def test_a_computed_length_gives_the_tuning_or_a_fault(diameter_m: float, hz: float) -> None:
    found, fault = with_length_for_target(design(Box(0.03), round_vent(diameter_m, 1.0), hz), AIR)
    assert found.vent is not None
    if fault is None:
        assert tuning_hz(found.box, found.vent, AIR) == pytest.approx(hz, rel=1e-6)
    else:
        assert not LEAST_LENGTH_M <= found.vent.length_m <= 5.0


SHARES = st.floats(0.6, 1.8)


@settings(max_examples=60)
@given(
    st.floats(-2.7, -0.5).map(lambda power: 10.0**power),
    st.tuples(SHARES, SHARES, SHARES, st.sets(st.sampled_from(["width_m", "height_m", "depth_m"]))),
    st.floats(-2.2, -0.3).map(lambda power: 10.0**power),
    st.sampled_from(["round", "slot", "hexagon", "custom"]),
    st.floats(-2.0, 0.3).map(lambda power: 10.0**power),
    st.tuples(st.sampled_from([1, 1, 2, 6]), st.sampled_from(["flanged", "free", "flared"])),
    st.none() | st.floats(1.0, 2.3).map(lambda power: 10.0**power),
)
def test_what_is_named_can_be_built_whatever_the_design(
    volume_m3: float,
    sides: tuple[float, float, float, set[str]],
    size: float,
    shape: str,
    length_m: float,
    many: tuple[int, VentEnd],
    target_hz: float | None,
) -> None:
    edge = volume_m3 ** (1 / 3)
    wide, high, deep, left_out = sides
    deep = max(deep, 1.05 / (wide * high))  # the inside holds the net volume
    box = Box(volume_m3, width_m=wide * edge, height_m=high * edge, depth_m=deep * edge)
    box = replace(box, **dict.fromkeys(left_out))  # type: ignore[arg-type]
    vent = {
        "round": round_vent(size, length_m),
        "slot": replace(slot(5 * size, size, length_m), shared_walls=1),
        "hexagon": with_size(replace(HEXAGON, length_m=length_m), size),
        "custom": with_size(replace(CUSTOM, length_m=length_m), size),
    }[shape]
    vent = replace(vent, count=many[0], inner_end=many[1])
    goal_hz = tuning_hz(box, vent, AIR) if target_hz is None else target_hz
    found = nearest_vent(box, goal_hz, vent, AIR)
    # Exact: nothing keeps it from being built, and it has the tuning that is said
    assert obstacles(design(box, found.vent, found.tuning_hz or goal_hz), AIR) == ()
    assert tuning_hz(box, found.vent, AIR) == pytest.approx(found.tuning_hz or goal_hz, rel=1e-4)


def test_a_target_that_asks_for_a_vent_beyond_the_box() -> None:
    # Exact: 90 mm across at 14 Hz in 18 L wants more than 3 m of duct, more than the box holds; no advice may say so.
    box = Box(0.018)
    one = Design("Invented", box, round_vent(0.09, 0.14), Tuning(14.0))
    (line,) = obstacles(one, AIR)
    assert line.startswith("[tuning] target_hz = 14: with diameter_mm = 90 the vent would have to be ")
    assert "The nearest that can be built for 14 Hz" in line
    # what misses the target by no more than its tolerance is left alone
    near = Design(
        "Invented", box, round_vent(0.09, 0.14), Tuning(round(tuning_hz(box, round_vent(0.09, 0.14), AIR)))
    )
    assert obstacles(near, AIR) == ()


def test_a_vent_shorter_than_any_wall() -> None:
    (line,) = obstacles(Design("Invented", Box(0.018), round_vent(0.06, 0.004)), AIR)
    assert line.startswith("[vent] length_mm = 4: shorter than any wall; at least 5 mm can be built. ")
