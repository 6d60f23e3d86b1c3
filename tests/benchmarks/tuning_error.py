"""How far the fitted tuning is from the truth on virtual cabinets, beside what the minimum of |Z| gives.

    python tests/benchmarks/tuning_error.py [--cabinets 200] [--seed 20260] [--workers 2]

The cabinets come from the virtual cabinet's own forward path (a nodal solve in physical units with a vent as a
transmission line), never from the circuit that is fitted. Each is recorded with one 8 s sweep through a
virtual sound card with noise, hum, mismatch and roll-off; one in two leaks; one in three has a crossover.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.analysis.landmarks import find_landmarks
from sealtune.records.recording import Jig, Sweep
from sealtune.virtual.population import draw_cabinet, draw_design
from sealtune.virtual.sound_card import SoundCard, record


@dataclass(frozen=True)
class Outcome:
    """Truth and result of one cabinet; NaN where there was no result."""

    seed: int
    leaks: bool
    true_hz: float
    true_q: float
    hz: float
    saddle_hz: float
    q: float
    tuning_held: bool
    q_held: bool
    residual: float


def one(seed: int) -> Outcome | None:
    """Return the outcome of the cabinet with this seed, None for one without a tuning (a leak swallows it)."""
    rng = np.random.default_rng(seed)
    design = draw_design(rng)
    cabinet = draw_cabinet(design, rng, leak_chance=0.5)
    truth = cabinet.truth()
    if truth.tuning_hz is None or truth.box_q is None:
        return None
    jig = Jig("divider", float(rng.choice([10.0, 22.0, 47.0])))
    take = record(
        cabinet.impedance,
        jig,
        Sweep(6.0, 1000.0, 8.0, begins_s=0.5, fade_s=0.05),
        "open",
        rng,
        card=SoundCard(),
    )
    curve = impedance_curve(measure_ratio(take).ratio, jig)
    marks = find_landmarks(curve)
    fit = fit_vented_box(curve, marks, design)
    nothing = float("nan")
    saddle = marks.saddle.hz if marks.saddle else nothing
    leaks = bool(cabinet.leaks)
    if fit is None:
        return Outcome(
            seed, leaks, truth.tuning_hz, truth.box_q, nothing, saddle, nothing, False, False, nothing
        )
    return Outcome(
        seed, leaks, truth.tuning_hz, truth.box_q, fit.tuning_hz.value, saddle, fit.box_q.value,
        fit.tuning_hz.holds(truth.tuning_hz), fit.box_q.holds(truth.box_q), fit.residual,
    )  # fmt: skip


def percentiles(errors: list[float]) -> str:
    """Return median, 95th percentile and largest of the errors in percent; a missing result counts as 100 %."""
    values = 100.0 * np.nan_to_num(np.array(errors), nan=1.0)
    return f"{np.median(values):8.3f} {np.percentile(values, 95):8.3f} {values.max():8.3f}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cabinets", type=int, default=200)
    parser.add_argument("--seed", type=int, default=20260)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--worst", type=int, default=0, help="also list the worst cabinets")
    given = parser.parse_args()
    with ProcessPoolExecutor(given.workers) as pool:
        done = [
            o
            for o in pool.map(one, range(given.seed, given.seed + given.cabinets), chunksize=4)
            if o is not None
        ]
    print(f"{len(done)} cabinets from seed {given.seed}, {sum(o.leaks for o in done)} of them leak")
    print(f"{'error, percent':34} {'median':>8} {'95 %':>8} {'largest':>8}")
    print(f"{'tuning by the fit':34} {percentiles([abs(o.hz / o.true_hz - 1) for o in done])}")
    print(
        f"{'tuning by the minimum of |Z|':34} {percentiles([abs(o.saddle_hz / o.true_hz - 1) for o in done])}"
    )
    fitted, lowest = (
        np.nan_to_num([abs(getattr(o, name) / o.true_hz - 1) for o in done], nan=1.0)
        for name in ("hz", "saddle_hz")
    )
    print(
        f"{'minimum of |Z| over the fit, times':34} {np.median(lowest) / np.median(fitted):8.0f} "
        f"{np.percentile(lowest, 95) / np.percentile(fitted, 95):8.0f} {lowest.max() / fitted.max():8.0f}"
    )
    print(f"{'box Q by the fit':34} {percentiles([abs(o.q / o.true_q - 1) for o in done])}")
    print(
        f"95 % intervals that hold the truth: tuning {100 * np.mean([o.tuning_held for o in done]):.0f} %, "
        f"box Q {100 * np.mean([o.q_held for o in done]):.0f} %"
    )
    for o in sorted(done, key=lambda o: -abs(np.nan_to_num(o.hz / o.true_hz - 1, nan=1.0)))[: given.worst]:
        print(
            f"  seed {o.seed} leaks {o.leaks}: {o.true_hz:.2f} Hz Q {o.true_q:.2f} -> {o.hz:.2f} Hz Q {o.q:.2f}, "
            f"saddle {o.saddle_hz:.2f}, residual {100 * o.residual:.2f} %"
        )


if __name__ == "__main__":
    main()
