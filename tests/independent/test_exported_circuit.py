"""The exported SPICE subcircuit in ngspice: against the circuit's formula, and against measured curves."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.ngspice import impedance_by_ngspice

from sealtune.analysis.as_measured import circuit_as_measured
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.files.spice import subcircuit, subcircuit_name
from sealtune.files.table_noise import noise_of_table
from sealtune.physics.crossover import impedance_behind
from sealtune.physics.part_network import part_network
from sealtune.physics.vented_box import VentedBox, impedance
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover
from sealtune.virtual.cabinet import Losses, cabinet_from_design
from sealtune.virtual.faults import apply_fault
from sealtune.virtual.parts import Panel
from sealtune.virtual.population import draw_crossover, draw_design

needs_ngspice = pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")

WALL_HZ = 207.0
HZ = np.sort(np.append(np.geomspace(4.0, 1000.0, 90), WALL_HZ))

BOX = VentedBox(
    re_ohm=5.6, coil_ohm=1.9, coil_exponent=0.68, coil_h=2e-4, coil_shunt_s=0.03, res_ohm=55.0,
    ws_rad_s=2.0 * np.pi * 46.0, qms=4.6, creep=0.1, alpha=1.2, wb_rad_s=2.0 * np.pi * 43.0,
    leakage=1 / 25, friction=1 / 40, absorption=1 / 50, plain_share=0.2, volume_m3=0.018, duct_share=0.03,
)  # fmt: skip
PLAIN = replace(
    BOX, creep=0.0, leakage=0.0, friction=0.0, absorption=0.0, volume_m3=0.0, duct_share=0.0, coil_shunt_s=0.0
)


@needs_ngspice
@pytest.mark.parametrize(
    ("changed", "crossover"),
    [
        ({}, None),
        ({"leak_ratio": 0.15, "leak_time_s": 6e-3}, None),
        ({"leak_ratio": 0.2, "leak_time_s": 0.6, "leak_shape": "hole"}, None),
        ({"panel_ratio": 0.008, "panel_rad_s": 2.0 * np.pi * WALL_HZ, "panel_loss": 0.04}, None),
        ({"coil_exponent": 0.95, "coil_shunt_s": 0.2}, None),
        ({}, Crossover(series_h=1.5e-3, series_ohm=0.3, shunt_f=2e-5, shunt_ohm=0.5)),
        ({}, Crossover(series_h=1.5e-3, series_ohm=0.3, shunt_f=2e-5)),
        ({}, Crossover(series_h=0.5e-3, shunt_ohm=22.0)),
    ],
    ids=["all losses", "gap", "hole", "wall", "bridged coil", "low-pass", "capacitor", "resistor"],
)
def test_ngspice_gives_the_impedance_of_the_formula(
    changed: dict[str, Any], crossover: Crossover | None, tmp_path: Path
) -> None:
    # independent: ngspice solves the parts; the formula knows none of them
    box = replace(BOX, **changed)
    s = np.asarray(2j * np.pi * HZ, dtype=np.complex128)
    wanted = impedance_behind(s, crossover, impedance(s, box))
    file = tmp_path / "box.cir"
    file.write_text(subcircuit("box", part_network(box, crossover)))
    np.testing.assert_allclose(impedance_by_ngspice(file, "box", HZ, tmp_path), wanted, rtol=4e-3)
    if changed or crossover:  # what was added shows, so that leaving it out would not pass
        assert np.abs(wanted / impedance(s, BOX) - 1.0).max() > 0.02


@needs_ngspice
def test_without_losses_ngspice_gives_the_closed_form(tmp_path: Path) -> None:
    # exact: Small's lossless box, whose parts follow in closed form; only the semi-inductor is a ladder
    file = tmp_path / "box.cir"
    parts = part_network(PLAIN)
    file.write_text(subcircuit("box", parts))
    s = np.asarray(2j * np.pi * HZ, dtype=np.complex128)
    np.testing.assert_allclose(
        impedance_by_ngspice(file, "box", HZ, tmp_path), impedance(s, PLAIN), rtol=2e-3
    )
    value = {part.group: part.value for part in parts if part.group in ("mass", "spring", "air", "vent")}
    assert 1.0 / np.sqrt(value["mass"] * value["spring"]) == pytest.approx(PLAIN.ws_rad_s, rel=1e-12)
    assert 1.0 / np.sqrt(value["air"] * value["vent"]) == pytest.approx(PLAIN.wb_rad_s, rel=1e-12)
    assert value["spring"] / value["air"] == pytest.approx(PLAIN.alpha, rel=1e-12)


@needs_ngspice
@pytest.mark.parametrize(
    ("seed", "fault", "hidden"),
    [(1, "none", False), (2, "leak", False), (3, "vent_short", False), (4, "leak", True)],
    ids=["sealed", "leak", "short vent", "leak behind a crossover"],
)
def test_ngspice_gives_the_measured_curve(seed: int, fault: str, hidden: bool, tmp_path: Path) -> None:
    # independent: the virtual cabinet's own physics (a vent as a transmission line) measured as a table; aim 2 %
    rng = np.random.default_rng(seed)
    design = replace(draw_design(rng), crossover=None)
    losses = Losses(creep=0.12, panel=Panel(260.0, 25.0, 0.004) if seed == 3 else None)
    cabinet = apply_fault(cabinet_from_design(design, rng, losses=losses), fault, 0.5, rng)
    if hidden:
        cabinet = replace(cabinet, crossover=draw_crossover(rng))
    hz = np.geomspace(5.0, 800.0, 700)
    z = cabinet.impedance(hz) * (1.0 + 3e-4 * (rng.standard_normal(700) + 1j * rng.standard_normal(700)))
    curve = ImpedanceCurve(hz, z, noise_of_table(hz, z))
    fit = fit_vented_box(curve, find_landmarks(curve), design)
    assert fit is not None
    found = circuit_as_measured(fit, curve, design)
    assert found is not None
    file = tmp_path / "box.cir"
    file.write_text(subcircuit("box", part_network(*found)))
    band = np.flatnonzero((hz >= 15.0) & (hz <= 200.0))[::4]
    np.testing.assert_allclose(impedance_by_ngspice(file, "box", hz[band], tmp_path), z[band], rtol=0.02)


def test_the_file_holds_one_subcircuit_of_plain_positive_parts() -> None:
    box = replace(BOX, leak_ratio=0.15, panel_ratio=0.008)
    text = subcircuit("box_left", part_network(box), ["left\n.include evil", "größer"])
    lines = [line for line in text.splitlines() if not line.startswith("*")]
    assert lines[0] == ".subckt box_left plus minus"
    assert lines[-1] == ".ends box_left"
    assert text.count(".subckt") == 1
    names = set()
    for line in lines[1:-1]:
        part = re.fullmatch(r"([RLC][a-z]+\d+) (\w+) (\w+) ([0-9.e+-]+)", line)
        assert part, line
        assert float(part[4]) > 0.0
        assert part[2] != part[3]
        names.add(part[1].lower())
    assert len(names) == len(lines) - 2
    assert "evil" not in "".join(lines)


def test_a_suspension_that_would_give_power_counts_as_one_that_does_not_creep() -> None:
    # exact: no network of positive parts stiffens the longer it is pushed
    assert part_network(replace(BOX, creep=-0.05)) == part_network(replace(BOX, creep=0.0))


@pytest.mark.parametrize(
    ("cabinet", "name"),
    [("left", "box_left"), ("Böx 3; .end", "box_b_x_3_end"), ("...", "box_measured"), ("", "box_measured")],
)
def test_names_that_every_simulator_takes(cabinet: str, name: str) -> None:
    assert subcircuit_name(cabinet) == name
