"""Sentences that hardly anybody will ever read, each brought about once: they too say what came and what to do.

Exact: the texts are the program's own. tests/benchmarks/said.py lists what no test brings about.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray
from tests.fuzz.seeds import JIG
from tests.invented_box import invented

from sealtune.analysis.channel_faults import wiring_problems
from sealtune.analysis.curve_faults import companion_problems, curve_problems
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.phase_faults import phase_problems
from sealtune.cli.main import commands
from sealtune.errors import SealtuneError
from sealtune.files.cabinet_folder import find_recordings
from sealtune.files.disk import read_bytes, require_file, sha256_of, write_text
from sealtune.files.sound_file import write_recording
from sealtune.files.touchstone import read_touchstone
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions, measured
from sealtune.jobs.report import notes_of
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Jig, Origin, Recording
from sealtune.signals.transfer_function import Ratio

ROOT = Path(__file__).resolve().parents[2]
TOO_LONG = Path("x" * 300 + ".csv")


def write(path: Path, text: str) -> Path:
    path.write_text(text)
    return path


REFUSED: dict[str, tuple[Callable[[Path], object], str]] = {
    "two-port data": (
        lambda folder: read_touchstone(write(folder / "a.s1p", "# Hz H RI R 50\n10 1 1\n")),
        "H data, which belong to two ports",
    ),
    "a reference that is no number": (
        lambda folder: read_touchstone(write(folder / "a.s1p", "# Hz Z RI R ten\n10 1 1\n")),
        "`ten` as the reference resistance",
    ),
    "a text of gigabytes": (
        lambda folder: read_bytes(write(folder / "a.csv", "12345678"), 4),
        "Give the impedance table itself.",
    ),
    "a folder to write to": (lambda folder: write_text(folder, ""), "the name of a file to write"),
    "a folder of too long a name": (
        lambda _folder: find_recordings(TOO_LONG),
        "Check the path and its permissions.",
    ),
    "a file of too long a name": (
        lambda _folder: require_file(TOO_LONG),
        "Check the path and its permissions.",
    ),
    "a sum over it": (lambda _folder: sha256_of(TOO_LONG), "File name too long"),
    "a role for a folder": (
        lambda folder: check(folder, CheckOptions(role="open")),
        "Leave --role out: the folder's files say it.",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusal_says_why(tmp_path: Path, case: str) -> None:
    job, words = REFUSED[case]
    with pytest.raises(SealtuneError) as caught:
        job(tmp_path)
    assert words in str(caught.value)
    assert all((caught.value.where, caught.value.expected, caught.value.got, caught.value.remedy))


def curve_of(hz: NDArray[np.float64], z: NDArray[np.complex128] | None = None) -> ImpedanceCurve:
    z = invented().impedance(hz) if z is None else z
    return ImpedanceCurve(hz, z, 1e-4 * np.abs(z))


@pytest.mark.parametrize(
    ("low_hz", "high_hz", "words"),
    [
        (5.0, 20.0, "there is no peak yet, and both may lie above"),
        (32.0, 400.0, "a peak lies below"),
        (5.0, 50.0, "there is one peak, and the other may lie above"),
    ],
)
def test_a_cut_band_is_told_by_what_is_missing(low_hz: float, high_hz: float, words: str) -> None:
    # independent: the virtual box has its peaks near 25 and 75 Hz
    curve = curve_of(np.geomspace(low_hz, high_hz, 200))
    (problem,) = curve_problems(curve, find_landmarks(curve))
    assert problem.problem == "band_too_narrow"
    assert words in problem.detail


def test_a_companion_of_a_few_points_is_too_coarse() -> None:
    (problem,) = companion_problems(curve_of(np.geomspace(8.0, 300.0, 5)))
    assert problem.problem == "too_coarse"
    assert "24 points per octave" in problem.remedy


def test_a_channel_that_lags_is_told_by_magnitude_and_phase() -> None:
    hz = np.geomspace(5.0, 1000.0, 400)
    z = invented().impedance(hz)
    slopes = np.ones((1, hz.size), dtype=np.complex128)
    assert phase_problems(replace(curve_of(hz, z), jig_slopes_ohm=slopes)) == []
    late = replace(curve_of(hz, z * np.exp(-2j * np.pi * hz * 4e-3)), jig_slopes_ohm=slopes)
    (problem,) = phase_problems(late)
    assert problem.problem == "not_impedance"
    assert "lagged behind" in problem.detail
    assert "one and the same sound card" in problem.remedy


def test_a_resistance_below_zero_that_no_wiring_explains() -> None:
    hz = np.geomspace(5.0, 1000.0, 400)
    # exact: the ratio goes round zero, and with no wiring is that the impedance of a driver
    value: NDArray[np.complex128] = np.asarray(1.5 * np.exp(2j * np.log(hz)), dtype=np.complex128)
    ratio = Ratio(hz, value, 1e-4 * np.abs(value), 1.0 / hz)
    (problem,) = wiring_problems(ratio, JIG)
    assert problem.problem == "not_impedance"
    assert "below zero" in problem.detail


def test_two_channels_with_nothing_in_common(tmp_path: Path) -> None:
    noise = 0.1 * np.random.default_rng(3).standard_normal((40_000, 2))
    path = tmp_path / "open.wav"
    write_recording(path, Recording(noise, 6000.0, 2.0**-23, Origin(jig=Jig("divider", 10.0)), 40_000))
    names = [problem.problem for problem in measured(path, CheckOptions()).problems]
    assert names == ["noisy"]


def test_the_demo_and_its_page_say_that_nothing_real_stands_behind(tmp_path: Path) -> None:
    done = CliRunner().invoke(commands, ["demo", "--out", str(tmp_path / "demo.html")])
    assert done.exit_code == 0
    assert "No real cabinet stands behind these recordings." in done.output
    (note,) = notes_of([check(ROOT / "recordings" / "left", CheckOptions())])
    assert "simulated recording, no real cabinet" in note
    assert note in (tmp_path / "demo.html").read_text(encoding="utf-8")
