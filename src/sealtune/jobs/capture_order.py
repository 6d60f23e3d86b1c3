"""What a capture is to be, from what the user says, the design and the jig: sweep, device, and how loud it may get."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path

from sealtune.capture.loudness import LOUDEST_DBFS
from sealtune.design.designed_speaker import designed_speaker
from sealtune.design.limits import sweep_level
from sealtune.design.prediction import predict
from sealtune.errors import UsageFault
from sealtune.files.cabinet_folder import find_settings
from sealtune.files.disk import require_writable
from sealtune.jobs.designs import load_design
from sealtune.jobs.devices import is_virtual, open_device
from sealtune.jobs.recordings import CheckOptions, stated_jig
from sealtune.physics.air import climate_air, standard_air
from sealtune.records.design import Design
from sealtune.records.plan import SweepLevel
from sealtune.records.recording import IMPEDANCE_ROLES, Jig, Role, Sweep
from sealtune.records.sound_device import SoundDevice

LOWEST_HZ = {"plugged": 4.0}
USUAL_LOWEST_HZ = 8.0
HIGHEST_HZ = 1000.0

SECONDS = 6.0
BEFORE_S = 1.0
"""Silence before each sweep, for noise and hum."""

FADE_S = 0.05

ENOUGH_SHARE = 0.25
"""Half the tuning's interval may be this share of half the band that counts as met."""

ENOUGH = 0.005
"""The same over the tuning where no design tells what counts as met; never more than that is asked for."""


@dataclass(frozen=True)
class CaptureOptions:
    """What the user says; None where the program finds it out.

    device: name or number
    rate_hz: samples per second
    level_dbfs: peak of the sweep, dB of full scale
    seconds: of one sweep
    repeats: sweeps, exactly so many
    check: design, jig and its parts, as for check
    """

    device: str | None = None
    rate_hz: float | None = None
    level_dbfs: float | None = None
    seconds: float | None = None
    repeats: int | None = None
    check: CheckOptions = field(default_factory=CheckOptions)


@dataclass(frozen=True)
class CaptureOrder:
    """Everything that is settled before the first sound.

    folder: the cabinet's
    design: None where none was found
    jig: None for the roles of a microphone, whose recordings hold no impedance
    sweep: with the silence before it
    most_dbfs: the loudest that is allowed
    limit: by what the design's driver stands; None where nobody told how many volts full scale makes
    enough: half the interval of the tuning, relative, that ends the repeats
    """

    role: Role
    folder: Path
    design: Design | None
    jig: Jig | None
    device: SoundDevice
    rate_hz: float
    sweep: Sweep
    most_dbfs: float
    limit: SweepLevel | None
    enough: float
    options: CaptureOptions


def settled(role: Role, folder: Path, options: CaptureOptions) -> CaptureOrder:
    """Return what is to be done.

    Raises UsageFault, SettingsFault or DeviceFault where something is missing or contradicts itself, before any sound.
    """
    if folder.exists() and not folder.is_dir():
        raise UsageFault(
            str(folder), "a cabinet's folder", "a file", "Name a folder, such as left; it is made if new."
        )
    require_writable(folder)
    design_path = options.check.design or find_settings(folder, "design.toml")
    design = None if design_path is None else load_design(design_path)[0]
    jig = _jig(role, folder, options)
    device = open_device(options.device, design=design, jig=jig)
    rate_hz = options.rate_hz or device.info.rate_hz
    low_hz = LOWEST_HZ.get(role, USUAL_LOWEST_HZ)
    sweep = Sweep(low_hz, HIGHEST_HZ, options.seconds or SECONDS, begins_s=BEFORE_S, fade_s=FADE_S)
    air = standard_air() if design is None else climate_air(design.climate)
    prediction = None if design is None else predict(design, air)
    most_dbfs, limit = LOUDEST_DBFS, None
    if jig is not None and jig.full_scale_v is not None:
        speaker = None
        if design is not None and prediction is not None:
            speaker = designed_speaker(design, prediction, air)
        limit = sweep_level(speaker, jig.reference_ohm if role in IMPEDANCE_ROLES else 0.0)
        most_dbfs = min(0.0, 20.0 * math.log10(math.sqrt(2.0) * limit.volts / jig.full_scale_v))
    level = options.level_dbfs
    if level is not None and limit is not None and level > most_dbfs + 0.05:
        raise UsageFault(
            f"--level {level:g}",
            f"at most {most_dbfs:.1f} dB, which are {limit.volts:.2g} V at the amplifier",
            f"{level - most_dbfs:.1f} dB more than the driver should bear while it is measured",
            "Choose a lower level or leave --level out; if the amplifier was turned down since, correct full_scale_v "
            "in jig.toml.",
        )
    enough = ENOUGH
    if prediction is not None:
        band = (prediction.high_hz - prediction.low_hz) / 2.0 / prediction.target_hz
        enough = max(ENOUGH, ENOUGH_SHARE * band)
    return CaptureOrder(
        role, folder, design, jig if role in IMPEDANCE_ROLES else None, device, rate_hz, sweep,
        most_dbfs, limit, enough, options,
    )  # fmt: skip


def _jig(role: Role, folder: Path, options: CaptureOptions) -> Jig | None:
    """Return the jig; that of the virtual bench where none is told of, and none for a microphone where nobody says."""
    try:
        return stated_jig(folder / "recording", None, options.check)
    except UsageFault:
        if options.check.jig is not None:
            raise
        if is_virtual(options.device):
            return stated_jig(folder / "recording", Jig("divider", 10.0), options.check)
        if role not in IMPEDANCE_ROLES:
            return None
        raise UsageFault(
            str(folder), "a jig.toml in it or in a folder above it",
            "neither that nor both of --reference-ohm and --wiring",
            "Run `sealtune calibrate`, which writes it, or give --reference-ohm and --wiring.",
        ) from None  # fmt: skip
