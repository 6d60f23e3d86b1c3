"""The words of every finding."""

from typing import get_args

import pytest

from sealtune.judgement.remedy import Facts, finding
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
    assert "Shorten the vent by 21 mm (18 to 24 mm)" in finding("vent_long", 0.9, shorter).remedy
    # a cause that would ask for the opposite of the measured change gets no number
    assert "mm (" not in finding("vent_long", 0.1, FACTS).remedy


def test_flames_are_warned_of_where_leaks_are_looked_for() -> None:
    assert "no flame" in finding("leak", 0.9, FACTS).confirm
