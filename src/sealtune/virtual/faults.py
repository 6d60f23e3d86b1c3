"""Faults that a finished cabinet can have, put into a virtual one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sealtune.errors import UsageFault
from sealtune.records.verdict import FaultName
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.parts import Hole, Slit, VirtualVent


@dataclass(frozen=True)
class Fault:
    """A kind of fault.

    name: what `apply_fault` is asked for
    finding: the fault that `check` should find; None for a good cabinet
    meaning: what severity 0 and 1 are, in physical terms; between them, logarithmic
    """

    name: str
    finding: FaultName | None
    meaning: str


FAULTS: tuple[Fault, ...] = (
    Fault("none", None, "nothing is wrong"),
    Fault("leak_slit", "leak", "a gap along 50 mm of a wall 15 mm thick, 0.4 to 1.2 mm high"),
    Fault("leak_hole", "leak", "a round hole through a wall 15 mm thick, 4 to 10 mm across"),
    Fault("vent_long", "vent_long", "effective vent length 15 to 60 % too long"),
    Fault("vent_short", "vent_short", "effective vent length 15 to 50 % too short, the duct at least 2 mm"),
    Fault("vent_blocked", "vent_blocked", "the vent's outer mouth is shut airtight, whatever the severity"),
    Fault(
        "vent_restricted", "vent_restricted", "a plate with a hole in the vent, 50 to 10 % of its area open"
    ),
    Fault("volume_small", "volume_small", "net volume 12 to 35 % too small"),
    Fault("volume_large", "volume_large", "net volume 12 to 45 % too large"),
    Fault("vent_lined", "vent_lined", "material in the vent with a flow resistance of 4 to 40 Pa s/m"),
    Fault("overstuffed", "overstuffed", "absorption Q of 8 to 2.5 and air 5 to 25 % more compliant"),
    Fault("driver_off", "driver_off", "suspension 1.35 to 2 times too stiff or too soft, Bl 5 to 20 % low"),
    Fault(
        "driver_wiring",
        "driver_wiring",
        "of several drivers: below 0.5 series and parallel are mixed up, from 0.5 half of them are reversed",
    ),
    Fault("series_resistance", "series_resistance", "a joint of 0.4 to 4 ohm in the lead to the box"),
    Fault("polarity", "polarity", "the two leads at the driver are swapped, whatever the severity"),
    Fault("closed_box", "not_a_vented_box", "the box has no vent at all, whatever the severity"),
)


def apply_fault(
    cabinet: VirtualCabinet, name: str, severity: float, rng: np.random.Generator
) -> VirtualCabinet:
    """Return the cabinet with a fault.

    name: one of `FAULTS`, or "leak" for a slit or a hole drawn from `rng`
    severity: 0 (just worth finding) to 1 (gross); what it means is said in `FAULTS`
    rng: draws what the severity leaves open, such as the direction of a driver's deviation
    Raises UsageFault for an unknown name, a severity outside 0..1, a vent fault on a box without a vent, or
    a wiring fault on a single driver.
    """
    if not 0.0 <= severity <= 1.0:
        raise UsageFault("fault", "a severity from 0 to 1", f"{severity:g}", "Choose a number in that range.")
    if name == "leak":
        name = "leak_slit" if rng.random() < 0.5 else "leak_hole"
    makers: dict[str, Callable[[VirtualCabinet, float, np.random.Generator], VirtualCabinet]] = {
        "none": lambda box, _severity, _rng: box,
        "leak_slit": lambda box, s, _rng: with_slit(box, _between(0.4, 1.2, s), 50.0, 15.0),
        "leak_hole": lambda box, s, _rng: with_hole(box, _between(4.0, 10.0, s), 15.0),
        "vent_long": lambda box, s, _rng: _lengthened(box, _between(1.15, 1.6, s)),
        "vent_short": lambda box, s, _rng: _lengthened(box, _between(0.85, 0.5, s)),
        "vent_blocked": lambda box, _s, _rng: replace(box, vent=replace(_vent_of(box), blocked=True)),
        "vent_restricted": lambda box, s, _rng: _restricted(box, _between(0.5, 0.1, s)),
        "volume_small": lambda box, s, _rng: replace(box, volume_m3=box.volume_m3 * _between(0.88, 0.65, s)),
        "volume_large": lambda box, s, _rng: replace(box, volume_m3=box.volume_m3 * _between(1.12, 1.45, s)),
        "vent_lined": lambda box, s, _rng: replace(
            box, vent=replace(_vent_of(box), resistance_rayl=_between(4.0, 40.0, s))
        ),
        "overstuffed": lambda box, s, _rng: _overstuffed(box, s),
        "driver_off": _driver_off,
        "driver_wiring": lambda box, s, _rng: _miswired(box, s),
        "series_resistance": lambda box, s, _rng: replace(
            box, series_ohm=box.series_ohm + _between(0.4, 4.0, s)
        ),
        "polarity": lambda box, _severity, _rng: replace(
            box, driver=replace(box.driver, bl_tm=-box.driver.bl_tm)
        ),
        "closed_box": lambda box, _severity, _rng: replace(box, vent=None),
    }
    if name not in makers:
        raise UsageFault(
            "fault", "one of " + ", ".join(makers) + ", leak", repr(name), "Choose one of these."
        )
    return makers[name](cabinet, severity, rng)


def with_slit(cabinet: VirtualCabinet, gap_mm: float, width_mm: float, depth_mm: float) -> VirtualCabinet:
    """Return the cabinet with a gap more: height, long side and depth through the wall, mm, each > 0."""
    _above_zero("slit", gap_mm=gap_mm, width_mm=width_mm, depth_mm=depth_mm)
    return replace(cabinet, leaks=(*cabinet.leaks, Slit(gap_mm / 1e3, width_mm / 1e3, depth_mm / 1e3)))


def with_hole(cabinet: VirtualCabinet, diameter_mm: float, depth_mm: float) -> VirtualCabinet:
    """Return the cabinet with a round hole more: diameter and depth through the wall, mm, each > 0."""
    _above_zero("hole", diameter_mm=diameter_mm, depth_mm=depth_mm)
    return replace(cabinet, leaks=(*cabinet.leaks, Hole(diameter_mm / 1e3, depth_mm / 1e3)))


def _above_zero(where: str, **sizes: float) -> None:
    for key, value in sizes.items():
        if not value > 0.0:
            raise UsageFault(where, f"{key} above 0", f"{value:g}", "Give a size in millimetres.")


def _between(low: float, high: float, severity: float) -> float:
    return float(low * (high / low) ** severity)


def _vent_of(box: VirtualCabinet) -> VirtualVent:
    if box.vent is None:
        raise UsageFault("fault", "a box with a vent", "a closed box", "Choose a fault that needs no vent.")
    return box.vent


def _lengthened(box: VirtualCabinet, factor: float) -> VirtualCabinet:
    vent = _vent_of(box)
    length_m = vent.effective_length_m * factor - vent.outer_end_m - vent.inner_end_m
    return replace(box, vent=replace(vent, length_m=max(length_m, 0.002)))


def _restricted(box: VirtualCabinet, open_share: float) -> VirtualCabinet:
    vent = _vent_of(box)
    return replace(box, vent=replace(vent, opening_m=float(np.sqrt(open_share * vent.area_m2 / np.pi))))


def _overstuffed(box: VirtualCabinet, severity: float) -> VirtualCabinet:
    tuning_hz = box.truth().tuning_hz or box.truth().fs_hz
    softer = replace(box, air_spring_factor=box.air_spring_factor * _between(1.05, 1.25, severity))
    reactance = 1.0 / (2.0 * np.pi * tuning_hz * softer.air_compliance)
    return replace(softer, absorption_pa_s_m3=reactance / _between(8.0, 2.5, severity))


def _driver_off(box: VirtualCabinet, severity: float, rng: np.random.Generator) -> VirtualCabinet:
    factor = _between(1.35, 2.0, severity)
    driver = replace(
        box.driver,
        compliance_m_n=box.driver.compliance_m_n * (factor if rng.random() < 0.5 else 1.0 / factor),
        bl_tm=box.driver.bl_tm * _between(0.95, 0.8, severity),
    )
    return replace(box, driver=driver)


def _miswired(box: VirtualCabinet, severity: float) -> VirtualCabinet:
    driver = box.driver
    if driver.count < 2:
        raise UsageFault("fault", "a box with several drivers", "one driver", "Choose another fault.")
    if severity >= 0.5:
        return replace(box, driver=replace(driver, antiphase=True))
    return replace(box, driver=replace(driver, wiring="parallel" if driver.wiring == "series" else "series"))
