"""Recordings of a virtual cabinet with a chosen fault."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from sealtune.files.cabinet_folder import find_settings
from sealtune.files.disk import make_folder, read_text, write_text
from sealtune.jobs.designs import load_design
from sealtune.records.recording import MICROPHONE_ROLES, Jig, Role, Sweep

if TYPE_CHECKING:
    from sealtune.virtual.sound_card import SoundCard


@dataclass(frozen=True)
class Simulation:
    """What `simulate` makes.

    fault, severity: see virtual.faults
    spoilt, strength: a fault of the measurement, see virtual.measurement_faults; None for none
    seed: of every random draw
    scatter: 0 builds exactly to the design, 1 within half its tolerances
    rattle: a loose part that the microphone hears, over the sound that it goes with; 0 for none
    """

    fault: str = "none"
    severity: float = 0.5
    spoilt: str | None = None
    strength: float = 0.5
    seed: int = 0
    scatter: float = 0.0
    roles: tuple[Role, ...] = ("open",)
    jig: Jig = field(default_factory=lambda: Jig("divider", 10.0))
    seconds: float = 8.0
    rate_hz: float = 48000.0
    suffix: str = ".flac"
    rattle: float = 0.0


def simulate(
    design_path: Path,
    folder: Path,
    simulation: Simulation,
    recorded_at: datetime,
    card: SoundCard | None = None,
) -> list[Path]:
    """Write the recordings of a virtual cabinet into `folder`, with its design, and return the files.

    Raises UsageFault where one of the files is there already.
    """
    import numpy as np

    from sealtune.files.sound_file import write_recording
    from sealtune.virtual.cabinet import cabinet_from_design
    from sealtune.virtual.faults import apply_fault
    from sealtune.virtual.measurement_faults import spoil
    from sealtune.virtual.near_field_take import record_near_field
    from sealtune.virtual.side_noise import Rattle
    from sealtune.virtual.sound_card import record
    from sealtune.virtual.sound_field import Placement

    rng = np.random.default_rng(simulation.seed)
    design, _ = load_design(design_path)
    cabinet = cabinet_from_design(design, rng, scatter=simulation.scatter)
    cabinet = apply_fault(cabinet, simulation.fault, simulation.severity, rng)
    paths = [folder / f"{role}{simulation.suffix}" for role in simulation.roles]
    note = (
        f"virtual cabinet, fault {simulation.fault}, severity {simulation.severity:g}, seed {simulation.seed}"
    )
    apart_m = max(2.5 * cabinet.driver.radius_m, 0.1)
    place = Placement(cone_distance_m=0.005, mouth_distance_m=0.0, apart_m=apart_m, shading=0.8)
    tuning_hz = cabinet.truth().tuning_hz or cabinet.truth().fs_hz
    rattle = None
    if simulation.rattle > 0.0:
        rattle = Rattle(simulation.rattle, 0.8 * tuning_hz, 1.8 * tuning_hz)
    takes = []
    for role in simulation.roles:
        lowest = 4.0 if role == "plugged" else 8.0
        sweep = Sweep(lowest, 1000.0, simulation.seconds, begins_s=0.5, fade_s=0.05)
        if role in MICROPHONE_ROLES:
            take = record_near_field(
                cabinet, role, sweep, rng, place=place, card=card, rattle=rattle,
                rate_hz=simulation.rate_hz, recorded_at=recorded_at, note=note,
            )  # fmt: skip
        else:
            take = record(
                partial(cabinet.impedance, role=role), simulation.jig, sweep, role, rng,
                card=card, rate_hz=simulation.rate_hz, recorded_at=recorded_at, note=note,
            )  # fmt: skip
        if simulation.spoilt is not None:
            take = spoil(take, simulation.spoilt, simulation.strength, rng)
        takes.append(take)
    make_folder(folder)
    for path, take in zip(paths, takes, strict=True):
        write_recording(path, take)
    copy, near, text = folder / "design.toml", find_settings(folder, "design.toml"), read_text(design_path)
    if near is None or (
        not copy.exists() and read_text(near) != text
    ):  # another design above would be found instead
        write_text(copy, text)
    return paths
