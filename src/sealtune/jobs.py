"""The jobs in words: check a cabinet, write its report, make virtual recordings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from sealtune import __version__
from sealtune.analysis.channel_faults import channel_problems
from sealtune.analysis.curve_faults import curve_problems
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.sample_faults import sample_problems
from sealtune.design.prediction import predict
from sealtune.errors import RecordingFault, UsageFault
from sealtune.files.cabinet_folder import RECORDING_SUFFIXES, find_recordings, find_settings, role_of_name
from sealtune.files.design_file import read_design
from sealtune.files.disk import make_folder, read_text, sha256_of, write_text
from sealtune.files.impedance_table import read_table
from sealtune.files.jig_file import read_jig
from sealtune.files.sound_file import SOUND_SUFFIXES, read_origin, read_recording
from sealtune.files.touchstone import read_touchstone
from sealtune.judgement.evidence import Evidence
from sealtune.judgement.judge import judge
from sealtune.physics.air import standard_air
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Jig, Recording, Role, Source, Wiring
from sealtune.records.verdict import Problem, Result

if TYPE_CHECKING:
    from sealtune.virtual.sound_card import SoundCard


@dataclass(frozen=True)
class CheckOptions:
    """What the user says beside the path; None where the files themselves tell.

    design, jig: files to use instead of those found in the folders
    reference_ohm, wiring: of the jig, instead of what metadata and jig.toml say
    role: of a single file
    """

    design: Path | None = None
    jig: Path | None = None
    reference_ohm: float | None = None
    wiring: Wiring | None = None
    role: Role | None = None


def check(path: Path, options: CheckOptions) -> Result:
    """Return the verdict on a cabinet's folder, a sound file or an impedance table.

    A recording that cannot be judged is a result too (verdict "remeasure"); what raises is wrong use.
    """
    source_path, role = _choose(path, options)
    cabinet = _cabinet_name(path)
    design_path = options.design or find_settings(source_path.parent, "design.toml")
    design = None if design_path is None else read_design(design_path)
    air = standard_air()
    evidence = Evidence(cabinet, design=design, prediction=None if design is None else predict(design, air))
    try:
        evidence = replace(evidence, sources=(Source(role, source_path, sha256_of(source_path)),))
        curve, problems = _curve(source_path, options)
    except RecordingFault as fault:
        return judge(replace(evidence, problems=(_as_problem(fault),)), air)
    if curve is None:
        return judge(replace(evidence, problems=tuple(problems)), air)
    landmarks = find_landmarks(curve)
    if not any(problem.spoils for problem in problems):
        problems += curve_problems(curve, landmarks)
    fit = None
    if not any(problem.spoils and problem.problem != "noisy" for problem in problems):
        fit = fit_vented_box(curve, landmarks, design)
    evidence = replace(evidence, curve=curve, landmarks=landmarks, fit=fit, problems=tuple(problems))
    return judge(evidence, air)


def _as_problem(fault: RecordingFault) -> Problem:
    detail = f"{fault.where}: expected {fault.expected}, got {fault.got}."
    return Problem(fault.problem, detail, fault.remedy)


def _choose(path: Path, options: CheckOptions) -> tuple[Path, Role]:
    """Return the recording that decides, and its role."""
    if not path.exists():
        raise UsageFault(
            str(path), "a cabinet's folder, a sound file or a table", "nothing there", "Check the path."
        )
    if not path.is_dir():
        if path.suffix.lower() not in RECORDING_SUFFIXES:
            raise UsageFault(
                str(path),
                "a file ending in " + ", ".join(RECORDING_SUFFIXES),
                path.suffix or "no ending",
                "Export the measurement as one of these.",
            )
        origin = read_origin(path) if path.suffix.lower() in SOUND_SUFFIXES else None
        role = options.role or (origin.role if origin else None) or role_of_name(path.stem) or "open"
        if role != "open":
            raise UsageFault(
                str(path), "the impedance with the vent open (role open)", f"a recording of role {role}",
                "Check the cabinet's folder, which holds its recording of role open too.",
            )  # fmt: skip
        return path, role
    if options.role is not None:
        raise UsageFault(
            str(path),
            "a single file beside --role",
            "a folder",
            "Leave --role out: the folder's files say it.",
        )
    found = find_recordings(path)
    if "open" not in found:
        others = ", ".join(found) if found else "no recording at all"
        expected = "a recording of role open in the folder (open.wav, open.flac, open.csv, open.s1p)"
        raise UsageFault(
            str(path), expected, others,
            "Record the impedance with the vent open, or name the file itself.",
        )  # fmt: skip
    return found["open"][-1], "open"


def _cabinet_name(path: Path) -> str:
    resolved = path.resolve()
    if path.is_dir():
        return resolved.name
    return resolved.parent.name if role_of_name(path.stem) else path.stem


def _curve(path: Path, options: CheckOptions) -> tuple[ImpedanceCurve | None, list[Problem]]:
    """Return the impedance curve of a recording or table, and what is wrong with it so far."""
    suffix = path.suffix.lower()
    if suffix == ".s1p":
        return read_touchstone(path), []
    if suffix not in SOUND_SUFFIXES:
        return read_table(path), []
    recording = read_recording(path)
    jig = _jig(path, recording, options)
    problems = sample_problems(recording)
    if any(problem.problem in ("too_quiet", "channel_missing") for problem in problems):
        return None, problems
    spectra = measure_ratio(recording)
    if not any(problem.spoils for problem in problems):
        problems += channel_problems(spectra, recording, jig)
    return impedance_curve(spectra.ratio, jig), problems


def _jig(path: Path, recording: Recording, options: CheckOptions) -> Jig:
    """Return the jig: by the options first, then by the file given, the recording itself, the folders."""
    jig = None
    if options.jig is not None:
        jig = read_jig(options.jig)
    elif recording.origin.jig is not None:
        jig = recording.origin.jig
    elif (found := find_settings(path.parent, "jig.toml")) is not None:
        jig = read_jig(found)
    ohm = options.reference_ohm if options.reference_ohm is not None else jig.reference_ohm if jig else None
    wiring = options.wiring if options.wiring is not None else jig.wiring if jig else None
    if ohm is None or wiring is None:
        missing = " and ".join(
            name for name, value in (("--reference-ohm", ohm), ("--wiring", wiring)) if value is None
        )
        raise UsageFault(
            str(path), "a recording that says how it was wired, or a jig.toml beside or above it",
            "neither", f"Give {missing}, or write a jig.toml with wiring and reference_ohm.",
        )  # fmt: skip
    return Jig(wiring, ohm)


def write_report(results: Sequence[Result], out: Path, made_at: datetime, notes: Sequence[str] = ()) -> None:
    """Write the page of the results; an older page of that name is replaced."""
    from sealtune.report.page import page

    write_text(
        out, page(results, made_at=made_at, program=f"sealtune {__version__}", notes=notes), overwrite=True
    )


def notes_of(results: Sequence[Result]) -> tuple[str, ...]:
    """Return a note for each result that stems from a simulated recording."""
    simulated = []
    for result in results:
        for source in result.sources:
            origin = read_origin(source.path) if source.path.suffix.lower() in SOUND_SUFFIXES else None
            if origin is not None and origin.simulated:
                simulated.append(
                    f"{result.cabinet}: simulated recording, no real cabinet ({origin.note or 'no note'})"
                )
    return tuple(simulated)


def demo_folder() -> Path:
    """Return the folder of the recordings that ship with the program, in the package or beside its sources."""
    package = Path(__file__).resolve().parent
    for folder in (package / "recordings", package.parents[1] / "recordings"):
        if (folder / "design.toml").is_file():
            return folder
    raise UsageFault(
        str(package / "recordings"), "the demo's recordings", "nothing there", "Install the program again."
    )


@dataclass(frozen=True)
class Simulation:
    """What `simulate` makes.

    fault, severity: see virtual.faults
    spoilt, strength: a fault of the measurement, see virtual.measurement_faults; None for none
    seed: of every random draw
    scatter: 0 builds exactly to the design, 1 within half its tolerances
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
    from sealtune.records.recording import Sweep
    from sealtune.virtual.cabinet import cabinet_from_design
    from sealtune.virtual.faults import apply_fault
    from sealtune.virtual.measurement_faults import spoil
    from sealtune.virtual.sound_card import record

    rng = np.random.default_rng(simulation.seed)
    design = read_design(design_path)
    cabinet = cabinet_from_design(design, rng, scatter=simulation.scatter)
    cabinet = apply_fault(cabinet, simulation.fault, simulation.severity, rng)
    paths = [folder / f"{role}{simulation.suffix}" for role in simulation.roles]
    note = (
        f"virtual cabinet, fault {simulation.fault}, severity {simulation.severity:g}, seed {simulation.seed}"
    )
    takes = []
    for role in simulation.roles:
        lowest = 4.0 if role == "plugged" else 8.0
        sweep = Sweep(lowest, 1000.0, simulation.seconds, begins_s=0.5, fade_s=0.05)
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
    copy = folder / "design.toml"
    if find_settings(folder, "design.toml") is None:
        write_text(copy, read_text(design_path))
    return paths
