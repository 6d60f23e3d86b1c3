"""Which measurement is proposed next."""

from math import log2

import pytest

from sealtune.judgement.next_measurement import TELLS, gain, next_measurement
from sealtune.records.verdict import FaultName


def test_gain_is_the_entropy_of_the_groups() -> None:
    # Exact [MacKay2003, ch. 2]: even halves are one bit, a sure thing is none, quarters are two.
    assert gain({"leak": 0.5, "vent_short": 0.5}, (("leak",),)) == pytest.approx(1.0)
    assert gain({"leak": 1.0}, (("leak",),)) == pytest.approx(0.0, abs=1e-9)
    four: tuple[FaultName, ...] = ("leak", "vent_lined", "overstuffed", "volume_small")
    quarters: dict[FaultName | None, float] = dict.fromkeys(four, 0.25)
    assert gain(quarters, TELLS["plugged"]) == pytest.approx(2.0)
    # Exact: what no group tells apart stays together.
    assert gain({"volume_small": 0.5, "vent_short": 0.5}, TELLS["plugged"]) == pytest.approx(0.0, abs=1e-9)
    uneven = -(0.9 * log2(0.9) + 0.1 * log2(0.1))
    assert gain({"leak": 0.1, None: 0.9}, TELLS["plugged"]) == pytest.approx(uneven)


def test_hole_or_short_vent_wants_the_plugged_curve() -> None:
    # Exact physics: with the vent open a hole and a short vent are both masses; plugged, the hole alone is open.
    best = next_measurement({"leak": 0.5, "vent_short": 0.4, None: 0.1}, ("open",))
    assert best is not None
    assert best.role == "plugged"
    assert "a leak" in best.words
    assert "a vent that is too short" in best.words
    assert next_measurement({"leak": 0.5, "vent_short": 0.4}, ("open", "plugged")) is None


def test_doubt_about_the_driver_wants_the_driver_alone() -> None:
    best = next_measurement({"driver_off": 0.5, "volume_large": 0.5}, ("open", "plugged"))
    assert best is not None
    assert best.role == "free-air"
    assert best.words.endswith("it tells a driver off its data from too much air in the box.")


def test_a_clear_verdict_wants_nothing() -> None:
    assert next_measurement({None: 0.97, "leak": 0.03}, ("open",)) is None
    assert next_measurement({"leak": 0.99, "vent_short": 0.01}, ("open",)) is None
