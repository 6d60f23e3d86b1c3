"""Impedance after calibration through a distorted jig: calibrate, take, check, over virtual benches.

python -m tests.benchmarks.calibration_error [--cabinets 20] [--seed 1]
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from tests.virtual_person import VirtualPerson

from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.capture.take import take
from sealtune.jobs.calibrate import Order, calibrate
from sealtune.records.recording import STEPS, Jig, Origin, Recording, Role, Step, Sweep, Wiring
from sealtune.virtual.bench import Bench
from sealtune.virtual.population import draw_cabinet, draw_design
from sealtune.virtual.sound_card import SoundCard
from sealtune.virtual.sound_device import VirtualSoundDevice

KNOWN_OHM = 22.0
LOWEST_HZ, HIGHEST_HZ = 8.0, 300.0


def distorted(bench: Bench, wiring: Wiring, reference_ohm: float, seed: int) -> VirtualSoundDevice:
    """Return a device whose jig has 3 % unequal gains, leads of 1 ohm and inputs of 20 kohm, on an ordinary card."""
    jig = replace(bench, wiring=wiring, reference_ohm=reference_ohm, leads_ohm=1.0, loading_ohm=20_000.0)
    card = replace(SoundCard(), mismatch_db=20.0 * np.log10(1.03))
    return VirtualSoundDevice(jig, card, seed=seed)


def measured_curve(
    device: VirtualSoundDevice, jig: Jig, role: Role, level_dbfs: float, seconds: float
) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    """Return the corrected impedance between 8 and 300 Hz from one take."""
    device.connect(role)
    sweep = Sweep(6.0, 1000.0, seconds, begins_s=0.5, fade_s=0.05)
    taken = take(device, sweep, 48000.0, level_dbfs, clock=device.now_s)
    recording = Recording(taken.channels, taken.rate_hz, origin=Origin(role=role, jig=jig, sweep=taken.sweep))
    curve = impedance_curve(measure_ratio(recording).ratio, jig)
    inside = (curve.frequency_hz >= LOWEST_HZ) & (curve.frequency_hz <= HIGHEST_HZ)
    return curve.frequency_hz[inside], curve.impedance_ohm[inside]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cabinets", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=6.0)
    wanted = parser.parse_args()
    loads: dict[str, tuple[Step, ...]] = {
        "nothing": (),
        "open, short, resistor": ("open", "short", "resistor"),
        "all four": STEPS,
    }
    print(
        f"{wanted.cabinets} cabinets from seed {wanted.seed}, sweeps of {wanted.seconds:g} s; aims 0.3 %, 0.2 degrees"
    )
    print("wiring   R, ohm  known loads             error, %: median  95 %  largest   degrees: 95 %  largest")
    jigs: tuple[tuple[Wiring, float], ...] = (
        ("divider", 10.0),
        ("divider", 47.0),
        ("sense", 2.0),
        ("sense", 10.0),
    )
    for wiring, reference_ohm in jigs:
        for name, steps in loads.items():
            sizes, angles = [], []
            for index in range(wanted.cabinets):
                rng = np.random.default_rng([wanted.seed, index])
                cabinet = draw_cabinet(draw_design(rng), rng, 0.5)
                device = distorted(Bench(cabinet.impedance), wiring, reference_ohm, index)
                order = Order(Jig(wiring, reference_ohm), steps, KNOWN_OHM)
                jig, level = order.jig, -12.0
                if steps:
                    done = calibrate(device, order, VirtualPerson(device, KNOWN_OHM), clock=device.now_s)
                    jig, level = done.jig, done.level_dbfs
                hz, found = measured_curve(device, jig, "open", level, wanted.seconds)
                share = found / cabinet.impedance(hz)
                sizes.append(100.0 * np.abs(np.abs(share) - 1.0))
                angles.append(np.abs(np.degrees(np.angle(share))))
            size, angle = np.concatenate(sizes), np.concatenate(angles)
            print(
                f"{wiring:8} {reference_ohm:6g}  {name:22} {np.median(size):17.3f} {np.percentile(size, 95):5.2f} "
                f"{size.max():8.3f} {np.percentile(angle, 95):15.3f} {angle.max():8.3f}",
                flush=True,
            )


if __name__ == "__main__":
    began = time.perf_counter()
    main()
    print(f"{time.perf_counter() - began:.0f} s")
