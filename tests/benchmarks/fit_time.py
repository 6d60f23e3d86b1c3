"""How long one fit of one open curve takes, on one core.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/fit_time.py [--cabinets 60] [--seed 20260] [--hidden-crossovers]

The cabinets are those of tuning_error.py. Each curve is fitted three times and the shortest counts, in seconds of the
processor; a machine that is busy otherwise still makes it slower. The curves that take longest are those that a leak
may explain: then the circuit is fitted with a leak as well.

--hidden-crossovers: each cabinet is measured through a crossover, and the design tells of none.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.analysis.landmarks import find_landmarks
from sealtune.records.recording import Jig, Sweep
from sealtune.virtual.population import draw_cabinet, draw_crossover, draw_design
from sealtune.virtual.sound_card import record

SWEEP = Sweep(6.0, 1000.0, 8.0, begins_s=0.5, fade_s=0.05)


def milliseconds(cabinets: int, seed: int, *, hidden: bool = False) -> NDArray[np.float64]:
    """Return how long one fit takes for each cabinet, ms, the shortest of three.

    hidden: a crossover lies before the driver and the design tells of none
    """
    jig = Jig("divider", 22.0)
    spent = []
    for number in range(seed, seed + cabinets):
        rng = np.random.default_rng(number)
        design = draw_design(rng)
        cabinet = draw_cabinet(design, rng, leak_chance=0.5)
        if hidden:
            cabinet = replace(cabinet, crossover=draw_crossover(np.random.default_rng([number, 1])))
            design = replace(design, crossover=None)
        take = record(cabinet.impedance, jig, SWEEP, "open", rng)
        curve = impedance_curve(measure_ratio(take).ratio, jig)
        marks = find_landmarks(curve)
        times = []
        for _ in range(3):
            begun = time.process_time()
            fit_vented_box(curve, marks, design)
            times.append(time.process_time() - begun)
        spent.append(1e3 * min(times))
    return np.array(spent)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cabinets", type=int, default=60)
    parser.add_argument("--seed", type=int, default=20260)
    parser.add_argument("--hidden-crossovers", action="store_true", help="crossovers that no design tells of")
    given = parser.parse_args()
    values = milliseconds(given.cabinets, given.seed, hidden=given.hidden_crossovers)
    print(f"{given.cabinets} open curves from seed {given.seed}, about 1000 points each")
    print(f"{'one fit, ms':14} {'median':>8} {'mean':>8} {'95 %':>8} {'largest':>8}")
    print(
        f"{'':14} {np.median(values):8.0f} {values.mean():8.0f} {np.percentile(values, 95):8.0f} {values.max():8.0f}"
    )


if __name__ == "__main__":
    main()
