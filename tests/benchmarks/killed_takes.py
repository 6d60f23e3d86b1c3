"""The program killed at random moments of a take over a real sound server: every file valid, no earlier take harmed.

python -m tests.benchmarks.killed_takes [--kills 50] [--seed 1]
"""

from __future__ import annotations

import argparse
import hashlib
import random
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np
import soundfile
from tests.live.audio_server import CLIENT, Server, running_server
from tests.live.known_filter import error_db

from sealtune.files.sound_file import read_recording

WORDS = (
    "--device", CLIENT, "--yes", "--level", "-20", "--repeats", "1", "--seconds", "3", "--reference-ohm", "10",
    "--wiring", "divider",
)  # fmt: skip
TAKE_S = 7.0
"""From the first word to the verdict, about; a kill may fall on any of it."""

NO_FILE = "nothing recorded yet, no file"


def digests(folder: Path) -> dict[str, str]:
    """Return the content of every file in the folder, by name."""
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


def killed(server: Server, folder: Path, moment_s: float) -> str:
    """Kill a capture so long after it began to play, and return what was found: the outcome in words."""
    cabinet = folder / "box"
    before = digests(cabinet)
    with server.started("capture", "open", "box", *WORDS, folder=folder) as program:
        assert program.stdout is not None
        while (line := program.stdout.readline()) and not line.startswith("Playing"):
            pass
        time.sleep(moment_s)
        over = program.poll() is not None
        program.kill()
    after = digests(cabinet)
    if {name: after.get(name) for name in before} != before:
        return "an earlier take was harmed"
    new = [name for name in after if name not in before and not name.startswith(".")]
    if not new:
        return NO_FILE
    for name in new:
        if (wrong := fault_of(cabinet / name)) is not None:
            return f"{name}: {wrong}"
    return "whole" if over or not new[0].endswith(".partial.wav") else "cut short, valid"


def fault_of(path: Path) -> str | None:
    """Return what is wrong with a file, None if nothing is."""
    recording = read_recording(path)
    frames = recording.channels.shape[0]
    info = soundfile.info(path)
    if not frames == recording.expected_frames == info.frames:
        return f"{frames} frames, {recording.expected_frames} promised, {info.frames} by libsndfile"
    if recording.origin.role != "open" or recording.origin.sweep is None:
        return "metadata are missing"
    if recording.origin.complete == path.name.endswith(".partial.wav") and frames < 5.0 * 48000:
        return "the metadata do not say that it is cut short"
    if recording.origin.complete:
        worst_db, _ = error_db(recording.channels, recording.origin.sweep, -20.0, 48000.0)
        return f"a sample is wrong by {worst_db:.0f} dB" if worst_db > -120.0 else None
    return None if np.isfinite(recording.channels).all() else "samples that are no numbers"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--kills", type=int, default=50, help="after the first sample; earlier ones leave no file"
    )
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    moment = random.Random(options.seed)
    outcomes: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with running_server(48000) as server:
            done = server.sealtune("capture", "open", "box", *WORDS, folder=folder)
            assert done.returncode == 0, done.stderr
        number = 0
        while number - outcomes[NO_FILE] < options.kills:
            number += 1
            # a server waits long for a client that was killed: a new one is quicker
            with running_server(48000) as server:
                outcomes[killed(server, folder, moment.uniform(0.0, TAKE_S))] += 1
            if number % 10 == 0:
                print(number, dict(outcomes), flush=True)
    for outcome, count in outcomes.most_common():
        print(f"{count:4d}  {outcome}")


if __name__ == "__main__":
    main()
