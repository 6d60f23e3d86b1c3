"""A box on a bench as a client of a JACK server: what the program plays comes back as what its two inputs hear.

    python tests/live/box_simulator.py NAME [--bench SETTINGS] [--noise-dbfs X] [--freewheel]
        [--dies-after S] [--overload-after S]

Prints one line of JSON when it is ready, with the box's true tuning, and runs until it is killed. Its filter is the
virtual bench's impulse response, as tests/live computes it again for comparison.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import time
from contextlib import suppress

import jack
import numpy as np
from numpy.typing import NDArray

from sealtune.virtual.block_filter import BlockFilter
from sealtune.virtual.device_name import named_cabinet, seed_of, virtual_device, virtual_settings

RESPONSE_S = 2.0
"""A resonance of Q = 5 at 30 Hz has died away to exp(-37) by then."""

LATE = 256

STARTS_S = 30.0
"""So long a server may need until it answers."""


def bench_taps(rate_hz: float, settings: dict[str, str] | None = None) -> NDArray[np.float64]:
    """Return the impulse responses of both inputs, shape (2, frames).

    settings: of the virtual bench, as in the name of the virtual device
    """
    device = virtual_device(settings or {})
    device.latency_frames = LATE  # room for what a fraction of a sample of delay lets ring before it
    return device.impulse_responses(rate_hz)[:, : round(RESPONSE_S * rate_hz)]


def true_tuning_hz(settings: dict[str, str] | None = None) -> float:
    """Return the tuning of the box that the bench has."""
    settings = settings or {}
    cabinet = named_cabinet(settings, None, np.random.default_rng(seed_of(settings)))
    tuning_hz = cabinet.truth().tuning_hz
    assert tuning_hz is not None
    return tuning_hz


def opened(name: str) -> jack.Client:
    """Return a client of the server, which may only have begun to start."""
    deadline = time.monotonic() + STARTS_S
    while True:
        try:
            return jack.Client(name, no_start_server=True)
        except jack.JackOpenError:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.1)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("name")
    parser.add_argument("--bench", default="", help="settings of the virtual bench, such as scatter=1,seed=3")
    parser.add_argument("--freewheel", action="store_true")
    parser.add_argument(
        "--dies-after", type=float, help="frames of sound in s after which the process is gone"
    )
    parser.add_argument(
        "--overload-after", type=float, help="s of sound after which one block takes far too long"
    )
    parser.add_argument("--noise-dbfs", type=float)
    options = parser.parse_args()

    settings = virtual_settings(f"virtual:{options.bench}")
    client = opened(options.name)
    inputs = [client.inports.register(f"input_{n}") for n in (1, 2)]
    outputs = [client.outports.register(f"output_{n}") for n in (1, 2)]
    frames, rate_hz = client.blocksize, float(client.samplerate)
    circuit = BlockFilter(bench_taps(rate_hz, settings), frames)
    rng = np.random.default_rng(11)
    sounded = 0  # frames since the first that is not silent

    def process(_frames: int) -> None:
        nonlocal sounded
        if options.freewheel and not inputs[0].number_of_connections:
            time.sleep(frames / rate_hz)  # nobody listens: leave the processor to those who compute
        played = inputs[0].get_array().astype(np.float64)
        heard = circuit(played)
        if options.noise_dbfs is not None:
            heard += 10.0 ** (options.noise_dbfs / 20.0) * rng.standard_normal(heard.shape)
        for port, channel in zip(outputs, heard, strict=True):
            port.get_array()[:] = channel
        if sounded or played.any():
            before, sounded = sounded / rate_hz, sounded + frames
            if options.dies_after is not None and sounded / rate_hz > options.dies_after:
                os._exit(0)
            if options.overload_after is not None and before <= options.overload_after < sounded / rate_hz:
                time.sleep(1.0)

    signal.signal(signal.SIGTERM, signal.default_int_handler)
    client.set_process_callback(process)
    client.activate()
    if options.freewheel:
        client.set_freewheel(True)
    print(
        json.dumps({"rate_hz": rate_hz, "frames": frames, "tuning_hz": true_tuning_hz(settings)}), flush=True
    )
    with suppress(KeyboardInterrupt):
        time.sleep(600.0)
    if options.freewheel:
        client.set_freewheel(False)
    client.close()  # the server then ends at once; it waits for a client that is gone


if __name__ == "__main__":
    main()
