"""What no design tells of: a crossover and a ringing wall are found where they are, and nowhere else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.candidates import Curves, start_of
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.intervals import Admissible, combined, odds_of
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.local_resonance import ringing
from sealtune.analysis.parameters import VENTED
from sealtune.analysis.search import Minimum, Points
from sealtune.physics.vented_box import VentedBox, impedance, tuning_and_q
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover, Design
from sealtune.records.fit import BoxFit
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.parts import Panel
from sealtune.virtual.population import draw_cabinet, draw_crossover, draw_design

HZ = np.geomspace(6.0, 1000.0, 800)
SEEDS = (20260, 20264, 20267, 20269)


def cabinet_of(seed: int) -> tuple[Design, VirtualCabinet]:
    rng = np.random.default_rng(seed)
    design = replace(draw_design(rng), crossover=None)
    return design, replace(draw_cabinet(design, rng), panel=None, crossover=None)


def fitted(z: NDArray[np.complex128], design: Design | None, seed: int, noise: float = 5e-4) -> BoxFit:
    rng = np.random.default_rng(seed)
    sigma = noise * np.abs(z)
    error = sigma * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
    curve = ImpedanceCurve(HZ, z + error, sigma)
    fit = fit_vented_box(curve, find_landmarks(curve), design)
    assert fit is not None
    return fit


@pytest.mark.parametrize("seed", SEEDS)
def test_crossover_that_nobody_told_of_is_found(seed: int) -> None:
    # independent: solved by nodes in physical units, with these parts
    design, cabinet = cabinet_of(seed)
    parts = Crossover(series_h=1.8e-3, series_ohm=0.3, shunt_f=30e-6, shunt_ohm=0.5)
    behind = replace(cabinet, crossover=parts)
    truth = behind.truth()
    fit = fitted(behind.impedance(HZ), design, seed)
    found = fit.hidden_crossover
    assert found is not None
    assert found.series_h == pytest.approx(1.8e-3, rel=0.15)
    assert found.shunt_f == pytest.approx(30e-6, rel=0.15)
    assert truth.tuning_hz is not None
    assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=1e-3)
    assert fit.tuning_hz.holds(truth.tuning_hz)
    assert truth.box_q is not None
    assert fit.box_q.value == pytest.approx(truth.box_q, rel=0.08)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("ohm", [0.2, 4.0])
def test_crossover_that_noise_nearly_hides_is_among_what_may_be_true(seed: int, ohm: float) -> None:
    # independent: solved by nodes. At this noise the circuit without a crossover misses the curve by less than the
    # noise, and is up to 2 % wrong in its tuning and 40 % in box Q
    design, cabinet = cabinet_of(seed)
    parts = Crossover(series_h=0.8e-3, series_ohm=0.4, shunt_f=14e-6, shunt_ohm=ohm)
    truth = replace(cabinet, crossover=parts).truth()
    fit = fitted(replace(cabinet, crossover=parts).impedance(HZ), design, seed, noise=1e-3)
    assert truth.tuning_hz is not None
    assert truth.box_q is not None
    assert fit.tuning_hz.holds(truth.tuning_hz)
    assert fit.box_q.holds(truth.box_q)
    assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=2e-3)


@pytest.mark.parametrize(
    ("seed", "shunt_f", "noise"),
    [(20267, 6e-6, 1e-3), (20270, 6e-6, 1e-3), (20289, 14e-6, 2e-3), (20299, 8e-6, 1.5e-3)],
)
def test_error_below_the_noise_is_looked_into(seed: int, shunt_f: float, noise: float) -> None:
    # independent: solved by nodes. What is left over without the crossover is 0.4 to 0.7 of the noise, what is left
    # with it not always much less; without it the tuning is 0.2 to 1.1 % and box Q 10 to 40 % wrong
    design, cabinet = cabinet_of(seed)
    behind = replace(cabinet, crossover=Crossover(0.6e-3, 0.5, shunt_f, 0.3))
    truth = behind.truth()
    fit = fitted(behind.impedance(HZ), design, seed, noise)
    assert truth.tuning_hz is not None
    assert truth.box_q is not None
    assert fit.tuning_hz.holds(truth.tuning_hz)
    assert fit.box_q.holds(truth.box_q)
    assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=1.5e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_resistor_beside_the_capacitor_bends_little(seed: int) -> None:
    # independent: solved by nodes; such a branch evens out the coil
    design, cabinet = cabinet_of(seed)
    parts = Crossover(series_h=0.5e-3, series_ohm=0.3, shunt_f=50e-6, shunt_ohm=5.6)
    truth = replace(cabinet, crossover=parts).truth()
    fit = fitted(replace(cabinet, crossover=parts).impedance(HZ), design, seed, noise=1e-3)
    assert fit.hidden_crossover is not None
    assert fit.hidden_crossover.shunt_ohm == pytest.approx(5.6, rel=0.5)
    assert truth.tuning_hz is not None
    assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=2e-3)
    assert fit.tuning_hz.holds(truth.tuning_hz)
    # exact: the resistance of the crossover's coil is told apart from the driver's only by what is common
    assert 0.05 < fit.hidden_crossover.series_ohm < 2.0


def test_search_starts_again_where_the_missing_crossover_has_bent_the_circuit() -> None:
    # regression only: from the bent circuit the search stops at Q 10.5 and 33.93 Hz; independent: 16.5 and 34.15 Hz,
    # solved by nodes
    rng = np.random.default_rng(70065)
    design = draw_design(rng)
    parts = draw_crossover(np.random.default_rng([70065, 1]))
    cabinet = replace(draw_cabinet(design, rng, leak_chance=0.5), crossover=parts)
    truth = cabinet.truth()
    fit = fitted(cabinet.impedance(HZ), replace(design, crossover=None), 1, noise=6e-5)
    assert truth.tuning_hz is not None
    assert truth.box_q is not None
    assert fit.hidden_crossover is not None
    assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=2e-3)
    assert fit.box_q.value == pytest.approx(truth.box_q, rel=0.1)


def test_the_other_hill_of_the_coil_is_found() -> None:
    # exact: the circuit itself. Its coil is bridged by 1.7 ohm; from the usual start the search ends on a hill with no
    # bridge, where the tuning is 0.46 % wrong, 26 times as much as noise does
    box = VentedBox(
        re_ohm=3.9, coil_ohm=1.034, coil_exponent=0.888, coil_h=9.2e-4, coil_shunt_s=0.56, res_ohm=49.7,
        ws_rad_s=364.0, qms=7.39, creep=0.1136, alpha=1.682, wb_rad_s=422.8, leakage=0.0361, friction=0.0165,
        plain_share=0.032, absorption=0.219, volume_m3=0.0306, duct_share=0.02,
    )  # fmt: skip
    z = impedance(2j * np.pi * HZ, box)
    rng = np.random.default_rng(5051)
    error = 0.005 * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
    curve = ImpedanceCurve(HZ, z + error, np.full(HZ.size, 0.005))
    fit = fit_vented_box(curve, find_landmarks(curve))
    assert fit is not None
    assert fit.hidden_crossover is None
    assert fit.tuning_hz.value == pytest.approx(tuning_and_q(box)[0], rel=1.5e-3)


def test_faint_wall_is_explained_too() -> None:
    # independent: a wall of 0.1 % of the air's give at 140 Hz, Q 25; its branch takes the error to 15 %
    design, cabinet = cabinet_of(20260)
    rings = replace(cabinet, panel=Panel(140.0, 25.0, 0.001))
    fit = fitted(rings.impedance(HZ), design, 20260, noise=1e-4)
    # exact: noise of 1e-4 in both parts leaves sqrt(2) 1e-4; with the wall in it the residual is 2.5e-4
    assert fit.residual == pytest.approx(np.sqrt(2.0) * 1e-4, rel=0.06)
    assert fit.left_out_hz == ()


def test_untold_crossover_widens_the_tuning_by_what_no_residual_shows() -> None:
    design, cabinet = cabinet_of(SEEDS[0])
    z = cabinet.impedance(HZ)
    curve = ImpedanceCurve(HZ, z, 1e-3 * np.abs(z))
    marks = find_landmarks(curve)
    hz = [mark.hz for mark in (marks.lower, marks.saddle, marks.upper) if mark is not None]
    known = start_of(curve, (hz[0], hz[1], hz[2]), design)
    curves = Curves.of({"open": curve}, known, design)
    minimum = curves.searched(VENTED, known)
    assert minimum is not None
    packing = replace(minimum.model.packing, given=False)
    untold = replace(minimum, model=replace(minimum.model, packing=packing))
    spread = np.zeros((minimum.vector.size, minimum.vector.size))
    told = combined([Admissible(minimum, 1.0, spread)])[1]
    more = combined([Admissible(untold, 1.0, spread)])[1] - told
    # common practice: a tenth of a percent of the tuning, see UNTOLD_SYSTEMATIC, and nothing else
    assert more[0, 0] == pytest.approx(1e-6, rel=1e-3)
    assert np.abs(more).sum() == pytest.approx(1e-6, rel=1e-3)
    # our own judgement: one in five through a crossover that nobody told of, half of either kind
    assert odds_of(untold.model) == pytest.approx(0.1 * odds_of(minimum.model))


@pytest.mark.parametrize("seed", SEEDS)
def test_ringing_wall_does_not_bend_the_result(seed: int) -> None:
    # independent: a wall of 5 % of the air's give at 100 Hz, Q 30, in the virtual cabinet's own physics; left in
    # the fit without a branch of its own it makes box Q 7 to 75 % wrong
    design, cabinet = cabinet_of(seed)
    rings = replace(cabinet, panel=Panel(100.0, 30.0, 0.05))
    truth = rings.truth()
    fit = fitted(rings.impedance(HZ), design, seed)
    assert truth.tuning_hz is not None
    assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=1e-3)
    assert truth.box_q is not None
    assert fit.box_q.value == pytest.approx(truth.box_q, rel=0.08)
    assert fit.residual < 2e-3


@pytest.mark.parametrize("seed", SEEDS)
def test_what_rings_outside_the_box_bends_little(seed: int) -> None:
    # exact: a term A/(1 + jQ(f/f0 - f0/f)) added at the terminals is no wall of the box
    design, cabinet = cabinet_of(seed)
    truth = cabinet.truth()
    added = 1.5 / (1.0 + 40j * (HZ / 130.0 - 130.0 / HZ))
    fit = fitted(cabinet.impedance(HZ) + added, design, seed)
    assert truth.tuning_hz is not None
    assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=3e-3)
    assert fit.tuning_hz.holds(truth.tuning_hz)
    # independent: left out without its flanks, it made the compliance ratio up to a seventh wrong
    assert truth.box_q is not None
    assert fit.box_q.value == pytest.approx(truth.box_q, rel=0.08)
    assert fit.compliance_ratio.value == pytest.approx(truth.compliance_ratio, rel=0.1)
    assert fit.compliance_ratio.holds(truth.compliance_ratio)
    for low_hz, high_hz in fit.left_out_hz:
        assert low_hz < 130.0 < high_hz
        assert high_hz / low_hz < 2.0


def test_nothing_is_invented_in_clean_curves() -> None:
    for seed in range(20280, 20290):
        design, cabinet = cabinet_of(seed)
        for noise in (1e-4, 5e-4, 2e-3):
            fit = fitted(cabinet.impedance(HZ), design, seed, noise)
            assert fit.hidden_crossover is None, (seed, noise)
            assert fit.left_out_hz == (), (seed, noise)


@pytest.mark.parametrize("seed", range(20260, 20266))
def test_no_crossover_is_invented_to_follow_a_smooth_error(seed: int) -> None:
    # exact: three broad waves of 1 %, of which no circuit knows anything
    design, cabinet = cabinet_of(seed)
    rng = np.random.default_rng(seed)
    position = np.log(HZ / HZ[0])
    swing = sum(
        (rng.standard_normal() + 1j * rng.standard_normal())
        * np.sin(2.0 * np.pi * position / length + rng.uniform(0.0, 6.0))
        for length in (1.2, 1.9, 3.0)
    )
    fit = fitted(cabinet.impedance(HZ) * (1.0 + 0.01 * swing), design, seed, noise=1e-4)
    assert fit.hidden_crossover is None


class _Nothing:
    def evaluate(self, vector: NDArray[np.float64]) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
        raise NotImplementedError

    def prior(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        raise NotImplementedError

    def moved(self, vector: NDArray[np.float64], step: NDArray[np.float64]) -> NDArray[np.float64]:
        raise NotImplementedError


def _residual(error: NDArray[np.complex128]) -> tuple[Minimum[_Nothing], Points]:
    z = np.full(HZ.size, 10.0 + 0.0j)
    points = Points(HZ, z, np.full(HZ.size, 0.01))
    nothing = np.zeros((HZ.size, 0), dtype=np.complex128)
    return Minimum(_Nothing(), np.zeros(0), nothing, error * z, np.array([0.01]), 0.0, True), points


@pytest.mark.parametrize(("hz", "q"), [(60.0, 20.0), (140.0, 30.0), (300.0, 60.0)])
def test_resonance_in_the_residual_is_found_where_it_is(hz: float, q: float) -> None:
    rng = np.random.default_rng(1)
    noise = 1e-3 * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
    error = np.asarray((0.03 - 0.02j) / (1.0 + 1j * q * (HZ / hz - hz / HZ)) + noise)
    found = ringing(*_residual(error))
    assert found is not None
    assert found.hz == pytest.approx(hz, rel=0.02)  # steps of 1/36 octave
    assert 0.4 < found.q / q < 2.5  # the sharpness is tried in steps of two
    low_hz, high_hz = found.stretch_hz
    assert low_hz < hz * (1.0 - 1.0 / q)
    assert high_hz > hz * (1.0 + 1.0 / q)


def test_broad_or_noisy_residual_is_no_ringing() -> None:
    rng = np.random.default_rng(2)
    noise = 1e-3 * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
    assert ringing(*_residual(np.asarray(noise))) is None
    broad = 0.03 * np.sin(2.0 * np.pi * np.log(HZ)) + noise
    assert ringing(*_residual(np.asarray(broad))) is None
    assert ringing(*_residual(np.zeros(HZ.size, dtype=np.complex128))) is None
