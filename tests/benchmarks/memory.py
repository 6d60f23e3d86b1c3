"""Memory and time of reading a recording and taking its ratio and its problems, over the recording as float64.

    python tests/benchmarks/memory.py

Each length runs in a process of its own: the peak of its resident memory, less what was there after the imports and
a recording of a tenth of a second, over two channels of 8 bytes per sample.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from sealtune.analysis.channel_faults import channel_problems
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.sample_faults import sample_problems
from sealtune.files.sound_file import read_recording, write_recording
from sealtune.records.recording import Jig, Recording, Sweep
from sealtune.virtual.sound_card import SoundCard, record

RATE_HZ = 48000.0
JIG = Jig("divider", 10.0)
LENGTHS_S = (10.0, 120.0)


def take(seconds: float) -> Recording:
    """Return a recording of a resonance, all in all that long."""

    def impedance(hz: np.ndarray) -> np.ndarray:
        return 6.0 + 30.0 / (1.0 + 4j * (hz / 40.0 - 40.0 / hz))

    sweep = Sweep(5.0, 1000.0, 0.9 * seconds, begins_s=0.05 * seconds, fade_s=0.005 * seconds)
    card = SoundCard(silence_after_s=0.05 * seconds)
    return record(impedance, JIG, sweep, "open", np.random.default_rng(1), card=card, rate_hz=RATE_HZ)


def peak_bytes() -> int:
    """Return the largest resident memory so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def job(path: Path) -> list[str]:
    """Return the names of the problems, as `check` finds them."""
    recording = read_recording(path)
    problems = sample_problems(recording)
    problems += channel_problems(measure_ratio(recording), recording, JIG)
    return [problem.problem for problem in problems]


def measured(warm: Path, path: Path) -> None:
    """Print peak over size, and seconds."""
    job(warm)
    before = peak_bytes()
    began = time.perf_counter()
    problems = job(path)
    seconds = time.perf_counter() - began
    size = 16 * read_recording(path).channels.shape[0]
    print(
        f"{(peak_bytes() - before) / size:.2f} times {size / 1e6:.1f} MB, {seconds:.3f} s, problems {problems}"
    )


def in_a_process_of_its_own(*arguments: str) -> str:
    """Return what this file prints when run so; a child's peak begins at its parent's, so this one stays small."""
    command = [sys.executable, __file__, *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def ratios() -> list[tuple[float, float]]:
    """Return seconds and peak over size for each length, from this file's own table in a process apart."""
    table = in_a_process_of_its_own()
    return [(float(line.split()[0]), float(line.split()[2])) for line in table.splitlines()]


def main() -> None:
    """Print the table, or do one step of it as the arguments tell."""
    if sys.argv[1:2] == ["write"]:
        write_recording(Path(sys.argv[2]), take(float(sys.argv[3])))
        return
    if sys.argv[1:2] == ["measure"]:
        measured(Path(sys.argv[2]), Path(sys.argv[3]))
        return
    with tempfile.TemporaryDirectory() as folder:
        warm = str(Path(folder) / "warm.wav")
        in_a_process_of_its_own("write", warm, "0.5")
        for seconds in LENGTHS_S:
            path = str(Path(folder) / f"{seconds:.0f}.wav")
            in_a_process_of_its_own("write", path, str(seconds))
            print(f"{seconds:5.0f} s: {in_a_process_of_its_own('measure', warm, path)}", end="")


if __name__ == "__main__":
    main()
