"""What cone, coil and vent can stand, the price of the vent and the level of the sweep, in words."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sealtune.design.behaviour import FAST_AIR
from sealtune.records.plan import Behaviour, Plan, PowerPoint
from sealtune.report.content import capital, number, sentence
from sealtune.report.plan_words import (
    LITRES,
    MILLIMETRES,
    RESPONSE_KEYS,
    SQUARE_CENTIMETRES,
    air_is_heard,
    digits,
    keys_words,
    missing_keys,
    tuned_hz,
)

USUAL_AIR_SPEED_M_S = 17.0
"""Air in the vent faster than this (peak; 5 % of the speed of sound) is heard [Small1973, Part II, from memory]."""

_THIRD_OCTAVES_HZ = (20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0)


def at(frequency_hz: NDArray[np.float64], values: NDArray[np.float64], hz: float) -> float:
    """The curve at one frequency, linear between its points over the logarithm of frequency."""
    return float(np.interp(math.log(hz), np.log(frequency_hz), values))


def f3_words(behaviour: Behaviour) -> str:
    """Where the response is 3 dB down, in words."""
    if behaviour.f3_hz is None:
        return "f3 not within the band"
    return f"f3 {number(behaviour.f3_hz, 1)} Hz"


def _reaches(point: PowerPoint) -> str:
    return f"{watts(point.power_w)} W (at {number(point.hz, 0)} Hz)"


def watts(power_w: float) -> str:
    """A power with about two digits."""
    return digits(power_w, 0 if power_w >= 10.0 else 1)


def limits_words(plan: Plan) -> str:
    """Cone travel above and below the tuning, and what gives out first."""
    limits, driver = plan.limits, plan.design.driver
    if limits is None or limits.above is None or limits.below is None or driver.xmax_m is None:
        keys = missing_keys(driver, (*RESPONSE_KEYS, "sd_cm2", "xmax_mm"))
        return keys_words(keys, "cone travel and how loud it may be played") if keys else ""
    xmax = f"x_max of {digits(MILLIMETRES * driver.xmax_m, 1, 1)} mm"
    told = [
        f"the cone reaches {xmax} with {_reaches(limits.above)} from the tuning upwards, "
        f"{_reaches(limits.below)} in the octave below"
    ]
    order = [("cone travel", limits.above.power_w)]
    if limits.power_w is not None:
        order.append(("rated power", limits.power_w))
    if limits.air_speed_share and limits.usable_w is not None:
        order.append(("vent air", limits.usable_w * (FAST_AIR / limits.air_speed_share) ** 2))
    order.sort(key=lambda pair: pair[1])
    parts = ", ".join(f"{name} ({watts(power)} W)" for name, power in order)
    told.append(f"{'what gives out first' if len(order) > 1 else 'what gives out'}: {parts}")
    hint = (
        ""
        if limits.power_w is not None
        else " " + keys_words(("power_w",), "whether the coil gives out before")
    )
    said = "; ".join(told)
    return f"{capital(said)}. Power is E²/R_E, voltage squared over coil resistance.{hint}"


def air_words(plan: Plan) -> str:
    """How fast the air in the vent gets at the usable power, held against what is usual."""
    limits, vent = plan.limits, plan.design.vent
    if limits is None or vent is None or limits.air_speed_m_s is None or limits.usable_w is None:
        return ""
    share = limits.air_speed_share
    part = "" if share is None else f" ({number(100.0 * share, 1)} % of the speed of sound)"
    where = "" if limits.air_speed_hz is None else f" at {number(limits.air_speed_hz, 0)} Hz"
    heard = "likely to be heard" if air_is_heard(limits) else "quiet enough"
    told = (
        f"{digits(limits.air_speed_m_s, 0, 1)} m/s peak{where} with {watts(limits.usable_w)} W{part}: {heard}"
    )
    usual = f"{number(USUAL_AIR_SPEED_M_S, 0)} m/s (5 %)"
    if limits.least_area_m2 is not None:
        own = digits(SQUARE_CENTIMETRES * vent.count * vent.area_m2, 0)
        usual += f", {digits(SQUARE_CENTIMETRES * limits.least_area_m2, 0)} cm² of opening (here {own})"
    return f"{told}. Orientation: {usual} [Small1973, Part II, from memory]."


def loudest_words(plan: Plan) -> str:
    """The highest sine level at some third-octave frequencies around the tuning, vented and closed."""
    vented, closed = plan.vented, plan.closed
    if vented is None or vented.highest_db is None:
        return ""
    tuned = tuned_hz(plan)
    steps = [hz for hz in _THIRD_OCTAVES_HZ if 0.6 * tuned <= hz <= 2.4 * tuned][:6]
    if not steps:
        return ""
    hz = " / ".join(f"{step:g}" for step in steps)
    told = f"One sine at 1 m, at {hz} Hz: {_levels(plan, vented, steps)} dB"
    if closed is not None and closed.highest_db is not None:
        told += f"; in the closed box {_levels(plan, closed, steps)}"
    return sentence(told)


def _levels(plan: Plan, behaviour: Behaviour, steps: list[float]) -> str:
    highest = behaviour.highest_db
    assert highest is not None
    return " / ".join(number(at(plan.frequency_hz, highest, hz), 0) for hz in steps)


def closed_words(plan: Plan) -> str:
    """The price of the vent below the tuning, against the same driver in a closed box of the same volume."""
    vented, closed, limits = plan.vented, plan.closed, plan.limits
    if vented is None or closed is None:
        return ""
    told = [
        f"the same driver in {number(LITRES * plan.design.box.volume_m3, 1)} litres closed: {f3_words(closed)}"
    ]
    octave = 0.5 * tuned_hz(plan)
    if plan.frequency_hz[0] <= octave:
        quieter = at(plan.frequency_hz, closed.relative_db - vented.relative_db, octave)
        price = "no quieter"
        if abs(quieter) >= 0.5:
            price = f"{number(abs(quieter), 0)} dB {'quieter' if quieter > 0.0 else 'louder'}"
        if vented.travel_m is not None and closed.travel_m is not None:
            ratio = at(plan.frequency_hz, vented.travel_m / closed.travel_m, octave)
            price += f" and moves the cone {number(ratio, 1)} times as far"
        told.append(f"an octave below the tuning the vent makes it {price}")
    if limits is not None and limits.closed is not None and limits.below is not None:
        told.append(
            f"down to there x_max takes {watts(limits.closed.power_w)} W closed, "
            f"{watts(limits.below.power_w)} W with the vent"
        )
    said = "; ".join(told)
    return f"{capital(said)}."


def sweep_words(plan: Plan) -> str:
    """How loud a measuring sweep may be, and why."""
    sweep = plan.sweep
    band = f"{number(sweep.from_hz, 0)} to {number(sweep.to_hz, 0)} Hz"
    told = (
        f"At most {digits(sweep.volts, 2)} V rms at the amplifier through {sweep.reference_ohm:g} ohm, {band}"
    )
    travel = (
        "" if sweep.travel_share is None else f"the cone moves up to {_share(sweep.travel_share)} of x_max"
    )
    power = (
        "" if sweep.power_share is None else f"the coil takes {_share(sweep.power_share)} of its rated power"
    )
    known = " and ".join(part for part in (travel, power) if part)
    if not known:
        keys = missing_keys(plan.design.driver, (*RESPONSE_KEYS, "re_ohm", "sd_cm2", "xmax_mm", "power_w"))
        hint = f" {keys_words(keys, 'what this driver can stand')}" if keys else ""
        return f"{told}: a usual level, nothing is known of this driver's limits.{hint}"
    reason = {
        "travel": "The travel sets it",
        "power": "The power sets it",
        "usual level": "Louder is not needed" if travel else "A usual level",
    }[sweep.because]
    if travel:
        return f"{told}: {known}. {reason}."
    keys = missing_keys(plan.design.driver, (*RESPONSE_KEYS, "re_ohm", "sd_cm2", "xmax_mm"))
    hint = f" {keys_words(keys, 'that')}" if keys else ""
    return f"{told}: {known}. {reason}; how far the cone moves is not known.{hint}"


def _share(share: float) -> str:
    percent = 100.0 * share
    if percent < 0.1:
        return "under 0.1 %"
    return f"{number(percent, 0 if percent >= 2.0 else 1)} %"
