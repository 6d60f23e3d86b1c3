"""Take after take over the device of a JACK server, each held against the known filter; one line of JSON each.

python tests/live/many_takes.py COUNT
"""

from __future__ import annotations

import json
import os
import sys

import numpy as np
from tests.live.audio_server import CLIENT
from tests.live.known_filter import error_db

from sealtune.capture.take import take
from sealtune.jobs.devices import open_device
from sealtune.records.recording import Sweep

LEVEL_DBFS = -20.0


def main() -> None:
    device = open_device(CLIENT)
    rate_hz = device.info.rate_hz
    sweep = Sweep(8.0, 1000.0, 1.0, begins_s=0.1, fade_s=0.02)
    for _ in range(int(sys.argv[1])):
        kept: list[np.ndarray] = []
        taken = take(device, sweep, rate_hz, LEVEL_DBFS, keep=kept.append, after_s=0.6)
        assert np.array_equal(np.concatenate(kept), taken.channels)
        worst_db, late = error_db(taken.channels, taken.sweep, LEVEL_DBFS, rate_hz)
        told = bool(taken.flags) or taken.silent_from_s is not None
        print(
            json.dumps({"error_db": worst_db, "late": late, "told": told, "delay_s": taken.delay_s}),
            flush=True,
        )
    sys.stdout.flush()
    os._exit(0)


if __name__ == "__main__":
    main()
