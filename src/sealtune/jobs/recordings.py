"""From a recording's file to an impedance curve, and what is wrong with it so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from sealtune.analysis.channel_faults import channel_problems
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import correction_in_words, impedance_curve
from sealtune.analysis.sample_faults import sample_problems
from sealtune.errors import RecordingFault, UsageFault
from sealtune.files.cabinet_folder import find_settings, recorded_at
from sealtune.files.impedance_table import read_table
from sealtune.files.jig_file import read_jig
from sealtune.files.sound_file import SOUND_SUFFIXES, read_recording
from sealtune.files.touchstone import read_touchstone
from sealtune.judgement.evidence import lower_first
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Jig, Recording, Role, Wiring
from sealtune.records.verdict import Problem, Result


@dataclass(frozen=True)
class CheckOptions:
    """What the user says beside the path; None where the files themselves tell.

    design, jig: files to use instead of those found in the folders
    reference_ohm, wiring: of the jig, instead of what metadata and jig.toml say
    role: of a single file
    microphone: correction file of the microphone
    """

    design: Path | None = None
    jig: Path | None = None
    reference_ohm: float | None = None
    wiring: Wiring | None = None
    role: Role | None = None
    microphone: Path | None = None


@dataclass(frozen=True)
class Measured:
    """What one recording or table yields.

    curve: None where there is none
    problems: what is wrong with it so far
    jig_words: the jig and the known loads that correct it; None for a table
    recording: what the curve is of, with the jig that counts; None for a table
    """

    curve: ImpedanceCurve | None
    problems: tuple[Problem, ...] = ()
    jig_words: str | None = None
    recording: Recording | None = None


def measured(path: Path, options: CheckOptions) -> Measured:
    """Return the impedance curve of a recording or table, and its problems.

    A file that cannot be read is a problem too; what raises is wrong use.
    """
    try:
        return _curve(path, options)
    except RecordingFault as fault:
        return Measured(None, (unreadable(fault),))


def unreadable(fault: RecordingFault) -> Problem:
    """Return the problem of a recording that cannot be read at all."""
    detail = f"{fault.where}: expected {fault.expected}, got {fault.got}."
    return Problem(fault.problem, detail, fault.remedy)


def opened_at(result: Result) -> datetime | None:
    """Return when the recording of the open vent was made, None where neither its metadata nor its name tell."""
    return next((recorded_at(source.path) for source in result.sources if source.role == "open"), None)


def beside(path: Path, problems: Sequence[Problem], *, left_out: bool) -> list[Problem]:
    """Return the problems of a recording that only goes along with the open vent's: named, and spoiling nothing.

    left_out: whether it cannot be used
    """
    end = " It was left out." if left_out else ""
    return [
        replace(problem, detail=f"{path.name}: {lower_first(problem.detail)}{end}", spoils=False)
        for problem in problems
    ]


def _curve(path: Path, options: CheckOptions) -> Measured:
    suffix = path.suffix.lower()
    if suffix == ".s1p":
        return Measured(read_touchstone(path))
    if suffix not in SOUND_SUFFIXES:
        return Measured(read_table(path))
    recording = read_recording(path)
    return measured_recording(recording, stated_jig(path, recording.origin.jig, options))


def measured_recording(recording: Recording, jig: Jig) -> Measured:
    """Return what a recording made with a jig yields."""
    words = f"{jig.wiring}, {jig.reference_ohm:g} ohm: {correction_in_words(jig)}"
    problems = sample_problems(recording)
    if any(problem.problem in ("too_quiet", "channel_missing") for problem in problems):
        return Measured(None, tuple(problems), words)
    spectra = measure_ratio(recording)
    if not any(problem.spoils for problem in problems):
        problems += channel_problems(spectra, recording, jig)
    with_jig = replace(recording, origin=replace(recording.origin, jig=jig))
    return Measured(impedance_curve(spectra.ratio, jig), tuple(problems), words, with_jig)


def stated_jig(path: Path, recorded: Jig | None, options: CheckOptions) -> Jig:
    """Return the jig: by the options first, then by the file given, the recording itself, the folders.

    path: the recording
    recorded: what its own metadata say
    Raises UsageFault where none of these tells.
    The known loads of a jig.toml in the folders count where the recording was made with that wiring and resistor.
    """
    found = None if options.jig is not None else find_settings(path.parent, "jig.toml")
    jig = recorded
    if options.jig is not None:
        jig = read_jig(options.jig)
    elif found is not None:
        in_folder = read_jig(found)
        if jig is None or (jig.wiring, jig.reference_ohm) == (in_folder.wiring, in_folder.reference_ohm):
            jig = in_folder
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
    if jig is not None and (jig.wiring, jig.reference_ohm) == (wiring, ohm):
        return jig
    return Jig(wiring, ohm)
