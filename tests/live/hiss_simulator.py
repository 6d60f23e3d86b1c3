"""A leaking corner as a client of a JACK server: input 1 is what was played, input 2 a microphone at a leak.

    python tests/live/hiss_simulator.py NAME [--hiss X]

The microphone hears the tone, noise of -60 dB of full scale, and a hiss that swells with the square of what is played,
on average X times as strong as that noise where the tone has a peak of 0.1. Prints a line when it is ready and runs
until it is killed.
"""

from __future__ import annotations

import argparse
import time

import jack
import numpy as np


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("name")
    parser.add_argument("--hiss", type=float, default=0.0)
    options = parser.parse_args()
    client = jack.Client(options.name, no_start_server=True)
    played = client.inports.register("input_1")
    outputs = [client.outports.register(f"output_{n}") for n in (1, 2)]
    rng = np.random.default_rng(12)

    def process(_frames: int) -> None:
        tone = played.get_array().astype(np.float64)
        noise = 1e-3 * np.sqrt(1.0 + 2.0 * options.hiss * (tone / 0.1) ** 2)
        outputs[0].get_array()[:] = tone
        outputs[1].get_array()[:] = tone + noise * rng.standard_normal(tone.size)

    client.set_process_callback(process)
    client.activate()
    print("ready", flush=True)  # noqa: T201
    while True:
        time.sleep(1.0)


if __name__ == "__main__":
    main()
