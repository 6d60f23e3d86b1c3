"""How far the fitted tuning is from the truth on virtual cabinets, beside what the minimum of |Z| gives.

    python tests/benchmarks/tuning_error.py [--cabinets 200] [--seed 20260] [--workers 2]
        [--hidden-crossovers] [--table-noise 0.1]

The cabinets come from the virtual cabinet's own forward path (a nodal solve in physical units with a vent as a
transmission line), never from the circuit that is fitted. Each is recorded with one 8 s sweep through a
virtual sound card with noise, hum, mismatch and roll-off; one in two leaks; one in four has a crossover.

--hidden-crossovers: each cabinet is measured through a crossover, and the design tells of none.
--table-noise: each is a table of 900 points with so many percent of noise instead, ten times as much as the sound
card has; what a crossover does is then hardly more than noise.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.analysis.landmarks import find_landmarks
from sealtune.files.table_noise import noise_of_table
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Design
from sealtune.records.recording import Jig, Sweep
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.population import draw_cabinet, draw_crossover, draw_design
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


def recorded(cabinet: VirtualCabinet, rng: np.random.Generator) -> ImpedanceCurve:
    """Return the curve of a cabinet by one sweep through a virtual sound card."""
    jig = Jig("divider", float(rng.choice([10.0, 22.0, 47.0])))
    sweep = Sweep(6.0, 1000.0, 8.0, begins_s=0.5, fade_s=0.05)
    take = record(cabinet.impedance, jig, sweep, "open", rng, card=SoundCard())
    return impedance_curve(measure_ratio(take).ratio, jig)


def tabled(cabinet: VirtualCabinet, rng: np.random.Generator, noise: float) -> ImpedanceCurve:
    """Return the curve of a cabinet from a table with noise in proportion to |Z|."""
    hz = np.geomspace(5.0, 1000.0, 900)
    z = cabinet.impedance(hz)
    z = z * (1.0 + noise * (rng.standard_normal(hz.size) + 1j * rng.standard_normal(hz.size)))
    return ImpedanceCurve(hz, z, noise_of_table(hz, z))


def drawn(seed: int, *, hidden: bool) -> tuple[Design, VirtualCabinet, np.random.Generator]:
    """Return the design and the cabinet with this seed, and the generator to go on with.

    hidden: a crossover lies before the driver and the design tells of none
    """
    rng = np.random.default_rng(seed)
    design = draw_design(rng)
    cabinet = draw_cabinet(design, rng, leak_chance=0.5)
    if hidden:
        cabinet = replace(cabinet, crossover=draw_crossover(np.random.default_rng([seed, 1])))
        design = replace(design, crossover=None)
    return design, cabinet, rng


def one(seed: int, hidden: bool = False, table_noise: float = 0.0) -> Outcome | None:
    """Return the outcome of the cabinet with this seed, None for one without a tuning (a leak swallows it).

    hidden: a crossover lies before the driver and the design tells of none
    table_noise: over |Z|, of a table; 0 for a recording
    """
    design, cabinet, rng = drawn(seed, hidden=hidden)
    truth = cabinet.truth()
    if truth.tuning_hz is None or truth.box_q is None:
        return None
    curve = tabled(cabinet, rng, table_noise) if table_noise else recorded(cabinet, rng)
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
    parser.add_argument("--hidden-crossovers", action="store_true", help="crossovers that no design tells of")
    parser.add_argument(
        "--table-noise", type=float, default=0.0, help="percent; tables instead of recordings"
    )
    parser.add_argument("--worst", type=int, default=0, help="also list the worst cabinets")
    given = parser.parse_args()
    task = partial(one, hidden=given.hidden_crossovers, table_noise=given.table_noise / 100.0)
    with ProcessPoolExecutor(given.workers) as pool:
        done = [
            o
            for o in pool.map(task, range(given.seed, given.seed + given.cabinets), chunksize=4)
            if o is not None
        ]
    which = ", behind crossovers that no design tells of" if given.hidden_crossovers else ""
    if given.table_noise:
        which += f", tables with {given.table_noise:g} % of noise"
    print(f"{len(done)} cabinets from seed {given.seed}{which}, {sum(o.leaks for o in done)} of them leak")
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
