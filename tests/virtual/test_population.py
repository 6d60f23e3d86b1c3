from dataclasses import replace

import numpy as np
import pytest

from sealtune.virtual.population import draw_cabinet, draw_crossover, draw_design


def test_designs_stay_in_their_ranges() -> None:
    rng = np.random.default_rng(11)
    designs = [draw_design(rng) for _ in range(150)]
    for design in designs:
        driver, vent = design.driver, design.vent
        assert vent is not None
        assert driver.vas_m3
        assert driver.fs_hz
        assert design.tuning.target_hz
        assert 0.005 <= design.box.volume_m3 <= 0.150
        assert 0.39 < driver.vas_m3 / design.box.volume_m3 < 3.01
        assert 0.69 < design.tuning.target_hz / driver.fs_hz < 1.41
        assert 0.04 <= vent.length_m <= 0.45
    # really mixed: small and large boxes, both kinds of vent, with and without crossover
    volumes = np.array([design.box.volume_m3 for design in designs])
    assert volumes.min() < 0.012
    assert volumes.max() > 0.08
    assert (
        0.1
        < np.mean([design.vent is not None and design.vent.shape == "rectangular" for design in designs])
        < 0.35
    )
    assert 0.1 < np.mean([design.crossover is not None for design in designs]) < 0.4


def test_cabinets_have_their_losses_and_land_near_the_target() -> None:
    rng = np.random.default_rng(12)
    found_q, deviation = [], []
    for _ in range(80):
        design = draw_design(rng)
        truth = draw_cabinet(design, rng).truth()
        assert truth.tuning_hz
        assert truth.box_q
        assert design.tuning.target_hz
        found_q.append(truth.box_q)
        deviation.append(truth.tuning_hz / design.tuning.target_hz - 1)
        assert 0.03 <= truth.creep <= 0.2
    assert min(found_q) > 5.5
    assert max(found_q) < 20.5
    assert np.median(found_q) == pytest.approx(
        np.sqrt(6 * 20), rel=0.25
    )  # exact: even on a logarithmic scale
    # a good cabinet is good: within the design's 4 %, and on the average without bias
    assert np.abs(deviation).max() < 0.04
    assert abs(np.mean(deviation)) < 0.01
    assert np.std(deviation) > 0.003


def test_leaks_come_with_their_chance() -> None:
    rng = np.random.default_rng(13)
    design = draw_design(rng)
    assert np.mean([bool(draw_cabinet(design, rng, 0.5).leaks) for _ in range(60)]) == pytest.approx(
        0.5, abs=0.2
    )
    assert all(draw_cabinet(design, rng, 1.0).leaks for _ in range(5))
    assert not any(draw_cabinet(design, rng).leaks for _ in range(5))


def test_same_seed_same_cabinet() -> None:
    one, two = (np.random.default_rng(14) for _ in range(2))
    first, second = draw_design(one), draw_design(two)
    assert first == second
    assert draw_cabinet(first, one, 0.5) == draw_cabinet(second, two, 0.5)
    assert replace(first, name="x") != first


def test_crossovers_reach_from_a_low_pass_to_what_evens_out_the_coil() -> None:
    rng = np.random.default_rng(13)
    drawn = [draw_crossover(rng) for _ in range(300)]
    shunted = [each for each in drawn if each.shunt_f is not None]
    assert 0.68 < len(shunted) / len(drawn) < 0.82
    assert all(0.5e-3 <= each.series_h <= 3e-3 for each in drawn)
    assert all(8e-6 <= (each.shunt_f or 0.0) <= 60e-6 for each in shunted)
    ohms = np.array([each.shunt_ohm for each in shunted])
    assert ohms.min() < 0.07
    assert ohms.max() > 5.0
