"""What a gain that drifts while the sweep runs does to tuning and box Q, on virtual cabinets.

    python tests/benchmarks/drift.py [--cabinets 200] [--seed 20260] [--workers 2]

The cabinets and takes are those of tuning_error.py. In each take the gain of one channel rises or falls evenly over the
recording, by an amount drawn evenly from a span; with and without the sweep in the metadata.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.gain_faults import drift_problems, fitted_drift_problems
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.analysis.landmarks import find_landmarks
from sealtune.records.recording import Jig, Origin, Recording, Sweep
from sealtune.virtual.population import draw_cabinet, draw_design
from sealtune.virtual.sound_card import SoundCard, quantised, record

SWEEP = Sweep(6.0, 1000.0, 8.0, begins_s=0.5, fade_s=0.05)

KINDS: dict[str, tuple[float, float, bool]] = {
    # dB over the recording: from, to (sign at random), and whether the sweep is in the metadata
    "none": (0.0, 0.0, True),
    "none, no metadata": (0.0, 0.0, False),
    "up to 0.15 dB": (0.0, 0.15, True),
    "up to 0.15 dB, no metadata": (0.0, 0.15, False),
    "0.15 to 0.3 dB": (0.15, 0.3, True),
    "0.4 to 0.8 dB": (0.4, 0.8, True),
}


@dataclass(frozen=True)
class Outcome:
    """Errors of one take, NaN without a result, whether the intervals hold, what was told, and how well."""

    kind: str
    tuning: float
    q: float
    tuning_held: bool
    q_held: bool
    told: bool
    stopped: bool
    drift_db: float
    found_db: float
    reach_db: float


def drifting(take: Recording, drift_db: float, channel: int) -> Recording:
    """Return the take with the gain of one channel rising by so many dB from its first to its last sample."""
    channels = take.channels.copy()
    frames = channels.shape[0]
    channels[:, channel] *= 10.0 ** (drift_db / 20.0 * np.linspace(-0.5, 0.5, frames))
    return replace(take, channels=quantised(channels, take.step))


def one(task: tuple[int, str]) -> list[Outcome]:
    """Return the outcomes of the cabinet with this seed, none for one without a tuning (a leak swallows it)."""
    seed, wiring = task
    rng = np.random.default_rng(seed)
    design = draw_design(rng)
    cabinet = draw_cabinet(design, rng, leak_chance=0.5)
    truth = cabinet.truth()
    if truth.tuning_hz is None or truth.box_q is None:
        return []
    ohm = float(rng.choice([10.0, 22.0, 47.0]))
    jig = Jig("sense", ohm / 10.0) if wiring == "sense" else Jig("divider", ohm)
    clean = record(cabinet.impedance, jig, SWEEP, "open", rng, card=SoundCard())
    outcomes = []
    for kind, (least, most, tagged) in KINDS.items():
        drift_db = float(rng.uniform(least, most) * rng.choice([-1.0, 1.0]))
        channel = int(rng.integers(2))
        take = drifting(clean, drift_db, channel) if most else clean
        if not tagged:
            take = replace(take, origin=Origin("open", jig))
        ratio = measure_ratio(take).ratio
        problems = drift_problems(ratio, SWEEP) if tagged else []
        curve = impedance_curve(ratio, jig)
        fit = fit_vented_box(curve, find_landmarks(curve), design)
        if fit is None:
            outcomes.append(
                Outcome(kind, np.nan, np.nan, False, False, False, False, drift_db, np.nan, np.nan)
            )
            continue
        problems += fitted_drift_problems(fit)
        found = next((value for _, value in fit.gain_drifts_db), None)
        of_sweep_db = drift_db * (2 * channel - 1) * 8.0 / 9.5
        outcomes.append(
            Outcome(
                kind, abs(fit.tuning_hz.value / truth.tuning_hz - 1.0), abs(fit.box_q.value / truth.box_q - 1.0),
                fit.tuning_hz.holds(truth.tuning_hz), fit.box_q.holds(truth.box_q),
                bool(problems), any(problem.spoils for problem in problems),
                of_sweep_db, found.value if found else np.nan, found.high - found.value if found else np.nan,
            )
        )  # fmt: skip
    return outcomes


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cabinets", type=int, default=200)
    parser.add_argument("--seed", type=int, default=20260)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--wiring", choices=["divider", "sense"], default="divider")
    given = parser.parse_args()
    tasks = [(given.seed + n, given.wiring) for n in range(given.cabinets)]
    with ProcessPoolExecutor(given.workers) as pool:
        done = [outcome for part in pool.map(one, tasks, chunksize=4) for outcome in part]
    print(f"{len(done) // len(KINDS)} cabinets from seed {given.seed}, {given.wiring}")
    print(
        f"{'drift of one gain':28} {'tuning, %: median':>17} {'95 %':>6} {'box Q, %: median':>17} {'95 %':>6} "
        f"{'held':>9} {'told':>5} {'stopped':>7} {'missed by, dB: 95 %':>20}"
    )
    for kind in KINDS:
        rows = [outcome for outcome in done if outcome.kind == kind]
        tuning = 100.0 * np.nan_to_num([row.tuning for row in rows], nan=1.0)
        q = 100.0 * np.nan_to_num([row.q for row in rows], nan=1.0)
        held = f"{100 * np.mean([r.tuning_held for r in rows]):.0f} {100 * np.mean([r.q_held for r in rows]):4.0f}"
        missed = np.nanpercentile([abs(row.found_db - row.drift_db) for row in rows], 95)
        print(
            f"{kind:28} {np.median(tuning):17.3f} {np.percentile(tuning, 95):6.3f} {np.median(q):17.2f} "
            f"{np.percentile(q, 95):6.1f} {held:>9} {100 * np.mean([r.told for r in rows]):4.0f}% "
            f"{100 * np.mean([r.stopped for r in rows]):6.0f}% {missed:20.4f}"
        )


if __name__ == "__main__":
    main()
