"""How often the judgement is right, as a confusion matrix over virtual cabinets with one fault each.

    python -m tests.benchmarks.judgement [--cabinets 40] [--seed 0] [--workers 2] [--independent]
    python -m tests.benchmarks.judgement --mixed

The cabinets are those of judgement_cases.py: the virtual cabinet's own physics, drivers that scatter. Each is judged by
the curve with the vent open alone, by that and the one with the vent plugged, and by these and the driver's own.

Whether stated probabilities are as frequent as stated depends on what comes to the bench. `--mixed` draws each fault
of the virtual cabinet at any severity, as many of each, and counts them by how often they are met (MIXED); the equal
numbers of the first command would be no fair test of that.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from typing import get_args

import numpy as np
from tests.benchmarks.judgement_cases import KINDS, MIXED, Case, draw_case

from sealtune.analysis.curve_faults import curve_problems
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.design.prediction import predict
from sealtune.judgement.evidence import Evidence
from sealtune.judgement.judge import judge
from sealtune.physics.air import standard_air
from sealtune.records.recording import Role
from sealtune.records.verdict import FaultName, Result

RIGHT: dict[str, tuple[FaultName, ...]] = {
    "sealed": (),
    "leak halves Q": ("leak",),
    "hole tunes high": ("leak",),
    "leak costs 20 %": ("leak",),
    "vent 10 % off": ("vent_long", "vent_short"),
    "volume 25 % off": ("volume_small", "volume_large"),
    "blocked": ("vent_blocked",),
    "lined": ("vent_lined",),
    "overstuffed": ("overstuffed",),
    "series resistance": ("series_resistance",),
    "none": (),
    "leak_slit": ("leak",),
    "leak_hole": ("leak",),
    **{name: (name,) for name in get_args(FaultName)},
}

ROLES: dict[str, tuple[Role, ...]] = {
    "open alone": (),
    "with plugged": ("plugged",),
    "with plugged and free-air": ("plugged", "free-air"),
}


@dataclass(frozen=True)
class Outcome:
    """What the judgement of one cabinet by one set of curves came to.

    first: the likeliest finding, None for none; named: all findings with their probabilities
    leak: probability of a leak
    area_ratio: leak's area as told over the true one; None where no leak was told or is there
    reached: tuning after the vent's length is changed as told, over the target; None without such advice
    """

    kind: str
    curves: str
    verdict: str
    first: str | None
    named: tuple[tuple[str, float], ...]
    leak: float
    area_ratio: float | None
    reached: float | None


def outcomes(job: tuple[str, int, bool]) -> list[Outcome]:
    """Return the outcome for each set of curves of the cabinet with this fault and seed; empty where there is none."""
    kind, seed, independent = job
    case = draw_case(kind, seed, independent=independent)
    if case is None:
        return []
    curve, air = case.curves["open"], standard_air()
    marks = find_landmarks(curve)
    found = []
    for name, roles in ROLES.items():
        fit = fit_vented_box(curve, marks, case.design, {role: case.curves[role] for role in roles})
        evidence = Evidence(
            "box", design=case.design, prediction=predict(case.design, air), curve=curve, landmarks=marks, fit=fit,
            problems=tuple(curve_problems(curve, marks)),
        )  # fmt: skip
        found.append(_outcome(case, name, judge(evidence, air)))
    return found


def _outcome(case: Case, curves: str, result: Result) -> Outcome:
    area, true_area = result.leak.area_mm2, 1e6 * case.cabinet.truth().leak_area_m2
    told = area is not None and area.value > 0.0 and true_area > 0.0
    return Outcome(
        case.kind,
        curves,
        result.verdict,
        result.findings[0].fault if result.findings else None,
        tuple((finding.fault, finding.probability) for finding in result.findings),
        result.leak.probability,
        area.value / true_area if told and area is not None else None,
        _reached(case, result),
    )


def _reached(case: Case, result: Result) -> float | None:
    change, cabinet = result.length_change_m, case.cabinet
    if change is None or cabinet.vent is None or case.kind != "vent 10 % off":
        return None
    length = cabinet.vent.length_m + change.value
    if length <= 0.0:
        return None
    changed = replace(cabinet, vent=replace(cabinet.vent, length_m=length))
    tuning, target = changed.truth().tuning_hz, case.design.tuning.target_hz
    return None if tuning is None or target is None else tuning / target


def table(done: Sequence[Outcome]) -> str:
    """Return the confusion matrices and the figures as text."""
    lines: list[str] = []
    kinds = list(dict.fromkeys(one.kind for one in done))
    for curves in ROLES:
        here = [one for one in done if one.curves == curves]
        lines += [
            f"{curves}:",
            f"  {'the cabinet':18} {'n':>3} {'good':>5} {'right first':>11} {'named':>6}  first, if not right",
        ]
        for kind in kinds:
            lines.append(_row(kind, [one for one in here if one.kind == kind]))
        ratios = np.array([one.area_ratio for one in here if one.area_ratio is not None])
        if ratios.size:
            within = np.mean(np.abs(np.log(ratios)) < np.log(1.5))
            lines.append(f"  area of the leak within a factor of 1.5: {100 * within:.0f} % of {ratios.size}")
        reached = np.array([one.reached for one in here if one.reached is not None])
        if reached.size:
            off = 100 * np.percentile(np.abs(reached - 1.0), 95)
            lines.append(
                f"  tuning after the change of length that is told: within {off:.1f} % in 95 % of {reached.size}"
            )
        if set(kinds) <= set(MIXED):
            lines += ["  stated probability against frequency, by tenths:", *_calibration(here)]
        lines.append("")
    return "\n".join(lines)


def _row(kind: str, here: Sequence[Outcome]) -> str:
    right = RIGHT[kind]
    first = [one.first in right if right else one.verdict == "good" for one in here]
    named = [any(fault in right for fault, _ in one.named) for one in here]
    if not right:  # of sealed boxes: a leak named by mistake
        named = [any(fault == "leak" for fault, _ in one.named) for one in here]
    wrong = Counter(one.first or one.verdict for one, ok in zip(here, first, strict=True) if not ok)
    return (
        f"  {kind:18} {len(here):3d} {100 * np.mean([one.verdict == 'good' for one in here]):4.0f}% "
        f"{100 * np.mean(first):10.0f}% {100 * np.mean(named):5.0f}%  "
        + ", ".join(f"{name} {count}" for name, count in wrong.most_common(4))
    )


def _calibration(here: Sequence[Outcome]) -> list[str]:
    """Return stated probabilities of findings, and of a leak where none is named, beside how often they are true."""
    count = Counter(one.kind for one in here)
    told: list[tuple[float, float, float]] = []
    for one in here:
        weight = MIXED[one.kind] / count[one.kind]
        named = dict(one.named)
        named.setdefault("leak", one.leak)
        told += [(p, float(fault in RIGHT[one.kind]), weight) for fault, p in named.items()]
    stated, true, weight = np.array(told).T
    tenth = np.minimum((10.0 * stated).astype(int), 9)
    rows = []
    for each in range(10):
        inside = tenth == each
        if inside.any():
            share = weight[inside] / weight[inside].sum()
            p, often = float(share @ stated[inside]), float(share @ true[inside])
            alone = float(np.sqrt(max(often * (1.0 - often), 0.0) * (share**2).sum()))
            rows.append(
                f"    stated {100 * p:3.0f} %, true {100 * often:3.0f} +- {100 * alone:2.0f} % of {inside.sum()}"
            )
    return rows


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cabinets", type=int, default=40, help="of each kind")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument(
        "--independent", action="store_true", help="f_S and V_AS scatter independently of each other"
    )
    parser.add_argument(
        "--mixed", action="store_true", help="all faults at any severity, for the calibration"
    )
    given = parser.parse_args()
    kinds = tuple(MIXED) if given.mixed else KINDS
    jobs = [
        (kind, seed, given.independent)
        for seed in range(given.seed, given.seed + given.cabinets)
        for kind in kinds
    ]
    with ProcessPoolExecutor(given.workers) as pool:
        done = [one for found in pool.map(outcomes, jobs, chunksize=4) for one in found]
    print(f"{given.cabinets} cabinets of each kind from seed {given.seed}")
    print(table(done))


if __name__ == "__main__":
    main()
