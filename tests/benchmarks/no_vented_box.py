"""Curves of loads that are no vented box, through `check`: how often each verdict comes, and what is named.

    python -m tests.benchmarks.no_vented_box [--draws 40] [--seed 0] [--only WORD] [--notes]

Every draw is a random load of tests/other_loads.py as a table of 300 rows from 8 to 500 Hz with 0.1 to 0.5 % of noise.
It is judged without a design, and with that of a vented box for the same driver. None may come out as good.
"""

from __future__ import annotations

import argparse
import tempfile
import warnings
from collections import Counter
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from tests.other_loads import BULK, LOADS, Cone, draw_cone

from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions
from sealtune.records.verdict import Result

HZ = np.geomspace(8.0, 500.0, 300)


def design_text(cone: Cone, rng: np.random.Generator) -> str:
    """Return a design file: this driver in a vented box, at a usual volume and tuning."""
    volume_m3 = cone.vas_m3 / float(rng.uniform(0.5, 3.0))
    target_hz = cone.fs_hz * float(rng.uniform(0.75, 1.25))
    area_m2 = 0.2 * cone.area_m2
    length_m = max(
        BULK / 1.2 * area_m2 / (volume_m3 * (2 * np.pi * target_hz) ** 2) - 0.8 * np.sqrt(area_m2), 0.02
    )
    return (
        f"[box]\nvolume_l = {1e3 * volume_m3:.3f}\n[vent]\nshape = 'round'\n"
        f"diameter_mm = {2e3 * np.sqrt(area_m2 / np.pi):.2f}\nlength_mm = {1e3 * length_m:.1f}\n"
        f"[tuning]\ntarget_hz = {target_hz:.2f}\n[driver]\nfs_hz = {cone.fs_hz:.2f}\nqms = {cone.qms:.3f}\n"
        f"qes = {cone.qes:.4f}\nre_ohm = {cone.re_ohm:.3f}\nvas_l = {1e3 * cone.vas_m3:.3f}\n"
        f"sd_cm2 = {1e4 * cone.area_m2:.2f}\n"
    )


def table_text(hz: NDArray[np.float64], z: NDArray[np.complex128]) -> str:
    """Return the curve as a table."""
    rows = (f"{f:.5f},{abs(v):.6g},{np.degrees(np.angle(v)):.5f}\n" for f, v in zip(hz, z, strict=True))
    return "frequency_hz,magnitude_ohm,phase_deg\n" + "".join(rows)


def judged(kind: str, seed: int, folder: Path) -> tuple[Result, Result]:
    """Return the verdicts on one draw, without and with a design; the same for the same seed."""
    rng = np.random.default_rng([seed, list(LOADS).index(kind)])
    cone = draw_cone(rng)
    z = LOADS[kind](rng, np.asarray(2j * np.pi * HZ), cone)
    noise = float(rng.uniform(0.001, 0.005)) * np.abs(z)
    z = z + noise * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
    path, design = folder / "open.csv", folder / "meant.toml"
    path.write_text(table_text(HZ, z))
    design.write_text(design_text(cone, rng))
    return check(path, CheckOptions()), check(path, CheckOptions(design=design))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--draws", type=int, default=40)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", default="")
    parser.add_argument("--notes", action="store_true", help="also tell each draw that came out as good")
    given = parser.parse_args()
    warnings.simplefilter("ignore")
    print(f"{'load':20} {'design':7} {'good':>5} {'rework':>7} {'remeasure':>10}  named first")
    notes = []
    total: Counter[str] = Counter()
    for kind in LOADS:
        if given.only not in kind:
            continue
        counts: dict[str, Counter[str]] = {"without": Counter(), "with": Counter()}
        named: dict[str, Counter[str]] = {"without": Counter(), "with": Counter()}
        for seed in range(given.seed, given.seed + given.draws):
            with tempfile.TemporaryDirectory() as name:
                for how, result in zip(counts, judged(kind, seed, Path(name)), strict=True):
                    counts[how][result.verdict] += 1
                    total[result.verdict] += 1
                    first = [finding.fault for finding in result.findings] + [
                        p.problem for p in result.problems
                    ]
                    named[how][first[0] if first else "-"] += 1
                    if result.verdict == "good":
                        notes.append(
                            f"{kind}, seed {seed}, {how} a design: {result.summary} "
                            f"fit {100 * result.fit.residual:.2f} %"
                            if result.fit
                            else ""
                        )
        for how in counts:
            c = counts[how]
            words = ", ".join(f"{word} {count}" for word, count in named[how].most_common(4))
            print(
                f"{kind:20} {how:7} {c['good'] or '.':>5} {c['rework'] or '.':>7} {c['remeasure'] or '.':>10}  {words}",
                flush=True,
            )
    print(f"\ngood: {total['good']} of {total.total()}")
    if given.notes:
        print("\n" + "\n".join(notes))


if __name__ == "__main__":
    main()
