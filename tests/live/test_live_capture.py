"""The program over a real sound server: PortAudio, JACK, and a simulated box whose filter is known."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from tests.live.audio_server import CLIENT, ROOT, running_server
from tests.live.known_filter import error_db
from tests.live.watched import PATIENT_S, processor_share, wait_until_recording

from sealtune.files.sound_file import read_recording
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions

JIG = ("--reference-ohm", "10", "--wiring", "divider")
AT_20_DB = ("--device", CLIENT, "--yes", "--level", "-20", *JIG)
QUICK = (*AT_20_DB, "--seconds", "3", "--repeats", "1")
LONG = (*AT_20_DB, "--seconds", "20")

DESIGN = """
[box]
volume_l = 11.0
lining = "walls"

[vent]
shape = "round"
diameter_mm = 44.0
length_mm = 117.0

[driver]
fs_hz = 55.0
qms = 4.4
qes = 0.44
vas_l = 10.5
re_ohm = 5.9
sd_cm2 = 88.0
"""
"""Of the box that the simulator has: what virtual.device_name.built_in_design says, in the units of the file."""


def ended(program: subprocess.Popen[str]) -> tuple[int, str, str, float]:
    """Wait for the program's end; return its exit code, what it printed, and how long that took."""
    since = time.monotonic()
    out, error = program.communicate(timeout=PATIENT_S)
    return program.returncode, out, error, time.monotonic() - since


@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
def test_the_round_trip_is_exact_and_the_tuning_is_the_box_s_own(tmp_path: Path, rate_hz: int) -> None:
    (tmp_path / "design.toml").write_text(DESIGN, encoding="utf-8")
    with running_server(rate_hz, "--freewheel") as server:
        done = server.sealtune("capture", "open", "left", *QUICK, "--rate", str(rate_hz), folder=tmp_path)
        assert done.returncode == 0, done.stdout + done.stderr
        [path] = (tmp_path / "left").iterdir()
        recording = read_recording(path)
        assert recording.rate_hz == rate_hz
        assert recording.origin.complete
        assert recording.origin.sweep is not None
        # Independent: the same filter applied in one piece by scipy; 32-bit floating point leaves -150 dB
        worst_db, _ = error_db(recording.channels, recording.origin.sweep, -20.0, rate_hz)
        assert worst_db < -130.0
        fit = check(tmp_path / "left", CheckOptions()).fit
        assert fit is not None
        # Independent: the virtual box's own tuning, by its own physics; the aim is 0.1 %
        assert fit.tuning_hz.value == pytest.approx(server.tuning_hz, rel=1e-3)
        assert fit.tuning_hz.holds(server.tuning_hz)


def test_calibrate_takes_the_device_s_own_rate_and_refuses_the_box_on_the_clips(tmp_path: Path) -> None:
    with running_server(44100, "--freewheel") as server:
        words = ("--device", CLIENT, "--yes", "--reference-ohm", "10", "--steps", "short", "--seconds", "2")
        done = server.sealtune("calibrate", *words, folder=tmp_path)
    assert done.returncode == 3, done.stdout + done.stderr
    assert f"on {CLIENT}, 44100 Hz" in done.stdout
    assert "leads shorted" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_names_rates_and_channels_that_do_not_fit_are_told_in_our_words(tmp_path: Path) -> None:
    with running_server(48000) as server:
        listed = server.sealtune("devices", folder=tmp_path)
        assert listed.returncode == 0
        line = next(line for line in listed.stdout.splitlines() if f" {CLIENT} " in line)
        assert "48000" in line
        assert "44100" not in line
        assert line.endswith("yes")

        def refused(*words: str) -> str:
            done = server.sealtune("capture", "open", "left", "--yes", *JIG, *words, folder=tmp_path)
            assert done.returncode == 4, done.stdout + done.stderr
            assert done.stderr.count("\n") == 1
            assert "Traceback" not in done.stderr
            return done.stderr

        wrong_rate = refused("--device", CLIENT, "--rate", "44100", "--level", "-30")
        assert "44100" in wrong_rate
        assert "--rate" in wrong_rate
        assert "48000" in wrong_rate
        missing = refused("--device", "no such thing")
        assert "no such thing" in missing
        assert CLIENT in missing
        assert "sealtune devices" in missing
        assert list((tmp_path / "left").glob("*")) == []


