"""Every fault and every problem that the result may name is named by some case, from the file to the verdict.

Independent: boxes, jig and sound card are the virtual ones, with physics of their own. Whether the right name comes
first is held elsewhere; here it is whether it comes at all.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.fuzz.seeds import DESIGN, JIG, SWEEP
from tests.invented_box import invented

from sealtune.errors import ProblemName
from sealtune.files.design_file import read_design
from sealtune.files.sound_file import write_recording
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions
from sealtune.records.recording import Recording
from sealtune.records.verdict import FaultName, Result
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.faults import apply_fault
from sealtune.virtual.measurement_faults import spoil
from sealtune.virtual.sound_card import record

FAULTS: dict[FaultName, tuple[str, float]] = {
    "leak": ("leak_slit", 0.6),
    "vent_long": ("vent_long", 0.5),
    "vent_short": ("vent_short", 0.5),
    "vent_blocked": ("vent_blocked", 0.5),
    "vent_restricted": ("vent_restricted", 0.8),
    "volume_small": ("volume_small", 0.8),
    "volume_large": ("volume_large", 0.8),
    "vent_lined": ("vent_lined", 0.7),
    "overstuffed": ("overstuffed", 0.8),
    "driver_off": ("driver_off", 0.7),
    "series_resistance": ("series_resistance", 0.9),
    "not_a_vented_box": ("closed_box", 0.5),
}
"""Fault of the virtual box and its severity."""

SPOILT: dict[ProblemName, tuple[str, float]] = {
    "clipped": ("clipped", 0.6),
    "too_quiet": ("too_quiet", 0.9),
    "noisy": ("noisy", 0.8),
    "hum": ("hum", 0.5),
    "dropout": ("dropout", 0.5),
    "channels_swapped": ("channels_swapped", 1.0),
    "channel_missing": ("channel_missing", 0.2),
    "wrong_wiring": ("wrong_wiring", 0.5),
    "wrong_reference": ("wrong_reference", 0.6),
    "truncated": ("truncated", 0.6),
}
"""Fault of the measurement and its strength."""

TABLES: dict[ProblemName, tuple[float, float, int]] = {
    "band_too_narrow": (30.0, 60.0, 200),
    "too_coarse": (8.0, 400.0, 18),
}
"""Lowest and highest frequency and rows of a table."""

ELSEWHERE = {"polarity": "end_to_end/test_near_field.py", "level_dependent": "judgement/test_level.py"}
"""Names that need several recordings, and where they are told."""


HEADER = "frequency_hz,magnitude_ohm,phase_deg\n"


@cache
def take() -> Recording:
    return record(
        invented().impedance,
        JIG,
        replace(SWEEP, seconds=6.0),
        "open",
        np.random.default_rng(2),
        rate_hz=6000.0,
    )


def judged(folder: Path, impedance: str | None = None, recording: Recording | None = None) -> Result:
    (folder / "design.toml").write_text(DESIGN)
    if recording is not None:
        write_recording(folder / "open.wav", recording)
    if impedance is not None:
        (folder / "open.csv").write_text(HEADER + impedance)
    return check(folder, CheckOptions())


def rows(z: NDArray[np.complex128], hz: NDArray[np.float64]) -> str:
    return "".join(
        f"{f:.6f},{abs(v):.7g},{np.degrees(np.angle(v)):.6f}\n" for f, v in zip(hz, z, strict=True)
    )


@pytest.mark.parametrize("name", FAULTS)
def test_fault_is_named(tmp_path: Path, name: FaultName) -> None:
    kind, severity = FAULTS[name]
    hz = np.geomspace(8.0, 400.0, 400)
    box = apply_fault(invented(), kind, severity, np.random.default_rng(4))
    result = judged(tmp_path, rows(box.impedance(hz), hz))
    assert result.verdict == "rework"
    assert name in [finding.fault for finding in result.findings]


@pytest.mark.parametrize("name", SPOILT)
def test_problem_of_a_recording_is_named(tmp_path: Path, name: ProblemName) -> None:
    kind, strength = SPOILT[name]
    result = judged(tmp_path, recording=spoil(take(), kind, strength, np.random.default_rng(5)))
    assert name in [problem.problem for problem in result.problems]
    assert result.verdict == "remeasure" or name == "hum"  # which is taken out


@pytest.mark.parametrize("name", TABLES)
def test_problem_of_a_table_is_named(tmp_path: Path, name: ProblemName) -> None:
    low_hz, high_hz, count = TABLES[name]
    hz = np.geomspace(low_hz, high_hz, count)
    result = judged(tmp_path, rows(invented().impedance(hz), hz))
    assert (result.verdict, [problem.problem for problem in result.problems]) == ("remeasure", [name])


def test_a_resistor_is_not_the_impedance_it_should_be(tmp_path: Path) -> None:
    hz = np.geomspace(8.0, 400.0, 300)
    result = judged(tmp_path, rows(np.full(hz.size, 8.0 + 0.0j), hz))
    assert (result.verdict, [problem.problem for problem in result.problems]) == (
        "remeasure",
        ["not_impedance"],
    )


def test_the_sound_box_has_neither_fault_nor_problem(tmp_path: Path) -> None:
    # without this, each name above could be told of every box
    result = judged(tmp_path, recording=take())
    assert (result.verdict, result.findings, result.problems) == ("good", (), ())


def test_two_drivers_wired_otherwise_than_designed_are_named(tmp_path: Path) -> None:
    hz = np.geomspace(8.0, 400.0, 400)
    design = DESIGN.replace("vas_l = 17.5", "vas_l = 8.75").replace("sd_cm2 = 132.0", "sd_cm2 = 66.0")
    (tmp_path / "design.toml").write_text(design + 'count = 2\nwiring = "series"\n')
    two = cabinet_from_design(read_design(tmp_path / "design.toml"), np.random.default_rng(2))
    miswired = apply_fault(two, "driver_wiring", 0.5, np.random.default_rng(4))
    (tmp_path / "open.csv").write_text(HEADER + rows(miswired.impedance(hz), hz))
    result = check(tmp_path, CheckOptions())
    assert (result.verdict, result.findings[0].fault) == ("rework", "driver_wiring")


def test_no_name_is_left_out() -> None:
    named = {*FAULTS, *SPOILT, *TABLES, "not_impedance", "driver_wiring"}
    assert named | set(ELSEWHERE) == {*get_args(FaultName), *get_args(ProblemName)}
    for name, file in ELSEWHERE.items():
        assert f'"{name}"' in (Path(__file__).parents[1] / file).read_text(encoding="utf-8")
