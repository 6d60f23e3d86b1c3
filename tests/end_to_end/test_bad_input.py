"""Whatever is wrong with the input: one clear message, the contract's exit code and name, and no file harmed."""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from tests.invented_box import INVENTED, SEED

from sealtune.cli.main import commands
from sealtune.files.sound_file import write_recording
from sealtune.records.recording import Jig, Origin, Recording, Sweep
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.measurement_faults import spoil
from sealtune.virtual.sound_card import record

DESIGN = """
[box]
volume_l = 18.0
[vent]
shape = "round"
diameter_mm = 50.0
length_mm = 130.0
[tuning]
target_hz = 43.5
[driver]
fs_hz = 48.0
qms = 4.2
qes = 0.42
vas_l = 17.5
re_ohm = 5.7
sd_cm2 = 132.0
"""
RATE = 6000.0
SWEEP = Sweep(5.0, 1000.0, 6.0, begins_s=0.5, fade_s=0.1)


@dataclass(frozen=True)
class Bench:
    """A folder with a design, a clean take of an invented box, and its impedance as rows of a table."""

    folder: Path
    take: Recording
    rows: tuple[str, ...]

    def write(self, name: str, content: str | bytes) -> Path:
        path = self.folder / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    def table(self, rows: list[str], name: str = "open.csv") -> Path:
        return self.write(name, "frequency_hz,magnitude_ohm,phase_deg\n" + "\n".join(rows) + "\n")

    def sound(self, take: Recording, name: str = "open.wav") -> Path:
        write_recording(self.folder / name, take)
        return self.folder / name


@pytest.fixture(scope="module")
def made() -> tuple[Recording, tuple[str, ...]]:
    rng = np.random.default_rng(SEED)
    cabinet = cabinet_from_design(INVENTED, rng)
    hz = np.geomspace(8.0, 400.0, 300)
    z = cabinet.impedance(hz)
    rows = tuple(f"{f:.5f},{abs(v):.5f},{np.degrees(np.angle(v)):.4f}" for f, v in zip(hz, z, strict=True))
    return record(cabinet.impedance, Jig("divider", 10.0), SWEEP, "open", rng, rate_hz=RATE), rows


@pytest.fixture
def bench(tmp_path: Path, made: tuple[Recording, tuple[str, ...]]) -> Bench:
    (tmp_path / "design.toml").write_text(DESIGN)
    return Bench(tmp_path, *made)


