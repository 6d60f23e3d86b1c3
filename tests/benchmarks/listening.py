"""How surely `listen` tells a leak from no leak, how late and at what cost.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/listening.py [--takes 30] [--seed 31000] [--below-db 10]
        [--rooms music ...]

Windows of 2 s, half a second apart, of takes of 24 s in each kind of room. The hiss has the shape that the speed of the
air gives it, its power with the speed's third to eighth power, heard outward and, weaker, inward; over the take its
power between 2 and 16 kHz lies so far below that of the room there. The tone lies anywhere from 35 to 90 Hz.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from sealtune.jobs.listen import CERTAIN, SILENCE_S, Listener, ListeningOrder, is_sure
from sealtune.records.listening import Heard
from sealtune.signals.band_power import BandPowers
from sealtune.signals.synchronous import in_step, swelling
from sealtune.signals.warble import Warble
from sealtune.virtual.room_noise import ROOM_KINDS, RoomKind, room_noise

Reals = NDArray[np.float64]

RATE_HZ = 48000.0
TAKE_S = 24.0
WINDOW = 1500


def hissing(phase: Reals, rng: np.random.Generator) -> Reals:
    """Return leak hiss of mean power 1: noise whose power goes with a power of the air's speed, outward and inward."""
    power = rng.uniform(3.0, 8.0)
    inward = rng.uniform(0.1, 1.0)
    push = np.sin(phase - rng.uniform(0.0, 6.28))
    swell = np.maximum(push, 0.0) ** power + inward * np.maximum(-push, 0.0) ** power
    return np.asarray(np.sqrt(swell / swell.mean()) * rng.standard_normal(phase.size))


def in_band(noise: Reals) -> Reals:
    sos = butter(4, [2000.0, 16000.0], "bandpass", fs=RATE_HZ, output="sos")
    return np.asarray(sosfilt(sos, noise))


def below(hiss: Reals, room: Reals, down_db: float) -> Reals:
    """Return the hiss, its power in the band so far below that of the room."""
    ratio = np.mean(in_band(room) ** 2) / np.mean(in_band(hiss) ** 2)
    return np.asarray(hiss * np.sqrt(ratio) * 10.0 ** (-down_db / 20.0))


def scenes(kind: RoomKind, takes: int, seed: int, down_db: float) -> Iterator[tuple[Warble, Reals, Reals]]:
    """Yield the tone, the room and the hiss of each take."""
    for take in range(takes):
        rng = np.random.default_rng([seed, take, ROOM_KINDS.index(kind)])
        time_s = np.arange(round(TAKE_S * RATE_HZ)) / RATE_HZ
        room = room_noise(kind, time_s.size, RATE_HZ, rng)
        warble = Warble(rng.uniform(35.0, 90.0))
        yield warble, room, below(hissing(warble.phase(time_s), rng), room, down_db)


def told(heard: Reals, warble: Warble) -> list[tuple[bool, bool]]:
    """Return of each window whether a leak is told, and whether the long window alone tells it."""
    bands = BandPowers(RATE_HZ)
    powers = bands.add(heard)
    phase = warble.phase(np.arange(powers.shape[0]) * bands.hop / RATE_HZ)
    found = []
    for end in range(2 * WINDOW, powers.shape[0], WINDOW // 4):
        window = slice(end - WINDOW, end)
        seen = swelling(powers[window], bands.widths, phase[window], RATE_HZ / bands.hop)
        found.append((is_sure(seen), in_step(seen).chance < CERTAIN))
    return found


def shares(kind: RoomKind, takes: int, seed: int, down_db: float) -> tuple[float, float, float, int]:
    """Return how often a leak is told, how often falsely, how often falsely by the short window, and of how many."""
    right: list[tuple[bool, bool]] = []
    false: list[tuple[bool, bool]] = []
    for warble, room, hiss in scenes(kind, takes, seed, down_db):
        false += told(room, warble)
        right += told(room + hiss, warble)
    only_short = [sure and not long for sure, long in false]
    return (
        float(np.mean([sure for sure, _ in right])),
        float(np.mean([sure for sure, _ in false])),
        float(np.mean(only_short)),
        len(false),
    )


def latencies(takes: int, seed: int, block: int) -> tuple[list[float], float]:
    """Return how late a hiss as strong as the room is shown, s, and the share of a core that listening takes."""
    late, busy_s, heard_s = [], 0.0, 0.0
    for take in range(takes):
        rng = np.random.default_rng([seed, take])
        warble = Warble(rng.uniform(40.0, 80.0))
        frames = round((SILENCE_S + 9.0) * RATE_HZ) // block * block
        time_s = np.arange(frames) / RATE_HZ - SILENCE_S
        room = 0.01 * room_noise("quiet", frames, RATE_HZ, rng)
        phase = warble.phase(time_s - 0.03)
        hiss = below(hissing(phase, rng), room, 0.0)
        begins_s = rng.uniform(6.0, 7.0)
        microphone = (
            room + np.where(time_s > begins_s, hiss, 0.0) + 0.1 * np.where(time_s > 0.0, np.sin(phase), 0.0)
        )
        shown: list[Heard] = []
        listener = Listener(ListeningOrder(warble, rate_hz=RATE_HZ), shown.append)
        seen_s = None
        for first in range(0, frames, block):
            listener.play(block)
            both = np.stack([np.zeros(block), microphone[first : first + block]], axis=1)
            before, used, known = time.perf_counter(), time.process_time(), len(shown)
            listener.hear(both, frozenset())
            spent = time.perf_counter() - before
            busy_s += time.process_time() - used
            heard_s += block / RATE_HZ
            told_now = len(shown) > known and shown[-1].hiss_db is not None
            if seen_s is None and told_now and shown[-1].time_s > begins_s:
                seen_s = shown[-1].time_s + spent - begins_s
        late.append(float("inf") if seen_s is None else seen_s)
    return late, busy_s / heard_s


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--takes", type=int, default=30)
    parser.add_argument("--seed", type=int, default=31000)
    parser.add_argument("--below-db", type=float, default=10.0)
    parser.add_argument("--rooms", nargs="+", choices=ROOM_KINDS, default=ROOM_KINDS)
    given = parser.parse_args()
    print(
        f"hiss {given.below_db:g} dB below the room in the band, windows of 2 s, {given.takes} takes of each kind"
    )
    print(f"{'room':10} {'told':>8} {'false':>8} {'of these by the short window':>29} {'windows':>8}")
    for kind in given.rooms:
        right, false, now, count = shares(kind, given.takes, given.seed, given.below_db)
        print(f"{kind:10} {100 * right:7.2f}% {100 * false:7.2f}% {100 * now:28.2f}% {count:8}", flush=True)
    for block in (256, 1024):
        late, share = latencies(20, given.seed, block)
        print(
            f"blocks of {block}: a hiss as strong as the room is shown after {1e3 * np.median(late):.0f} ms, "
            f"{1e3 * max(late):.0f} ms at most of 20; {100 * share:.1f} % of one core"
        )


if __name__ == "__main__":
    main()
