"""`sealtune capture` and `sealtune devices` over the virtual device, as a person at the bench runs them."""

from __future__ import annotations

import json
import os
from pathlib import Path

import numpy as np
import pytest
from tests.program import in_its_own_process, sealtune

from sealtune.files.sound_file import read_recording
from sealtune.signals.sweep import sweep_starts
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.device_name import built_in_design

DESIGN = Path(__file__).resolve().parents[2] / "recordings" / "design.toml"
TRUE_HZ = cabinet_from_design(built_in_design(), np.random.default_rng(0)).truth().tuning_hz


def test_a_newcomer_without_hardware_captures_and_gets_a_verdict(tmp_path: Path) -> None:
    done = in_its_own_process("capture", "open", "left", "--device", "virtual", "--yes", folder=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stderr == ""
    assert "Trying -50 dB" in done.stdout
    assert "left: GOOD" in done.stdout
    [path] = (tmp_path / "left").iterdir()
    assert path.name.startswith("open-20")
    assert path.suffix == ".wav"
    origin = read_recording(path).origin
    assert origin.role == "open"
    assert origin.complete
    assert origin.simulated
    assert origin.jig is not None
    assert (origin.jig.wiring, origin.jig.reference_ohm) == ("divider", 10.0)
    assert origin.device is not None
    assert "48000" in origin.device
    assert origin.program is not None
    assert origin.recorded_at is not None
    assert origin.level_dbfs is not None
    assert -50.0 <= origin.level_dbfs <= -20.0
    checked = sealtune("check", "left", "--json", "-", folder=tmp_path)
    # Independent: the virtual box's own tuning, by its own physics
    assert json.loads(checked.stdout)["tuning"]["hz"] == pytest.approx(TRUE_HZ, rel=1e-3)


def test_microphone_before_cone_and_mouth_of_the_virtual_box_tells_its_tuning_too(tmp_path: Path) -> None:
    for role in ("open", "cone", "mouth"):
        words = (
            "capture",
            role,
            "left",
            "--device",
            "virtual",
            "--yes",
            "--seconds",
            "2",
            "--level",
            "-30",
            "--repeats",
            "1",
        )
        done = sealtune(*words, folder=tmp_path)
        assert done.returncode == 0, done.stdout + done.stderr
        assert ("bridge the jig's resistor" in done.stdout) == (role != "open")
    near = json.loads(sealtune("check", "left", "--json", "-", folder=tmp_path).stdout)["near_field"]
    # Independent: the virtual box's own tuning, by its own physics
    assert near["tuning"]["hz"] == pytest.approx(TRUE_HZ, rel=0.02)
    assert near["tuning"]["low_hz"] < TRUE_HZ < near["tuning"]["high_hz"]


def test_a_leak_in_the_virtual_box_is_found(tmp_path: Path) -> None:
    (tmp_path / "design.toml").write_text(DESIGN.read_text(encoding="utf-8"), encoding="utf-8")
    done = sealtune(
        "capture", "open", "right", "--device", "virtual:fault=leak_slit,severity=0.6,seed=3", "--yes",
        "--level", "-25", "--repeats", "1", "--seconds", "3", folder=tmp_path,
    )  # fmt: skip
    assert done.returncode == 1, done.stdout + done.stderr
    assert "right: REWORK" in done.stdout
    assert "leak" in done.stdout.lower()


def test_the_plugged_vent_is_swept_from_4_hz_and_waits_for_the_open_one(tmp_path: Path) -> None:
    words = ("--device", "virtual", "--yes", "--level", "-25", "--repeats", "1", "--seconds", "3")
    done = sealtune("capture", "plugged", "left", *words, folder=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "No verdict on the cabinet yet" in done.stdout
    [path] = (tmp_path / "left").iterdir()
    sweep = read_recording(path).origin.sweep
    assert sweep is not None
    assert (sweep.start_hz, sweep.stop_hz) == (
        4.0,
        1000.0,
    )  # down to 4 Hz, as a leak behind the bung shows there
    both = sealtune("capture", "open", "left", *words, folder=tmp_path)
    assert both.returncode == 0, both.stdout + both.stderr
    assert "left: GOOD" in both.stdout
    inputs = json.loads(sealtune("check", "left", "--json", "-", folder=tmp_path).stdout)["inputs"]
    assert {entry["role"] for entry in inputs} == {"open", "plugged"}


def test_sweeps_asked_for_are_in_one_file_each_where_the_metadata_say(tmp_path: Path) -> None:
    done = sealtune(
        "capture", "open", "left", "--device", "virtual", "--yes", "--level", "-25", "--repeats", "3",
        "--seconds", "2", "--rate", "44100", "--reference-ohm", "10", "--wiring", "divider", folder=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    [path] = (tmp_path / "left").iterdir()
    recording = read_recording(path)
    sweep = recording.origin.sweep
    assert sweep is not None
    assert (sweep.repeats, sweep.seconds, recording.rate_hz) == (3, 2.0, 44100)
    assert "3 sweeps" in done.stdout
    for start in sweep_starts(sweep, recording.rate_hz):
        silence = recording.channels[start - 2000 : start - 400, 0].std()
        sounding = recording.channels[start + 2000 : start + 20000, 0].std()
        assert sounding > 100.0 * silence


def test_more_sweeps_until_the_tuning_is_known_well_enough_and_it_says_so(tmp_path: Path) -> None:
    done = sealtune(
        "capture", "open", "left", "--device", "virtual:noise_dbfs=-36", "--yes", "--level", "-30", "--seconds", "3",
        folder=tmp_path,
    )  # fmt: skip
    assert done.returncode in (0, 1, 3), done.stdout + done.stderr
    [path] = (tmp_path / "left").iterdir()
    sweep = read_recording(path).origin.sweep
    assert sweep is not None
    assert 2 <= sweep.repeats <= 5
    assert done.stdout.count("Playing sweep") == sweep.repeats
    assert done.stdout.count("known to") + done.stdout.count("Noise is") >= 1


def test_a_clipped_recording_is_refused_at_once_and_kept(tmp_path: Path) -> None:
    done = sealtune(
        "capture", "open", "left", "--device", "virtual", "--yes", "--level", "0", folder=tmp_path
    )
    assert done.returncode == 3, done.stdout + done.stderr
    assert "clipped" in done.stdout
    assert done.stdout.count("Playing sweep") == 1
    assert len(list((tmp_path / "left").iterdir())) == 1


def test_wrong_wiring_and_swapped_inputs_are_told_at_once(tmp_path: Path) -> None:
    words = ("--yes", "--level", "-25", "--repeats", "1", "--reference-ohm", "10", "--wiring", "divider")
    done = sealtune("capture", "open", "a", "--device", "virtual:swapped=yes", *words, folder=tmp_path)
    assert done.returncode == 3
    assert "channels are swapped" in done.stdout
    done = sealtune("capture", "open", "b", "--device", "virtual:wiring=sense", *words, folder=tmp_path)
    assert done.returncode == 3
    assert "wiring is not the one stated" in done.stdout


def test_a_device_that_vanishes_leaves_a_file_that_is_cut_short(tmp_path: Path) -> None:
    at = 48000 * 4
    done = sealtune(
        "capture", "open", "left", "--device", f"virtual:vanishes_at={at}", "--yes", "--level", "-25",
        folder=tmp_path,
    )  # fmt: skip
    assert done.returncode == 4
    [path] = (tmp_path / "left").iterdir()
    assert path.name.endswith(".partial.wav")
    assert path.name in done.stderr
    recording = read_recording(path)
    assert 2.0 < recording.channels.shape[0] / 48000 < 4.0
    assert not recording.origin.complete
    judged = sealtune("check", path, "--json", "-", folder=tmp_path)
    assert judged.returncode == 3
    assert [entry["problem"] for entry in json.loads(judged.stdout)["quality"]["problems"]] == ["truncated"]
    # the folder itself has no recording yet
    assert sealtune("check", "left", folder=tmp_path).returncode == 2


def test_dead_inputs_end_it_before_it_gets_loud(tmp_path: Path) -> None:
    done = sealtune("capture", "open", "left", "--device", "virtual:zeros_from=0", "--yes", folder=tmp_path)
    assert done.returncode == 3
    assert "nothing of it in channel 1 and channel 2" in done.stderr
    assert "Trying -30 dB" in done.stdout
    assert "Trying -20 dB" not in done.stdout
    assert list((tmp_path / "left").glob("*")) == []


@pytest.mark.parametrize("flag", ["overflows_at", "drops_at"])
def test_flags_and_lost_blocks_are_told(tmp_path: Path, flag: str) -> None:
    at = 48000 * 4
    done = sealtune(
        "capture", "open", "left", "--device", f"virtual:{flag}={at}", "--yes", "--level", "-25", "--repeats", "1",
        folder=tmp_path,
    )  # fmt: skip
    if flag == "overflows_at":
        assert done.returncode == 0, done.stdout
        assert "The device said: input overflow at" in done.stdout
        [path] = (tmp_path / "left").iterdir()
        assert "input overflow" in (read_recording(path).origin.note or "")
    else:
        assert done.returncode == 3, done.stdout
        assert "gap, a jump or a drift" in done.stdout


def test_the_level_keeps_to_what_the_driver_stands(tmp_path: Path) -> None:
    (tmp_path / "design.toml").write_text(DESIGN.read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "jig.toml").write_text(
        '[jig]\nwiring = "divider"\nreference_ohm = 10.0\nfull_scale_v = 40.0\n', encoding="utf-8"
    )
    planned = json.loads(sealtune("plan", "design.toml", "--json", "-", folder=tmp_path).stdout)
    volts = planned["sweep"]["volts"]
    done = sealtune("capture", "open", "left", "--device", "virtual:noise_dbfs=-50", "--yes", folder=tmp_path)
    [path] = (tmp_path / "left").iterdir()
    level_dbfs = read_recording(path).origin.level_dbfs
    assert level_dbfs is not None
    # Exact: full scale is 40 V peak by the jig file
    assert 40.0 * 10.0 ** (level_dbfs / 20.0) / np.sqrt(2.0) <= volts * 1.001
    assert f"At most {volts:.2g} V at the amplifier" in done.stdout
    refused = sealtune(
        "capture", "open", "left", "--device", "virtual", "--yes", "--level", "-3", folder=tmp_path
    )
    assert refused.returncode == 2
    assert "full_scale_v" in refused.stderr
    assert len(list((tmp_path / "left").iterdir())) == 1


def test_nobody_is_asked_where_nobody_answers(tmp_path: Path) -> None:
    done = in_its_own_process("capture", "open", "left", "--device", "virtual", folder=tmp_path)
    assert done.returncode == 2
    assert "--yes" in done.stderr
    assert "bridged" in done.stdout
    words = ("--device", "virtual", "--level", "-25", "--repeats", "1", "--seconds", "2")
    answered = sealtune("capture", "open", "left", *words, folder=tmp_path, given="\n")
    assert answered.returncode == 0, answered.stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("open", "left", "--device", "virtual:falut=leak"), "did you mean fault"),
        (("open", "left", "--device", "virtual", "--rate", "47999"), "47999"),
        (("open", "left", "--device", "virtual", "--design", "nowhere.toml"), "nowhere.toml"),
        (("sideways", "left"), "sideways"),
        (("open", "file.txt", "--device", "virtual"), "a cabinet's folder"),
        (("open", "left", "--level", "3"), "3"),
    ],
)
def test_wrong_use_is_told_before_any_sound(tmp_path: Path, words: tuple[str, ...], told: str) -> None:
    (tmp_path / "file.txt").write_text("a file", encoding="utf-8")
    done = sealtune("capture", *words, "--yes", folder=tmp_path)
    assert done.returncode == (4 if "47999" in words else 2), done.stdout + done.stderr
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert not any((tmp_path / "left").glob("*"))


