"""How far mains hum shifts the fitted tuning, against the same recording without hum.

    python tests/benchmarks/hum.py [--cabinets 6] [--seed 51000] [--workers 2] [--swing 0.0]

Every cabinet is recorded once; then hum is added to channel 2, its fundamental 40 dB below the sweep's amplitude
there at that frequency, four multiples each half as strong as the one before. The mains frequency goes from 45 to
66 Hz, and to where it hurts most: 16.7 Hz, the tuning, and 0.3 Hz and 1 Hz beside it. --swing lets it swing by so
many Hz to either side in 10 s.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial

import numpy as np

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.analysis.landmarks import find_landmarks
from sealtune.records.design import Design
from sealtune.records.recording import Jig, Recording, Sweep
from sealtune.virtual.population import draw_cabinet, draw_design
from sealtune.virtual.sound_card import SoundCard, quantised, record

SWEEP = Sweep(6.0, 1000.0, 8.0, begins_s=0.5, fade_s=0.05)
CARD = SoundCard(hum_dbfs=None)
LEVEL_DB = -40.0
HARMONICS = 5


def tuning_hz(take: Recording, jig: Jig, design: Design) -> tuple[float, float]:
    """Return the tuning by the fit and the mains frequency found, NaN for what was not found."""
    spectra = measure_ratio(take)
    curve = impedance_curve(spectra.ratio, jig)
    fit = fit_vented_box(curve, find_landmarks(curve), design)
    nothing = float("nan")
    return fit.tuning_hz.value if fit else nothing, spectra.hum.mains_hz if spectra.hum else nothing


def with_hum(
    take: Recording, mains_hz: float, peak: float, swing_hz: float, rng: np.random.Generator
) -> Recording:
    """Add hum to channel 2, the fundamental's peak given."""
    time_s = np.arange(take.channels.shape[0]) / take.rate_hz
    # the frequency is mains + swing cos(2 pi t / 10 s), so the turns are its integral
    turns = mains_hz * time_s + swing_hz * 10.0 / (2 * np.pi) * np.sin(
        2 * np.pi * time_s / 10.0 + rng.uniform(0, 6.28)
    )
    tone = np.zeros(time_s.size)
    for multiple in range(1, HARMONICS + 1):
        tone += 0.5 ** (multiple - 1) * np.sin(2 * np.pi * (multiple * turns + rng.random()))
    channels = take.channels + peak * tone[:, None] * np.array([0.0, 1.0])
    return replace(take, channels=quantised(channels, take.step))


def shifts(seed: int, swing_hz: float) -> list[tuple[float, float, float]]:
    """Return mains frequency, relative shift of the tuning and error of the mains frequency found, of one cabinet."""
    rng = np.random.default_rng(seed)
    design = draw_design(rng)
    cabinet = draw_cabinet(design, rng, leak_chance=0.3)
    truth = cabinet.truth().tuning_hz
    if truth is None:
        return []
    jig = Jig("divider", float(rng.choice([10.0, 22.0, 47.0])))
    take = record(cabinet.impedance, jig, SWEEP, "open", rng, card=CARD)
    clean, _ = tuning_hz(take, jig, design)
    frequencies = [
        16.7,
        truth,
        truth + 0.3,
        truth - 1.0,
        *np.arange(45.0, 66.1, 1.5) + rng.uniform(-0.7, 0.7),
    ]
    found = []
    for mains_hz in frequencies:
        if not (45.0 <= mains_hz <= 66.0 or mains_hz == 16.7):
            continue
        # amplitude of the sweep in channel 2: the played peak through the divider and the input
        load = complex(cabinet.impedance(np.array([mains_hz]))[0])
        share = abs(load / (CARD.source_ohm + jig.reference_ohm + load)) * CARD.amplifier_v / CARD.input_v
        peak = 10.0 ** ((CARD.level_dbfs + LEVEL_DB) / 20.0) * share
        hz, mains = tuning_hz(with_hum(take, mains_hz, peak, swing_hz, rng), jig, design)
        found.append((mains_hz, abs(hz / clean - 1.0), abs(mains - mains_hz)))
    return found


def row(name: str, values: Sequence[float], unit: str) -> str:
    """Return largest, 95th percentile and median in one line."""
    v = np.nan_to_num(np.array(values), nan=100.0)
    return f"{name:44} {v.max():9.4f} {np.percentile(v, 95):9.4f} {np.median(v):9.4f}  {unit}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cabinets", type=int, default=6)
    parser.add_argument("--seed", type=int, default=51000)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--swing", type=float, default=0.0)
    given = parser.parse_args()
    with ProcessPoolExecutor(given.workers) as pool:
        seeds = range(given.seed, given.seed + given.cabinets)
        done = [one for part in pool.map(partial(shifts, swing_hz=given.swing), seeds) for one in part]
    print(f"{len(done)} recordings with hum at {LEVEL_DB:.0f} dB in channel 2, swing {given.swing:g} Hz")
    print(f"{'':44} {'largest':>9} {'95 %':>9} {'median':>9}")
    print(row("shift of the tuning", [100.0 * one[1] for one in done], "percent"))
    print(row("error of the mains frequency", [one[2] for one in done], "Hz"))
    for mains_hz, shift, error in sorted(done, key=lambda one: -np.nan_to_num(one[1], nan=1.0))[:5]:
        print(
            f"  mains at {mains_hz:6.2f} Hz: tuning off by {100 * shift:.4f} %, mains found within {error:.4f} Hz"
        )


if __name__ == "__main__":
    main()
