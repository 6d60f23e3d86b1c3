"""The acoustic sum and the near-field tuning against ngspice's volume velocities, and Thiele's alignments as the sum.

ngspice solves driver and box, built from parts in SI units; the pressure that a microphone reads at each opening
follows from the volume velocity by Keele's equation, and the program is given nothing else.
"""

import shutil
import subprocess
from dataclasses import replace
from math import pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.design.prediction import predict
from sealtune.judgement.near_field import Known, assess
from sealtune.physics.air import standard_air
from sealtune.physics.alignment import Family, align
from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.records.near_field import NearField, Reading

AIR = standard_air()
FS_HZ, QMS, SD, SV = 40.0, 5.0, 0.0220, 0.0050
RE, MMS = 6.0, 0.030
HZ = np.geomspace(8.0, 900.0, 700)
Complexes = NDArray[np.complex128]


def by_ngspice(
    folder: Path, *, qt: float, alpha: float, tuning_hz: float, ql: float, qms: float = QMS
) -> tuple[NDArray[np.float64], Complexes, Complexes, Complexes]:
    """Return frequency and the volume velocities of cone and vent outwards, and of the leak, per volt."""
    table, circuit = folder / "moved.txt", folder / "box.cir"
    ws, wb = 2 * pi * FS_HZ, 2 * pi * tuning_hz
    qes = 1.0 / (1.0 / qt - 1.0 / qms)
    bl, cms, rms = sqrt(ws * MMS * RE / qes), 1.0 / (ws**2 * MMS), ws * MMS / qms
    cab = SD**2 * cms / alpha
    lines = [
        "* a driver in its box", "VE amp 0 AC 1", f"RE amp a {RE!r}", "VCOIL a b 0", f"HEMF b 0 VCONE {bl!r}",
        f"HFORCE m0 0 VCOIL {bl!r}", f"LM m0 m1 {MMS!r}", f"RM m1 m2 {rms!r}", f"CM m2 m3 {cms!r}",
        "VCONE m3 m4 0", f"EPRESS m4 0 p 0 {SD!r}", f"FFLOW 0 p VCONE {SD!r}", f"CB p 0 {cab!r}",
        f"RL p l {ql / (wb * cab)!r}", "VLEAK l 0 0", f"LV p v1 {1.0 / (wb**2 * cab)!r}", "VVENT v1 0 0",
        ".ac dec 400 8 900", ".control", "set numdgt=12", "run",
        f"wrdata {table} i(VCONE) i(VVENT) i(VLEAK)", "quit", ".endc", ".end",
    ]  # fmt: skip
    circuit.write_text("\n".join(lines) + "\n")
    subprocess.run(["ngspice", "-b", str(circuit)], check=True, capture_output=True, timeout=60)
    columns = np.loadtxt(table)
    cone, vent, leak = (columns[:, 3 * n + 1] + 1j * columns[:, 3 * n + 2] for n in range(3))
    # ngspice counts the cone's flow into the box; outwards the air of the vent and of the leak has the other sign
    return columns[:, 0], np.asarray(SD * cone), np.asarray(-vent), np.asarray(-leak)


def design(*, qt: float, alpha: float, tuning_hz: float) -> Design:
    vas = AIR.bulk_modulus_pa * SD**2 / ((2 * pi * FS_HZ) ** 2 * MMS)
    return Design(
        name="alignment",
        box=Box(vas / alpha),
        vent=Vent("round", SV, 0.001),  # ngspice's is a lump: no sound takes time in it
        tuning=Tuning(tuning_hz),
        driver=Driver(
            fs_hz=FS_HZ, qms=QMS, qes=1.0 / (1.0 / qt - 1.0 / QMS), vas_m3=vas, re_ohm=RE, sd_m2=SD, count=1
        ),
    )


