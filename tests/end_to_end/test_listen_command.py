"""`sealtune listen` as a person runs it, with the virtual device."""

import io
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from tests.program import sealtune

from sealtune.cli.main import commands
from sealtune.cli.main import run as program
from sealtune.errors import UsageFault
from sealtune.jobs.listening_bench import listening_device

ROOT = Path(__file__).parents[2]
LEAKY = "virtual:fault=leak_slit,severity=1,pace=fast"


def run(*words: str) -> Result:
    return CliRunner().invoke(commands, ["listen", *words])


def test_a_leak_is_found_and_its_place_named() -> None:
    done = run("--device", LEAKY, "--seconds", "12")
    assert done.exit_code == 0, done.output
    assert "LEAK" in done.output
    assert "Loudest: +" in done.output
    assert "simulated" in done.output
    assert "\a" not in done.output  # no beep where there is no terminal
    lines = [line for line in done.output.splitlines() if "|" in line]
    assert 11 <= len(lines) <= 16
    # the microphone passes the leak, two thirds along its way of 15 s, at 8 s after the tone's beginning
    loudest_s = float(done.output.split("Loudest: ")[1].split(" at ")[1].split(" s")[0])
    assert loudest_s == pytest.approx(8.0, abs=1.5)


def test_a_sealed_box_is_silent() -> None:
    done = run("--device", "virtual:fault=none,seed=2,pace=fast", "--seconds", "10")
    assert done.exit_code == 0, done.output
    assert "LEAK" not in done.output
    assert "No hiss in step with the tone was heard." in done.output


def test_the_measured_curve_and_the_users_word_set_the_tone() -> None:
    cabinet = str(ROOT / "recordings" / "left")
    done = run(cabinet, "--device", LEAKY, "--seconds", "1")
    assert done.exit_code == 0, done.output
    assert "that the cabinet's curve shows" in " ".join(done.output.split())
    design = str(ROOT / "recordings" / "design.toml")
    done = run("--design", design, "--device", LEAKY, "--seconds", "1", "--rate", "96000")
    assert "that the design predicts" in " ".join(done.output.split())
    done = run("--frequency", "80", "--device", LEAKY, "--seconds", "1")
    assert "Tone: 80.0 Hz" in done.output
    assert "at most 0.5 V" in " ".join(done.output.split())


def test_a_cabinet_without_a_recording_is_listened_to_by_its_design(tmp_path: Path) -> None:
    (tmp_path / "left").mkdir()
    shutil.copy(ROOT / "recordings" / "design.toml", tmp_path)
    done = run(str(tmp_path / "left"), "--device", LEAKY, "--seconds", "1")
    assert done.exit_code == 0, done.output
    assert "that the design predicts" in " ".join(done.output.split())


@pytest.mark.parametrize(
    "words",
    [
        ("--frequency", "500"),
        ("--level", "6"),
        ("--seconds", "nan"),
        ("no-such-folder", "--device", "virtual"),
        ("--device", "virtual:nonsense=1"),
        ("--design", "no-such-design.toml", "--device", "virtual"),
    ],
)
def test_wrong_use_is_refused(words: tuple[str, ...], tmp_path: Path) -> None:
    done = sealtune("listen", *words, folder=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stderr


@pytest.fixture
def plugged(monkeypatch: pytest.MonkeyPatch) -> None:
    """The virtual device in the place of one that was plugged in."""
    device = listening_device(LEAKY, None, None)
    monkeypatch.setattr("sealtune.jobs.listening_bench.listening_device", lambda *_: device)


@pytest.mark.usefixtures("plugged")
def test_a_real_device_does_not_sound_where_nobody_can_be_asked() -> None:
    done = run("--frequency", "40", "--seconds", "1")
    assert done.exit_code != 0
    assert isinstance(done.exception, UsageFault)
    assert "no terminal to ask on" in str(done.exception)
    assert "Give --yes if box, amplifier and ears are ready." in str(done.exception)
    assert run("--frequency", "40", "--seconds", "1", "--yes").exit_code == 0


class Terminal(io.StringIO):
    """A text stream that a person sits at."""

    def isatty(self) -> bool:
        return True


@pytest.mark.usefixtures("plugged")
def test_on_a_terminal_it_asks_and_says_how_to_mark_a_place(monkeypatch: pytest.MonkeyPatch) -> None:
    for answer, code in (("n\n", 130), ("y\n", 0)):
        screen = Terminal()
        monkeypatch.setattr(sys, "stdin", Terminal(answer))
        monkeypatch.setattr(sys, "stdout", screen)
        assert program(["listen", "--frequency", "40", "--seconds", "1", "--no-beep"]) == code
        assert "Begin?" in screen.getvalue()
        assert ("Enter marks a place, Ctrl-C ends." in screen.getvalue()) == (code == 0)


def test_control_c_ends_it_well(tmp_path: Path) -> None:
    done = _process("--device", "virtual:fault=leak_hole,severity=1", cwd=tmp_path)
    assert done.stdout is not None
    for line in done.stdout:
        if "LEAK" in line or " 4." in line:
            break
    done.send_signal(signal.SIGINT)
    output, error = done.communicate(timeout=60)
    assert done.returncode == 0
    assert "Loudest" in output or "No hiss" in output
    assert "Traceback" not in error


def test_real_time_is_kept(tmp_path: Path) -> None:
    began = time.monotonic()
    done = _process("--device", "virtual:fault=none", "--seconds", "2", cwd=tmp_path)
    done.communicate(timeout=60)
    assert done.returncode == 0
    assert time.monotonic() - began > 4.0  # two seconds of silence and two of the tone


def _process(*words: str, cwd: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "sealtune", "listen", *words],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src"), "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
    )
