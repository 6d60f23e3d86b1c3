"""How often the judgement is right, as a confusion matrix over virtual cabinets with one fault each.

    python -m tests.benchmarks.judgement [--cabinets 40] [--seed 0] [--workers 2]

The cabinets are those of judgement_cases.py: the virtual cabinet's own physics, drivers that scatter. Each is judged by
the curve with the vent open alone, by that and the one with the vent plugged, and by these and the driver's own.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from tests.benchmarks.judgement_cases import KINDS, Case, draw_case

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
    area_ratio: leak's area as told over the true one; None where no leak was told or is there
    reached: tuning after the vent's length is changed as told, over the target; None without such advice
    """

    kind: str
    curves: str
    verdict: str
    first: str | None
    named: tuple[tuple[str, float], ...]
    area_ratio: float | None
    reached: float | None


def outcomes(job: tuple[str, int]) -> list[Outcome]:
    """Return the outcome for each set of curves of the cabinet with this fault and seed; empty where there is none."""
    case = draw_case(*job)
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
    for curves in ROLES:
        here = [one for one in done if one.curves == curves]
        lines += [
            f"{curves}:",
            f"  {'the cabinet':18} {'n':>3} {'good':>5} {'right first':>11} {'named':>6}  first, if not right",
        ]
        for kind in KINDS:
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
        lines += ["  stated probability against frequency, by tenths:", *_calibration(here), ""]
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
    pairs = [(p, fault in RIGHT[one.kind]) for one in here for fault, p in one.named]
    rows = []
    for tenth in range(10):
        inside = [(p, ok) for p, ok in pairs if min(int(10 * p), 9) == tenth]
        if inside:
            stated, true = np.mean(np.array(inside, dtype=np.float64), axis=0)
            rows.append(f"    stated {100 * stated:3.0f} %, true {100 * true:3.0f} % of {len(inside)}")
    return rows


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cabinets", type=int, default=40, help="of each kind")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    jobs = [(kind, seed) for seed in range(given.seed, given.seed + given.cabinets) for kind in KINDS]
    with ProcessPoolExecutor(given.workers) as pool:
        done = [one for found in pool.map(outcomes, jobs, chunksize=4) for one in found]
    print(f"{given.cabinets} cabinets of each kind from seed {given.seed}")
    print(table(done))


if __name__ == "__main__":
    main()
