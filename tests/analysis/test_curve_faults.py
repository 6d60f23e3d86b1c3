"""Which curves are refused, and under which name."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.invented_box import invented

from sealtune.analysis.channel_faults import wiring_problems
from sealtune.analysis.curve_faults import curve_problems, is_passive
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.phase_faults import phase_match
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Jig, Wiring
from sealtune.signals.transfer_function import Ratio

Complexes = NDArray[np.complex128]
Reals = NDArray[np.float64]
HZ = np.geomspace(5.0, 1000.0, 600)


def box(hz: Reals = HZ) -> Complexes:
    """The impedance of the invented 18 L box; peaks near 25 and 75 Hz."""
    return invented().impedance(hz)


def curve(z: Complexes, hz: Reals = HZ, noise: float = 1e-3) -> ImpedanceCurve:
    rng = np.random.default_rng(4)
    error = rng.standard_normal(hz.size) + 1j * rng.standard_normal(hz.size)
    return ImpedanceCurve(hz, z + noise * np.abs(z) * error, noise * np.abs(z))


def names(found: ImpedanceCurve) -> list[str]:
    return [problem.problem for problem in curve_problems(found, find_landmarks(found))]


def test_a_good_curve_has_no_problem() -> None:
    assert names(curve(box())) == []
    for low, high, count in ((10.0, 400.0, 150), (15.0, 300.0, 120)):
        hz = np.geomspace(low, high, count)
        assert names(curve(box(hz), hz)) == []


CUTS: dict[str, tuple[Callable[[Reals], NDArray[np.bool_]], str, str]] = {
    "above the lower peak": (lambda hz: hz > 32.0, "band_too_narrow", "below"),
    "at the lower peak": (lambda hz: hz > 24.0, "band_too_narrow", "lower peak|below"),
    "below the upper peak": (lambda hz: hz < 60.0, "band_too_narrow", "above"),
    "at the upper peak": (lambda hz: hz < 80.0, "band_too_narrow", "upper peak|above"),
    "nothing but treble": (lambda hz: hz > 400.0, "band_too_narrow", "0 points"),
    "every twentieth point": (lambda hz: np.arange(hz.size) % 20 == 0, "too_coarse", "only"),
    "a hole over the saddle": (lambda hz: (hz < 30.0) | (hz > 60.0), "too_coarse", "between 30 and 60 Hz"),
    "ten points": (lambda hz: np.arange(hz.size) % 60 == 0, "too_coarse", "only|points"),
}


@pytest.mark.parametrize("name", CUTS)
def test_cut_and_coarse_curves_are_refused(name: str) -> None:
    keep, expected, words = CUTS[name]
    kept = keep(HZ)
    found = curve(box()[kept], HZ[kept])
    problems = curve_problems(found, find_landmarks(found))
    assert expected in [problem.problem for problem in problems]
    assert any(word in problems[0].detail for word in words.split("|")), problems[0].detail


def test_noise_is_named_where_it_could_hide_a_peak() -> None:
    assert names(curve(box(), noise=0.1))[0] == "noisy"
    closed = 5.7 + 30.0 / (1 + 4j * (HZ / 60.0 - 60.0 / HZ)) + 0.02 * (2j * np.pi * HZ) ** 0.6
    assert names(curve(closed)) == []  # one peak, and quiet enough to be sure
    assert names(curve(closed, noise=0.04)) == ["noisy"]


def test_magnitude_and_phase_of_the_box_belong_together() -> None:
    # exact: Bode's integral gives the phase of every impedance without poles and zeros on the right; the band's
    # ends and 24 steps per octave leave a few hundredths
    match = phase_match(curve(box(), noise=0.0))
    assert match is not None
    assert match.slope == pytest.approx(1.0, abs=0.04)
    assert match.left_over < 0.04
    assert match.asked > 0.3


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda z: np.abs(z) + 0j, "zero or missing"),
        (lambda z: np.abs(z) * np.exp(1j * np.radians(np.angle(z))), "in radians"),
        (np.conj, "wrong sign"),
        (lambda z: 20 * np.log10(np.abs(z)) * np.exp(1j * np.angle(z)), "decibels"),
    ],
)
def test_a_phase_that_is_not_the_magnitudes_is_refused(
    change: Callable[[Complexes], Complexes], words: str
) -> None:
    found = curve(np.asarray(change(box())), noise=1e-6)
    problems = curve_problems(found, find_landmarks(found))
    assert [problem.problem for problem in problems] == ["not_impedance"]
    assert words in problems[0].detail


def test_a_late_channel_is_refused_by_its_phase() -> None:
    z = box()
    ratio = z / (10.0 + z) * np.exp(-2j * np.pi * HZ * 0.7e-3)
    late = curve(10.0 * ratio / (1.0 - ratio))
    late = replace(late, jig_slopes_ohm=np.zeros((1, HZ.size), dtype=np.complex128))
    assert names(late) == ["not_impedance"]


@pytest.mark.parametrize("farad", [60e-6, 200e-6, 700e-6])
def test_capacitor_before_the_driver_is_named_with_its_size(farad: float) -> None:
    # exact: 1/(s C) added
    found = curve(box() + 1.0 / (2j * np.pi * HZ * farad))
    (problem,) = curve_problems(found, find_landmarks(found))
    assert problem.problem == "not_impedance"
    told = re.search(r"capacitor of about (\d+) uF", problem.detail)
    assert told is not None
    # the driver's own inductance below its peak takes away a tenth of the largest
    assert float(told[1]) == pytest.approx(1e6 * farad, rel=0.12)
    assert "own terminals" in problem.remedy


def test_falling_phase_alone_is_no_capacitor() -> None:
    # exact: the phase's sign turned, which leaves the magnitude rising towards the lower peak
    turned = curve(np.conj(box()))
    assert "sign" in curve_problems(turned, find_landmarks(turned))[0].detail
    # exact: a band that begins on the upper flank of the lower peak falls too
    hz = HZ[HZ > 30.0]
    assert names(curve(box(hz), hz)) == ["band_too_narrow"]


def test_passive_means_no_negative_resistance() -> None:
    z = box()
    assert is_passive(curve(z))
    assert not is_passive(curve(-z))
    assert not is_passive(curve(z - 8.0))


def ratio_of(z: Complexes, wiring: Wiring, ohm: float) -> Ratio:
    """The two channels' ratio by the contract's formulas, driven by 1 V."""
    value = z / (ohm + z) if wiring == "divider" else ohm / z
    first = np.ones(HZ.size) if wiring == "divider" else np.abs(z / (ohm + z))
    return Ratio(HZ, value, 1e-4 * np.abs(value), first**2 / HZ)


def exchanged(ratio: Ratio) -> Ratio:
    size = np.abs(ratio.value)
    return Ratio(HZ, 1.0 / ratio.value, ratio.sigma / size**2, ratio.power * size**2)


@pytest.mark.parametrize("ohm", [1.0, 10.0, 100.0])
@pytest.mark.parametrize("wiring", ["divider", "sense"])
def test_each_way_of_wiring_is_recognised(wiring: Wiring, ohm: float) -> None:
    right = ratio_of(box(), wiring, ohm)
    jig = Jig(wiring, ohm)
    other = Jig("sense" if wiring == "divider" else "divider", ohm)

    def named(ratio: Ratio, read_as: Jig) -> list[str]:
        return [problem.problem for problem in wiring_problems(ratio, read_as)]

    assert named(right, jig) == []
    assert named(exchanged(right), jig) == ["channels_swapped"]
    assert named(right, other) == ["wrong_wiring"]
    assert named(replace(right, value=-right.value), jig) == ["wrong_wiring"]


@pytest.mark.parametrize(
    ("highest_hz", "named"), [(29.0, ["band_too_narrow"]), (150.0, ["band_too_narrow"]), (900.0, [])]
)
def test_a_ripple_beside_a_lone_peak_is_no_second_peak(highest_hz: float, named: list[str]) -> None:
    # exact: one resonance of 60 ohm at 18 Hz and on its flank one of 5 ohm at 24 Hz, too faint to be its partner
    hz = HZ[highest_hz > HZ]
    s, w, v = 2j * np.pi * hz, 2 * np.pi * 18.0, 2 * np.pi * 24.0
    z: Complexes = np.asarray(
        6.0 + 60.0 / (1.0 + 6.0 * (s / w + w / s)) + 5.0 / (1.0 + 20.0 * (s / v + v / s))
    )
    curve = ImpedanceCurve(hz, z, 1e-4 * np.abs(z))
    marks = find_landmarks(curve)
    assert len(marks.peaks) == 2
    assert marks.lower is None
    assert [problem.problem for problem in curve_problems(curve, marks)] == named


def test_a_sweep_from_8_hz_is_wide_enough_for_one_low_peak() -> None:
    # its first point lies a little above 8 Hz; a large box with a blocked vent has its peak near 40 Hz
    hz = np.geomspace(8.1, 900.0, 600)
    z = 6.0 + 40.0 / (1.0 + 4j * (hz / 40.0 - 40.0 / hz))
    assert names(curve(np.asarray(z, dtype=np.complex128), hz)) == []
    narrow = hz[hz > 10.0]
    assert names(curve(np.asarray(z[hz > 10.0], dtype=np.complex128), narrow)) == ["band_too_narrow"]
