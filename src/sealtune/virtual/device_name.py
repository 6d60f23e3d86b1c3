"""The virtual device by its name: `virtual`, or `virtual:fault=leak,severity=0.5,seed=3,design=FILE`."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass, replace
from math import isfinite, log10
from pathlib import Path
from typing import cast

import numpy as np

from sealtune.errors import UsageFault
from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.records.recording import WIRINGS, Wiring
from sealtune.virtual.bench import Bench
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.faults import apply_fault
from sealtune.virtual.sound_card import SoundCard
from sealtune.virtual.sound_device import VIRTUAL, DeviceFaults, VirtualSoundDevice
from sealtune.virtual.sound_field import Placement, near_cone, near_mouth

_REMEDY = "Write for example virtual:fault=leak,severity=0.5,seed=3."


@dataclass(frozen=True)
class Setting:
    """One setting in the name.

    meaning: what it is, for whoever reads the table
    low, high: the range of a number, both ends included; without meaning for words
    words: what a word may be; empty for a number, or for any text where low is high
    whole: whether it is a whole number
    """

    meaning: str
    low: float = 0.0
    high: float = 0.0
    words: tuple[str, ...] = ()
    whole: bool = False


SETTINGS: dict[str, Setting] = {
    "fault": Setting("of the box, as `sealtune simulate DESIGN --fault list` names them"),
    "severity": Setting("of the fault, 0 slight, 1 gross", 0.0, 1.0),
    "seed": Setting("of every random draw", 0, 2**31, whole=True),
    "scatter": Setting("of the build, 0 exactly to the design", 0.0, 1.0),
    "design": Setting("the design.toml of the box; without it a small box that is built in"),
    "wiring": Setting("how the clips really are", words=WIRINGS),
    "reference_ohm": Setting("what the reference resistor really has", 0.01, 1e6),
    "gain_percent": Setting("how much louder input 2 is than input 1", -90.0, 1000.0),
    "leads_ohm": Setting("of the leads behind the clips of the inputs", 0.0, 100.0),
    "loading_ohm": Setting("of either input, beside what it measures", 10.0, 1e9),
    "noise_dbfs": Setting("white noise of the inputs", -200.0, 0.0),
    "hum_dbfs": Setting("hum in input 2", -200.0, 0.0),
    "swapped": Setting("whether the two inputs are exchanged", words=("no", "yes")),
    "pace": Setting("as fast as the computer can, or in real time", words=("fast", "real")),
    "vanishes_at": Setting("frame at which the plug is pulled", 0, 2**40, whole=True),
    "stalls_at": Setting("frame from which nothing comes", 0, 2**40, whole=True),
    "drops_at": Setting("frame in a block that is lost", 0, 2**40, whole=True),
    "overflows_at": Setting("frame in a block that the device says it lost samples of", 0, 2**40, whole=True),
    "zeros_from": Setting("frame from which the inputs deliver zeros", 0, 2**40, whole=True),
}
"""What may stand behind `virtual:`, separated by commas."""


def is_virtual(name: str) -> bool:
    """Return whether a device's name means the virtual one."""
    return name.strip().lower().partition(":")[0] == VIRTUAL


def virtual_settings(name: str) -> dict[str, str]:
    """Return the settings in the name of the virtual device, all of them allowed.

    Raises UsageFault with all that is wrong with the name.
    """
    rest = name.strip().partition(":")[2].strip()
    settings: dict[str, str] = {}
    faults: list[str] = []
    for part in re.split(r",(?=\s*[A-Za-z_]+\s*=)", rest) if rest else []:
        key, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals or key not in SETTINGS:
            near = difflib.get_close_matches(key.lower(), SETTINGS, 1, 0.5)
            known = f"did you mean {near[0]}?" if near else "known are " + ", ".join(SETTINGS)
            faults.append(f"{part.strip()!r} is no setting; {known}")
        elif (wrong := _wrong(SETTINGS[key], value)) is not None:
            faults.append(f"{key}={value}: {wrong}")
        settings[key] = value
    if faults:
        raise UsageFault(f"--device {name}", "settings of the virtual device", "; ".join(faults), _REMEDY)
    return settings