def test_a_server_killed_in_mid_sweep_ends_the_take_soon_and_leaves_what_came_in(tmp_path: Path) -> None:
    earlier = tmp_path / "left" / "open.wav"
    earlier.parent.mkdir()
    earlier.write_bytes(b"an earlier take")
    with (
        running_server(48000) as server,
        server.started("capture", "open", "left", *LONG, folder=tmp_path) as program,
    ):
        partial = wait_until_recording(program, tmp_path / "left", 2.5)
        server.kill()
        code, _, error, lasted_s = ended(program)
    assert code == 4
    assert "vanished or stands still" in error
    assert str(partial.relative_to(tmp_path)) in error
    assert "Traceback" not in error
    assert (
        lasted_s < 20.0
    )  # 2 to 3 s on a quiet machine; how long it takes under load says nothing of the program
    recording = read_recording(partial)
    assert recording.channels.shape[0] > 2.0 * 48000
    assert recording.expected_frames == recording.channels.shape[0]
    assert not recording.origin.complete
    assert recording.origin.role == "open"
    assert earlier.read_bytes() == b"an earlier take"


def test_a_server_that_stands_still_ends_the_take_and_the_list(tmp_path: Path) -> None:
    with running_server(48000) as server:
        with server.started("capture", "plugged", "left", *LONG, folder=tmp_path) as program:
            partial = wait_until_recording(program, tmp_path / "left", 1.0)
            server.process.send_signal(signal.SIGSTOP)
            code, _, error, _ = ended(program)
        assert code == 4, error
        assert read_recording(partial).origin.role == "plugged"
        listed = server.sealtune("devices", folder=tmp_path)
        server.process.send_signal(signal.SIGCONT)
    assert listed.returncode == 4
    assert "hangs" in listed.stderr
    assert "Traceback" not in listed.stderr


def test_ctrl_c_keeps_what_came_in(tmp_path: Path) -> None:
    with (
        running_server(48000) as server,
        server.started("capture", "open", "left", *LONG, folder=tmp_path) as program,
    ):
        partial = wait_until_recording(program, tmp_path / "left", 1.5)
        program.send_signal(signal.SIGINT)
        code, _, error, _ = ended(program)
        assert code == 130
        assert "Stopped." in error
        assert partial.name in error
        assert "Traceback" not in error
        recording = read_recording(partial)
        assert recording.channels.shape[0] > 1.0 * 48000
        assert not recording.origin.complete
        # the device is free again
        again = server.sealtune(
            "capture", "open", "left", *AT_20_DB, "--seconds", "1", "--repeats", "1", folder=tmp_path
        )
        assert again.returncode in (0, 3), again.stderr
    assert sorted(path.name.count("partial") for path in (tmp_path / "left").iterdir()) == [0, 1]


def test_a_part_of_the_audio_graph_that_dies_is_a_drop_out_though_samples_go_on_coming(
    tmp_path: Path,
) -> None:
    with running_server(48000, "--freewheel", "--dies-after", "1.5") as server:
        done = server.sealtune("capture", "open", "left", *QUICK, folder=tmp_path)
    assert done.returncode in (3, 4), done.stdout + done.stderr
    if done.returncode == 3:
        assert "zeros" in done.stdout
        [path] = (tmp_path / "left").iterdir()
        recording = read_recording(path)
        assert (recording.channels[-48000:] == 0.0).all()


def test_ten_takes_in_a_row_lose_no_sample_unnoticed(tmp_path: Path) -> None:
    with running_server(48000, "--freewheel") as server:
        done = subprocess.run(
            [sys.executable, "-m", "tests.live.many_takes", "10"], cwd=ROOT, env=server.environment,
            capture_output=True, text=True, timeout=180.0, check=True,
        )  # fmt: skip
    takes = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(takes) == 10
    # Independent: scipy's convolution; a single lost or doubled sample gives about -30 dB
    assert [entry for entry in takes if entry["error_db"] > -130.0 and not entry["told"]] == []
    assert sum(entry["error_db"] < -130.0 for entry in takes) >= 8


def test_flags_of_portaudio_are_made_to_occur_and_are_seen(tmp_path: Path) -> None:
    with running_server(48000, "--overload-after", "1.0") as server:
        done = server.sealtune("capture", "open", "left", *QUICK, folder=tmp_path)
    assert "The device said: " in done.stdout, done.stdout + done.stderr
    assert "overflow" in done.stdout or "underflow" in done.stdout
    [path] = (tmp_path / "left").iterdir()
    note = read_recording(path).origin.note
    assert note is not None
    assert "the device said" in note


def test_processor_time_while_recording_is_small(tmp_path: Path) -> None:
    with (
        running_server(48000) as server,
        server.started("capture", "open", "left", *LONG, folder=tmp_path) as program,
    ):
        wait_until_recording(program, tmp_path / "left", 1.0)
        share = processor_share(program, 3.0)
    assert share < 0.25  # the aim: a quarter of one core
