"""The commands as a person runs them: exit codes, what is printed, what is written."""

import errno
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import NoReturn

import numpy as np
import pytest
from tests.program import in_its_own_process, sealtune

from sealtune.files.design_file import read_design
from sealtune.files.sound_file import read_recording, write_recording
from sealtune.files.touchstone import touchstone_text
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Origin, Recording
from sealtune.virtual.cabinet import cabinet_from_design

RECORDINGS = Path(__file__).parents[2] / "recordings"

SCHEMA: dict[str, set[str]] = {
    "tuning": {
        "hz", "low_hz", "high_hz", "designed_hz", "designed_low_hz", "designed_high_hz", "deviation_percent",
        "within_tolerance",
    },
    "curve": {
        "peaks", "lower_peak_hz", "lower_peak_ohm", "saddle_hz", "saddle_ohm", "upper_peak_hz", "upper_peak_ohm",
    },
    "box": {
        "q", "q_low", "q_high", "compliance_ratio", "volume_l", "volume_low_l", "volume_high_l", "leakage_q",
        "vent_q", "absorption_q", "split_needs",
    },
    "driver": {"fs_hz", "qms", "qes", "re_ohm", "res_ohm"},
    "leak": {"probability", "area_mm2", "area_low_mm2", "area_high_mm2", "likeness"},
    "vent": {"effective_length_mm", "change_mm"},
}  # fmt: skip


def test_where_nobody_reads_on_files_and_exit_code_come_out_right(tmp_path: Path) -> None:
    left = RECORDINGS / "left"
    words = [sys.executable, "-m", "sealtune", "check", str(left), str(left), "--json", "both.json"]
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run(
        words, cwd=tmp_path, stdout=writer, stderr=subprocess.PIPE, check=False, timeout=200
    )
    os.close(writer)
    assert (done.returncode, done.stderr) == (0, b"")
    lines = (tmp_path / "both.json").read_text().splitlines()
    assert [json.loads(line)["verdict"] for line in lines] == ["good", "good"]


