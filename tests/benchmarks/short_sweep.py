"""What one sweep of 6 s at 30 dB signal to noise is good for: verdict given or not, and the tuning's error.

    python -m tests.benchmarks.short_sweep [--cabinets 60] [--seed 40000] [--seconds 6] [--ratio-db 30]

Cabinets of the virtual population on the virtual bench, played and recorded by the very code that plays over real
devices. Signal: root mean square of the sweep in channel 2. Noise: white, alike in both inputs; once so much of it from
0 Hz to half the sample rate, as a level meter shows it, once so much of it from 8 Hz to 1 kHz alone.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np

from sealtune.analysis.curve_faults import curve_problems
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.capture.take import Taken, take
from sealtune.jobs.recordings import measured_recording
from sealtune.records.recording import Jig, Origin, Recording, Sweep
from sealtune.signals.sweep import sweep_starts
from sealtune.virtual.bench import Bench
from sealtune.virtual.population import draw_cabinet, draw_design
from sealtune.virtual.sound_card import SoundCard
from sealtune.virtual.sound_device import VirtualSoundDevice

RATE_HZ = 48000.0
QUIET = replace(SoundCard(), noise_dbfs=None, pink_dbfs=None)


def recorded(bench: Bench, card: SoundCard, sweep: Sweep, seed: int) -> Taken:
    """Return a take at -20 dB of full scale."""
    device = VirtualSoundDevice(bench, card, seed=seed)
    return take(device, sweep, RATE_HZ, -20.0, clock=device.now_s)


def level_dbfs(taken: Taken) -> float:
    """Return the root mean square of channel 2 while the sweep runs, dB of full scale."""
    start = sweep_starts(taken.sweep, RATE_HZ)[0]
    sounding = taken.channels[start : start + taken.frames_of_sweep, 1]
    return float(20.0 * np.log10(np.std(sounding)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cabinets", type=int, default=60)
    parser.add_argument("--seed", type=int, default=40000)
    parser.add_argument("--seconds", type=float, default=6.0)
    parser.add_argument("--ratio-db", type=float, default=30.0)
    options = parser.parse_args()
    sweep = Sweep(8.0, 1000.0, options.seconds, begins_s=1.0, fade_s=0.05)
    for name, more_db in (("0 Hz to 24 kHz", 0.0), ("8 Hz to 1 kHz", 10.0 * np.log10(24000.0 / 992.0))):
        errors, halves, held, given, count = [], [], 0, 0, 0
        for seed in range(options.seed, options.seed + options.cabinets):
            rng = np.random.default_rng(seed)
            design = draw_design(rng)
            cabinet = draw_cabinet(design, rng, leak_chance=0.5)
            truth = cabinet.truth()
            if truth.tuning_hz is None:
                continue
            count += 1
            jig = Jig("divider", float(rng.choice([10.0, 22.0, 47.0])))
            bench = Bench(cabinet.impedance, jig.wiring, jig.reference_ohm)
            noise_dbfs = level_dbfs(recorded(bench, QUIET, sweep, seed)) - options.ratio_db + more_db
            taken = recorded(bench, replace(SoundCard(), noise_dbfs=noise_dbfs), sweep, seed)
            origin = Origin("open", jig, taken.sweep, taken.level_dbfs)
            found = measured_recording(Recording(taken.channels, RATE_HZ, origin=origin), jig)
            if found.curve is None:
                continue
            marks = find_landmarks(found.curve)
            problems = (*found.problems, *curve_problems(found.curve, marks))
            given += not any(problem.spoils for problem in problems)
            fit = fit_vented_box(found.curve, marks, design)
            if fit is None:
                continue
            tuning = fit.tuning_hz
            errors.append(100.0 * abs(tuning.value / truth.tuning_hz - 1.0))
            halves.append(100.0 * (tuning.high - tuning.low) / 2.0 / tuning.value)
            held += tuning.holds(truth.tuning_hz)
        print(
            f"{options.ratio_db:g} dB over noise from {name}, one sweep of {options.seconds:g} s, {count} cabinets: "
            f"verdict given for {100 * given / count:.0f} %, tuning fitted for {len(errors)}; off by "
            f"{np.median(errors):.3f} % in the middle case, {np.percentile(errors, 95):.3f} % at the 95th percentile, "
            f"{max(errors):.3f} % at most; within 0.5 %: {100 * np.mean(np.array(errors) <= 0.5):.0f} %; half "
            f"of the interval {np.median(halves):.2f} and {np.percentile(halves, 95):.2f} %; held "
            f"{100 * held / len(errors):.0f} %",
            flush=True,
        )


if __name__ == "__main__":
    main()
