"""A program that records, watched from outside."""

from __future__ import annotations

import os
import subprocess
import time
from pathlib import Path

PATIENT_S = 60.0


def wait_until_recording(program: subprocess.Popen[str], folder: Path, seconds: float) -> Path:
    """Wait until a file holds so many seconds of samples at 48 kHz, and return it."""
    deadline = time.monotonic() + PATIENT_S
    while time.monotonic() < deadline and program.poll() is None:
        for path in folder.glob("*.partial.wav"):
            if path.stat().st_size > seconds * 48000 * 8:
                return path
        time.sleep(0.02)
    raise AssertionError(f"nothing was recorded: {program.communicate(timeout=5.0)}")


def processor_share(program: subprocess.Popen[str], seconds: float) -> float:
    """Return the processor time that the program takes over so long, over the clock's."""
    since, before_s = time.monotonic(), _processor_s(program.pid)
    time.sleep(seconds)
    return (_processor_s(program.pid) - before_s) / (time.monotonic() - since)


def _processor_s(pid: int) -> float:
    """Return the processor time of a process so far, s."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
