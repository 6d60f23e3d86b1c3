"""Which measurement is proposed next."""

from math import log2
from typing import get_args

import pytest

from sealtune.judgement.next_measurement import TELLS, gain, next_measurement
from sealtune.records.verdict import FaultName


def _each(none: float = 0.0, **alone: float) -> dict[frozenset[FaultName], float]:
    """Return faults of which one at a time is there; none: the box as designed."""
    names: dict[str, FaultName] = {name: name for name in get_args(FaultName)}
    return {frozenset(): none} | {frozenset([names[name]]): share for name, share in alone.items()}


def test_gain_is_the_entropy_of_the_groups() -> None:
    # Exact [MacKay2003, ch. 2]: even halves are one bit, a sure thing is none, quarters are two.
    assert gain(_each(leak=0.5, vent_short=0.5), (("leak",),)) == pytest.approx(1.0)
    assert gain(_each(leak=1.0), (("leak",),)) == pytest.approx(0.0, abs=1e-9)
    quarters = _each(leak=0.25, vent_lined=0.25, overstuffed=0.25, volume_small=0.25)
    assert gain(quarters, TELLS["plugged"]) == pytest.approx(2.0)
    # Exact: what no group tells apart stays together.
    assert gain(_each(volume_small=0.5, vent_short=0.5), TELLS["plugged"]) == pytest.approx(0.0, abs=1e-9)
    uneven = -(0.9 * log2(0.9) + 0.1 * log2(0.1))
    assert gain(_each(leak=0.1, none=0.9), TELLS["plugged"]) == pytest.approx(uneven)


def test_a_fault_that_is_there_for_certain_leaves_nothing_to_tell() -> None:
    # Exact: whether the vent is too long as well, the plugged curve shows the lining either way.
    lined: dict[frozenset[FaultName], float] = {
        frozenset(["vent_lined"]): 0.55,
        frozenset(["vent_lined", "vent_long"]): 0.45,
    }
    assert gain(lined, TELLS["plugged"]) == pytest.approx(0.0, abs=1e-9)
    assert next_measurement(lined, ("open",)) is None


def test_hole_or_short_vent_wants_the_plugged_curve() -> None:
    # Exact physics: with the vent open a hole and a short vent are both masses; plugged, the hole alone is open.
    best = next_measurement(_each(leak=0.5, vent_short=0.4, none=0.1), ("open",))
    assert best is not None
    assert best.role == "plugged"
    assert best.words.endswith("it tells a leak from a vent that is too short.")
    assert next_measurement(_each(leak=0.5, vent_short=0.4), ("open", "plugged")) is None


def test_doubt_whether_there_is_a_fault_at_all_is_said_as_that() -> None:
    best = next_measurement(_each(leak=0.4, none=0.6), ("open",))
    assert best is not None
    assert best.words.endswith("(role plugged): it tells whether there is a leak.")


def test_doubt_about_the_driver_wants_the_driver_alone() -> None:
    best = next_measurement(_each(driver_off=0.5, volume_large=0.5), ("open", "plugged"))
    assert best is not None
    assert best.role == "free-air"
    assert best.words.endswith("it tells a driver off its data from too much air in the box.")


def test_a_clear_verdict_wants_nothing() -> None:
    assert next_measurement(_each(none=0.97, leak=0.03), ("open",)) is None
    assert next_measurement(_each(leak=0.99, vent_short=0.01), ("open",)) is None


def test_what_may_be_there_beside_a_sure_fault_is_no_alternative_to_it() -> None:
    short: dict[frozenset[FaultName], float] = {
        frozenset(["vent_short"]): 0.6,
        frozenset(["vent_short", "series_resistance"]): 0.4,
    }
    best = next_measurement(short, ("open", "plugged"))
    assert best is not None
    assert best.words.endswith("it tells whether there is resistance in the wiring as well.")
