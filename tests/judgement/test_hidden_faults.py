"""Never good on a recording that could hide the fault, and never good for a box that leaks."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sealtune.analysis.curve_faults import curve_problems
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.design.prediction import predict
from sealtune.judgement.evidence import Evidence
from sealtune.judgement.judge import judge
from sealtune.physics.air import standard_air
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Design
from sealtune.records.interval import Interval
from sealtune.records.recording import Role
from sealtune.records.verdict import Result
from sealtune.virtual.cabinet import Losses, cabinet_from_design
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.faults import with_hole, with_slit

AIR = standard_air()
Judged = Callable[..., Result]


def measured(
    cabinet: VirtualCabinet,
    role: Role = "open",
    *,
    noise: float = 1e-3,
    lowest_hz: float = 6.0,
    seed: int = 1,
) -> ImpedanceCurve:
    rng = np.random.default_rng(seed)
    hz = np.geomspace(4.0 if role == "plugged" else lowest_hz, 800.0, 320)
    z = cabinet.impedance(hz, role)
    sigma = noise * np.abs(z)
    return ImpedanceCurve(hz, z + sigma * (rng.normal(size=hz.size) + 1j * rng.normal(size=hz.size)), sigma)


def verdict(
    curve: ImpedanceCurve, design: Design | None, others: dict[Role, ImpedanceCurve] | None = None
) -> Result:
    marks = find_landmarks(curve)
    problems = tuple(curve_problems(curve, marks))
    fit = None if any(one.spoils for one in problems) else fit_vented_box(curve, marks, design, others)
    prediction = None if design is None else predict(design, AIR)
    evidence = Evidence(
        "x", design=design, prediction=prediction, curve=curve, landmarks=marks, fit=fit, problems=problems
    )
    return judge(evidence, AIR)


def halved(design: Design) -> VirtualCabinet:
    """Return a cabinet with a gap that halves its box Q."""
    sound = cabinet_from_design(design, np.random.default_rng(2), scatter=0.5)
    leaking = with_slit(sound, gap_mm=0.4, width_mm=120.0, depth_mm=18.0)
    before, after = sound.truth().box_q, leaking.truth().box_q
    assert before is not None
    assert after is not None
    assert 0.4 < after / before < 0.65
    return leaking


@pytest.mark.parametrize("noise", [0.001, 0.01, 0.03, 0.1, 0.3])
def test_noise_does_not_hide_a_leak(design: Design, noise: float) -> None:
    assert verdict(measured(halved(design), noise=noise), design).verdict != "good"


def test_a_box_q_of_which_half_could_be_missing_is_no_good(design: Design, judged: Judged) -> None:
    """By hand: bounds a factor of 2.2 apart hold both a box Q and its half."""
    sound = cabinet_from_design(design, np.random.default_rng(2), scatter=0.5)
    known = judged(sound)
    assert known.verdict == "good"
    assert known.fit is not None
    q = known.fit.box_q
    wide = replace(known.fit, box_q=replace(q, low=q.value / 1.5, high=q.value * 1.5))
    evidence = Evidence("x", design=design, prediction=predict(design, AIR), fit=wide)
    result = judge(evidence, AIR)
    assert result.verdict == "remeasure"
    assert [one.problem for one in result.problems] == ["noisy"]


def test_a_band_that_starts_above_the_lower_peak_is_no_good(design: Design) -> None:
    for lowest_hz in (24.0, 30.0, 45.0):
        assert verdict(measured(halved(design), lowest_hz=lowest_hz), design).verdict != "good"


def test_a_plugged_recording_that_contradicts_is_no_good(design: Design) -> None:
    """A bung that leaks looks like a box that does."""
    sound = cabinet_from_design(design, np.random.default_rng(2), scatter=0.5)
    assert verdict(measured(sound), design, {"plugged": measured(sound, "plugged")}).verdict == "good"
    for across_mm in (9.0, 15.0, 25.0):
        bung = with_hole(sound, diameter_mm=across_mm, depth_mm=18.0)
        result = verdict(measured(sound), design, {"plugged": measured(bung, "plugged")})
        assert result.verdict == "remeasure"
        assert "bung" in result.summary
    # a smaller one cannot be told from a leak of the box, and the text says so
    bung = with_hole(sound, diameter_mm=4.0, depth_mm=18.0)
    result = verdict(measured(sound), design, {"plugged": measured(bung, "plugged")})
    assert result.verdict == "rework"
    assert "Make sure that the bung is airtight" in result.findings[0].confirm


def test_a_hole_that_the_open_curve_hides_shows_with_the_vent_plugged(design: Design) -> None:
    """A hole of 5 mm raises the tuning by less than its tolerance and leaves the box Q alone."""
    sound = cabinet_from_design(design, np.random.default_rng(2), scatter=0.0)
    cabinet = with_hole(sound, diameter_mm=5.0, depth_mm=18.0)
    result = verdict(measured(cabinet), design, {"plugged": measured(cabinet, "plugged")})
    assert result.verdict == "rework"
    assert result.findings[0].fault == "leak"
    assert result.leak.area_mm2 is not None
    assert result.leak.area_mm2.holds(np.pi / 4 * 5.0**2)


@pytest.mark.parametrize("seed", range(3))
def test_cloth_is_told_from_a_leak_by_the_open_curve_alone(design: Design, seed: int) -> None:
    """Their losses differ in how they run with frequency; the total is about the same. Independent: the virtual
    vent is a line with a layer of air at its walls."""
    sound = cabinet_from_design(design, np.random.default_rng(seed), scatter=0.5)
    assert sound.vent is not None
    cloth = replace(sound, vent=replace(sound.vent, resistance_rayl=5.0))
    leak = with_slit(sound, gap_mm=0.3, width_mm=500.0, depth_mm=18.0)
    qs = [each.truth().box_q or 0.0 for each in (cloth, leak)]
    assert abs(np.log(qs[0] / qs[1])) < 0.35
    assert verdict(measured(cloth), design).findings[0].fault == "vent_lined"
    assert verdict(measured(leak), design).findings[0].fault == "leak"


def test_a_lossy_lining_is_no_leak(design: Design) -> None:
    """Sealed boxes whose box Q of 5 to 9 is that of a thick lining: too much of it perhaps, a leak never."""
    for absorption_q in (8.0, 12.0, 20.0):
        losses = Losses(leakage_q=30.0, absorption_q=absorption_q)
        cabinet = cabinet_from_design(design, np.random.default_rng(4), scatter=0.5, losses=losses)
        named = {one.fault: one.probability for one in verdict(measured(cabinet), design).findings}
        assert named.get("leak", 0.0) < 0.3


@pytest.mark.parametrize(
    ("low", "high", "noise", "told", "problems"),
    [
        (7.1, 19.1, 1e-4, "remeasure", {"noisy"}),  # a leak could hide, and a further take would be no better
        (7.1, 19.1, 1e-2, "remeasure", {"noisy"}),
        (15.1, 37.2, 1e-4, "good", set()),  # even 15 is more than half of what the best box of this kind has
    ],
)
def test_a_box_q_known_badly(
    design: Design, low: float, high: float, noise: float, told: str, problems: set[str]
) -> None:
    curve = measured(cabinet_from_design(design, np.random.default_rng(2), scatter=0.5))
    marks, prediction = find_landmarks(curve), predict(design, AIR)
    fit = fit_vented_box(curve, marks, design)
    assert fit is not None
    assert prediction.box_q * np.exp(2.0 * prediction.box_q_spread) / 2.0 < 15.1
    doubtful = replace(fit, box_q=Interval(np.sqrt(low * high), low, high), noise=noise, residual=0.02)
    evidence = Evidence("x", design=design, prediction=prediction, curve=curve, landmarks=marks, fit=doubtful)
    result = judge(evidence, AIR)
    assert (result.verdict, {one.problem for one in result.problems}) == (told, problems)
    further = None if result.next_measurement is None else result.next_measurement.role
    assert further == (None if told == "good" else "open" if noise > 1e-3 else "plugged")
    asked = further == "plugged"
    assert ("It is not noise" in result.summary) == asked == (told == "remeasure" and noise < 1e-3)
