"""How far ngspice on the exported circuit is from the measured curve, 15 to 200 Hz, on virtual cabinets.

    python -m tests.benchmarks.exported_circuit [--cabinets 100] [--seed 20260] [--hidden-crossovers]

Needs ngspice. The cabinets are those of tuning_error.py: mixed losses, crossovers, ringing walls, one in two leaks.
Three distances are printed, each the largest over the band in percent of |Z|: of ngspice from the measured curve (aim:
2), of the circuit's formula from the measured curve (what the fit leaves), and of ngspice from the formula (what the
ladders of plain parts leave).
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np
from tests.benchmarks.tuning_error import drawn, recorded
from tests.ngspice import impedance_by_ngspice

from sealtune.analysis.as_measured import circuit_as_measured
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.files.spice import subcircuit
from sealtune.physics.crossover import impedance_behind
from sealtune.physics.part_network import part_network
from sealtune.physics.vented_box import impedance

LOW_HZ, HIGH_HZ = 15.0, 200.0
POINTS = 150


def one(seed: int, hidden: bool, folder: Path) -> tuple[float, float, float, int] | None:
    """Return the three distances in percent and the number of parts, None where no circuit was fitted."""
    design, cabinet, rng = drawn(seed, hidden=hidden)
    curve = recorded(cabinet, rng)
    fit = fit_vented_box(curve, find_landmarks(curve), design)
    if fit is None:
        return None
    inside = np.flatnonzero((curve.frequency_hz >= LOW_HZ) & (curve.frequency_hz <= HIGH_HZ))
    chosen = inside[:: max(1, inside.size // POINTS)]
    hz, measured = curve.frequency_hz[chosen], curve.impedance_ohm[chosen]
    found = circuit_as_measured(fit, curve, design)
    if found is None:
        return None
    box, crossover = found
    parts = part_network(box, crossover)
    file = folder / "box.cir"
    file.write_text(subcircuit("box", parts))
    s = np.asarray(2j * np.pi * hz, dtype=np.complex128)
    formula = impedance_behind(s, crossover, impedance(s, box))
    spice = impedance_by_ngspice(file, "box", hz, folder)
    pairs = ((spice, measured), (formula, measured), (spice, formula))
    first, second, third = (100.0 * float(np.abs(a / b - 1.0).max()) for a, b in pairs)
    return first, second, third, len(parts)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cabinets", type=int, default=100)
    parser.add_argument("--seed", type=int, default=20260)
    parser.add_argument("--hidden-crossovers", action="store_true")
    given = parser.parse_args()
    if shutil.which("ngspice") is None:
        sys.exit("needs ngspice")
    with tempfile.TemporaryDirectory() as folder:
        found = [
            one(given.seed + place, given.hidden_crossovers, Path(folder)) for place in range(given.cabinets)
        ]
    rows = np.array([row for row in found if row is not None])
    print(f"{len(rows)} of {given.cabinets} cabinets from seed {given.seed} with a fitted circuit")
    print(f"{'largest distance, percent':34}{'median':>9}{'95 %':>9}{'largest':>9}")
    for column, name in enumerate(
        ("ngspice from the measured curve", "formula from it", "ngspice from the formula")
    ):
        median, high = np.percentile(rows[:, column], [50, 95])
        print(f"{name:34}{median:9.4f}{high:9.4f}{rows[:, column].max():9.4f}")
    print(
        f"within 2 %: {100.0 * np.mean(rows[:, 0] <= 2.0):.0f} %; parts: {np.median(rows[:, 3]):.0f} in the middle case"
    )
    worst = np.argsort(rows[:, 0])[-3:][::-1]
    seeds = [given.seed + place for place, row in enumerate(found) if row is not None]
    print("farthest:", ", ".join(f"seed {seeds[place]} {rows[place, 0]:.2f} %" for place in worst))


if __name__ == "__main__":
    main()
