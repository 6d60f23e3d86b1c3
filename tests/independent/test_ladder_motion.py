"""Cone, vent, sound and impedance of the textbook circuit against ngspice, built from parts in SI units.

Electrical side, moving mass, suspension and air are three circuits joined by controlled sources: nothing of the program
goes into them but the data of a driver and a box.
"""

import shutil
import subprocess
from dataclasses import dataclass
from math import pi
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.physics.air import standard_air
from sealtune.physics.crossover import impedance_behind, source
from sealtune.physics.loudspeaker import (
    Loudspeaker,
    Motion,
    impedance_ratio,
    motion,
    passband_level_db,
    static_volume_m3,
)
from sealtune.records.design import Crossover

pytestmark = pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")

LOW_HZ, HIGH_HZ, COUNT = 5, 500, 201
AIR = standard_air()
RE, BL, MMS, CMS, RMS, SD = 5.6, 6.3, 0.0142, 8.2e-4, 0.9, 0.0136
VOLUME, TUNING_HZ, QL, QA, QP = 0.019, 43.0, 11.0, 40.0, 28.0


@dataclass(frozen=True)
class Seen:
    hz: NDArray[np.float64]
    cone_m: NDArray[np.complex128]
    vent_m3_s: NDArray[np.complex128]
    spring_m3_s: NDArray[np.complex128]
    z_ohm: NDArray[np.complex128]


def by_ngspice(folder: Path, *, closed: bool, crossover: Crossover | None) -> Seen:
    table, circuit = folder / "moved.txt", folder / "box.cir"
    cab = VOLUME / AIR.bulk_modulus_pa
    wb = 2 * pi * TUNING_HZ
    mass = 1.0 / (wb**2 * cab)
    before = ["VZ amp in 0"]
    if crossover is not None:
        before = [
            f"RX amp x1 {crossover.series_ohm!r}", f"LX x1 in {crossover.series_h!r}",
            f"CX in x2 {crossover.shunt_f!r}", f"RSX x2 0 {crossover.shunt_ohm!r}",
        ]  # fmt: skip
    vent = [] if closed else [f"LV p v1 {mass!r}", f"RV v1 v2 {wb * mass / QP!r}", "VVENT v2 0 0"]
    lines = [
        "* a driver in its box",
        "VE amp 0 AC 1", *before,
        f"RE in a {RE!r}", "VCOIL a b 0", f"HEMF b 0 VCONE {BL!r}",
        f"HFORCE m0 0 VCOIL {BL!r}", f"LM m0 m1 {MMS!r}", f"RM m1 m2 {RMS!r}", f"CM m2 m3 {CMS!r}",
        "VCONE m3 m4 0", f"EPRESS m4 0 p 0 {SD!r}", f"FFLOW 0 p VCONE {SD!r}",
        f"CB p s1 {cab!r}", f"RA s1 s2 {1.0 / (wb * cab * QA)!r}", "VSPRING s2 0 0",
        f"RL p 0 {QL / (wb * cab)!r}", *vent,
        f".ac lin {COUNT} {LOW_HZ} {HIGH_HZ}",
        ".control", "set numdgt=12", "run",
        f"wrdata {table} i(VCONE) {'i(VCONE)' if closed else 'i(VVENT)'} i(VSPRING) i(VE)",
        "quit", ".endc", ".end",
    ]  # fmt: skip
    circuit.write_text("\n".join(lines) + "\n")
    subprocess.run(["ngspice", "-b", str(circuit)], check=True, capture_output=True, timeout=60)
    columns = np.loadtxt(table)
    assert columns.shape == (COUNT, 12)
    currents = [columns[:, 3 * place + 1] + 1j * columns[:, 3 * place + 2] for place in range(4)]
    hz = columns[:, 0]
    z = np.asarray(-1.0 / currents[3], dtype=np.complex128)
    return Seen(hz, currents[0] / (2j * pi * hz), currents[1], currents[2], z)


def textbook() -> tuple[Loudspeaker, float]:
    ws = 1.0 / np.sqrt(MMS * CMS)
    vas = AIR.bulk_modulus_pa * SD**2 * CMS
    qes = ws * MMS * RE / BL**2
    box = Loudspeaker(ws, ws * MMS / RMS, qes, vas / VOLUME, 2 * pi * TUNING_HZ, 1 / QL, 1 / QP, 1 / QA)
    return box, static_volume_m3(ws, qes, vas, AIR) / np.sqrt(RE)  # 1 V is 1/R_E watts


def seen_by_program(
    hz: NDArray[np.float64], *, closed: bool, crossover: Crossover | None
) -> tuple[Motion, NDArray[np.complex128], float]:
    box, volume = textbook()
    s = np.asarray(2j * pi * hz, dtype=np.complex128)
    u, z = source(s, crossover)
    moved = motion(s, box, closed=closed, feed=(u, RE / (RE + z)))
    return moved, impedance_behind(s, crossover, RE * impedance_ratio(s, box, closed=closed)), volume


@pytest.mark.parametrize("closed", [False, True], ids=["vented", "closed"])
@pytest.mark.parametrize(
    "crossover", [None, Crossover(1.1e-3, 0.4, 18e-6, 2.2)], ids=["straight", "crossover"]
)
def test_against_ngspice(tmp_path: Path, closed: bool, crossover: Crossover | None) -> None:
    # Independent: ngspice, AC analysis; its output carries 6 to 7 digits.
    spice = by_ngspice(tmp_path, closed=closed, crossover=crossover)
    moved, z, volume = seen_by_program(spice.hz, closed=closed, crossover=crossover)
    box, _ = textbook()
    assert moved.cone * volume / SD == pytest.approx(spice.cone_m, rel=1e-5)
    if not closed:
        assert moved.vent * volume == pytest.approx(spice.vent_m3_s, rel=1e-5)
    s = 2j * pi * spice.hz
    assert moved.sound * volume * box.ws_rad_s**2 == pytest.approx(s * spice.spring_m3_s, rel=1e-5)
    assert z == pytest.approx(spice.z_ohm, rel=1e-5)


def test_level_far_above_the_resonances(tmp_path: Path) -> None:
    # Independent: pressure rho/(2 pi r) times the volume acceleration of ngspice, at 500 Hz, for 1 W = sqrt(R_E) V.
    spice = by_ngspice(tmp_path, closed=True, crossover=None)
    acceleration = 2 * pi * spice.hz[-1] * abs(spice.spring_m3_s[-1]) * np.sqrt(RE)
    level = 20 * np.log10(AIR.density_kg_m3 / (2 * pi) * acceleration / 20e-6)
    box, _ = textbook()
    vas = AIR.bulk_modulus_pa * SD**2 * CMS
    assert passband_level_db(float(box.ws_rad_s), float(box.qes), vas, AIR) == pytest.approx(level, abs=0.2)
    # Published [Small1972]: eta_0 = 4 pi^2 f_S^3 V_AS / (c^3 Q_ES), and 112.1 dB for 1 W of sound in half space at 1 m.
    eta = 4 * pi**2 * (float(box.ws_rad_s) / (2 * pi)) ** 3 * vas / (AIR.speed_m_s**3 * float(box.qes))
    assert passband_level_db(float(box.ws_rad_s), float(box.qes), vas, AIR) == pytest.approx(
        112.1 + 10 * np.log10(eta), abs=0.1
    )
