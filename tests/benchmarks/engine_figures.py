"""All figures that the measurement engine has to reach, in one table, by the other scripts of this folder.

    OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.engine_figures [--quick] [--workers 2]

From the project's root. The seeds and numbers of cabinets are those of the single scripts, which tell more; --quick
takes a fifth of them or less, for a first look: its percentiles are coarse. A whole run takes about half an hour.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from tests.benchmarks import efficiency, fit_time, hum, memory, tuning_error

from sealtune.analysis.intervals import COVERAGE

Reals = NDArray[np.float64]


@dataclass(frozen=True)
class Size:
    """How many cabinets of tuning_error.py, runs of efficiency.py, cabinets of hum.py and of fit_time.py."""

    cabinets: int
    runs: int
    hum: int
    timed: int


WHOLE, QUICK = Size(200, 500, 6, 60), Size(40, 60, 1, 12)


@dataclass(frozen=True)
class Figure:
    """One line of the table: every measured value must lie from `low` to `high`."""

    name: str
    unit: str
    measured: Sequence[float]
    low: float = 0.0
    high: float = float("inf")

    def line(self) -> str:
        """Return figure, aim, measured values and whether all reach the aim."""
        if self.high == float("inf"):
            aim = f"at least {self.low:g}"
        elif self.low == 0.0:
            aim = f"at most {self.high:g}"
        else:
            aim = f"{self.low:g} to {self.high:g}"
        values = ", ".join(f"{value:.3g}" for value in self.measured)
        reached = bool(self.measured) and all(self.low <= value <= self.high for value in self.measured)
        return f"{self.name:52} {aim + ' ' + self.unit:18} {values:22} {'yes' if reached else 'NO'}"


def tuning_figures(size: Size, pool: ProcessPoolExecutor) -> Iterator[Figure]:
    """Tuning, box Q and their intervals on virtual cabinets."""
    seeds = range(20260, 20260 + size.cabinets)
    done = [one for one in pool.map(tuning_error.one, seeds, chunksize=4) if one is not None]

    def off(found: Sequence[float], truth: Sequence[float]) -> Reals:
        """Return the errors in percent; no result counts as 100."""
        return np.asarray(100.0 * np.nan_to_num(np.abs(np.array(found) / np.array(truth) - 1.0), nan=1.0))

    true_hz = [one.true_hz for one in done]
    tuning, lowest = off([one.hz for one in done], true_hz), off([one.saddle_hz for one in done], true_hz)
    q = off([one.q for one in done], [one.true_q for one in done])
    times = [float(np.percentile(lowest, share) / np.percentile(tuning, share)) for share in (50, 95)]
    yield Figure("tuning error, median", "%", [float(np.median(tuning))], high=0.05)
    yield Figure("tuning error, 95th percentile", "%", [float(np.percentile(tuning, 95))], high=0.4)
    yield Figure("better than the minimum of |Z|, median and 95th", "times", times, low=15.0)
    yield Figure("box Q error, median", "%", [float(np.median(q))], high=8.0)
    yield Figure("box Q error, 95th percentile", "%", [float(np.percentile(q, 95))], high=35.0)
    held = [
        100.0 * float(np.mean([getattr(one, name) for one in done])) for name in ("tuning_held", "q_held")
    ]
    yield Figure("95 % intervals of tuning and box Q hold the truth", "%", held, low=90.0, high=99.0)


def efficiency_figures(size: Size, pool: ProcessPoolExecutor) -> Iterator[Figure]:
    """Error over the Cramer-Rao bound and coverage, each at three noises, new circuits and ten typical ones."""
    for fixed, which in ((0, "new circuits"), (efficiency.FIXED, f"{efficiency.FIXED} typical circuits")):
        ratio, held = [], []
        for noise_ohm in efficiency.NOISE_OHM:
            task = partial(efficiency.one, noise_ohm=noise_ohm, fixed=fixed)
            done = [each for each in pool.map(task, range(1, 1 + size.runs), chunksize=8) if each]
            error, stated, least = (np.array(part) for part in zip(*done, strict=True))
            ratio.append(np.sqrt(np.mean(error**2, axis=0) / np.mean(least**2, axis=0)))
            held.append(100.0 * np.mean(np.abs(error) <= COVERAGE * stated, axis=0))
        for n, name in enumerate(efficiency.QUANTITIES):
            yield Figure(
                f"{name}: error over bound, {which}", "times", [float(row[n]) for row in ratio], high=1.15
            )
        for n, name in enumerate(efficiency.QUANTITIES):
            yield Figure(
                f"{name}: held by 95 %, {which}", "%", [float(row[n]) for row in held], low=93.0, high=97.0
            )


def hum_figures(size: Size, pool: ProcessPoolExecutor) -> Iterator[Figure]:
    """The largest shift of the tuning by hum."""
    task = partial(hum.shifts, swing_hz=0.0)
    shifts = [one[1] for part in pool.map(task, range(51000, 51000 + size.hum)) for one in part]
    yield Figure("hum at -40 dB shifts the tuning, largest", "%", [100.0 * max(shifts)], high=0.05)


def cost_figures(size: Size) -> Iterator[Figure]:
    """Time of one fit, and memory; run alone, when nothing else of this script runs."""
    spent = fit_time.milliseconds(size.timed, 20260)
    yield Figure("one fit of one open curve, median", "ms", [float(np.median(spent))], high=60.0)
    yield Figure(
        "memory over the recording held as float64", "times", [one for _, one in memory.ratios()], high=3.0
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="fewer cabinets and runs, for a first look")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    size = QUICK if given.quick else WHOLE
    print(
        f"{size.cabinets} cabinets, {size.runs} runs at noises of "
        f"{', '.join(f'{noise:g}' for noise in efficiency.NOISE_OHM)} ohm, hum on {size.hum}, {size.timed} fits timed"
    )
    print(f"{'figure':52} {'to reach':18} {'measured':22} reached")
    for figure in cost_figures(size):
        print(figure.line(), flush=True)
    with ProcessPoolExecutor(given.workers) as pool:
        for figures in (tuning_figures, hum_figures, efficiency_figures):
            for figure in figures(size, pool):
                print(figure.line(), flush=True)


if __name__ == "__main__":
    main()
