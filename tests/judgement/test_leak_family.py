"""The family of leaks against the virtual cabinet's own physics, and against the limits of leaks."""

from dataclasses import replace

import numpy as np
import pytest

from sealtune.judgement.leak_family import DEPTH_M, leak_family
from sealtune.physics.air import standard_air
from sealtune.records.design import Design
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.faults import with_hole, with_slit


def test_effects_agree_with_an_independent_cabinet(design: Design) -> None:
    # independent: the virtual cabinet solves the same box as a network with the vent as a transmission line
    cabinet = replace(cabinet_from_design(design, np.random.default_rng(0)), air_spring_factor=1.0)
    sealed = cabinet.truth()
    assert sealed.tuning_hz is not None
    assert sealed.box_q is not None
    family = leak_family(sealed.tuning_hz, sealed.box_q, design.box.volume_m3, standard_air())
    compared = 0
    for index in range(0, family.area_m2.size, 7):
        gap_mm, width_mm = 1e3 * family.gap_m[index], 1e3 * family.width_m[index]
        if width_mm > 0:
            leaking = with_slit(cabinet, gap_mm, width_mm, 1e3 * DEPTH_M).truth()
        else:
            leaking = with_hole(cabinet, gap_mm, 1e3 * DEPTH_M).truth()
        if leaking.tuning_hz is None or leaking.box_q is None or family.log_tuning[index] > 0.4:
            continue
        compared += 1
        # the two use end corrections of their own, which agree within a few per cent of the depth
        shift = np.log(leaking.tuning_hz / sealed.tuning_hz)
        assert family.log_tuning[index] == pytest.approx(shift, rel=0.1, abs=0.003)
        # the family counts the sealed box's own losses as one leakage, hence up to 8 % of Q
        assert family.log_q[index] == pytest.approx(np.log(leaking.box_q / sealed.box_q), rel=0.1, abs=0.08)
    assert compared > 15


def test_a_hole_raises_the_tuning_and_spares_the_q_a_narrow_gap_does_the_opposite() -> None:
    # exact: a hole's air is a mass (phase 79 degrees for 4 mm at 40 Hz), a narrow gap's a resistance
    family = leak_family(40.0, 12.0, 0.024, standard_air())
    holes = family.width_m == 0.0
    big = holes & (family.gap_m > 5e-3)
    assert np.all(family.log_tuning[big] > 0.03)
    assert np.all(-family.log_q[big] < 0.07)
    narrow = ~holes & (family.gap_m < 0.3e-3) & (family.width_m > 0.1)
    assert narrow.sum() >= 4
    assert np.all(-family.log_q[narrow] > 3.0 * family.log_tuning[narrow])
    assert np.all(-family.log_q[narrow] > 0.05)


def test_felt_leaves_out_what_changes_nothing() -> None:
    family = leak_family(40.0, 12.0, 0.024, standard_air())
    assert 0 < family.felt.sum() < family.felt.size
    assert family.area_m2[~family.felt].min() < family.area_m2[family.felt].min()


def test_likeness_speaks_of_gaps_and_holes() -> None:
    family = leak_family(40.0, 12.0, 0.024, standard_air())
    assert family.likeness(0) == "like a gap of 0.2 mm along 15 mm of a joint"
    assert family.likeness(family.area_m2.size - 1) == "like a hole of 16 mm across"
