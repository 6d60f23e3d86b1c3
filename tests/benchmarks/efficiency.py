"""How near the fit comes to the least error that is possible at all, and how often its intervals hold the truth.

    python tests/benchmarks/efficiency.py [--runs 500] [--seed 1] [--workers 2] [--from-truth]

Curves of random circuits of the very form that is fitted, with noise of three sizes. No unbiased estimate can have
a smaller standard deviation than the Cramer-Rao bound; what is known beforehand enters both sides, since the random
circuits are drawn from it (van Trees' form of the bound). What no residual shows (SYSTEMATIC) is not in these curves
and is taken out of the intervals.

--from-truth: beside the mean of the admissible circuits, what the circuit in question alone says, found as the fit
finds it and started from the truth; in how many runs the latter ends lower; and the runs that make up most of the
error.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.candidates import BAND_ABOVE, BAND_BELOW, Curves, start_of, within
from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.hidden_parts import best_of, with_other_coil
from sealtune.analysis.intervals import COVERAGE, SYSTEMATIC, derived, propagated
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.parameters import PRIORS, USUAL_DUCT_SHARE, VENTED, Packing, quantity
from sealtune.analysis.search import weighted_cost
from sealtune.physics.vented_box import VentedBox, impedance
from sealtune.records.curve import ImpedanceCurve

Reals = NDArray[np.float64]
FREQUENCY_HZ = np.geomspace(5.0, 1000.0, 1000)
S = np.asarray(2j * np.pi * FREQUENCY_HZ)
NOISE_OHM = (0.005, 0.02, 0.08)
FIXED, TYPICAL = 10, 0.4
"""How many circuits take turns, and how far their losses and coils are from the middle of what is expected."""

WORST = 3
"""Runs that are named with --from-truth."""

QUANTITIES = ("f_B", "box Q", "alpha")


def drawn(rng: np.random.Generator, spread: float = 1.0) -> VentedBox:
    """Return a random circuit with two clear peaks: losses, coil and creep as the fit expects them.

    spread: of these, 1 as wide as is known beforehand
    """
    while True:
        values: dict[str, Any] = {
            name: quantity(name, _known(name)[0] + spread * _known(name)[1] * float(rng.standard_normal()))
            for name in VENTED
            if name in PRIORS and name not in ("alpha", "qms", "coil_ohm")
        }
        ws = 2.0 * np.pi * float(rng.uniform(28.0, 70.0))
        box = VentedBox(
            re_ohm=float(rng.uniform(3.0, 8.0)), res_ohm=float(rng.uniform(25.0, 80.0)), ws_rad_s=ws,
            qms=float(np.exp(rng.normal(np.log(5.0), 0.4))), alpha=float(np.exp(rng.normal(0.0, 0.5))),
            coil_ohm=float(np.exp(rng.normal(np.log(0.5), 0.6))), wb_rad_s=ws * float(rng.uniform(0.75, 1.3)),
            volume_m3=0.03 * float(np.exp(rng.normal(0.0, 0.7 * spread))), duct_share=USUAL_DUCT_SHARE, **values,
        )  # fmt: skip
        q = np.exp(derived(box)[1])
        marks = find_landmarks(ImpedanceCurve(FREQUENCY_HZ, impedance(S, box), np.full(S.size, 0.01)))
        if 3.0 < q < 40.0 and 0.0 < box.creep < 0.3 and marks.saddle is not None:
            return box


def _known(name: str) -> tuple[float, float]:
    packing = Packing((name,), VentedBox(1, 1, 0.5, 1, 1, 1, 0, 1, 1))
    mean, weight = packing.prior()
    return float(mean[0]), 1.0 / float(weight[0])


def bound(box: VentedBox, curve: ImpedanceCurve) -> Reals:
    """Return the least standard deviations of ln f_B, ln Q and ln alpha, with what is known beforehand."""
    packing = Packing(VENTED, VentedBox(**{**box.__dict__, "volume_m3": 0.03}))
    circuit = Circuit((View.of("open", curve),), packing)
    vector = circuit.pack(box)
    least = least_covariance(circuit.evaluate(vector)[1] / curve.sigma_ohm[:, None], circuit.prior()[1])
    return np.sqrt(np.diag(propagated(lambda v: derived(packing.unpack(v)), vector, least)))[:3]


def least_covariance(slope: NDArray[np.complex128], weight: Reals) -> Reals:
    """Return the least covariance that is possible, shape (n, n).

    slope: derivatives of the curve by the n unknowns over the noise, shape (points, n)
    weight: one over the standard deviation of what is known of each beforehand, shape (n,)
    """
    told = (slope.conj().T @ slope).real + np.diag(weight**2)
    unit = 1.0 / np.sqrt(np.diag(told))
    return np.asarray(unit[:, None] * np.linalg.inv(told * np.outer(unit, unit)) * unit)


def drawn_curve(seed: int, noise_ohm: float, fixed: int = 0) -> tuple[VentedBox, ImpedanceCurve]:
    """Return a random circuit and its curve with noise; fixed: see `one`."""
    rng = np.random.default_rng(seed)
    box = drawn(np.random.default_rng(10_000 + seed % fixed), TYPICAL) if fixed else drawn(rng)
    error = noise_ohm * (rng.standard_normal(S.size) + 1j * rng.standard_normal(S.size))
    return box, ImpedanceCurve(FREQUENCY_HZ, impedance(S, box) + error, np.full(S.size, noise_ohm))


def one(seed: int, noise_ohm: float, fixed: int = 0) -> tuple[Reals, Reals, Reals] | None:
    """Return error, stated standard deviation and bound of ln f_B, ln Q and ln alpha; None for no fit.

    fixed: how many circuits take turns; 0 for a new one each time
    """
    box, curve = drawn_curve(seed, noise_ohm, fixed)
    fit = fit_vented_box(curve, find_landmarks(curve))
    if fit is None:
        return None
    found = np.log([fit.tuning_hz.value, fit.box_q.value, fit.compliance_ratio.value])
    stated = np.sqrt(np.diag(fit.log_covariance)[:3] - np.square(SYSTEMATIC[:3]))
    low_hz, high_hz = fit.band_hz
    inside = (low_hz <= FREQUENCY_HZ) & (high_hz >= FREQUENCY_HZ)
    used = ImpedanceCurve(FREQUENCY_HZ[inside], curve.impedance_ohm[inside], curve.sigma_ohm[inside])
    return found - derived(box)[:3], stated, bound(box, used)


@dataclass(frozen=True)
class Alone:
    """The circuit in question fitted alone: errors of ln f_B, ln Q and ln alpha as the fit finds it and from the truth.

    lower: by how much the cost is lower from the truth (half the sum of squares, what is known beforehand included)
    """

    found: Reals
    from_truth: Reals
    lower: float


def alone(seed: int, noise_ohm: float, fixed: int = 0) -> Alone | None:
    """Return what the circuit in question alone says of the curve that `one` fits."""
    box, curve = drawn_curve(seed, noise_ohm, fixed)
    marks = find_landmarks(curve)
    if marks.lower is None or marks.saddle is None or marks.upper is None:
        return None
    marks_hz = (marks.lower.hz, marks.saddle.hz, marks.upper.hz)
    used = within(curve, marks_hz[0] / BAND_BELOW, marks_hz[2] * BAND_ABOVE)
    starts = [start_of(used, marks_hz, None, shift) for shift in (1.0, 0.93, 1.07)]
    curves = Curves.of({"open": used}, starts[0], None)
    coarse = best_of(curves.thinned(), starts)
    true = curves.searched(VENTED, box, 1e-7)
    if coarse is None or true is None:
        return None
    found, truth = curves.refined(with_other_coil(curves, coarse)), derived(box)[:3]
    near = [derived(each.model.unpack(each.vector))[:3] - truth for each in (found, true)]
    costs = [weighted_cost(each, curves.points, np.array([1e-7])) for each in (found, true)]
    return Alone(near[0], near[1], costs[0] - costs[1])


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--runs", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--from-truth", action="store_true", help="also what a start from the truth finds")
    given = parser.parse_args()
    for fixed, what in ((FIXED, f"{FIXED} typical circuits in turn"), (0, "a new circuit each time")):
        print(f"{given.runs} runs at each noise, from seed {given.seed}: {what}")
        print(
            f"{'noise, ohm':>12} {'quantity':>10} {'rms error / bound':>18} {'median bound, %':>16} "
            f"{'held by 95 %':>13}"
        )
        with ProcessPoolExecutor(given.workers) as pool:
            for noise_ohm in NOISE_OHM:
                seeds = range(given.seed, given.seed + given.runs)
                task = partial(one, noise_ohm=noise_ohm, fixed=fixed)
                every = list(pool.map(task, seeds, chunksize=8))
                _print(noise_ohm, [each for each in every if each], given.runs)
                if given.from_truth:
                    beside = pool.map(partial(alone, noise_ohm=noise_ohm, fixed=fixed), seeds, chunksize=8)
                    _print_from_truth(every, list(beside), given.seed)


def _print(noise_ohm: float, done: list[tuple[Reals, Reals, Reals]], runs: int) -> None:
    error, stated, least = (np.array(part) for part in zip(*done, strict=True))
    ratio = np.sqrt(np.mean(error**2, axis=0) / np.mean(least**2, axis=0))
    held = np.mean(np.abs(error) <= COVERAGE * stated, axis=0)
    for n, name in enumerate(QUANTITIES):
        print(
            f"{noise_ohm:12.3f} {name:>10} {ratio[n]:18.3f} {100.0 * np.median(least[:, n]):16.4f} "
            f"{100.0 * held[n]:12.1f}%"
        )
    if len(done) < runs:
        print(f"{'':12} no fit in {runs - len(done)} runs")


def _print_from_truth(
    every: list[tuple[Reals, Reals, Reals] | None], beside: list[Alone | None], first: int
) -> None:
    both = [
        (first + n, *each, other)
        for n, (each, other) in enumerate(zip(every, beside, strict=True))
        if each is not None and other is not None
    ]
    least = np.array([row[3] for row in both])
    for what, error in (
        ("this circuit alone", np.array([row[4].found for row in both])),
        ("from the truth", np.array([row[4].from_truth for row in both])),
    ):
        ratio = np.sqrt(np.mean(error**2, axis=0) / np.mean(least**2, axis=0))
        words = ", ".join(f"{name} {value:.2f}" for name, value in zip(QUANTITIES, ratio, strict=True))
        print(f"{'':12} {what}: {words}")
    lower = np.array([row[4].lower for row in both])
    print(f"{'':12} lower by more than 0.5 from the truth: {int(np.sum(lower > 0.5))} of {lower.size}")
    square = np.array([row[1][0] ** 2 for row in both])
    for n in np.argsort(-square)[:WORST]:
        seed, error, _, bound_, other = both[n]
        print(
            f"{'':12} seed {seed}: {100 * square[n] / square.sum():.0f} % of the mean square of f_B; errors "
            f"{100 * error[0]:+.3f} %, alone {100 * other.found[0]:+.3f}, from the truth "
            f"{100 * other.from_truth[0]:+.3f}, bound {100 * bound_[0]:.3f} %; lower by {other.lower:.1f}"
        )


if __name__ == "__main__":
    main()
