"""Tuning through the whole live path: PortAudio, a real sound server, a simulated box; and the processor time of it.

    python -m tests.benchmarks.live_path [--boxes 10] [--seed 1]

Each box is built within its tolerances, every second one leaks; noise at -80 dB of full scale in both inputs. In real
time, so that the processor time is that of a recording at a bench.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
from pathlib import Path

import numpy as np
from tests.live.audio_server import CLIENT, Server, running_server
from tests.live.watched import processor_share, wait_until_recording

from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions

WORDS = (
    "--device", CLIENT, "--yes", "--level", "-20", "--repeats", "1", "--reference-ohm", "10", "--wiring", "divider",
)  # fmt: skip
SECONDS = 6.0


def one_box(server: Server, folder: Path) -> tuple[float, bool, float]:
    """Return the relative error of the tuning, whether its interval holds the truth, and the processor's share."""
    with server.started(
        "capture", "open", "box", "--seconds", f"{SECONDS:g}", *WORDS, folder=folder
    ) as program:
        wait_until_recording(program, folder / "box", 0.5)
        share = processor_share(program, 5.0)
        program.communicate(timeout=120.0)
    fit = check(folder / "box", CheckOptions()).fit
    assert fit is not None
    return fit.tuning_hz.value / server.tuning_hz - 1.0, fit.tuning_hz.holds(server.tuning_hz), share


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--boxes", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    errors, held, shares = [], 0, []
    for number in range(options.boxes):
        fault = "leak_slit" if number % 2 else "none"
        bench = f"scatter=1,fault={fault},severity=0.4,seed={options.seed + number}"
        with (
            tempfile.TemporaryDirectory() as folder,
            running_server(48000, "--bench", bench, "--noise-dbfs", "-80") as server,
        ):
            error, holds, share = one_box(server, Path(folder))
        errors.append(100.0 * abs(error))
        held += holds
        shares.append(100.0 * share)
        print(f"{bench:50} tuning off by {100.0 * error:+.4f} %, processor {100.0 * share:.1f} %", flush=True)
    print(
        f"{options.boxes} boxes, sweep of {SECONDS:g} s: tuning off by {np.median(errors):.4f} % in the middle case, "
        f"{max(errors):.4f} % at most (aim 0.1 %); intervals that hold the truth: {held} of {options.boxes}"
    )
    print(
        f"processor time while recording: {np.median(shares):.1f} % of one core, at most {max(shares):.1f} % (aim 25 %)"
    )
    print(
        f"largest memory of a child: {resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024:.0f} MB"
    )


if __name__ == "__main__":
    main()
