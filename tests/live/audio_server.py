"""A private JACK server without sound hardware, and a simulated box on it, for the time of one test.

The server runs its dummy driver in synchronous mode: a cycle waits for every client, so that no sample is lost on a
busy machine. JACK's registry holds eight servers and killed ones keep their places, so the names come from a small
pool, each locked while it is in use.
"""

from __future__ import annotations

import ctypes.util
import fcntl
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO

ROOT = Path(__file__).resolve().parents[2]
POOL = 6
CLIENT = "box"


def why_not() -> str | None:
    """Return what is missing for a server and for PortAudio, None if nothing is."""
    for program in ("jackd", "setpriv"):
        if shutil.which(program) is None:
            return f"{program} is missing (apt-get install jackd2 libportaudio2)"
    for library in ("portaudio", "jack"):
        if ctypes.util.find_library(library) is None:
            return f"lib{library} is missing (apt-get install jackd2 libportaudio2)"
    return None


@dataclass
class Server:
    """A running server.

    environment: for whoever is to find it
    process: of the server itself
    tuning_hz: of the box on it
    """

    name: str
    rate_hz: int
    environment: dict[str, str]
    process: subprocess.Popen[bytes]
    box: subprocess.Popen[str]
    tuning_hz: float

    def sealtune(
        self, *words: str | Path, folder: Path, timeout_s: float = 120.0
    ) -> subprocess.CompletedProcess[str]:
        """Run the program to its end; nobody answers it."""
        return subprocess.run(
            self._command(words), cwd=folder, env=self.environment, stdin=subprocess.DEVNULL, capture_output=True,
            text=True, timeout=timeout_s, check=False,
        )  # fmt: skip

    @contextmanager
    def started(self, *words: str | Path, folder: Path) -> Iterator[subprocess.Popen[str]]:
        """Start the program, and see to it that it ends with the block."""
        with subprocess.Popen(
            self._command(words), cwd=folder, env=self.environment, stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True,
        ) as program:  # fmt: skip
            try:
                yield program
            finally:
                program.kill()

    def kill(self) -> None:
        """Kill the server as a pulled plug would."""
        self.process.kill()

    def _command(self, words: Sequence[str | Path]) -> list[str]:
        return [*DIES_WITH_US, sys.executable, "-u", "-m", "sealtune", *map(str, words)]


DIES_WITH_US = ("setpriv", "--pdeathsig", "KILL")


@contextmanager
def running_server(rate_hz: int = 48000, *box_options: str, block: int = 1024) -> Iterator[Server]:
    """Start a server and a simulated box on it; both are gone with the block."""
    with _locked_name() as name:
        _clean(name)
        environment = {
            **os.environ, "JACK_DEFAULT_SERVER": name, "JACK_NO_START_SERVER": "1",
            "JACK_NO_AUDIO_RESERVATION": "1", "OPENBLAS_NUM_THREADS": "1",
        }  # fmt: skip
        command = [
            *DIES_WITH_US, "jackd", "-r", "-S", "-n", name, "-p", "64", "-t", "5000",
            "-d", "dummy", "-r", str(rate_hz), "-p", str(block),
        ]  # fmt: skip
        process = subprocess.Popen(
            command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        box: subprocess.Popen[str] | None = None
        try:
            simulator = [
                *DIES_WITH_US,
                sys.executable,
                str(ROOT / "tests" / "live" / "box_simulator.py"),
                CLIENT,
            ]
            box = subprocess.Popen(
                [*simulator, *box_options], env=environment, stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL, text=True,
            )  # fmt: skip
            assert box.stdout is not None
            told = json.loads(box.stdout.readline())
            assert told["rate_hz"] == rate_hz
            yield Server(name, rate_hz, environment, process, box, told["tuning_hz"])
        finally:
            if box is not None:
                box.terminate()
                try:
                    box.wait(timeout=1.0)
                except subprocess.TimeoutExpired:
                    box.kill()
                    box.wait()
                assert box.stdout is not None
                box.stdout.close()
            _stop(process)
            _clean(name)


def _stop(process: subprocess.Popen[bytes]) -> None:
    for number in (signal.SIGTERM, signal.SIGTERM, signal.SIGKILL):
        process.send_signal(number)
        with suppress(subprocess.TimeoutExpired):
            process.wait(timeout=1.0)
            return


def _clean(name: str) -> None:
    for left in Path("/dev/shm").glob(f"jack*{name}*"):
        if left.is_dir():
            shutil.rmtree(left, ignore_errors=True)
        else:
            left.unlink(missing_ok=True)


@contextmanager
def _locked_name() -> Iterator[str]:
    """Take the first name of the pool that nobody uses, waiting for one if need be."""
    deadline = time.monotonic() + 300.0
    while time.monotonic() < deadline:
        for number in range(POOL):
            lock = (Path(tempfile.gettempdir()) / f"sealtune-jack-{number}.lock").open("w")
            if _locks(lock):
                try:
                    yield f"sealtune{number}"
                finally:
                    lock.close()
                return
            lock.close()
        time.sleep(0.2)
    raise TimeoutError("no name of a JACK server became free")


def _locks(lock: IO[str]) -> bool:
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
