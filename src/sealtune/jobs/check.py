"""The verdict on one cabinet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from sealtune.analysis.curve_faults import companion_problems, curve_problems
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.gain_faults import fitted_drift_problems
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.slips import slip_problems
from sealtune.design.prediction import predict
from sealtune.errors import UsageFault
from sealtune.files.cabinet_folder import (
    RECORDING_SUFFIXES,
    find_recordings,
    find_settings,
    holds_cabinets,
    role_of_name,
)
from sealtune.files.disk import sha256_of
from sealtune.files.sound_file import SOUND_SUFFIXES, read_origin
from sealtune.jobs.designs import load_design
from sealtune.jobs.near_field import near_field_of
from sealtune.jobs.recordings import CheckOptions, beside, measured
from sealtune.judgement.evidence import Evidence
from sealtune.judgement.judge import judge
from sealtune.judgement.level import Take, level_problem
from sealtune.judgement.near_field import Known
from sealtune.judgement.near_field_verdict import with_near_field
from sealtune.judgement.rework import compared
from sealtune.physics.air import Air, climate_air, standard_air
from sealtune.records.comparison import Comparison
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import MICROPHONE_ROLES, ROLES, Recording, Role, Source
from sealtune.records.verdict import Problem, Result

MOST_TRIED = 3
"""Older recordings tried before it is given up to compare with one."""


def check(path: Path, options: CheckOptions) -> Result:
    """Return the verdict on a cabinet's folder, a sound file or an impedance table.

    A recording that cannot be judged is a result too (verdict "remeasure"); what raises is wrong use.
    """
    chosen, older = _choose(path, options)
    cabinet = _cabinet_name(path)
    design_path = options.design or find_settings(chosen["open"].parent, "design.toml")
    design, odd = (None, ()) if design_path is None else load_design(design_path)
    air = standard_air() if design is None else climate_air(design.climate)
    near = {role: chosen.pop(role) for role in MICROPHONE_ROLES if role in chosen}
    sources = tuple(Source(role, source, sha256_of(source)) for role, source in (chosen | near).items())
    prediction = None if design is None else predict(design, air)
    evidence = Evidence(cabinet, sources, design=design, prediction=prediction, design_notes=odd)
    take = measured(chosen["open"], options)
    curve, problems = take.curve, list(take.problems)
    evidence = replace(evidence, jig_words=take.jig_words)
    if curve is None:
        return _heard(judge(replace(evidence, problems=tuple(problems)), air), near, options, air, None)
    evidence = _with_curve(evidence, curve, problems)
    others, more = _companions(chosen, options) if _can_be_fitted(evidence) else ({}, [])
    result = judge(_fitted(replace(evidence, problems=(*evidence.problems, *more)), others, chosen), air)
    if result.verdict == "remeasure" or not older:
        return _heard(result, near, options, air, take.recording)
    alone = judge(_fitted(evidence), air) if others else result
    newest = _level_of(chosen["open"], alone, take.recording)
    since, by_level = _since(older, newest, alone, result, evidence, options, air)
    result = replace(result, comparison=since, problems=(*result.problems, *by_level))
    return _heard(result, near, options, air, take.recording)


def _heard(
    result: Result, near: Mapping[Role, Path], options: CheckOptions, air: Air, opened: Recording | None
) -> Result:
    """Return the result with what the microphone before cone and mouth tells, where it was recorded, and with what
    rattles in the recording of the open vent."""
    stands = result.verdict != "remeasure"
    if opened is not None:
        opened = replace(opened, origin=replace(opened.origin, role="open")) if stands else None
    known = Known(result.design, result.prediction, result.fit if stands else None, air, result.findings)
    found, problems = near_field_of(near, known, options.microphone, opened)
    result = replace(result, problems=(*result.problems, *problems))
    return result if found is None else with_near_field(result, found)


def _with_curve(evidence: Evidence, curve: ImpedanceCurve, problems: Sequence[Problem]) -> Evidence:
    """Return the evidence with the open vent's curve, and with what is wrong with it."""
    landmarks = find_landmarks(curve)
    more = () if any(problem.spoils for problem in problems) else curve_problems(curve, landmarks)
    return replace(evidence, curve=curve, landmarks=landmarks, problems=(*problems, *more))


def _can_be_fitted(evidence: Evidence) -> bool:
    return not any(problem.spoils and problem.problem != "noisy" for problem in evidence.problems)


