"""Several drivers in one box, seen from the box's terminals as one."""

from __future__ import annotations

from dataclasses import replace

from sealtune.records.design import Design, Driver


def effective_driver(design: Design) -> Driver:
    """The one driver that behaves at the terminals like all drivers of the box together.

    design: its driver data are those of one driver; all are alike
    Returns a Driver of count 1: resonance, Q factors and travel as they are; V_AS, area and power times the
    count; resistance divided by the count in parallel, multiplied in series, and None where several drivers
    are said to be wired as "single", which says nothing. Mutual coupling of the cones is left out.
    """
    driver = design.driver
    n = driver.count
    if n == 1:
        return replace(driver, wiring="single")
    re_ohm = None
    if driver.re_ohm is not None and driver.wiring != "single":
        re_ohm = driver.re_ohm / n if driver.wiring == "parallel" else driver.re_ohm * n
    return replace(
        driver,
        vas_m3=_times(driver.vas_m3, n),
        sd_m2=_times(driver.sd_m2, n),
        power_w=_times(driver.power_w, n),
        re_ohm=re_ohm,
        count=1,
        wiring="single",
    )


def _times(value: float | None, count: int) -> float | None:
    return None if value is None else value * count
