"""A cabinet's impedance, and the circuit fitted to it, in formats that other programs read."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from sealtune import __version__
from sealtune.analysis.as_measured import circuit_as_measured
from sealtune.errors import RecordingFault, UsageFault
from sealtune.files.cabinet_folder import RECORDING_SUFFIXES, find_recordings, role_of_name
from sealtune.files.disk import write_text
from sealtune.files.impedance_table import table_text
from sealtune.files.spice import subcircuit, subcircuit_name
from sealtune.files.touchstone import touchstone_text
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions, measured
from sealtune.judgement.evidence import lower_first
from sealtune.physics.part_network import part_network
from sealtune.records.recording import IMPEDANCE_ROLES, Role
from sealtune.records.verdict import Problem, Result

Format = Literal["csv", "touchstone", "spice"]


def exported(path: Path, options: CheckOptions, form: Format) -> tuple[str, tuple[Problem, ...]]:
    """Return the text of the export, and what is wrong with the recording that it stems from.

    path: a cabinet's folder, a sound file or an impedance table
    options: as for `check`; with a role, the curve of that recording, of a folder too
    Raises UsageFault for wrong use, RecordingFault where there is no curve, or for "spice" no circuit.
    """
    if form == "spice":
        result = check(path, options)
        return _circuit(path, result), result.problems
    source = _source(path, options.role)
    take = measured(source, options)
    if take.curve is None:
        raise _no_curve(source, take.problems)
    text = table_text(take.curve) if form == "csv" else touchstone_text(take.curve)
    return text, take.problems


def write_export(out: Path, text: str) -> None:
    """Write the export; never over a file that is there, and never where it would count as a recording.

    Raises UsageFault in both cases.
    """
    role = role_of_name(out.stem)
    is_recording = role is not None and out.suffix.lower() in RECORDING_SUFFIXES
    if is_recording and out.parent.is_dir() and find_recordings(out.parent):
        free = f"export-{out.name}"
        raise UsageFault(
            str(out), "a name that no recording has", f"one that would count as a recording of role {role}",
            f"Choose another name, such as {free}.",
        )  # fmt: skip
    write_text(out, text)


def _source(path: Path, role: Role | None) -> Path:
    """Return the recording to export: the file itself, or the folder's newest of the role."""
    if role is not None and role not in IMPEDANCE_ROLES:
        raise UsageFault(
            "--role", "a role with an impedance: " + ", ".join(IMPEDANCE_ROLES), role,
            "A microphone's recording has none; choose another one.",
        )  # fmt: skip
    if path.is_file():
        if path.suffix.lower() not in RECORDING_SUFFIXES:
            raise UsageFault(
                str(path), "a file ending in " + ", ".join(RECORDING_SUFFIXES), path.suffix or "no ending",
                "Name a recording or an impedance table.",
            )  # fmt: skip
        return path
    wanted = role or "open"
    found = find_recordings(path)
    if wanted not in found:
        raise UsageFault(
            str(path), f"a recording of role {wanted} in the folder", ", ".join(found) or "no recording at all",
            "Name the file itself, or one of these roles with --role.",
        )  # fmt: skip
    return found[wanted][-1]


def _circuit(path: Path, result: Result) -> str:
    fit, curve = result.fit, result.curve
    found = None if fit is None or curve is None else circuit_as_measured(fit, curve, result.design)
    if fit is None or found is None:
        if result.curve is None:
            raise _no_curve(path, result.problems)
        told = f" ({lower_first(result.problems[0].detail).rstrip('.')})" if result.problems else ""
        raise RecordingFault(
            "not_impedance", str(path), "a curve that the circuit of a vented box explains", f"one it does not{told}",
            "Run sealtune check on it and do what it says; csv and touchstone can be exported all the same.",
        )  # fmt: skip
    tuning = fit.tuning_hz
    name = subcircuit_name(result.cabinet)
    remarks = (
        f"{result.cabinet}: a driver in a vented box, as fitted to the measured impedance by sealtune {__version__}",
        f"tuning {tuning.value:.4g} Hz, box Q {fit.box_q.value:.3g}, fitted from {fit.band_hz[0]:.3g} to "
        f"{fit.band_hz[1]:.4g} Hz, off by {100.0 * fit.residual:.2g} % (root mean square)",
        "holds for small signals; resistors, coils and capacitors only, in ohm, henry and farad",
    )
    return subcircuit(name, part_network(*found), remarks)


def _no_curve(source: Path, problems: tuple[Problem, ...]) -> RecordingFault:
    first = problems[0] if problems else None
    return RecordingFault(
        first.problem if first else "not_impedance", str(source), "a recording with an impedance in it",
        lower_first(first.detail).rstrip(".") if first else "none",
        first.remedy if first else "Measure again.",
    )  # fmt: skip