def _fitted(
    evidence: Evidence,
    others: Mapping[Role, ImpedanceCurve] | None = None,
    chosen: Mapping[Role, Path] | None = None,
) -> Evidence:
    """Return the evidence with the circuit fitted to its curve and to others beside it, where that can be done."""
    if evidence.curve is None or evidence.landmarks is None or not _can_be_fitted(evidence):
        return evidence
    fit = fit_vented_box(evidence.curve, evidence.landmarks, evidence.design, others)
    if fit is None:
        return evidence
    strangers = (_stranger(role, chosen[role]) for role in fit.ignored_roles if chosen is not None)
    told = slip_problems(fit) or fitted_drift_problems(fit)
    return replace(evidence, fit=fit, problems=(*evidence.problems, *strangers, *told))


def _since(
    older: Sequence[Path],
    newest: Take | None,
    alone: Result,
    result: Result,
    evidence: Evidence,
    options: CheckOptions,
    air: Air,
) -> tuple[Comparison | None, tuple[Problem, ...]]:
    """Return what changed since the newest older recording of the open vent that can be judged, None without one.

    Beside it what is wrong if the two differ in level.
    older: newest first; at most MOST_TRIED of them are tried
    newest: the newest recording with its level
    alone, result: the same, judged alone and with all that goes with it
    """
    for place, path in enumerate(older[:MOST_TRIED]):
        try:
            take = measured(path, options)
        except UsageFault:  # an old take of which nobody knows the jig any more
            continue
        if take.curve is None:
            continue
        bare = replace(evidence, jig_words=take.jig_words, fit=None)
        before = judge(_fitted(_with_curve(bare, take.curve, take.problems)), air)
        if before.verdict != "remeasure":
            since = compared(
                before, alone, result, file=path.name, attempts=len(older) - place, passed_over=place
            )
            then = _level_of(path, before, take.recording)
            told = None if then is None or newest is None else level_problem(then, newest)
            return since, () if told is None else (told,)
    return None, ()


def _level_of(path: Path, result: Result, recording: Recording | None) -> Take | None:
    """Return a recording with its level, None for a table and where no circuit was fitted to it."""
    if result.fit is None or recording is None:
        return None
    origin = recording.origin
    return Take(path.name, result.fit, origin.level_dbfs, origin.recorded_at)


def _companions(
    chosen: Mapping[Role, Path], options: CheckOptions
) -> tuple[dict[Role, ImpedanceCurve], list[Problem]]:
    """Return the curves beside the open one that can be used, and what is wrong with them."""
    curves: dict[Role, ImpedanceCurve] = {}
    told: list[Problem] = []
    for role, path in chosen.items():
        if role == "open":
            continue
        take = measured(path, options)
        curve, problems = take.curve, list(take.problems)
        if curve is not None and not any(problem.spoils for problem in problems):
            problems += companion_problems(curve)
        spoilt = curve is None or any(problem.spoils for problem in problems)
        told += beside(path, problems, left_out=spoilt)
        if curve is not None and not spoilt:
            curves[role] = curve
    return curves, told


def _stranger(role: Role, path: Path) -> Problem:
    """Return the problem of a curve that no circuit explains together with the open one.

    Of the contract's names not_impedance comes nearest: it is not the impedance it should be. No other name says that
    a recording belongs to another cabinet or that the bung leaks.
    """
    why = "the bung leaks" if role == "plugged" else "the driver is another one"
    return Problem(
        "not_impedance",
        f"{path.name} does not go with the recording of the open vent: {why}, or it is of another cabinet. It was "
        "left out.",
        "Seal the bung airtight and measure again with it."
        if role == "plugged"
        else "Measure this very driver.",
        spoils=False,
    )


def _choose(path: Path, options: CheckOptions) -> tuple[dict[Role, Path], list[Path]]:
    """Return the newest recording of each role, "open" first, and older ones of "open"."""
    wanted = "a cabinet's folder, a sound file or a table"
    try:
        there, is_folder = path.exists(), path.is_dir()
    except OSError as error:  # a name too long, or a folder above it that may not be entered
        raise UsageFault(
            str(path), wanted, error.strerror or str(error), "Check the path and its permissions."
        ) from error
    if not there:
        raise UsageFault(str(path), wanted, "nothing there", "Check the path.")
    if not is_folder:
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
        return {"open": path}, []
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
        remedy = (
            "Name one of the cabinets in it, or judge them all: sealtune batch."
            if holds_cabinets(path)
            else "Record the impedance with the vent open, or name the file itself."
        )
        raise UsageFault(str(path), expected, others, remedy)
    newest = {role: found[role][-1] for role in ROLES if role in found}
    return newest, found["open"][-2::-1]


def _cabinet_name(path: Path) -> str:
    resolved = path.resolve()
    if path.is_dir():
        return resolved.name
    return resolved.parent.name if role_of_name(path.stem) else path.stem
