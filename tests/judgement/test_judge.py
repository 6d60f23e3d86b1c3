"""Verdicts on virtual cabinets with known faults."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.design.prediction import predict
from sealtune.judgement.evidence import Evidence
from sealtune.judgement.judge import judge
from sealtune.physics.air import standard_air
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Design, Driver
from sealtune.records.verdict import FaultName, Result
from sealtune.virtual.cabinet import Losses, cabinet_from_design
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.faults import apply_fault, with_hole, with_slit

Judged = Callable[..., Result]


def sealed(design: Design, seed: int = 0) -> VirtualCabinet:
    return cabinet_from_design(design, np.random.default_rng(seed), scatter=0.5)


@pytest.mark.parametrize("seed", range(6))
def test_a_sealed_box_is_good(design: Design, judged: Judged, seed: int) -> None:
    cabinet = sealed(design, seed)
    result = judged(cabinet)
    assert result.verdict == "good"
    assert result.findings == ()
    assert result.leak.probability < 0.33
    truth = cabinet.truth()
    assert truth.tuning_hz is not None
    assert result.fit is not None
    assert result.fit.tuning_hz.holds(truth.tuning_hz)


@pytest.mark.parametrize("seed", range(4))
def test_a_wide_gap_is_named_as_a_leak_with_its_size(design: Design, judged: Judged, seed: int) -> None:
    # a gap this size halves the box Q and raises the tuning by 4 % and more
    result = judged(with_slit(sealed(design, seed), gap_mm=0.9, width_mm=60.0, depth_mm=15.0))
    assert result.verdict == "rework"
    assert result.findings[0].fault == "leak"
    assert result.leak.area_mm2 is not None
    assert result.leak.area_mm2.holds(0.9 * 60.0)
    assert result.leak.likeness is not None
    assert result.length_change_m is None, "seal first, then cut"


def test_a_hole_is_never_good_and_named_beside_the_short_vent(design: Design, judged: Judged) -> None:
    # from the open curve a hole and a short vent are alike: two masses of air side by side
    result = judged(with_hole(sealed(design), diameter_mm=9.0, depth_mm=15.0))
    assert result.verdict == "rework"
    assert {"leak", "vent_short"} <= {finding.fault for finding in result.findings}
    assert "plugged" in result.findings[0].confirm


@pytest.mark.parametrize(
    "fault", ["vent_long", "volume_large", "volume_small", "vent_blocked", "overstuffed"]
)
def test_the_fault_that_was_put_in_is_named(design: Design, judged: Judged, fault: FaultName) -> None:
    result = judged(apply_fault(sealed(design), fault, 0.7, np.random.default_rng(3)))
    assert result.verdict == "rework"
    assert fault in {finding.fault for finding in result.findings[:2]}
    assert sum(finding.probability for finding in result.findings) <= 1.0 + 1e-9


@pytest.mark.parametrize("factor", [0.7, 1.4])
def test_the_change_of_length_reaches_the_target(design: Design, judged: Judged, factor: float) -> None:
    cabinet = sealed(design)
    assert cabinet.vent is not None
    wrong = replace(cabinet, vent=replace(cabinet.vent, length_m=cabinet.vent.length_m * factor))
    result = judged(wrong)
    assert result.findings[0].fault == ("vent_short" if factor < 1 else "vent_long")
    assert result.length_change_m is not None
    assert wrong.vent is not None
    mended = replace(
        wrong, vent=replace(wrong.vent, length_m=wrong.vent.length_m + result.length_change_m.value)
    )
    tuning = mended.truth().tuning_hz
    assert tuning is not None
    assert design.tuning.target_hz is not None
    # the end corrections that the design assumes are off by a per cent or two of the length
    assert tuning == pytest.approx(design.tuning.target_hz, rel=0.015)


@pytest.mark.parametrize("fault", ["overstuffed", "vent_lined"])
def test_a_vent_is_not_cut_for_what_material_does(design: Design, judged: Judged, fault: FaultName) -> None:
    # exact: taken out again, the material gives the tuning back; cut, the vent would be too short then
    narrow = replace(design, tuning=replace(design.tuning, tolerance=0.02))
    result = judged(apply_fault(sealed(design), fault, 0.8, np.random.default_rng(3)), design=narrow)
    assert result.findings[0].fault == fault
    assert result.fit is not None
    assert result.prediction is not None
    assert result.fit.tuning_hz.high < result.prediction.low_hz
    assert result.length_change_m is None
    assert not any(" mm" in finding.remedy for finding in result.findings)


def test_one_length_is_told_for_one_vent(design: Design, judged: Judged) -> None:
    # 12 % too long: a wrong volume is possible as well, and moves the advice by a millimetre or two
    cabinet = sealed(design)
    assert cabinet.vent is not None
    result = judged(replace(cabinet, vent=replace(cabinet.vent, length_m=cabinet.vent.length_m + 0.12 * 0.2)))
    assert result.findings[0].fault == "vent_long"
    assert result.length_change_m is not None
    assert f"by {-1e3 * result.length_change_m.value:.0f} mm" in result.findings[0].remedy
    assert result.findings[0].remedy.startswith("Look through the vent first")


def test_a_driver_off_its_data_is_told_with_its_numbers(design: Design, judged: Judged) -> None:
    driver = replace(design.driver, fs_hz=25.0, vas_m3=0.062)
    result = judged(sealed(design), design=replace(design, driver=driver))
    assert result.findings[0].fault == "driver_off"
    assert result.summary.count("differs") == 1
    # by hand: 0.97 x 25 Hz, the air that moves along with a mounted cone
    assert "where the sheet leads to 24.2 Hz" in result.findings[0].evidence
    assert "Play a new driver in" in result.findings[0].remedy


@pytest.mark.parametrize("volume_m3", [0.010, 0.080])
def test_without_a_design_the_area_holds_for_any_volume(
    design: Design, judged: Judged, volume_m3: float
) -> None:
    # exact: the same leak does the same to tuning and Q where its area goes with the volume
    assert design.vent is not None
    times = volume_m3 / design.box.volume_m3
    vas_m3 = 0.031 * times
    other = replace(
        design,
        box=replace(design.box, volume_m3=volume_m3),
        vent=replace(
            design.vent, count=1, area_m2=design.vent.area_m2 * times, diameter_m=0.058 * times**0.5
        ),
        driver=replace(design.driver, vas_m3=vas_m3, sd_m2=0.021 * times**0.5),
    )
    leaking = with_slit(sealed(other), gap_mm=0.5, width_mm=100.0 * times, depth_mm=15.0)
    result = judged(leaking, known=False)
    assert result.findings[0].fault == "leak"
    assert result.leak.area_mm2 is not None
    assert result.leak.area_mm2.holds(50.0 * times)
    assert result.leak.likeness is None


def test_no_vent_at_all_is_not_good(design: Design, judged: Judged) -> None:
    result = judged(apply_fault(sealed(design), "closed_box", 0.5, np.random.default_rng(1)))
    assert result.verdict == "rework"
    assert {finding.fault for finding in result.findings} == {"vent_blocked", "not_a_vented_box"}


def test_a_resistor_is_no_box(design: Design) -> None:
    hz = np.geomspace(6.0, 600.0, 300)
    curve = ImpedanceCurve(hz, np.full(hz.size, 8.2 + 0j), np.full(hz.size, 0.01))
    result = judge(Evidence("x", design=design, curve=curve, landmarks=find_landmarks(curve)), standard_air())
    assert result.verdict == "remeasure"
    assert [problem.problem for problem in result.problems] == ["not_impedance"]
    assert result.findings[0].fault == "not_a_vented_box"


def test_without_a_design_the_losses_alone_are_judged(design: Design, judged: Judged) -> None:
    good = judged(sealed(design), known=False)
    assert good.verdict == "good"
    assert good.prediction is None
    assert "no design" in good.summary
    lossy = cabinet_from_design(design, np.random.default_rng(0), losses=Losses(leakage_q=1.7))
    assert judged(lossy, known=False).verdict == "rework"


@pytest.mark.parametrize("scale", [0.5, 2.0])
def test_a_wrong_reference_resistor_is_told_from_the_coil(
    design: Design, judged: Judged, scale: float
) -> None:
    driver = replace(design.driver, re_ohm=6.1 * scale)
    result = judged(sealed(design), design=replace(design, driver=driver))
    assert result.verdict == "remeasure"
    assert [problem.problem for problem in result.problems] == ["wrong_reference"]


def test_a_bad_joint_is_no_wrong_reference(design: Design, judged: Judged) -> None:
    # it adds to R_E and leaves the height of the peaks alone
    result = judged(replace(sealed(design), series_ohm=3.0))
    assert "wrong_reference" not in {problem.problem for problem in result.problems}


def test_driver_data_make_the_judgement_sharper(design: Design, judged: Judged) -> None:
    # volume 30 % small: with V_AS the distance of the peaks tells it from a short vent
    cabinet = replace(sealed(design), volume_m3=0.7 * design.box.volume_m3)
    with_data = {f.fault: f.probability for f in judged(cabinet).findings}
    bare = replace(design, driver=Driver())
    without = {f.fault: f.probability for f in judged(cabinet, design=bare).findings}
    assert with_data["volume_small"] > without.get("volume_small", 0.0)
    assert with_data["volume_small"] > 0.4


def verdict_on(hz: NDArray[np.float64], z: NDArray[np.complex128], design: Design | None = None) -> Result:
    """Return the verdict on a curve that no virtual cabinet makes."""
    curve = ImpedanceCurve(hz, z, 1e-3 * np.abs(z))
    marks = find_landmarks(curve)
    prediction = None if design is None else predict(design, standard_air())
    fit = fit_vented_box(curve, marks, design)
    return judge(
        Evidence("x", design=design, prediction=prediction, curve=curve, landmarks=marks, fit=fit),
        standard_air(),
    )


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize(
    "peaks",
    [
        [(95.0, 4.0, 40.0)],  # a closed box
        [(95.0, 4.0, 40.0), (210.0, 6.0, 4.0)],  # the same with the bump of a guitar cabinet
        [(40.0, 4.0, 30.0), (70.0, 5.0, 30.0), (160.0, 5.0, 12.0)],  # two unequal drivers and a third peak
        [(20.0, 8.0, 20.0), (45.0, 8.0, 30.0), (80.0, 8.0, 20.0), (130.0, 8.0, 15.0)],  # a transmission line
    ],
    ids=["closed", "guitar", "two-drivers", "line"],
)
def test_other_boxes_are_never_good(
    design: Design, peaks: list[tuple[float, float, float]], known: bool
) -> None:
    hz = np.geomspace(8.0, 500.0, 400)
    z = 6.0 + sum(ohm / (1.0 + 1j * q * (hz / f0 - f0 / hz)) for f0, q, ohm in peaks)
    result = verdict_on(hz, np.asarray(z, dtype=np.complex128), design if known else None)
    assert result.verdict != "good"
    assert "not_a_vented_box" in {finding.fault for finding in result.findings} or result.problems
    if len(result.landmarks.peaks if result.landmarks else ()) > 3:
        assert "one peak" not in result.summary


def test_milliohms_are_no_loudspeaker(design: Design) -> None:
    hz = np.geomspace(8.0, 500.0, 400)
    z = 1e-3 * sealed(design).impedance(hz)
    result = verdict_on(hz, z)
    assert result.verdict == "remeasure"
    assert [problem.problem for problem in result.problems] == ["not_impedance"]
    assert "unit" in result.problems[0].remedy
