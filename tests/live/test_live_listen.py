"""Listening over a real sound server."""

import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from tests.live.audio_server import DIES_WITH_US, Server, running_server

SIMULATOR = Path(__file__).parent / "hiss_simulator.py"


@contextmanager
def corner(server: Server, hiss: float) -> Iterator[None]:
    """Put a corner with a leak on the server, beside its box."""
    command = [*DIES_WITH_US, sys.executable, str(SIMULATOR), "corner", "--hiss", str(hiss)]
    with subprocess.Popen(command, env=server.environment, stdout=subprocess.PIPE, text=True) as simulator:
        try:
            assert simulator.stdout is not None
            assert simulator.stdout.readline() == "ready\n"
            yield
        finally:
            simulator.kill()


@contextmanager
def told_of_a_leak(folder: Path) -> Iterator[tuple[Server, subprocess.Popen[str]]]:
    """Let the program listen at a leak until it says so; give the server and the program."""
    with (
        running_server() as server,
        corner(server, 1.0),
        server.started("listen", "--device", "corner", "--yes", folder=folder) as program,
    ):
        assert program.stdout is not None
        for line in program.stdout:
            if "LEAK" in line:
                break
        yield server, program


@pytest.mark.parametrize(("rate_hz", "hiss"), [(44100, 1.0), (48000, 0.0)])
def test_a_leak_is_told_and_no_leak_is_not(tmp_path: Path, rate_hz: int, hiss: float) -> None:
    # the delay of this server and PortAudio, some thousand samples, is found from the sound
    with running_server(rate_hz) as server, corner(server, hiss):
        words = ("listen", "--device", "corner", "--seconds", "9", "--yes")
        done = server.sealtune(*words, folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "hearing" in done.stdout
    if hiss:
        assert done.stdout.count("LEAK") >= 3
        assert "Loudest: +" in done.stdout
    else:
        assert "LEAK" not in done.stdout
        assert "No hiss in step with the tone was heard." in done.stdout


def test_without_a_terminal_nothing_sounds_unasked(tmp_path: Path) -> None:
    with running_server() as server, corner(server, 1.0):
        done = server.sealtune("listen", "--device", "corner", folder=tmp_path)
    assert done.returncode == 2
    assert "--yes" in done.stderr


def test_control_c_ends_it_well(tmp_path: Path) -> None:
    with told_of_a_leak(tmp_path) as (_, program):
        program.send_signal(signal.SIGINT)
        output, error = program.communicate(timeout=30)
        assert program.returncode == 0, error
        assert "Loudest" in output


def test_a_server_that_dies_is_a_fault_of_the_device(tmp_path: Path) -> None:
    with told_of_a_leak(tmp_path) as (server, program):
        server.kill()
        _, error = program.communicate(timeout=60)
        assert program.returncode == 4
        assert "Traceback" not in error
