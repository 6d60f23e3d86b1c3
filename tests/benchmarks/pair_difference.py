"""The difference of two cabinets: how near to the least error that is possible, and what the mate of a leak tells.

    python -m tests.benchmarks.pair_difference [--runs 200] [--pairs 100] [--seed 1]

First, curves of pairs of random circuits of the very form that is fitted: what mates share scatters as `mates.ALIKE`
has it, tuning, leakage, driver and volume by themselves. The Cramer-Rao bound is that of the joint problem, with what
is known beforehand of the mean and of the difference on both sides (van Trees' form of it).

Then what the open curve alone tells of the driver of a virtual cabinet, sealed and with a leak: the scatter that
`judgement.pair.BY_OPEN_CURVE` stands for.

Last pairs of virtual cabinets, which have physics of their own: how often the 95 % intervals hold the difference, how
large the error is by both curves together and by each alone, and how often a leak that costs 20 % of the box Q of one
of them is told alone and by the mate. Sealed, the losses of mates differ by 10 % (standard deviation).
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from tests.benchmarks.efficiency import FIXED, FREQUENCY_HZ, TYPICAL, S, drawn, least_covariance
from tests.benchmarks.judgement_cases import measured, sealed_losses, with_leak

from sealtune.analysis.candidates import BAND_ABOVE, BAND_BELOW, within
from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.intervals import COVERAGE, derived, propagated
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.mates import ALIKE, Mates, fit_mates
from sealtune.analysis.parameters import VENTED, Packing, coordinate, quantity
from sealtune.design.prediction import predict
from sealtune.judgement.evidence import Evidence
from sealtune.judgement.judge import judge
from sealtune.judgement.pair import judge_pair
from sealtune.physics.air import standard_air
from sealtune.physics.vented_box import VentedBox, impedance
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Design
from sealtune.records.verdict import Result
from sealtune.virtual.cabinet import Losses, cabinet_from_design
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.population import draw_design

Reals = NDArray[np.float64]

NOISE_OHM = (0.005, 0.02, 0.08)

APART = {
    "re_ohm": 0.03, "res_ohm": 0.05, "ws_rad_s": 0.03, "qms": 0.1, "alpha": 0.06, "wb_rad_s": 0.01, "leakage": 0.15,
}  # fmt: skip
"""By how much each of two circuits scatters where the fit takes nothing to be alike, standard deviation of ln."""


def drawn_mates(rng: np.random.Generator, place: int | None) -> tuple[VentedBox, VentedBox]:
    """Return two random circuits of one design; place: of the typical design, None for any other."""
    base = drawn(rng) if place is None else drawn(np.random.default_rng(10_000 + place), TYPICAL)

    def mate() -> VentedBox:
        spread = {**ALIKE, **APART}
        values = {
            name: quantity(name, coordinate(name, getattr(base, name)) + spread[name] * float(rng.standard_normal()))
            for name in VENTED
        }  # fmt: skip
        return replace(base, **values)  # type: ignore[arg-type]

    return mate(), mate()


def one(seed: int, noise_ohm: float, fixed: int = 0) -> tuple[float, float, float] | None:
    """Return error of ln(f_left/f_right), its stated and its least standard deviation; None for no joint fit.

    fixed: how many typical designs take turns; 0 for another one each time
    """
    rng = np.random.default_rng(seed)
    boxes = drawn_mates(rng, seed % fixed if fixed else None)
    curves = []
    for box in boxes:
        noise = noise_ohm * (rng.standard_normal(S.size) + 1j * rng.standard_normal(S.size))
        curves.append(ImpedanceCurve(FREQUENCY_HZ, impedance(S, box) + noise, np.full(S.size, noise_ohm)))
    marks = [find_landmarks(curve) for curve in curves]
    if any(each.saddle is None for each in marks):
        return None
    found = fit_mates((curves[0], curves[1]), (marks[0], marks[1]), same_jig=True)
    if found is None:
        return None
    used = []
    for curve, mark in zip(curves, marks, strict=True):
        assert mark.lower is not None
        assert mark.upper is not None
        used.append(within(curve, mark.lower.hz / BAND_BELOW, mark.upper.hz * BAND_ABOVE))
    truth = float(derived(boxes[0])[0] - derived(boxes[1])[0])
    error = float(found.left[0] - found.right[0]) - truth
    return error, float(np.sqrt(found.covariance[0, 0])), bound(boxes, used)


def bound(boxes: tuple[VentedBox, VentedBox], curves: list[ImpedanceCurve]) -> float:
    """Return the least standard deviation of ln(f_left/f_right) of the joint problem."""
    packing = Packing(VENTED, replace(boxes[0], volume_m3=0.03))
    left, right = (Circuit((View.of("open", curve),), packing) for curve in curves)
    mates = Mates(left, right, np.array([ALIKE.get(name, 0.0) for name in VENTED]))
    vector = mates.joined(left.pack(boxes[0]), right.pack(boxes[1]))
    sigma = np.concatenate([curve.sigma_ohm for curve in curves])
    least = least_covariance(mates.evaluate(vector)[1] / sigma[:, None], mates.prior()[1])

    def difference(v: Reals) -> Reals:
        mine, its = mates.parted(v)
        return np.asarray(derived(packing.unpack(mine))[:1] - derived(packing.unpack(its))[:1])

    return float(np.sqrt(propagated(difference, vector, least)[0, 0]))


def virtual_pair(seed: int) -> tuple[Design, list[VirtualCabinet], np.random.Generator]:
    """Return a random design and two cabinets of it, sealed."""
    rng = np.random.default_rng([77, seed])
    design = draw_design(rng)
    base = sealed_losses(design, rng)
    return design, [_mate(design, base, rng) for _ in range(2)], rng


def _mate(design: Design, base: Losses, rng: np.random.Generator) -> VirtualCabinet:
    def about(value: float, spread: float) -> float:
        return value * float(np.exp(spread * rng.standard_normal()))

    losses = replace(
        base,
        leakage_q=about(base.leakage_q, 0.1),
        absorption_q=about(base.absorption_q or 100.0, 0.1),
        vent_loss_factor=max(about(base.vent_loss_factor, 0.05), 1.0),
        creep=about(base.creep, 0.05),
        coil_share=about(base.coil_share, 0.03),
    )
    return cabinet_from_design(design, rng, scatter=0.5, losses=losses)


def judged(design: Design, curve: ImpedanceCurve, plugged: ImpedanceCurve | None) -> Result:
    """Return the verdict on a curve."""
    air, marks = standard_air(), find_landmarks(curve)
    others = {} if plugged is None else {"plugged": plugged}
    fit = fit_vented_box(curve, marks, design, others)  # type: ignore[arg-type]
    evidence = Evidence(
        "box", design=design, prediction=predict(design, air), curve=curve, landmarks=marks, fit=fit, jig_words="jig"
    )  # fmt: skip
    return judge(evidence, air)


def compared(seed: int, leak: bool, plugged: bool) -> tuple[list[float], list[float], float, float] | None:
    """Return errors over half intervals of tuning and Q, relative errors, and P(leak) of the left alone and by both."""
    design, cabinets, rng = virtual_pair(seed)
    if leak:
        worse = with_leak(cabinets[0], 0.8, rng)
        if worse is None:
            return None
        cabinets[0] = worse
    curves = [measured(each, "open", rng) for each in cabinets]
    stopped = [measured(each, "plugged", rng) if plugged else None for each in cabinets]
    left, right = (judged(design, curve, other) for curve, other in zip(curves, stopped, strict=True))
    truths = [each.truth() for each in cabinets]
    if left.fit is None or right.fit is None or truths[0].tuning_hz is None or truths[1].tuning_hz is None:
        return None
    together = fit_mates(
        (curves[0], curves[1]), (find_landmarks(curves[0]), find_landmarks(curves[1])), design, same_jig=True
    )
    pair = judge_pair(left, right, standard_air(), together, days_apart=0.0)
    tuning, q = pair.of("tuning_hz"), pair.of("box_q")
    if tuning is None or q is None or truths[0].box_q is None or truths[1].box_q is None:
        return None
    off = (
        tuning.difference.value - truths[0].tuning_hz + truths[1].tuning_hz,
        q.difference.value - truths[0].box_q + truths[1].box_q,
    )
    half = [0.5 * (each.difference.high - each.difference.low) for each in (tuning, q)]
    assert pair.leak_probability is not None
    return (
        [abs(a) / h for a, h in zip(off, half, strict=True)],
        [100.0 * off[0] / truths[0].tuning_hz, 100.0 * off[1] / truths[0].box_q],
        left.leak.probability,
        pair.leak_probability[0],
    )


def driver_error(seed: int, leak: bool) -> Reals | None:
    """Return errors of ln Q_MS, Q_ES, R_E and R_ES of one cabinet by its open curve alone, shape (4,)."""
    design, (cabinet, _), rng = virtual_pair(seed)
    worse = with_leak(cabinet, 0.5, rng) if leak else cabinet
    if worse is None:
        return None
    curve, true = measured(worse, "open", rng), worse.truth()
    fit = fit_vented_box(curve, find_landmarks(curve), design)
    if fit is None:
        return None
    found = np.array([fit.qms, fit.qes, fit.re_ohm, fit.res_ohm])
    return np.asarray(np.log(found / np.array([true.qms, true.qes, true.re_ohm, true.res_ohm])))


def print_driver_errors(count: int, seed: int) -> None:
    """Print the scatter of `driver_error`."""
    print(
        f"{count} virtual cabinets each, from seed {seed}: the driver by the open curve alone, rms error, %"
    )
    print(f"{'':>20} {'Q_MS':>7} {'Q_ES':>7} {'R_E':>7} {'R_ES':>7}")
    for leak in (False, True):
        every = [driver_error(each, leak) for each in range(seed, seed + count)]
        rms = 100.0 * np.sqrt(np.mean(np.square([one for one in every if one is not None]), axis=0))
        name = "leak of half the Q" if leak else "sealed"
        print(f"{name:>20} " + " ".join(f"{value:7.2f}" for value in rms), flush=True)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--pairs", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    for fixed, what in ((FIXED, f"{FIXED} typical designs in turn"), (0, "another design each time")):
        print(f"{given.runs} pairs of circuits at each noise, from seed {given.seed}: {what}")
        print(
            f"{'noise, ohm':>12} {'rms error / bound':>18} {'median bound, %':>16} {'held by 95 %':>13} "
            f"{'no joint fit':>13}"
        )
        for noise_ohm in NOISE_OHM:
            every = [one(seed, noise_ohm, fixed) for seed in range(given.seed, given.seed + given.runs)]
            done = np.array([each for each in every if each is not None])
            ratio = float(np.sqrt(np.mean(done[:, 0] ** 2) / np.mean(done[:, 2] ** 2)))
            held = 100.0 * float(np.mean(np.abs(done[:, 0]) <= COVERAGE * done[:, 1]))
            print(
                f"{noise_ohm:12.3f} {ratio:18.3f} {100.0 * float(np.median(done[:, 2])):16.4f} {held:12.1f}% "
                f"{len(every) - len(done):13d}",
                flush=True,
            )
    print_driver_errors(given.pairs, given.seed)
    print(f"{given.pairs} pairs of virtual cabinets, from seed {given.seed}")
    print(
        f"{'the left one':>28} {'held: tuning, Q':>16} {'rms error, %':>16} {'leak named alone':>17} "
        f"{'by the mate':>12}"
    )
    for leak, plugged in ((False, False), (True, False), (False, True), (True, True)):
        found = [compared(seed, leak, plugged) for seed in range(given.seed, given.seed + given.pairs)]
        kept = [each for each in found if each is not None]
        held = 100.0 * np.mean(np.array([each[0] for each in kept]) <= 1.0, axis=0)
        rms = np.sqrt(np.mean(np.square([each[1] for each in kept]), axis=0))
        alone = 100.0 * float(np.mean([each[2] >= 0.5 for each in kept]))
        by_mate = 100.0 * float(np.mean([each[3] >= 0.5 for each in kept]))
        name = f"{'leak of 20 % of Q' if leak else 'sealed'}{', plugged too' if plugged else ''}"
        print(
            f"{name:>28} {held[0]:7.0f}% {held[1]:6.0f}% {rms[0]:8.3f} {rms[1]:7.2f} {alone:16.0f}% {by_mate:11.0f}%",
            flush=True,
        )


if __name__ == "__main__":
    main()