def near_field(
    hz: NDArray[np.float64], cone: Complexes, vent: Complexes, kappa: float, of: Design,
    *, apart_m: float | None = None, at_cone_db: float = 0.0,
) -> NearField:  # fmt: skip
    """Return what the program makes of Keele's pressures, with the vent's sound a/(2 d) = kappa at the cone.

    apart_m: way of the sound between the two; None for d, at most 0.6 m
    at_cone_db: what the microphone before the cone loses by its distance
    """
    s = 2j * pi * hz
    a_d, a_v = sqrt(SD / pi), sqrt(SV / pi)
    reach = AIR.density_kg_m3 / (2 * pi)
    d = a_d / (2.0 * kappa)
    way = (
        min(d, 0.6) if apart_m is None else apart_m
    )  # farther apart no openings are: the cabinet shades then
    late = np.exp(-s * way / AIR.speed_m_s)

    def own(a: float) -> Complexes:
        # Exact: a piston's middle, with its droop and its mean delay
        half = pi * hz * a / AIR.speed_m_s
        return np.asarray(2.0 / a * np.sinc(half / pi) * np.exp(-1j * half))

    lost = 10.0 ** (at_cone_db / 20.0)
    p_cone = s * reach * (cone * own(a_d) * lost + vent / d * late)
    p_mouth = s * reach * (vent * own(a_v) + cone / d * late)
    at_cone, at_mouth = np.asarray(p_cone), np.asarray(p_mouth)
    readings = (
        Reading("cone", hz, at_cone, 3e-4 * np.abs(at_cone)),
        Reading("mouth", hz, at_mouth, 3e-4 * np.abs(at_mouth)),
    )
    return assess(readings[0], readings[1], Known(of, predict(of, AIR), None, AIR))


@pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")
@pytest.mark.parametrize("kappa", [0.02, 0.08, 0.2])
def test_sum_against_ngspice(tmp_path: Path, kappa: float) -> None:
    # Independent: ngspice's own total of both flows, as volume acceleration
    qt, alpha, tuning_hz = 0.405, 1.06, 40.0
    hz, cone, vent, _ = by_ngspice(tmp_path, qt=qt, alpha=alpha, tuning_hz=tuning_hz, ql=30.0)
    found = near_field(hz, cone, vent, kappa, design(qt=qt, alpha=alpha, tuning_hz=tuning_hz))
    assert found.sound is not None
    assert found.sound.by_model
    whole = 20 * np.log10(np.abs(2 * pi * hz * (cone + vent)))
    kept = (hz > 20.0) & (hz < found.sound.limit_hz * 0.99)
    off = np.interp(hz[kept], found.sound.frequency_hz, found.sound.level_db) - whole[kept]
    off -= float(np.mean(off[hz[kept] > 100.0]))
    assert np.abs(off).max() < 0.25
    assert np.ptp(whole[kept]) > 15.0  # a flat line would not pass


@pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")
@pytest.mark.parametrize("kappa", [0.02, 0.08, 0.2])
@pytest.mark.parametrize("tuning_hz", [32.0, 40.0, 50.0])
def test_tuning_against_ngspice(tmp_path: Path, kappa: float, tuning_hz: float) -> None:
    # Independent: ngspice with a vent whose resonance with the air is the tuning (exact without losses in the vent).
    # Computed in the same way: the bare minimum lies near f_B sqrt(1 - kappa), 1 to 10 % low.
    hz, cone, vent, _ = by_ngspice(tmp_path, qt=0.4, alpha=1.5, tuning_hz=tuning_hz, ql=7.0)
    found = near_field(hz, cone, vent, kappa, design(qt=0.4, alpha=1.5, tuning_hz=tuning_hz))
    assert found.tuning_hz is not None
    assert found.tuning_hz.value == pytest.approx(tuning_hz, rel=0.01)
    assert found.tuning_hz.holds(tuning_hz)
    assert found.null_hz is not None
    assert found.null_hz == pytest.approx(tuning_hz * sqrt(1.0 - kappa), rel=0.02)


@pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")
@pytest.mark.parametrize(("tuning_hz", "null_hz", "depth_db", "loudest_hz"), [
    # The box of QES 0.4, QMS 4, alpha 1.5, Q_L 7, f_S 40 Hz; digits computed from the textbook circuit in closed form
    (32.0, 31.888, -23.8, 29.01), (40.0, 39.790, -21.2, 40.00), (50.0, 49.620, -18.3, 52.49),
])  # fmt: skip
def test_neither_null_nor_maximum_is_the_tuning(
    tmp_path: Path, tuning_hz: float, null_hz: float, depth_db: float, loudest_hz: float
) -> None:
    qt, alpha = 1.0 / (1.0 / 0.4 + 1.0 / 4.0), 1.5
    hz, cone, vent, _ = by_ngspice(tmp_path, qt=qt, alpha=alpha, tuning_hz=tuning_hz, ql=7.0, qms=4.0)
    found = near_field(hz, cone, vent, 1e-5, design(qt=qt, alpha=alpha, tuning_hz=tuning_hz))
    assert found.null_hz == pytest.approx(null_hz, rel=2e-4)  # losses alone pull it down by 0.3 to 0.8 %
    assert found.sound is not None
    at, by_cone, by_vent = found.sound.frequency_hz, found.sound.cone_db, found.sound.mouth_db
    depth = np.interp(null_hz, at, by_cone) - np.interp(3.0 * tuning_hz, at, by_cone)
    assert depth == pytest.approx(depth_db, abs=0.3)
    below = at < 2.0 * tuning_hz
    assert at[below][np.argmax(by_vent[below])] == pytest.approx(loudest_hz, rel=0.01)
    # the joint model is not misled by either
    assert found.tuning_hz is not None
    assert found.tuning_hz.value == pytest.approx(tuning_hz, rel=0.003)


@pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")
@pytest.mark.parametrize(("kappa", "ql", "null_hz"), [
    # Exact without losses and delay: f_B sqrt(1 - kappa); with Q_L = 7 computed from the circuit in closed form
    (0.03, 1e5, 39.395), (0.1, 1e5, 37.947), (0.2, 1e5, 35.777), (0.03, 7.0, 39.165), (0.1, 7.0, 37.665),
    (0.2, 7.0, 35.408),
])  # fmt: skip
def test_crosstalk_pulls_the_null_away(tmp_path: Path, kappa: float, ql: float, null_hz: float) -> None:
    qt, alpha = 1.0 / (1.0 / 0.4 + 1.0 / 4.0), 1.5
    hz, cone, vent, _ = by_ngspice(tmp_path, qt=qt, alpha=alpha, tuning_hz=40.0, ql=ql, qms=4.0)
    found = near_field(hz, cone, vent, kappa, design(qt=qt, alpha=alpha, tuning_hz=40.0), apart_m=0.0)
    assert found.null_hz == pytest.approx(null_hz, rel=1e-3)
    assert found.tuning_hz is not None
    assert found.tuning_hz.value == pytest.approx(40.0, rel=0.01)
    assert found.crosstalk == pytest.approx(kappa, rel=0.25)


@pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")
def test_distance_from_the_cone_does_not_tilt_the_sum(tmp_path: Path) -> None:
    # [Keele1974]: at a tenth of the radius 0.867 dB are lost at the cone alone; Independent: ngspice's total flow
    hz, cone, vent, _ = by_ngspice(tmp_path, qt=0.405, alpha=1.06, tuning_hz=40.0, ql=30.0)
    of = design(qt=0.405, alpha=1.06, tuning_hz=40.0)
    found = near_field(hz, cone, vent, 0.08, of, at_cone_db=-0.867)
    assert found.sound is not None
    kept = (hz > 24.0) & (hz < found.sound.limit_hz * 0.99)
    whole = 20 * np.log10(np.abs(2 * pi * hz * (cone + vent)))[kept]
    off = np.interp(hz[kept], found.sound.frequency_hz, found.sound.level_db) - whole
    assert np.ptp(off) < 0.4


@pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")
def test_several_openings_are_counted(tmp_path: Path) -> None:
    # Independent: ngspice's total flow; two cones and three vents share it, the microphone stands before one of each
    hz, cone, vent, _ = by_ngspice(tmp_path, qt=0.405, alpha=1.06, tuning_hz=40.0, ql=30.0)
    one = design(qt=0.405, alpha=1.06, tuning_hz=40.0)
    assert one.driver.sd_m2 is not None
    assert one.vent is not None
    of = replace(
        one,
        driver=replace(one.driver, sd_m2=SD / 2, count=2),
        vent=replace(one.vent, area_m2=SV / 3, count=3),
    )
    s, reach, apart_m = 2j * pi * hz, AIR.density_kg_m3 / (2 * pi), 0.5
    late = np.exp(-s * apart_m / AIR.speed_m_s) / apart_m
    own = []
    for area, count in ((SD / 2, 2), (SV / 3, 3)):
        a = sqrt(area / pi)
        half = pi * hz * a / AIR.speed_m_s
        own.append(2.0 / a * np.sinc(half / pi) * np.exp(-1j * half) / count)
    at_cone = np.asarray(s * reach * (cone * own[0] + vent * late))
    at_mouth = np.asarray(s * reach * (vent * own[1] + cone * late))
    by_cone = Reading("cone", hz, at_cone, 3e-4 * np.abs(at_cone))
    by_mouth = Reading("mouth", hz, at_mouth, 3e-4 * np.abs(at_mouth))
    found = assess(by_cone, by_mouth, Known(of, predict(of, AIR), None, AIR))
    assert found.sound is not None
    assert found.mouth_excess_db == pytest.approx(0.0, abs=0.2)
    kept = (hz > 24.0) & (hz < found.sound.limit_hz * 0.99)
    whole = 20 * np.log10(np.abs(2 * pi * hz * (cone + vent)))[kept]
    off = np.interp(hz[kept], found.sound.frequency_hz, found.sound.level_db) - whole
    assert np.ptp(off) < 0.4


CASES: list[tuple[Family, float, float | None, float]] = [
    # family, Q_L, Q_T, f3/f_S
    ("B4", 7.0, None, 1.0),  # Published: tables after [Small1973], Q_T 0.4048, V_AS/V_B 1.0613
    ("Bessel", 7.0, None, 1.4941),  # Published: the same, Q_T 0.3312, V_AS/V_B 1.9076, f_B/f_S 0.97354
    ("QB3", 1e4, 0.303, 1.448),  # [Thiele1971] no. 4, from memory; digits computed independently
    ("C4", 1e4, 0.518, 0.6414),  # [Thiele1971] no. 8, likewise
]


@pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")
@pytest.mark.parametrize(("family", "ql", "qt", "cutoff"), CASES)
def test_alignments_as_the_sum(
    tmp_path: Path, family: Family, ql: float, qt: float | None, cutoff: float
) -> None:
    found = align(family, qt, ql)
    tuning_hz = FS_HZ * found.tuning_ratio
    hz, cone, vent, leak = by_ngspice(
        tmp_path, qt=found.qt, alpha=found.compliance_ratio, tuning_hz=tuning_hz, ql=ql
    )
    of = design(qt=found.qt, alpha=found.compliance_ratio, tuning_hz=tuning_hz)
    # the tables' response counts what leaks as sent out; a microphone does not stand there
    near = near_field(hz, cone, np.asarray(vent + leak), 0.05, of)
    assert near.sound is not None
    level, at = near.sound.level_db, near.sound.frequency_hz
    passband = float(np.mean(level[(at > 250.0) & (at < 0.95 * near.sound.limit_hz)]))
    below = np.flatnonzero(level < passband - 3.0103)
    f3 = float(at[below[-1]])
    assert f3 / FS_HZ == pytest.approx(cutoff, rel=0.02)
    if family == "B4":  # Exact: 1/sqrt(1 + (f3/f)^8), all the way
        seen = (at > 0.6 * FS_HZ) & (at < 200.0)
        whole = -10.0 * np.log10(1.0 + (FS_HZ * cutoff / at[seen]) ** 8)
        assert level[seen] - passband == pytest.approx(whole, abs=0.25)
    if family == "C4":  # a ripple of 0.28 dB, by the polynomial of [Small1973] with the same numbers
        assert level[(at > f3) & (at < 200.0)].max() - passband == pytest.approx(0.28, abs=0.08)
