"""What gives out first: the cone, the coil or the air in the vent; and how loud a measuring sweep may be."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.design.behaviour import MOST_POWER_W, moved
from sealtune.design.designed_speaker import DesignedSpeaker
from sealtune.records.plan import Behaviour, Limits, PowerPoint, SweepLevel

Reals = NDArray[np.float64]

SWEEP_BAND_HZ = (4.0, 1000.0)
"""Band of the measuring sweep: below the second peak of a leak with the vent stopped, above the upper peak."""

SWEEP_TRAVEL = 0.1
"""Share of x_max that the sweep may move the cone: small-signal data want little travel (our own judgement; no
published figure is known to us, and the recording's check is to repeat it at half the level)."""

SWEEP_POWER = 0.02
"""Share of the rated power that the sweep may bring, so that the coil stays cool (our own judgement)."""

USUAL_SWEEP_V = 0.2
"""Level where no limit is known, V root mean square (common practice: a few tenths of a volt)."""

MOST_SWEEP_V = 2.0
"""More is not needed to measure a resonance, and ears are near."""

LOWEST_SHARE = 0.5
"""Cone and vent are looked at from an octave below the tuning on; further down the suspension alone holds the cone,
and music has little there (common practice)."""


def limits(speaker: DesignedSpeaker, frequency_hz: Reals, vented: Behaviour, closed: Behaviour) -> Limits:
    """Return what driver and vent can stand, by the curves of the box with and without its vent.

    frequency_hz: of the curves, Hz, shape (n,), reaching to both sides of the tuning
    Power is counted as E^2/R_E at the terminals [Small1972].
    """
    driver = speaker.driver
    heard = frequency_hz >= LOWEST_SHARE * speaker.tuning_hz
    above = power_above(speaker, frequency_hz, vented)
    known = [power for power in (driver.power_w, above.power_w if above else None) if power is not None]
    usable = min([*known, MOST_POWER_W * speaker.design.driver.count]) if known else None
    speed, at_hz = None, None
    if usable is not None and vented.air_speed_m_s is not None:
        place = int(np.where(heard, vented.air_speed_m_s, 0.0).argmax())
        speed, at_hz = float(np.sqrt(usable) * vented.air_speed_m_s[place]), float(frequency_hz[place])
    area = None
    if driver.sd_m2 is not None and driver.xmax_m is not None:
        area = least_vent_area_m2(speaker.tuning_hz, driver.sd_m2 * driver.xmax_m)
    return Limits(
        power_w=driver.power_w,
        above=above,
        below=_least_power(
            driver.xmax_m, vented.travel_m, frequency_hz, heard & (frequency_hz < speaker.tuning_hz)
        ),
        closed=_least_power(driver.xmax_m, closed.travel_m, frequency_hz, heard),
        usable_w=usable,
        air_speed_m_s=speed,
        air_speed_hz=at_hz,
        air_speed_share=None if speed is None else speed / speaker.air.speed_m_s,
        least_area_m2=area,
    )


def power_above(speaker: DesignedSpeaker, frequency_hz: Reals, vented: Behaviour) -> PowerPoint | None:
    """Return the least power at which the cone reaches x_max from the tuning on upwards, None without S_D and x_max."""
    return _least_power(
        speaker.driver.xmax_m, vented.travel_m, frequency_hz, frequency_hz >= speaker.tuning_hz
    )


def least_vent_area_m2(tuning_hz: float, displacement_m3: float) -> float:
    """Return the least area of all vents together against noise, m2: 0.8 f_B V_D [Small1973, Part II, from memory].

    tuning_hz: f_B, Hz; displacement_m3: V_D = S_D x_max, m3
    """
    return 0.8 * tuning_hz * displacement_m3


def sweep_level(speaker: DesignedSpeaker | None, reference_ohm: float) -> SweepLevel:
    """Return how loud a measuring sweep may be, V root mean square at the amplifier.

    speaker: None where the design does not say enough of the driver
    reference_ohm: resistor of the jig between amplifier and box, ohm
    The cone moves at most SWEEP_TRAVEL of x_max anywhere in SWEEP_BAND_HZ with the vent open, and the coil takes
    at most SWEEP_POWER of the rated power; never more than MOST_SWEEP_V, or USUAL_SWEEP_V where the travel is not
    known.
    """
    low, high = SWEEP_BAND_HZ
    travel, power = None, None  # shares at 1 V
    if speaker is not None and speaker.driver.re_ohm is not None:
        driver, ohm = speaker.driver, speaker.driver.re_ohm
        frequency_hz = np.geomspace(low, high, 400)
        if driver.sd_m2 is not None and driver.xmax_m is not None:
            cone = moved(speaker, frequency_hz, behind_ohm=reference_ohm).cone
            static_m = np.sqrt(2.0 / ohm) * speaker.volume_m3_w / driver.sd_m2
            travel = float(static_m * np.abs(cone).max() / driver.xmax_m)
        if driver.power_w is not None:
            power = ohm / (ohm + reference_ohm) ** 2 / driver.power_w
    allowed: dict[str, float] = {}
    if travel is not None:
        allowed["travel"] = SWEEP_TRAVEL / travel
    if power is not None:
        allowed["power"] = float(np.sqrt(SWEEP_POWER / power))
    # without the travel nobody knows what the cone can stand: the usual level is then the most
    volts = min([*allowed.values(), MOST_SWEEP_V if travel is not None else USUAL_SWEEP_V])
    return SweepLevel(
        volts=volts,
        from_hz=low,
        to_hz=high,
        reference_ohm=reference_ohm,
        travel_share=None if travel is None else travel * volts,
        power_share=None if power is None else power * volts**2,
        because="travel"
        if volts == allowed.get("travel")
        else "power"
        if volts == allowed.get("power")
        else "usual level",
    )


def _least_power(
    xmax_m: float | None, travel_m: Reals | None, frequency_hz: Reals, where: NDArray[np.bool_]
) -> PowerPoint | None:
    """Return the least power at which the cone reaches x_max in part of the band, and at which frequency."""
    if xmax_m is None or travel_m is None or not where.any():
        return None
    place = int(np.where(where, travel_m, 0.0).argmax())
    return PowerPoint(float((xmax_m / travel_m[place]) ** 2), float(frequency_hz[place]))