def state(folder: Path) -> dict[str, tuple[bytes, int]]:
    return {
        str(path.relative_to(folder)): (path.read_bytes(), path.stat().st_mtime_ns)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def run(bench: Bench, *words: str | Path) -> Result:
    """Run `check`; whatever comes, no input may change and nothing may look like a traceback."""
    before = state(bench.folder)
    done = CliRunner().invoke(commands, ["check", *map(str, words)])
    assert state(bench.folder) == before
    assert (
        done.exception is None
        or isinstance(done.exception, SystemExit)
        or hasattr(done.exception, "exit_code")
    )
    assert "Traceback" not in done.output
    return done


def code_of(done: Result) -> int:
    """The exit code as `main` turns it out: that of the error, where one got away."""
    return int(getattr(done.exception, "exit_code", done.exit_code))


def checked(bench: Bench, path: Path, *options: str) -> dict[str, object]:
    """The result of one PATH that must be measured again: exit code 3, one JSON object, nothing else printed."""
    done = run(bench, path, "--json", "-", *options)
    lines = done.stdout.splitlines()
    assert len(lines) == 1
    result: dict[str, object] = json.loads(lines[0])
    assert code_of(done) == 3, result
    assert result["verdict"] == "remeasure"
    assert done.stderr == ""
    return result


def problems(result: dict[str, object]) -> list[str]:
    quality = result["quality"]
    assert isinstance(quality, dict)
    for problem in quality["problems"]:
        assert set(problem) == {"problem", "detail", "remedy"}
        for text in (problem["detail"], problem["remedy"]):
            assert text[0].isupper() or text.startswith(str(Path.cwd().anchor)), text
            assert text.rstrip()[-1] in ".)", text
            assert "nan" not in text.lower().split(), text
    return [problem["problem"] for problem in quality["problems"]]


def test_the_bench_is_sound(bench: Bench) -> None:
    # without this, every refusal below could be one for another reason
    for path in (bench.sound(bench.take), bench.table(list(bench.rows), "table.csv")):
        done = run(bench, path, "--json", "-")
        result = json.loads(done.stdout)
        assert (done.exit_code, result["verdict"]) == (0, "good")
        assert result["quality"]["problems"] == []


@pytest.mark.parametrize(
    ("fault", "strength", "name"),
    [
        ("clipped", 0.0, "clipped"), ("clipped", 1.0, "clipped"), ("one_channel_clipped", 0.5, "clipped"),
        ("softly_clipped", 0.3, "clipped"), ("too_quiet", 0.7, "too_quiet"), ("too_quiet", 1.0, "too_quiet"),
        ("noisy", 0.7, "noisy"), ("dropout", 0.1, "dropout"), ("dropout", 1.0, "dropout"),
        ("slipped", 0.1, "dropout"), ("slipped", 1.0, "dropout"), ("zeroed", 0.3, "dropout"),
        ("one_channel_slipped", 0.7, "dropout"), ("channels_swapped", 0.5, "channels_swapped"),
        ("channel_missing", 0.2, "channel_missing"), ("channel_missing", 0.8, "channel_missing"),
        ("crosstalk_only", 0.5, "channel_missing"), ("nearly_identical", 0.5, "channel_missing"),
        ("wrong_wiring", 0.5, "wrong_wiring"), ("polarity", 0.5, "wrong_wiring"),
        ("wrong_reference", 0.3, "wrong_reference"), ("truncated", 0.3, "truncated"),
        ("truncated", 1.0, "truncated"), ("bump", 0.6, "noisy dropout"),
    ],
)  # fmt: skip
def test_spoilt_recordings_are_named(bench: Bench, fault: str, strength: float, name: str) -> None:
    take = replace(bench.take, channels=0.4 * bench.take.channels)
    path = bench.sound(spoil(take, fault, strength, np.random.default_rng(1)))
    assert set(name.split()) & set(problems(checked(bench, path)))


@pytest.mark.parametrize("strength", [0.45, 0.95])
def test_hum_is_taken_out_and_told(bench: Bench, strength: float) -> None:
    take = replace(bench.take, channels=0.4 * bench.take.channels)
    path = bench.sound(spoil(take, "hum", strength, np.random.default_rng(1)))
    result = json.loads(run(bench, path, "--json", "-").stdout)
    assert problems(result) == ["hum"]
    clean = json.loads(run(bench, bench.sound(take, "open-2.wav"), "--json", "-").stdout)
    assert result["verdict"] == clean["verdict"] == "good"
    # exact: without the hum it is the same recording; 0.1 % stands for what is left of it
    assert result["tuning"]["hz"] == pytest.approx(clean["tuning"]["hz"], rel=1e-3)


def one_channel(bench: Bench) -> Path:
    path = bench.folder / "open.wav"
    soundfile.write(path, bench.take.channels[:, 0], int(RATE))
    return path


def not_numbers(bench: Bench) -> Path:
    path = bench.folder / "open.wav"
    samples = bench.take.channels.astype(np.float32)
    samples[1000] = np.nan
    soundfile.write(path, samples, int(RATE), subtype="FLOAT")
    return path


def misnamed_rate(bench: Bench) -> Path:
    path = bench.sound(bench.take)
    content = bytearray(path.read_bytes())
    at = content.index(b"fmt ") + 12
    content[at : at + 4] = struct.pack("<I", 5500)
    return bench.write("open.wav", bytes(content))


def part(bench: Bench, suffix: str, share: float) -> Path:
    whole = bench.sound(bench.take, f"whole{suffix}").read_bytes()
    return bench.write(f"open{suffix}", whole[: int(share * len(whole))])


SOUNDS: dict[str, tuple[Callable[[Bench], Path], str]] = {
    "silent": (lambda b: b.sound(replace(b.take, channels=0.0 * b.take.channels)), "too_quiet"),
    "empty": (lambda b: b.write("open.wav", b""), "truncated"),
    "half a header": (lambda b: part(b, ".wav", 1e-4), "truncated"),
    "half a WAV file": (lambda b: part(b, ".wav", 0.5), "truncated"),
    "half a FLAC file": (lambda b: part(b, ".flac", 0.5), "truncated"),
    "words": (lambda b: b.write("open.wav", "this is a letter, not a sound\n" * 50), "not_impedance"),
    "one channel": (one_channel, "channel_missing"),
    "the same twice": (lambda b: b.sound(replace(b.take, channels=b.take.channels[:, [0, 0]])), "channel_missing"),
    "no numbers": (not_numbers, "not_impedance"),
    "misnamed rate": (misnamed_rate, "dropout"),
}  # fmt: skip


@pytest.mark.parametrize("name", SOUNDS)
def test_broken_sound_files_are_named(bench: Bench, name: str) -> None:
    make, problem = SOUNDS[name]
    options = ("--reference-ohm", "10", "--wiring", "divider")
    assert problems(checked(bench, make(bench), *options))[0] == problem


def edited(
    rows: tuple[str, ...], change: Callable[[float, float, float], tuple[float, float, float] | None]
) -> list[str]:
    kept = (change(*map(float, row.split(","))) for row in rows)
    return [f"{f:.5f},{m:.5f},{p:.4f}" for row in kept if row is not None for f, m, p in [row]]


def shaken(rows: tuple[str, ...]) -> list[str]:
    rng = np.random.default_rng(0)
    return edited(rows, lambda f, m, p: (f, m * float(np.exp(0.3 * rng.normal())), p))


OMEGA = 2 * np.pi
TABLES: dict[str, tuple[Callable[[tuple[str, ...]], list[str]], str]] = {
    "nothing": (lambda rows: [], "not_impedance"),
    "words": (lambda rows: ["low,high,none"] * 40, "not_impedance"),
    "two rows": (lambda rows: list(rows[:2]), "too_coarse"),
    "NaN only": (lambda rows: [f"{row.split(',')[0]},nan,nan" for row in rows], "not_impedance"),
    "thirty points": (lambda rows: list(rows[::10]), "too_coarse"),
    "a gap": (lambda rows: edited(rows, lambda f, m, p: None if 30 < f < 60 else (f, m, p)), "too_coarse"),
    "cut below": (lambda rows: edited(rows, lambda f, m, p: (f, m, p) if f > 32 else None), "band_too_narrow"),
    "cut above": (lambda rows: edited(rows, lambda f, m, p: (f, m, p) if f < 60 else None), "band_too_narrow"),
    "kilohertz": (lambda rows: edited(rows, lambda f, m, p: (f / 1000, m, p)), "band_too_narrow"),
    "no phase": (lambda rows: edited(rows, lambda f, m, p: (f, m, 0.0)), "not_impedance"),
    "radians": (lambda rows: edited(rows, lambda f, m, p: (f, m, np.radians(p))), "not_impedance"),
    "phase upside down": (lambda rows: edited(rows, lambda f, m, p: (f, m, -p)), "not_impedance"),
    "decibels": (lambda rows: edited(rows, lambda f, m, p: (f, 20 * np.log10(m), p)), "not_impedance"),
    "phase first": (lambda rows: edited(rows, lambda f, m, p: (f, p, m)), "not_impedance"),
    "a resistor": (lambda rows: edited(rows, lambda f, m, p: (f, 8.0, 0.0)), "not_impedance"),
    "a coil": (lambda rows: edited(rows, lambda f, m, p: (f, OMEGA * f * 1e-3, 89.0)), "not_impedance"),
    "a capacitor": (lambda rows: edited(rows, lambda f, m, p: (f, 1 / (OMEGA * f * 1e-5), -89.0)), "not_impedance"),
    "noise": (lambda rows: shaken(rows), "noisy"),
}  # fmt: skip


@pytest.mark.parametrize("name", TABLES)
def test_broken_tables_are_named(bench: Bench, name: str) -> None:
    make, problem = TABLES[name]
    result = checked(bench, bench.table(make(bench.rows)))
    assert problem in problems(result)


def test_details_say_what_is_wrong_with_the_phase(bench: Bench) -> None:
    for name, words in (
        ("no phase", "magnitude alone"),
        ("radians", "radians"),
        ("kilohertz", "kHz"),
        ("phase first", "as a phase is"),
    ):
        result = checked(bench, bench.table(TABLES[name][0](bench.rows)))
        assert words in json.dumps(result["quality"])


def test_an_empty_table_is_truncated(bench: Bench) -> None:
    assert problems(checked(bench, bench.write("open.csv", ""))) == ["truncated"]


def test_a_closed_box_is_not_good(bench: Bench) -> None:
    hz = np.geomspace(8.0, 400.0, 300)
    z = 5.7 + 50.0 / (1 + 4j * (hz / 68.0 - 68.0 / hz)) + 0.02 * (2j * np.pi * hz) ** 0.6
    rows = [f"{f:.4f},{abs(v):.5f},{np.degrees(np.angle(v)):.4f}" for f, v in zip(hz, z, strict=True)]
    done = run(bench, bench.table(rows), "--json", "-")
    result = json.loads(done.stdout)
    assert (done.exit_code, result["verdict"]) == (1, "rework")
    assert {finding["fault"] for finding in result["findings"]} <= {"vent_blocked", "not_a_vented_box"}
    assert result["tuning"]["hz"] is None


def test_some_bad_rows_are_passed_over_and_counted(bench: Bench) -> None:
    rows = list(bench.rows)
    rows[5], rows[50], rows[100] = "comment in between", "24.0,nan,3", rows[100].split(",")[0]
    done = run(bench, bench.table(rows), "--json", "-")
    result = json.loads(done.stdout)
    assert (done.exit_code, result["verdict"]) == (0, "good")
    assert result["quality"]["skipped_lines"] == 3


WRONG_USE: dict[str, tuple[Callable[[Bench], list[str | Path]], tuple[str, ...]]] = {
    "missing path": (lambda b: [b.folder / "nowhere"], ("nowhere", "Check the path")),
    "no recording": (lambda b: [b.folder], ("role open", "open.wav")),
    "the folder above": (lambda b: [b.table(list(b.rows)).parent.parent], ("role open", "sealtune batch")),
    "other ending": (lambda b: [b.write("open.mp3", b"ID3")], (".mp3", ".wav")),
    "a word for the resistor": (
        lambda b: [b.table(list(b.rows)), "--reference-ohm", "ten"],
        ("'ten' is not a valid number",),
    ),
    "no jig": (lambda b: [b.sound(replace(b.take, origin=Origin()))], ("--reference-ohm", "--wiring")),
    "half a jig": (
        lambda b: [b.sound(replace(b.take, origin=Origin())), "--reference-ohm", "10"],
        ("--wiring",),
    ),
    "no such design": (lambda b: [b.table(list(b.rows)), "--design", b.folder / "x.toml"], ("x.toml",)),
    "other role": (lambda b: [b.table(list(b.rows), "plugged.csv")], ("plugged", "open")),
    "no resistor": (lambda b: [b.table(list(b.rows)), "--reference-ohm", "0"], ("reference-ohm",)),
    "no such wiring": (lambda b: [b.table(list(b.rows)), "--wiring", "bridge"], ("divider", "sense")),
}


@pytest.mark.parametrize("name", WRONG_USE)
def test_wrong_use_is_one_message_and_exit_code_2(bench: Bench, name: str) -> None:
    make, words = WRONG_USE[name]
    done = run(bench, *make(bench), "--json", "-")
    assert code_of(done) == 2
    assert done.stdout == ""
    text = done.stderr + str(done.exception or "")
    for word in words:
        assert word in text


BAD_SETTINGS = {
    "a typo": (DESIGN.replace("length_mm", "lenght_mm"), ("lenght_mm", "length_mm")),
    "a negative volume": (DESIGN.replace("18.0", "-18.0"), ("volume_l", "-18")),
    "a word for a number": (DESIGN.replace("50.0", '"wide"'), ("diameter_mm", "wide")),
    "no box": (DESIGN.replace("[box]\nvolume_l = 18.0", ""), ("box",)),
    "no TOML": ("[box\nvolume", ("Correct the line",)),
    "an infinite value": (DESIGN.replace("43.5", "inf"), ("target_hz", "inf")),
    "an empty file": ("", ("volume_l",)),
}


@pytest.mark.parametrize("name", BAD_SETTINGS)
def test_a_faulty_design_is_exit_code_2(bench: Bench, name: str) -> None:
    text, words = BAD_SETTINGS[name]
    bench.write("design.toml", text)
    done = run(bench, bench.table(list(bench.rows)), "--json", "-")
    assert code_of(done) == 2
    assert done.stdout == ""
    for word in words:
        assert word in done.stderr


def test_all_faults_of_a_design_are_told_together(bench: Bench) -> None:
    bench.write(
        "design.toml", DESIGN.replace("length_mm", "lenght_mm").replace("18.0", "-1").replace("qms", "qns")
    )
    done = run(bench, bench.table(list(bench.rows)))
    for word in ("lenght_mm", "volume_l", "qns"):
        assert word in done.stderr


def test_a_faulty_jig_is_exit_code_2(bench: Bench) -> None:
    path = bench.sound(replace(bench.take, origin=Origin()))
    for text, word in (
        ('[jig]\nwiring = "bridge"\nreference_ohm = 10.0\n', "divider"),
        ('[jig]\nwiring = "divider"\nreference_ohm = 0.0\n', "reference_ohm"),
        ('[jig]\nwiring = "divider"\n', "reference_ohm"),
    ):
        bench.write("jig.toml", text)
        done = run(bench, path)
        assert code_of(done) == 2
        assert word in done.stderr + str(done.exception)


def test_one_object_for_each_path_and_the_highest_exit_code(bench: Bench) -> None:
    good = bench.table(list(bench.rows), "good.csv")
    bad = bench.table(list(bench.rows[:2]), "bad.csv")
    done = run(bench, good, bad, "--json", "-")
    assert code_of(done) == 3
    verdicts = [json.loads(line)["verdict"] for line in done.stdout.splitlines()]
    assert verdicts == ["good", "remeasure"]
    done = run(bench, good, bench.folder / "nowhere", "--json", "-")
    assert code_of(done) == 2
    assert len(done.stdout.splitlines()) == 1
    assert done.stderr.count("nowhere") == 1


def test_as_a_person_runs_it(bench: Bench) -> None:
    bench.write("broken.toml", DESIGN.replace("length_mm", "lenght_mm"))
    cases: list[tuple[list[str | Path], int]] = [
        ([bench.folder / "nowhere"], 2),
        ([bench.table(list(bench.rows)), "--design", bench.folder / "broken.toml"], 2),
        ([bench.write("empty.wav", b""), "--reference-ohm", "10", "--wiring", "divider"], 3),
    ]
    before = state(bench.folder)
    environment = {**os.environ, "PYTHONWARNINGS": "error"}
    for words, code in cases:
        done = subprocess.run(
            [sys.executable, "-m", "sealtune", "check", *map(str, words)],
            cwd=bench.folder, capture_output=True, text=True, timeout=60, check=False, env=environment,
        )  # fmt: skip
        assert done.returncode == code, done.stderr
        assert "Traceback" not in done.stdout + done.stderr
        assert (done.stderr if code == 2 else done.stdout).strip()
        assert (done.stdout if code == 2 else done.stderr) == ""
    assert state(bench.folder) == before


def test_a_path_that_cannot_be_looked_at_does_not_spoil_the_others(bench: Bench) -> None:
    good = bench.table(list(bench.rows))
    done = run(bench, "x" * 300 + ".csv", good, "--json", "-")
    assert code_of(done) == 2
    assert json.loads(done.stdout)["verdict"] == "good"
    assert "too long" in done.stderr
    assert done.stderr.count("\n") == 1
