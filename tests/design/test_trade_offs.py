"""Other vents and volumes for the same tuning."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from sealtune.design.behaviour import curve_frequencies
from sealtune.design.plan import make_plan
from sealtune.design.prediction import predict
from sealtune.design.trade_offs import other_vents, other_volumes
from sealtune.physics.air import Air
from sealtune.physics.vent import tuning_hz
from sealtune.physics.vent_opening import with_size
from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.records.plan import VentChoice

SLOT = Vent("rectangular", 0.22 * 0.02, 0.25, width_m=0.22, height_m=0.02)
HEXAGON = Vent("polygon", 0.0018, 0.11, sides=6, across_flats_m=0.0456)
CUSTOM = Vent("custom", 0.0025, 0.12)
PAIR = Vent("round", pi * 0.02**2, 0.1, count=2, diameter_m=0.04)


def choices(design: Design, air: Air, flow: float | None = None) -> tuple[VentChoice, ...]:
    return other_vents(design, predict(design, air), air, flow)


@pytest.mark.parametrize(
    "vent", [None, SLOT, HEXAGON, CUSTOM, PAIR], ids=["round", "slot", "hexagon", "custom", "pair"]
)
def test_each_choice_reaches_the_target(bookshelf: Design, air: Air, vent: Vent | None) -> None:
    # Exact: with its length and the same net volume each vent tunes the box to the target.
    design = bookshelf if vent is None else replace(bookshelf, vent=vent)
    assert design.vent is not None
    seen = choices(design, air)
    assert len(seen) >= 8
    for one in seen:
        if one.length_m is None:
            assert "no length reaches" in one.against[0]
            assert one.pipe_hz is None
            continue
        built = replace(with_size(design.vent, one.size_m), count=one.count, length_m=one.length_m)
        # 15 mm of it lie in the wall
        inside = max(built.length_m - 0.015, 0.0)
        assert one.takes_m3 == pytest.approx(built.count * built.area_m2 * inside, rel=1e-9)
        assert tuning_hz(design.box, built, air) == pytest.approx(43.5, rel=1e-6)
        assert ("shorter than a wall is thick" in one.against) == (one.length_m < 0.015)
    assert {one.count for one in seen} == {1, 2}


@pytest.mark.parametrize("vent", [None, SLOT, HEXAGON, CUSTOM], ids=["round", "slot", "hexagon", "custom"])
def test_narrow_vents_are_short_and_noisy_wide_ones_long(
    bookshelf: Design, air: Air, vent: Vent | None
) -> None:
    # Common practice.
    design = bookshelf if vent is None else replace(bookshelf, vent=vent)
    alike = [one for one in choices(design, air, 0.05) if one.count == 1 and one.length_m is not None]
    sizes = [one.size_m for one in alike]
    assert sizes == sorted(sizes)
    lengths, speeds = [one.length_m or 0.0 for one in alike], [one.air_speed_m_s for one in alike]
    assert lengths == sorted(lengths)
    assert speeds == sorted(speeds, key=lambda speed: -(speed or 0.0))
    # a long duct rings lower
    pipes = [one.pipe_hz or 0.0 for one in alike]
    assert pipes == sorted(pipes, reverse=True)


def test_air_speed_by_hand(bookshelf: Design, air: Air) -> None:
    # Exact: flow over area; a tenth of the speed of sound is loud (common practice).
    for one in choices(bookshelf, air, 0.05):
        speed = 0.05 / (one.count * pi / 4 * one.size_m**2)
        assert one.air_speed_m_s == pytest.approx(speed, rel=1e-9)
        assert any("full power" in word for word in one.against) == (speed > 0.1 * air.speed_m_s)


def test_the_designs_own_vent_is_marked(bookshelf: Design, air: Air) -> None:
    # Exact: one row is the design; its length is the one that the target asks for, not the one that was given.
    (own,) = [one for one in choices(bookshelf, air) if one.designed]
    assert own.size_m == pytest.approx(0.052)
    assert own.count == 1
    settled = replace(bookshelf, tuning=Tuning(None))
    (own,) = [one for one in choices(settled, air) if one.designed]
    assert own.length_m == pytest.approx(0.147, rel=1e-6)


def test_what_does_not_fit_says_so(bookshelf: Design, air: Air) -> None:
    # Exact: 160 mm deep inside; a vent may not be longer than that less the room behind its mouth.
    shallow = replace(bookshelf, box=replace(bookshelf.box, depth_m=0.16))
    for one in choices(shallow, air):
        too_long = any("longer than the box is deep" in word for word in one.against)
        assert one.length_m is not None
        if one.length_m > 0.18:
            assert too_long
        if one.length_m < 0.12:
            assert not too_long
    high = replace(bookshelf, tuning=Tuning(95.0))
    assert any("no length reaches" in word for one in choices(high, air) for word in one.against)
    assert choices(replace(bookshelf, vent=None), air) == ()


def test_more_volume_reaches_lower_and_gives_up_power(bookshelf: Design, air: Air) -> None:
    # Common practice; and exact: alpha is V_AS over the volume.
    seen = other_volumes(bookshelf, predict(bookshelf, air), air, curve_frequencies())
    volumes = [one.volume_m3 for one in seen]
    assert volumes == sorted(volumes)
    f3 = [one.f3_hz or np.nan for one in seen]
    power = [one.above.power_w if one.above else np.nan for one in seen]
    lengths = [one.length_m or np.nan for one in seen]
    for falling in (f3, power, lengths):
        assert falling == sorted(falling, reverse=True)
    assert [one.compliance_ratio for one in seen] == pytest.approx([0.020 / volume for volume in volumes])
    assert [one.designed for one in seen].count(True) == 1
    for one in seen:
        assert bookshelf.vent is not None
        assert one.length_m is not None
        vent = replace(bookshelf.vent, length_m=one.length_m)
        assert tuning_hz(Box(one.volume_m3), vent, air) == pytest.approx(43.5, rel=1e-6)


def test_volumes_without_a_driver(bookshelf: Design, air: Air) -> None:
    seen = other_volumes(
        replace(bookshelf, driver=Driver()), predict(bookshelf, air), air, curve_frequencies()
    )
    assert all(one.length_m is not None and one.f3_hz is None and one.above is None for one in seen)


def test_volumes_that_no_length_serves_tell_nothing_else(bookshelf: Design, air: Air) -> None:
    # Exact: too small a box for this opening at 95 Hz; no sound is promised for a vent that cannot be.
    high = replace(bookshelf, tuning=Tuning(95.0))
    seen = other_volumes(high, predict(high, air), air, curve_frequencies())
    none = [one for one in seen if one.length_m is None]
    assert none
    for one in none:
        assert "no length reaches 95 Hz" in one.against[0]
        assert (one.f3_hz, one.above, one.ripple_db) == (None, None, None)


def test_no_length_is_advised_that_cannot_be_built(bookshelf: Design, air: Air) -> None:
    # Exact: at 14 Hz the exact vent would be longer than the box is deep; the plan then names no length.
    deep = replace(bookshelf, box=replace(bookshelf.box, depth_m=0.25), tuning=Tuning(14.0))
    assert make_plan(deep, air).length_for_target_m is None
    advised = make_plan(bookshelf, air).length_for_target_m
    assert advised is not None
    assert bookshelf.vent is not None
    assert tuning_hz(bookshelf.box, replace(bookshelf.vent, length_m=advised), air) == pytest.approx(
        43.5, rel=1e-6
    )