def test_demo_prints_both_verdicts_and_writes_the_page(tmp_path: Path) -> None:
    done = in_its_own_process("demo", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "left: GOOD" in done.stdout
    assert "right: REWORK - the box leaks" in done.stdout
    page = tmp_path / "sealtune-demo.html"
    assert str(page.resolve()) in done.stdout
    text = page.read_text(encoding="utf-8")
    assert "simulated recording, no real cabinet" in text
    assert "http" not in text.replace("http://www.w3.org/", "").replace("http-equiv", "")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["sealtune-demo.html"]


def test_check_of_the_shipped_pair_keeps_the_contract(tmp_path: Path) -> None:
    done = in_its_own_process(
        "check", RECORDINGS / "left", RECORDINGS / "right", "--json", "-", folder=tmp_path
    )
    assert done.returncode == 1, "one of the two needs rework"
    left, right = (json.loads(line) for line in done.stdout.splitlines())
    for result in (left, right):
        assert result["schema"] == "sealtune.check/1"
        for part, keys in SCHEMA.items():
            assert set(result[part]) == keys
        assert {"problems", "fit_residual_percent", "noise_percent"} <= set(result["quality"])
        assert [entry["role"] for entry in result["inputs"]] == ["open"]
        assert len(result["inputs"][0]["sha256"]) == 64
    assert (left["cabinet"], left["verdict"], left["findings"]) == ("left", "good", [])
    assert (right["cabinet"], right["verdict"]) == ("right", "rework")
    assert right["findings"][0]["fault"] == "leak"
    assert right["leak"]["area_low_mm2"] < right["leak"]["area_mm2"] < right["leak"]["area_high_mm2"]


@pytest.fixture(scope="module")
def several_roles(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cabinet's folder with its design and the recordings open, plugged and free-air."""
    folder = tmp_path_factory.mktemp("several")
    words = ("simulate", RECORDINGS / "design.toml", "--seed", "5", "--seconds", "4", "--out", "box")
    done = sealtune(*words, "--role", "open", "--role", "plugged", "--role", "free-air", folder=folder)
    assert done.returncode == 0, done.stderr
    return folder / "box"


def copied(source: Path, target: Path, *names: str) -> Path:
    target.mkdir()
    for name in (*names, "design.toml"):
        (target / name).write_bytes((source / name).read_bytes())
    return target


def test_recordings_of_several_roles_tell_the_losses_apart(several_roles: Path, tmp_path: Path) -> None:
    alone = copied(several_roles, tmp_path / "alone", "open.flac")
    done = sealtune("check", several_roles, alone, "--json", "-", folder=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    together, single = (json.loads(line) for line in done.stdout.splitlines())
    assert [entry["role"] for entry in together["inputs"]] == ["open", "plugged", "free-air"]
    assert [entry["file"] for entry in together["inputs"]] == ["open.flac", "plugged.flac", "free-air.flac"]
    box = together["box"]
    # independent: the virtual cabinet's own losses at its tuning, as it is built to this design without scatter
    truth = cabinet_from_design(read_design(several_roles / "design.toml"), np.random.default_rng(5)).truth()
    for name, true_q in (
        ("leakage_q", truth.leakage_q), ("vent_q", truth.vent_q), ("absorption_q", truth.absorption_q),
    ):  # fmt: skip
        assert box[name] == pytest.approx(true_q, rel=0.25), name
    # exact: the shares of the loss add up
    shares = sum(1.0 / box[name] for name in ("leakage_q", "vent_q", "absorption_q"))
    assert box["q"] == pytest.approx(1.0 / shares, rel=0.1)
    assert box["split_needs"] is None
    assert together["quality"]["problems"] == []
    # the open curve alone cannot tell them apart, and says which recording would
    assert single["box"]["leakage_q"] is single["box"]["vent_q"] is single["box"]["absorption_q"] is None
    assert single["box"]["split_needs"] == "plugged"
    text = sealtune("check", several_roles, folder=tmp_path).stdout
    losses = next(line for line in text.splitlines() if line.startswith("Losses"))
    for word in ("Leakage Q", "vent Q", "absorption Q"):
        assert word in losses
    assert "Losses" not in sealtune("check", alone, folder=tmp_path).stdout


def test_plugged_recording_that_is_spoilt_is_left_out_and_named(several_roles: Path, tmp_path: Path) -> None:
    box = copied(several_roles, tmp_path / "box", "open.flac")
    made = sealtune(
        "simulate", RECORDINGS / "design.toml", "--role", "plugged", "--seed", "5", "--seconds", "4",
        "--spoil", "clipped", "--strength", "0.9", "--out", "box", folder=tmp_path,
    )  # fmt: skip
    assert made.returncode == 0, made.stderr
    done = sealtune("check", box, "--json", "-", folder=tmp_path)
    result = json.loads(done.stdout)
    assert (done.returncode, result["verdict"]) == (0, "good")
    named = [problem for problem in result["quality"]["problems"] if problem["problem"] == "clipped"]
    assert named
    assert named[0]["detail"].startswith("plugged.flac: ")
    assert named[0]["detail"].endswith("It was left out.")
    assert [entry["role"] for entry in result["inputs"]] == ["open", "plugged"]
    assert result["box"]["leakage_q"] is None
    assert result["box"]["split_needs"] == "plugged"


def test_plugged_recording_of_another_cabinet_is_left_out_and_named(
    several_roles: Path, tmp_path: Path
) -> None:
    box = copied(several_roles, tmp_path / "box", "open.flac")
    other = (
        (RECORDINGS / "design.toml").read_text(encoding="utf-8").replace("volume_l = 18.0", "volume_l = 11.0")
    )
    assert "volume_l = 11.0" in other
    (tmp_path / "other.toml").write_text(other, encoding="utf-8")
    made = sealtune(
        "simulate", "other.toml", "--role", "plugged", "--seconds", "4", "--out", "box", folder=tmp_path
    )
    assert made.returncode == 0, made.stderr
    done = sealtune("check", box, "--json", "-", folder=tmp_path)
    result = json.loads(done.stdout)
    # a leak may hide behind a bung that leaks
    assert (done.returncode, result["verdict"]) == (3, "remeasure")
    assert "the bung leaks or the box does" in result["summary"]
    details = [problem["detail"] for problem in result["quality"]["problems"]]
    assert len(details) == 1
    assert "plugged.flac does not go with the recording of the open vent" in details[0]
    alone = json.loads(sealtune("check", box / "open.flac", "--json", "-", folder=tmp_path).stdout)
    assert result["tuning"] == alone["tuning"]


def test_known_loads_in_a_jig_file_are_applied_and_told(several_roles: Path, tmp_path: Path) -> None:
    # in the divider, with 10 ohm, leads of 0.5 ohm between the resistor and the box: shorted at their far end the
    # channels read 0.5/(10 + 0.5), open at it 1; the recording below sees these leads in front of the box
    take = read_recording(several_roles / "open.flac")
    x, y = take.channels[:, 0], take.channels[:, 1]
    # exact: y = x Z/(R + Z); with leads r the current is x/(R + r + Z), done here in the frequency domain
    spectrum_x, spectrum_y = np.fft.rfft(x), np.fft.rfft(y)
    ratio = spectrum_y / np.where(np.abs(spectrum_x) > 0.0, spectrum_x, 1.0)
    box_ohm = 10.0 * ratio / (1.0 - ratio)
    wired = spectrum_x * (box_ohm + 0.5) / (10.0 + box_ohm + 0.5)
    hz = np.fft.rfftfreq(x.size, 1.0 / take.rate_hz)
    kept = (hz > 8.0) & (hz < 1000.0)  # where the sweep drives the box; the rest stays as it was
    channels = np.stack([x, np.fft.irfft(np.where(kept, wired, spectrum_y), x.size)], axis=1)
    box = tmp_path / "box"
    box.mkdir()
    (box / "design.toml").write_bytes((several_roles / "design.toml").read_bytes())
    origin = Origin(jig=take.origin.jig, sweep=take.origin.sweep)
    write_recording(box / "open.flac", Recording(channels, take.rate_hz, take.step, origin))
    plain = json.loads(sealtune("check", box, "--json", "-", folder=tmp_path).stdout)
    loads = "".join(
        f"[jig.{name}]\nfrequency_hz = [5.0, 50.0, 1000.0]\nreal = [{value}, {value}, {value}]\n"
        "imaginary = [0.0, 0.0, 0.0]\nuncertainty = [1e-5, 1e-5, 1e-5]\n"
        for name, value in (("open", 1.0), ("short", 0.5 / 10.5))
    )
    (box / "jig.toml").write_text(
        f'[jig]\nwiring = "divider"\nreference_ohm = 10.0\n{loads}', encoding="utf-8"
    )
    corrected = json.loads(sealtune("check", box, "--json", "-", folder=tmp_path).stdout)
    direct = json.loads(sealtune("check", several_roles / "open.flac", "--json", "-", folder=tmp_path).stdout)
    for mark in ("lower_peak_ohm", "saddle_ohm", "upper_peak_ohm"):
        assert plain["curve"][mark] == pytest.approx(direct["curve"][mark] + 0.5, abs=0.05)
        assert corrected["curve"][mark] == pytest.approx(direct["curve"][mark], abs=0.05)
    assert sealtune("report", box, "--out", "page.html", folder=tmp_path).returncode == 0
    assert "corrected by leads open and leads shorted" in (tmp_path / "page.html").read_text(encoding="utf-8")


def test_summary_is_short_enough_to_read(tmp_path: Path) -> None:
    done = sealtune("check", RECORDINGS / "right", folder=tmp_path)
    lines = done.stdout.rstrip("\n").split("\n")
    assert len(lines) <= 15
    assert max(map(len, lines)) <= 100
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(("suffix", "wiring"), [(".wav", "sense"), (".flac", "divider")])
def test_foreign_sound_file_by_options(tmp_path: Path, suffix: str, wiring: str) -> None:
    # the shipped recording, stripped of its metadata and turned into the other wiring where asked for:
    # sense wants the voltage across the box first and that across the resistor second
    take = read_recording(RECORDINGS / "left" / "open.flac")
    channels = take.channels
    if wiring == "sense":
        channels = np.stack([channels[:, 1], channels[:, 0] - channels[:, 1]], axis=1)
    path = tmp_path / f"measured{suffix}"
    write_recording(path, Recording(channels, take.rate_hz, step=2.0**-23, origin=Origin()))
    bare = sealtune("check", path, folder=tmp_path)
    assert bare.returncode == 2
    assert "--reference-ohm and --wiring" in bare.stderr
    (tmp_path / "design.toml").write_text(
        (RECORDINGS / "design.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    done = sealtune(
        "check", path, "--reference-ohm", "10", "--wiring", wiring, "--json", "-", folder=tmp_path
    )
    assert done.returncode == 0, done.stdout + done.stderr
    by_jig_file = tmp_path / "jig.toml"
    by_jig_file.write_text(f'[jig]\nwiring = "{wiring}"\nreference_ohm = 10.0\n', encoding="utf-8")
    again = sealtune("check", path, "--json", "-", folder=tmp_path)
    assert again.stdout == done.stdout


def test_every_form_of_table_gives_the_same_tuning(tmp_path: Path) -> None:
    (tmp_path / "design.toml").write_text(
        (RECORDINGS / "design.toml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    cabinet = cabinet_from_design(read_design(RECORDINGS / "design.toml"), np.random.default_rng(5))
    hz = np.geomspace(8.0, 400.0, 500)
    z = cabinet.impedance(hz)
    degrees = np.degrees(np.angle(z))
    polar = [f"{f:.4f},{abs(v):.5f},{p:.4f}" for f, v, p in zip(hz, z, degrees, strict=True)]
    forms = {
        "polar.csv": "\n".join(["frequency_hz,magnitude_ohm,phase_deg", *polar]),
        "cartesian.csv": "\n".join(
            ["frequency_hz,resistance_ohm,reactance_ohm"]
            + [f"{f:.4f},{v.real:.5f},{v.imag:.5f}" for f, v in zip(hz, z, strict=True)]
        ),
        "bare.txt": "\n".join(["* made by hand", *[line.replace(",", "\t") for line in polar]]),
        "semicolons.csv": "\n".join(line.replace(",", ";").replace(".", ",") for line in polar),
    }
    forms["one-port.s1p"] = touchstone_text(ImpedanceCurve(hz, z, np.full(hz.size, 1e-3)))
    for name, text in forms.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    done = sealtune("check", *forms, "--json", "-", folder=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    results = [json.loads(line) for line in done.stdout.splitlines()]
    truth = cabinet.truth().tuning_hz
    assert truth is not None
    for name, result in zip(forms, results, strict=True):
        # independent: the virtual cabinet's own tuning; the table is printed to 1e-5 ohm
        assert result["tuning"]["hz"] == pytest.approx(truth, rel=1e-3), name
        assert result["tuning"]["low_hz"] < truth < result["tuning"]["high_hz"], name
    assert results[2]["quality"]["skipped_lines"] == 1


def test_report_goes_beside_the_recording_unless_told_otherwise(tmp_path: Path) -> None:
    made = sealtune(
        "simulate",
        RECORDINGS / "design.toml",
        "--out",
        "box",
        "--seed",
        "4",
        "--seconds",
        "3",
        folder=tmp_path,
    )
    assert made.returncode == 0, made.stderr
    assert sorted(path.name for path in (tmp_path / "box").iterdir()) == ["design.toml", "open.flac"]
    done = sealtune("report", "box", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "box" / "report.html").stat().st_size < 600_000
    elsewhere = sealtune("report", "box", "--out", "here.html", folder=tmp_path)
    assert elsewhere.returncode == 0
    assert (tmp_path / "here.html").is_file()


def test_simulate_brings_its_design_along_where_another_one_would_be_found(tmp_path: Path) -> None:
    text = (RECORDINGS / "design.toml").read_text(encoding="utf-8")
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    for above, brought in ((text, False), (text.replace("18.0", "40.0"), True)):
        (tmp_path / "design.toml").write_text(above, encoding="utf-8")
        out = f"box {brought}"
        assert (
            sealtune("simulate", "mine.toml", "--out", out, "--seconds", "1", folder=tmp_path).returncode == 0
        )
        assert (tmp_path / out / "design.toml").exists() == brought


def test_simulate_is_reproducible_and_overwrites_nothing(tmp_path: Path) -> None:
    words = ("simulate", RECORDINGS / "design.toml", "--fault", "vent_long", "--seed", "9", "--seconds", "2")
    takes = []
    for name in ("one", "two"):
        assert sealtune(*words, "--out", name, folder=tmp_path).returncode == 0
        takes.append(read_recording(tmp_path / name / "open.flac"))
    assert np.array_equal(takes[0].channels, takes[1].channels)
    assert takes[0].origin.simulated
    assert "vent_long" in (takes[0].origin.note or "")
    before = (tmp_path / "one" / "open.flac").read_bytes()
    refused = sealtune(*words, "--out", "one", folder=tmp_path)
    assert refused.returncode == 2
    assert (tmp_path / "one" / "open.flac").read_bytes() == before


def test_the_newest_recording_counts(tmp_path: Path) -> None:
    for name, fault in (("open.flac", "vent_blocked"), ("open-2.flac", "none")):
        sealtune(
            "simulate",
            RECORDINGS / "design.toml",
            "--out",
            "take",
            "--fault",
            fault,
            "--seconds",
            "3",
            folder=tmp_path,
        )
        take = read_recording(tmp_path / "take" / "open.flac")
        (tmp_path / "take" / "open.flac").unlink()
        bare = Recording(
            take.channels, take.rate_hz, take.step, Origin(jig=take.origin.jig, sweep=take.origin.sweep)
        )
        (tmp_path / "box").mkdir(exist_ok=True)
        write_recording(tmp_path / "box" / name, bare)
    (tmp_path / "box" / "design.toml").write_bytes((RECORDINGS / "design.toml").read_bytes())
    done = sealtune("check", "box", "--json", "-", folder=tmp_path)
    result = json.loads(done.stdout)
    assert result["inputs"][0]["file"] == "open-2.flac"
    assert result["verdict"] == "good"


def test_no_recording_or_settings_file_is_overwritten(tmp_path: Path) -> None:
    sealtune("simulate", RECORDINGS / "design.toml", "--out", "box", "--seconds", "2", folder=tmp_path)
    recording, design = tmp_path / "box" / "open.flac", tmp_path / "box" / "design.toml"
    before = recording.read_bytes(), design.read_bytes()
    for words in (
        ("check", "box", "--json", recording),
        ("check", "box", "--json", design),
        ("report", "box", "--out", recording),
        ("demo", "--out", design),
    ):
        done = sealtune(*words, folder=tmp_path)
        assert done.returncode == 2
        assert "expected a name that is still free" in done.stderr
        assert (recording.read_bytes(), design.read_bytes()) == before


@pytest.mark.parametrize(
    "words",
    [
        ("check", RECORDINGS / "left", "--reference-ohm", "nan"),
        ("check", RECORDINGS / "left", "--role", "plugged"),
        ("check", "x" * 300),
        ("report", RECORDINGS / "left", "--out", "x" * 300 + ".html"),
        ("simulate", RECORDINGS / "design.toml", "--out", "x" * 300),
        ("simulate", RECORDINGS / "design.toml", "--severity", "nan"),
        ("simulate", RECORDINGS / "design.toml", "--spoil", "bogus", "--out", "new"),
        ("simulate", RECORDINGS / "design.toml", "--out", RECORDINGS / "design.toml"),
    ],
    ids=lambda words: " ".join(str(word)[-12:] for word in words[2:]),
)
def test_wrong_use_is_one_message_and_leaves_nothing_behind(
    tmp_path: Path, words: tuple[str | Path, ...]
) -> None:
    done = sealtune(*words, folder=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stderr.strip()
    assert list(tmp_path.iterdir()) == []


def test_no_path_on_standard_input_is_told(tmp_path: Path) -> None:
    done = sealtune("check", "-", folder=tmp_path, given="\n \n")
    assert done.returncode == 2
    assert "Standard input named no path: one a line is expected." in done.stderr


def test_a_disk_that_fails_where_nobody_looks_for_it_is_no_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> NoReturn:
        raise OSError(errno.ENOSPC, "No space left on device", "page.html")

    monkeypatch.setattr("sealtune.jobs.plan.write_page", full)
    done = sealtune("plan", RECORDINGS / "design.toml", "--out", "page.html", folder=tmp_path)
    assert done.returncode == 2
    assert done.stderr == "sealtune: page.html: No space left on device. Check the path and its disk.\n"


def test_one_bad_path_does_not_spoil_the_others(tmp_path: Path) -> None:
    paths = (RECORDINGS / "left", "nothing", RECORDINGS / "right")
    done = sealtune("report", *paths, "--out", "page.html", folder=tmp_path)
    assert done.returncode == 2
    assert "nothing" in done.stderr
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "GOOD" in page
    assert "REWORK" in page
