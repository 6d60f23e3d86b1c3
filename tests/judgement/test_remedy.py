"""The words of every finding."""

from dataclasses import replace
from typing import get_args

import pytest

from sealtune.judgement.remedy import JOINTS, Facts, finding
from sealtune.judgement.volume import VolumeOff
from sealtune.records.interval import Interval
from sealtune.records.verdict import FaultName

FACTS = Facts(
    45.0, 40.0, 6.0, 11.0, "like a gap of 0.6 mm along 50 mm of a joint", Interval(0.012, 0.009, 0.015), 70.0
)


@pytest.mark.parametrize("fault", get_args(FaultName))
@pytest.mark.parametrize("facts", [FACTS, Facts()])
def test_each_fault_says_what_shows_it_what_to_do_and_how_to_confirm(fault: FaultName, facts: Facts) -> None:
    told = finding(fault, 0.5, facts)
    for text in (told.evidence, told.remedy, told.confirm):
        assert len(text) > 20
        assert text[0].isupper()
        assert text.rstrip().endswith(".")
        assert "None" not in text
        assert "nan" not in text


def test_a_probability_stays_within_0_and_1() -> None:
    assert finding("leak", 1.2, FACTS).probability == 1.0
    assert finding("leak", -0.1, FACTS).probability == 0.0


def test_the_length_is_told_in_millimetres_with_its_interval_and_the_right_way_round() -> None:
    assert "Lengthen the vent by 12 mm (9 to 15 mm)" in finding("vent_short", 0.9, FACTS).remedy
    shorter = Facts(36.0, 40.0, change_m=Interval(-0.021, -0.024, -0.018))
    assert "shorten the vent by 21 mm (18 to 24 mm)" in finding("vent_long", 0.9, shorter).remedy
    # a cause that would ask for the opposite of the measured change gets no number
    assert "mm (" not in finding("vent_long", 0.1, FACTS).remedy


def test_each_of_several_vents_and_small_changes_are_told_as_such() -> None:
    two = replace(FACTS, vents=2, change_m=Interval(0.0034, 0.0021, 0.0047))
    assert "Lengthen each of the 2 vents by 3.4 mm (2.1 to 4.7 mm)" in finding("vent_short", 0.9, two).remedy


# 18.0 litres designed, by hand: 14.2 measured are 3.8 too few, 22.5 are 4.5 too many
SMALL = VolumeOff(
    Interval(0.0142, 0.0136, 0.0149), Interval(-0.0038, -0.0044, -0.0031), Interval(0.041, 0.037, 0.045)
)
LARGE = VolumeOff(
    Interval(0.0225, 0.021, 0.024), Interval(0.0045, 0.003, 0.006), Interval(-0.031, -0.035, -0.027)
)


def test_a_wrong_volume_is_told_in_litres_with_the_vent_that_would_do_instead() -> None:
    small = finding("volume_small", 0.8, replace(FACTS, volume=SMALL))
    assert "about 14.2 litres (13.6 to 14.9), not 18.0 litres" in small.evidence
    assert "about 3.8 litres (3.1 to 4.4)" in small.remedy
    assert "lengthen the vent by 41 mm (37 to 45 mm)" in small.remedy
    large = finding("volume_large", 0.8, replace(FACTS, volume=LARGE))
    assert "about 22.5 litres (21.0 to 24.0), not 18.0 litres" in large.evidence
    assert "about 4.5 litres (3.0 to 6.0)" in large.remedy
    assert "shorten the vent by 31 mm (27 to 35 mm)" in large.remedy


def test_no_vent_is_proposed_that_cannot_reach_the_target() -> None:
    without = replace(FACTS, volume=replace(LARGE, length_change_m=None))
    assert "vent by" not in finding("volume_large", 0.8, without).remedy


def test_flames_are_warned_of_where_leaks_are_looked_for() -> None:
    told = finding("leak", 0.9, FACTS).confirm
    assert "no flame" in told
    assert "local fire rules come first" in told


def test_joints_are_searched_in_order() -> None:
    remedy = finding("leak", 0.9, FACTS).remedy
    places = [remedy.index(joint) for joint in JOINTS]
    assert places == sorted(places)


def test_plugging_is_not_asked_for_twice() -> None:
    for fault in ("leak", "vent_short"):
        assert "record once more as role plugged" in finding(fault, 0.9, FACTS).confirm
        assert (
            "record once more as role plugged"
            not in finding(fault, 0.9, replace(FACTS, plugged=True)).confirm
        )


@pytest.mark.parametrize("fault", get_args(FaultName))
def test_a_remedy_fits_the_four_lines_that_the_terminal_gives_it(fault: FaultName) -> None:
    """Exact: four lines of 89 columns, less the title and its probability, some 45 signs."""
    for volume in (None, SMALL, LARGE):
        told = finding(fault, 0.9, replace(FACTS, volume=volume, change_m=Interval(-0.111, -0.222, -0.1)))
        assert len(told.remedy) < 4 * 85 - 45


@pytest.mark.parametrize(
    ("facts", "evidence"),
    [
        (Facts(box_q=6.0), "The box loses more than a sealed one."),
        (Facts(expected_q=11.0), "The box loses more than a sealed one."),
        (Facts(tuning_hz=41.0, target_hz=40.0), "The box loses more than a sealed one, and the tuning 2 % too high."),
        (Facts(tuning_hz=41.0), "The box loses more than a sealed one."),
        (Facts(box_q=8.7, expected_q=11.0), "Box Q 8.7 where a sealed box of this kind has about 11."),
        (Facts(box_q=8.9, expected_q=11.0), "Box Q 8.9, as usual."),
        (Facts(40.5, 40.0, 9.0, 11.0), "Box Q 9.0, as usual, and the tuning 1 % too high."),
        (Facts(40.3, 40.0, 6.0, 11.0), "Box Q 6.0 where a sealed box of this kind has about 11."),
    ],
)  # fmt: skip
def test_what_is_not_known_is_not_told(facts: Facts, evidence: str) -> None:
    # Exact: four fifths of the usual box Q are as usual, a tuning moved by less than 1 % is not
    assert finding("overstuffed", 0.5, facts).evidence == evidence


@pytest.mark.parametrize("missing", ["re_ohm", "designed_ohm", "series_ohm"])
def test_resistance_without_its_numbers(missing: str) -> None:
    facts = Facts(re_ohm=7.5, designed_ohm=6.0, series_ohm=Interval(1.2, 0.9, 1.5))
    told = finding("series_resistance", 0.9, replace(facts, **{missing: None}))  # type: ignore[arg-type]
    assert told.evidence == "There is more resistance before the driver than designed."
    assert finding("driver_off", 0.5, Facts(fs_hz=40.0)).evidence == (
        "The peaks lie elsewhere than the driver's data say."
    )