def virtual_device(
    settings: dict[str, str],
    design: Design | None = None,
    *,
    wiring: Wiring = "divider",
    reference_ohm: float = 10.0,
) -> VirtualSoundDevice:
    """Return the virtual device with a cabinet built to a design.

    settings: as `virtual_settings` returns them
    design: None for the small box that is built in
    wiring, reference_ohm: of the virtual jig, where the settings do not say
    Raises UsageFault for a fault of the box that there is not.
    """

    def number(key: str, otherwise: float) -> float:
        return float(settings.get(key, otherwise))

    def frame(key: str) -> int | None:
        return int(float(settings[key])) if key in settings else None

    seed = seed_of(settings)
    cabinet = named_cabinet(settings, design, np.random.default_rng(seed))
    bench = Bench(
        cabinet.impedance,
        cast(Wiring, settings.get("wiring", wiring)),
        number("reference_ohm", reference_ohm),
        leads_ohm=number("leads_ohm", 0.06),
        loading_ohm=number("loading_ohm", 20_000.0),
        swapped=settings.get("swapped") == "yes",
        pressure=lambda hz, role: (near_cone if role == "cone" else near_mouth)(cabinet, hz, Placement()),
    )
    card = SoundCard()
    card = replace(
        card,
        mismatch_db=20.0 * log10(1.0 + number("gain_percent", 0.5) / 100.0),
        noise_dbfs=number("noise_dbfs", card.noise_dbfs or 0.0),
        hum_dbfs=number("hum_dbfs", card.hum_dbfs or 0.0),
    )
    overflows, drops = frame("overflows_at"), frame("drops_at")
    faults = DeviceFaults(
        vanishes_at=frame("vanishes_at"),
        stalls_at=frame("stalls_at"),
        drops_at=() if drops is None else (drops,),
        flags=() if overflows is None else ((overflows, "input_overflow"),),
        zeros_from=frame("zeros_from"),
    )
    return VirtualSoundDevice(bench, card, seed=seed, real_time=settings.get("pace") == "real", faults=faults)


def seed_of(settings: dict[str, str]) -> int:
    """Return the seed that the settings name, 0 where they name none."""
    return int(float(settings.get("seed", 0)))


def named_cabinet(
    settings: dict[str, str], design: Design | None, rng: np.random.Generator
) -> VirtualCabinet:
    """Return the cabinet that the settings name.

    design: None for the small box that is built in
    rng: what of the build and of the fault is left to chance
    Raises UsageFault for a fault of the box that there is not.
    """
    cabinet = cabinet_from_design(
        design or built_in_design(), rng, scatter=float(settings.get("scatter", 0.0))
    )
    return apply_fault(cabinet, settings.get("fault", "none"), float(settings.get("severity", 0.5)), rng)


def built_in_design() -> Design:
    """Return an invented box of 11 litres with one driver of 5 inches, tuned to 52 Hz; no product stands behind it."""
    return Design(
        name="Small shelf box",
        box=Box(0.011, lining="walls"),
        vent=Vent("round", float(np.pi * 0.022**2), 0.117, diameter_m=0.044),
        tuning=Tuning(),
        driver=Driver(
            fs_hz=55.0,
            qms=4.4,
            qes=0.44,
            vas_m3=0.0105,
            re_ohm=5.9,
            sd_m2=0.0088,
            xmax_m=0.0045,
            power_w=40.0,
        ),
    )


def design_path(settings: dict[str, str]) -> Path | None:
    """Return the design's file that the settings name, None where they name none."""
    return Path(settings["design"]) if "design" in settings else None


def _wrong(setting: Setting, value: str) -> str | None:
    """Return what is allowed where the value is not, None where it is."""
    if setting.words:
        return None if value in setting.words else f"must be {' or '.join(setting.words)}"
    if setting.low == setting.high:
        return None if value else "must not be empty"
    kind = "a whole number" if setting.whole else "a number"
    allowed = f"must be {kind} from {setting.low:.12g} to {setting.high:.12g}"
    try:
        number = float(value)
    except ValueError:
        return allowed
    sound = isfinite(number) and setting.low <= number <= setting.high
    return None if sound and not (setting.whole and number != int(number)) else allowed
