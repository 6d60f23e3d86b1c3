"""Several drivers in one box that are wired otherwise than designed."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sealtune.judgement.resistance import other_wirings
from sealtune.records.design import Design, Driver, DriverWiring
from sealtune.records.verdict import Result
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.faults import apply_fault

Judged = Callable[..., Result]


def of_several(design: Design, count: int, wiring: DriverWiring) -> Design:
    """Return the design with several smaller drivers that together do what its one driver does."""
    one = design.driver
    assert one.vas_m3 is not None
    assert one.sd_m2 is not None
    drivers = replace(
        one, count=count, wiring=wiring, vas_m3=one.vas_m3 / count, sd_m2=one.sd_m2 / count, xmax_m=0.004
    )
    return replace(design, driver=drivers)


def faulty(design: Design, severity: float | None, judged: Judged) -> Result:
    """Return the verdict; severity None: nothing is wrong."""
    sound = cabinet_from_design(design, np.random.default_rng(3), scatter=0.5)
    if severity is None:
        return judged(sound, design=design)
    return judged(apply_fault(sound, "driver_wiring", severity, np.random.default_rng(1)), design=design)


def test_resistances_of_other_wirings() -> None:
    # Exact: N alike in parallel R/N, in series N R, two by two R.
    assert other_wirings(Driver(re_ohm=6.0, count=2, wiring="parallel")) == (4.0,)
    assert other_wirings(Driver(re_ohm=6.0, count=2, wiring="series")) == (0.25,)
    assert other_wirings(Driver(re_ohm=6.0, count=4, wiring="parallel")) == (16.0, 4.0)
    assert other_wirings(Driver(re_ohm=6.0, count=3, wiring="series")) == pytest.approx((1.0 / 9.0,))
    assert other_wirings(Driver(re_ohm=6.0)) == ()


@pytest.mark.parametrize(("count", "wiring"), [(2, "parallel"), (2, "series"), (4, "parallel")])
def test_series_for_parallel_is_named_and_the_box_judged_all_the_same(
    design: Design, judged: Judged, count: int, wiring: DriverWiring
) -> None:
    """Independent: the virtual drivers' own network."""
    several = of_several(design, count, wiring)
    assert faulty(several, None, judged).verdict == "good"
    result = faulty(several, 0.2, judged)
    assert result.verdict == "rework"
    assert [one.fault for one in result.findings] == ["driver_wiring"]
    assert result.findings[0].probability > 0.9
    assert f"{count} drivers" in result.findings[0].evidence
    assert ("series" if wiring == "parallel" else "parallel") in result.findings[0].evidence
    assert result.fit is not None
    # the amplifier is in danger where the resistance is too low, and only there
    assert ("overload" in result.findings[0].remedy) == (wiring == "series")
    assert result.leak.probability < 0.2


def test_drivers_that_pull_while_others_push_are_named(design: Design, judged: Judged) -> None:
    result = faulty(of_several(design, 2, "parallel"), 0.8, judged)
    assert result.verdict == "rework"
    assert result.findings[0].fault == "driver_wiring"
    assert "Disconnect the amplifier and" in result.findings[0].confirm
    single = judged(replace(cabinet_from_design(design, np.random.default_rng(3)), vent=None))
    assert "driver_wiring" not in {one.fault for one in single.findings}


def test_a_blocked_vent_is_not_taken_for_reversed_drivers(design: Design, judged: Judged) -> None:
    several = of_several(design, 2, "parallel")
    sound = cabinet_from_design(several, np.random.default_rng(3), scatter=0.5)
    result = judged(apply_fault(sound, "vent_blocked", 0.5, np.random.default_rng(1)), design=several)
    assert result.findings[0].fault == "vent_blocked"


@pytest.mark.parametrize("scale", [1.0 / 16.0, 1.0 / 6.0, 5.0, 16.0])
def test_a_resistance_far_off_is_never_good(design: Design, judged: Judged, scale: float) -> None:
    driver = replace(design.driver, re_ohm=6.1 * scale)
    result = judged(
        cabinet_from_design(design, np.random.default_rng(3)), design=replace(design, driver=driver)
    )
    assert result.verdict != "good"