@pytest.mark.parametrize("words", [("capture", "open", "shut/left"), ("calibrate", "--out", "shut/jig.toml")])
def test_a_folder_that_may_not_be_written_to_is_told_before_any_sound(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    (tmp_path / "shut").mkdir()
    # who runs the tests may be allowed to write everywhere
    monkeypatch.setattr(os, "access", lambda path, _: Path(path).name != "shut")
    done = sealtune(*words, "--device", "virtual", "--yes", folder=tmp_path)
    assert done.returncode == 2
    assert "shut" in done.stderr
    assert "expected a folder that can be written to; got Permission denied" in done.stderr
    assert done.stdout == ""


def test_a_loud_level_without_volts_is_warned_of(tmp_path: Path) -> None:
    words = ("capture", "open", "left", "--device", "virtual")
    for level, warned in (("-6", True), ("-20", False)):  # nobody presses Enter, so nothing is played
        done = sealtune(*words, "--level", level, folder=tmp_path)
        assert done.returncode == 2
        assert ("turn the amplifier down first" in done.stdout) == warned


def test_a_jig_file_that_is_not_there_is_told_for_a_microphone_too(tmp_path: Path) -> None:
    done = sealtune(
        "capture", "cone", "left", "--device", "virtual", "--jig", "nowhere.toml", folder=tmp_path
    )
    assert done.returncode == 2
    assert "nowhere.toml" in done.stderr


def test_devices_always_lists_the_virtual_one(tmp_path: Path) -> None:
    done = in_its_own_process("devices", folder=tmp_path)
    assert done.returncode in (0, 4)
    assert "virtual" in done.stdout
    assert "Traceback" not in done.stderr
