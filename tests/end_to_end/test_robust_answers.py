"""Curves of other loads, or cut, coarse, or behind a resistance: the right word for each, and no tuning made up."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.landmarks import find_landmarks
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions
from sealtune.judgement.evidence import Evidence
from sealtune.judgement.single_peak import judge_without_fit
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Design
from sealtune.records.verdict import Result
from sealtune.virtual.circuit import Network
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.population import draw_cabinet, draw_design

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

HZ = np.geomspace(6.0, 800.0, 500)
SEEDS = (5, 6, 7, 9)


@dataclass(frozen=True)
class Case:
    """A sealed virtual cabinet, what it was meant to be, its tuning, and the landmarks of its curve."""

    cabinet: VirtualCabinet
    design: Design
    tuning_hz: float
    lower_hz: float
    upper_hz: float


@pytest.fixture(scope="module", params=SEEDS)
def case(request: pytest.FixtureRequest) -> Case:
    # independent: cabinets of 28 to 94 L from the virtual cabinet's own physics, without crossover and ringing wall;
    # sealed is a leakage Q of 20 at least, see docs/decisions/0010
    rng = np.random.default_rng(request.param)
    design = replace(draw_design(rng), crossover=None)
    cabinet = replace(draw_cabinet(design, rng), panel=None)
    leakage_q = cabinet.truth().leakage_q
    assert leakage_q is not None
    assert cabinet.leakage_pa_s_m3 is not None
    cabinet = replace(cabinet, leakage_pa_s_m3=cabinet.leakage_pa_s_m3 * max(1.0, 20.0 / leakage_q))
    tuning_hz = cabinet.truth().tuning_hz
    marks = find_landmarks(ImpedanceCurve(HZ, cabinet.impedance(HZ), np.full(HZ.size, 0.01)))
    assert tuning_hz is not None
    assert marks.lower is not None
    assert marks.upper is not None
    return Case(cabinet, design, tuning_hz, marks.lower.hz, marks.upper.hz)


def judged(folder: Path, z: Complexes, hz: Reals = HZ, design: Design | None = None) -> Result:
    """Return what `check` makes of a table, with a design of box, vent and driver if there is one."""
    if design is not None:
        (folder / "design.toml").write_text(_told(design), encoding="utf-8")
    rows = (f"{f:.6f},{abs(v):.7f},{np.degrees(np.angle(v)):.6f}" for f, v in zip(hz, z, strict=True))
    path = folder / "open.csv"
    path.write_text("frequency_hz,magnitude_ohm,phase_deg\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return check(path, CheckOptions())


def _told(design: Design) -> str:
    assert design.vent is not None
    vent, driver = design.vent, design.driver
    size = (
        f"diameter_mm = {1e3 * vent.diameter_m}"
        if vent.diameter_m
        else (f"width_mm = {1e3 * (vent.width_m or 0.0)}\nheight_mm = {1e3 * (vent.height_m or 0.0)}")
    )
    return (
        f"[box]\nvolume_l = {1e3 * design.box.volume_m3}\nlining = '{design.box.lining}'\n"
        f"[vent]\nshape = '{vent.shape}'\nlength_mm = {1e3 * vent.length_m}\n{size}\n"
        f"[tuning]\ntarget_hz = {design.tuning.target_hz}\n"
        f"[driver]\nfs_hz = {driver.fs_hz}\nqms = {driver.qms}\nqes = {driver.qes}\nre_ohm = {driver.re_ohm}\n"
        f"vas_l = {1e3 * (driver.vas_m3 or 0.0)}\n"
    )


def faults(result: Result) -> set[str]:
    return {finding.fault for finding in result.findings}


def problems(result: Result) -> set[str]:
    return {problem.problem for problem in result.problems}


def two_cones(case: Case, mass_ratio: float) -> Complexes:
    """The cabinet with a second cone in it that nothing drives, solved by nodes."""
    cabinet = case.cabinet
    network = Network(HZ.size, ("coil", "cone", "box", "second"))
    cabinet.driver.add_to(network, HZ, cabinet.air, mounted=True)
    network.connect("box", "ground", cabinet.acoustic_admittance(HZ))
    other = replace(cabinet.driver, mass_kg=mass_ratio * cabinet.driver.mass_kg)
    network.connect("second", "ground", other.mechanical_kg_s(HZ, cabinet.air, True))
    network.gyrator("second", "box", other.area_m2)
    return network.impedance_at("coil")


def test_sealed_box_is_good_and_its_tuning_held(case: Case, tmp_path: Path) -> None:
    result = judged(tmp_path, case.cabinet.impedance(HZ))
    assert result.verdict == "good"
    assert result.fit is not None
    assert result.fit.tuning_hz.holds(case.tuning_hz)


@pytest.mark.parametrize("role", ["plugged", "free-air"])
def test_one_peak_is_a_blocked_vent_or_no_vented_box(case: Case, tmp_path: Path, role: str) -> None:
    z = case.cabinet.impedance(HZ, role)  # type: ignore[arg-type]
    result = judged(tmp_path, z)
    assert result.verdict == "rework"
    assert faults(result) == {"vent_blocked", "not_a_vented_box"}
    assert result.fit is None  # no tuning is told of a box that has none
    assert "peak only" in result.summary


@pytest.mark.parametrize("mass_ratio", [1.5, 2.0])
def test_third_peak_is_a_second_cone_in_the_box(case: Case, tmp_path: Path, mass_ratio: float) -> None:
    result = judged(tmp_path, two_cones(case, mass_ratio))
    assert result.verdict == "remeasure"
    assert faults(result) == {"not_a_vented_box"}
    assert "3 peaks" in result.summary


def third_order(z: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """A coil, a capacitor across what follows, and a second coil before the driver, by hand: exact."""
    s = 2j * np.pi * HZ
    behind = z + s * 4e-3 + 0.3
    return np.asarray(s * 1e-3 + 0.2 + 1.0 / (1.0 / behind + 100e-6 * s))


def test_peak_of_a_crossover_is_no_second_cone(case: Case, tmp_path: Path) -> None:
    z = third_order(case.cabinet.impedance(HZ))
    result = judged(tmp_path, z)
    assert result.landmarks is not None
    assert len(result.landmarks.peaks) == 3
    assert result.fit is not None
    assert result.fit.hidden_crossover is not None
    assert result.fit.tuning_hz.value == pytest.approx(case.tuning_hz, rel=2e-3)
    assert result.fit.tuning_hz.holds(case.tuning_hz)
    assert result.verdict == "good"


def test_far_peak_that_no_fit_explains_is_not_said_to_be_another_box(case: Case) -> None:
    z = third_order(case.cabinet.impedance(HZ))
    curve = ImpedanceCurve(HZ, z, 1e-3 * np.abs(z))
    evidence = Evidence("box", (), curve=curve, landmarks=find_landmarks(curve))
    (named,) = judge_without_fit(evidence).findings
    assert named.fault == "not_a_vented_box"
    assert named.probability < 0.5
    assert "own terminals" in named.remedy
    # a second cone's peak lies among those of the box, and nothing else explains it
    z = two_cones(case, 1.5)
    curve = ImpedanceCurve(HZ, z, 1e-3 * np.abs(z))
    (named,) = judge_without_fit(replace(evidence, curve=curve, landmarks=find_landmarks(curve))).findings
    assert named.probability > 0.8


def test_band_that_starts_above_the_lower_peak(case: Case, tmp_path: Path) -> None:
    hz = HZ[1.15 * case.lower_hz < HZ]
    result = judged(tmp_path, case.cabinet.impedance(hz), hz)
    assert (result.verdict, problems(result)) == ("remeasure", {"band_too_narrow"})
    assert result.fit is None


def test_band_that_ends_below_the_upper_peak(case: Case, tmp_path: Path) -> None:
    hz = HZ[0.9 * case.upper_hz > HZ]
    result = judged(tmp_path, case.cabinet.impedance(hz), hz)
    assert (result.verdict, problems(result)) == ("remeasure", {"band_too_narrow"})
    assert result.fit is None


@pytest.mark.parametrize(("low_hz", "high_hz"), [(10.0, 300.0), (12.0, 120.0)])
def test_coarse_table_is_refused_or_right(case: Case, tmp_path: Path, low_hz: float, high_hz: float) -> None:
    hz = np.geomspace(low_hz, high_hz, 30)
    result = judged(tmp_path, case.cabinet.impedance(hz), hz)
    if result.fit is None:
        assert result.verdict == "remeasure"
        assert problems(result) & {"too_coarse", "band_too_narrow"}
    else:
        assert result.fit.tuning_hz.holds(case.tuning_hz)


def test_two_ohm_in_the_leads_move_nothing(case: Case, tmp_path: Path) -> None:
    # exact: a resistance before the driver adds to R_E and leaves the box alone
    result = judged(tmp_path, 2.0 + case.cabinet.impedance(HZ))
    assert result.verdict == "good"
    assert result.fit is not None
    assert result.fit.tuning_hz.holds(case.tuning_hz)
    assert result.fit.re_ohm == pytest.approx(2.0 + case.cabinet.truth().re_ohm, rel=0.01)


def test_two_ohm_in_the_leads_get_their_word_by_a_design(case: Case, tmp_path: Path) -> None:
    # exact: as above; the driver is within its tolerances, and the design tells its resistance of 3 to 7 ohm
    z = case.cabinet.impedance(HZ)
    sound = judged(tmp_path, z, design=case.design)
    assert (sound.verdict, faults(sound), problems(sound)) == ("good", set(), set())
    result = judged(tmp_path, 2.0 + z, design=case.design)
    assert (result.verdict, faults(result), problems(result)) == ("rework", {"series_resistance"}, set())
    assert result.fit is not None
    assert result.fit.tuning_hz.holds(case.tuning_hz)


@pytest.mark.parametrize("scale", [0.6, 0.75, 1.5])
def test_wrong_reference_gets_its_word_by_a_design(case: Case, tmp_path: Path, scale: float) -> None:
    # exact: a wrong reference multiplies the whole curve
    result = judged(tmp_path, scale * case.cabinet.impedance(HZ), design=case.design)
    assert "wrong_reference" in problems(result) or "series_resistance" in faults(result)
    assert scale > 1.0 or (result.verdict, problems(result)) == ("remeasure", {"wrong_reference"})


def test_resistor_is_no_loudspeaker(tmp_path: Path) -> None:
    result = judged(tmp_path, np.full(HZ.size, 8.0 + 0.0j))
    assert (result.verdict, problems(result), faults(result)) == (
        "remeasure", {"not_impedance"}, {"not_a_vented_box"},
    )  # fmt: skip


def test_crossover_alone_is_no_loudspeaker(tmp_path: Path) -> None:
    s = 2j * np.pi * HZ
    result = judged(tmp_path, 0.4 + s * 1.5e-3 + 1.0 / (s * 30e-6 + 1.0 / 8.0))
    assert result.verdict == "remeasure"
    assert result.fit is None
