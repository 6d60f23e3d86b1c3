"""Which measurement is proposed next."""

from math import exp, log2, sqrt
from typing import get_args

import pytest

from sealtune.judgement.next_measurement import TELLS, Doubt, gain, next_measurement, repeat
from sealtune.records.interval import Interval
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


def test_a_blocked_vent_is_heard_and_so_are_cones_against_each_other() -> None:
    blocked = next_measurement(_each(vent_blocked=0.6, not_a_vented_box=0.4), ("open",))
    assert blocked is not None
    assert blocked.role == "mouth"
    assert blocked.gain_bits == pytest.approx(0.971, abs=1e-3)  # exact: the entropy of 0.6 and 0.4
    assert blocked.words.endswith("it tells a blocked vent from another kind of load.")
    assert next_measurement(_each(vent_blocked=0.6, not_a_vented_box=0.4), ("open", "mouth")) is None
    against = next_measurement(_each(driver_wiring=0.5, not_a_vented_box=0.5), ("open",))
    assert against is not None
    assert against.role == "cone"


def test_a_repeat_is_proposed_where_noise_leaves_more_open_than_boxes_differ() -> None:
    # exact: an interval of a factor of e^(2 * 1.96 * 0.5) is a deviation of 0.5; half the noise power narrows it to
    # the root of a half; the gain is half a bit at most
    wide = Interval(10.0, 10.0 * exp(-0.98), 10.0 * exp(0.98))
    best = repeat(
        (Doubt("the tuning", " Hz", Interval(40.0, 39.9, 40.1), 0.02), Doubt("box Q", "", wide, 0.1))
    )
    assert best is not None
    assert best.role == "open"
    assert best.gain_bits == pytest.approx(0.5 * log2((0.01 + 0.25) / (0.01 + 0.125)), rel=1e-3)
    low, high = 10.0 * exp(-0.98 / sqrt(2.0)), 10.0 * exp(0.98 / sqrt(2.0))
    assert f"box Q is then known to about {low:.1f} to {high:.1f} instead of 3.8 to 26.6." in best.words
    # exact: as much by noise as boxes differ tells 0.21 bit, too little for the walk
    assert repeat((Doubt("box Q", "", wide, 0.5),)) is None
    assert repeat((Doubt("box Q", "", wide, 0.5),), 0.0) is not None
