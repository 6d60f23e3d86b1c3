"""How fast a batch runs, against one core and against reading the files alone, and what memory it takes.

    python -m tests.benchmarks.batch [--cabinets 200] [--kinds 20] [--seconds 8]

The folders hold links to the recordings of a smaller number of virtual cabinets. Reading alone means what cannot be
done without: the samples of each file and the Fourier transform of both channels, filled up with zeros to a length that
transforms quickly (of the bare length it can take five times as long). Peak memory is that of the
whole run, the largest process, as the system tells it.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from scipy.fft import next_fast_len, rfft

from sealtune.files.sound_file import read_recording
from sealtune.jobs.batch import batch
from sealtune.jobs.recordings import CheckOptions
from sealtune.jobs.simulate import Simulation, simulate
from sealtune.judgement.matching import least_pairs

DESIGN = Path(__file__).parents[2] / "recordings" / "design.toml"

PEAK = (
    "import resource, sys; from pathlib import Path; from sealtune.jobs.batch import batch; "
    "from sealtune.jobs.recordings import CheckOptions; batch(Path(sys.argv[1]), CheckOptions(), processes=2); "
    "print(max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)))"
)


def make_shop(folder: Path, cabinets: int, kinds: int, seconds: float) -> list[Path]:
    """Write the folders and return the recordings."""
    folder.mkdir()
    (folder / "design.toml").write_bytes(DESIGN.read_bytes())
    source, made = folder.parent / "kinds", []
    for number in range(kinds):
        if not (source / f"{number}").exists():
            leak = "leak_slit" if number % 10 == 9 else "none"
            moment = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(hours=number)
            simulate(
                DESIGN,
                source / f"{number}",
                Simulation(leak, seed=number, scatter=0.5, seconds=seconds),
                moment,
            )
    for number in range(cabinets):
        cabinet = folder / f"box {number:03d}"
        cabinet.mkdir()
        target = cabinet / "open.flac"
        os.link(source / f"{number % kinds}" / "open.flac", target)
        made.append(target)
    return made


def read_alone(files: list[Path]) -> None:
    """Read every file and transform both channels."""
    for file in files:
        channels = read_recording(file).channels
        rfft(channels, next_fast_len(len(channels), real=True), axis=0)


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Return the seconds that something takes, by the clock and of this process's core."""
    started, by_core = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - started, time.process_time() - by_core


def peak_mb(folder: Path) -> float:
    """Return the peak memory of the largest process of a batch run on its own, MB."""
    done = subprocess.run(
        [sys.executable, "-c", PEAK, str(folder)], capture_output=True, text=True, check=True
    )
    return float(done.stdout) / 1024.0


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cabinets", type=int, default=200)
    parser.add_argument("--kinds", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=8.0)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        files = make_shop(Path(place) / "shop", given.cabinets, given.kinds, given.seconds)
        few = Path(place) / "few"
        make_shop(few, given.cabinets // 5, given.kinds, given.seconds)
        shop = Path(place) / "shop"
        reading, core_reading = timed(lambda: read_alone(files))
        one, core_one = timed(lambda: batch(shop, CheckOptions(), processes=1))
        two, _ = timed(lambda: batch(shop, CheckOptions(), processes=2))
        print(f"{given.cabinets} cabinets, recordings of {given.seconds:g} s, load {os.getloadavg()[0]:.1f}")
        print(f"reading and transforming alone    {reading:8.1f} s, {core_reading:6.1f} s of a core")
        print(f"one process                       {one:8.1f} s, {core_one:6.1f} s of a core")
        print(f"  over reading alone              {core_one / core_reading:8.2f} by the core (aim 2)")
        print(f"two processes                     {two:8.1f} s, {one / two:.2f} times as fast (aim 1.7)")
        print(f"peak memory, {given.cabinets // 5:4d} cabinets       {peak_mb(few):8.0f} MB")
        print(f"peak memory, {given.cabinets:4d} cabinets       {peak_mb(shop):8.0f} MB")
    points = np.random.default_rng(1).normal(size=(200, 11))
    mismatch = np.linalg.norm(points[:, None] - points[None, :], axis=2)
    started = time.process_time()
    least_pairs(mismatch)
    print(f"pairing of 200                    {time.process_time() - started:8.2f} s of a core (aim 1)")


if __name__ == "__main__":
    main()
