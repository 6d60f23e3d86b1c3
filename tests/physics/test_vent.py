from dataclasses import replace
from math import pi, sqrt, tan

import numpy as np
import pytest
from scipy.special import jv

from sealtune.physics.air import Air, standard_air
from sealtune.physics.end_correction import neighbour_m, rectangular_piston_m
from sealtune.physics.vent import (
    effective_length_for_tuning_m,
    effective_length_m,
    end_corrections_m,
    length_for_tuning_m,
    perimeter_m,
    tuning_hz,
    vent_q,
    viscous_layer_m,
)
from sealtune.records.design import Vent

ROUND = Vent("round", pi * 0.03**2, 0.140, diameter_m=0.06)
SLOT = Vent("rectangular", 0.2 * 0.02, 0.2, width_m=0.2, height_m=0.02)
OCTAGON = Vent("polygon", 8 * tan(pi / 8) * 0.03**2, 0.14, sides=8, across_flats_m=0.06)
ODD = Vent("custom", 28e-4, 0.14)


def test_round_ends() -> None:
    # Published: 0.8216 a flanged [Dalmont2001], 0.6133 a free [Levine1948], whose figure is 0.1 % high.
    assert effective_length_m(ROUND) == pytest.approx(0.140 + (0.8216 + 0.6133) * 0.03, abs=0.03 * 0.001)
    both = replace(ROUND, inner_end="flanged")
    assert end_corrections_m(both) == pytest.approx(2 * 0.8216 * 0.03, rel=1e-4)
    assert end_corrections_m(replace(ROUND, outer_end="free")) == pytest.approx(2 * 0.6127 * 0.03, rel=1e-3)


@pytest.mark.parametrize(
    ("speed_m_s", "constant"),
    [(343.0, 23406), (343.2, 23433), (344.0, 23542), (344.15, 23562.5), (345.0, 23679)],
)
def test_handbook_formula(speed_m_s: float, constant: float) -> None:
    # Independent: the handbook formula L[cm] = K D^2/(f^2 V[L]) - k D has K = c^2/(16 pi 1000), c in cm/s.
    air = Air(1.2, speed_m_s, 1.8e-5)
    length_cm = 100 * effective_length_for_tuning_m(0.018, 44.0, ROUND, air)
    assert length_cm == pytest.approx(constant * 6.0**2 / (44.0**2 * 18.0), rel=5e-5)


@pytest.mark.parametrize("vent", [ROUND, SLOT, OCTAGON, ODD, replace(ROUND, count=3, outer_end="flared")])
def test_length_for_tuning_is_the_inverse(vent: Vent) -> None:
    # Exact: there and back.
    air = standard_air()
    hz = tuning_hz(0.03, vent, air)
    assert 20.0 < hz < 120.0
    assert length_for_tuning_m(0.03, hz, vent, air) == pytest.approx(vent.length_m, rel=1e-12)
    # Exact: twice the volume takes half of the effective length.
    halved = length_for_tuning_m(0.06, hz, vent, air) + end_corrections_m(vent)
    assert halved == pytest.approx(effective_length_m(vent) / 2, rel=1e-12)


def test_vent_too_small_for_the_tuning() -> None:
    # Exact: a pin hole cannot tune a small box to 200 Hz, however short.
    assert length_for_tuning_m(0.02, 200.0, ROUND, standard_air()) < 0


def test_rectangular_ends() -> None:
    # Independent: 10:1, flanged with uniform velocity, 0.35519 sqrt(S); the circle's exact flanged end over
    # the piston's is 0.8216/0.84883. Trap: the circle of equal area would be a third more.
    flanged = replace(SLOT, inner_end="flanged")
    expected = 2 * 0.35519 * sqrt(0.2 * 0.02) * 0.8216 / 0.84883
    assert end_corrections_m(flanged) == pytest.approx(expected, rel=1e-4)
    circle = end_corrections_m(replace(flanged, shape="custom"))
    assert circle / end_corrections_m(flanged) == pytest.approx(0.47890 / 0.35519, rel=1e-3)
    assert end_corrections_m(flanged) < 2 * rectangular_piston_m(0.2, 0.02)


def test_octagon_is_nearly_round() -> None:
    # Independent: an octagon's end is within 0.1 % of the circle of equal area, a square's 1.2 % below.
    circle = end_corrections_m(replace(OCTAGON, shape="custom"))
    assert end_corrections_m(OCTAGON) == pytest.approx(circle, rel=1e-3)
    square = Vent("polygon", 0.0025, 0.1, sides=4, across_flats_m=0.05)
    same = Vent("rectangular", 0.0025, 0.1, width_m=0.05, height_m=0.05)
    assert end_corrections_m(square) == pytest.approx(end_corrections_m(same), rel=5e-4)


def test_several_vents_each_have_their_own_ends() -> None:
    # Exact: N vents far apart tune N volumes as one tunes one. Trap: one vent of their total area has longer
    # ends and tunes lower.
    air = standard_air()
    two = replace(ROUND, count=2)
    assert tuning_hz(0.036, two, air) == pytest.approx(tuning_hz(0.018, ROUND, air), rel=1e-12)
    merged = replace(ROUND, area_m2=2 * ROUND.area_m2, shape="custom")
    excess = effective_length_m(merged) - effective_length_m(two)
    assert excess == pytest.approx(1.4343 * 0.03 * (sqrt(2) - 1), rel=1e-3)


def test_wall_beside_the_inner_mouth() -> None:
    # Exact: mirror image; a free end gains half of what a flanged one does, its sound going all round.
    flanged = replace(ROUND, inner_end="flanged")
    gain = end_corrections_m(replace(flanged, wall_distance_m=0.03)) - end_corrections_m(flanged)
    assert gain == pytest.approx(neighbour_m(0.03, 0.12), rel=1e-9)
    # Independent: 0.1271 radii for two mouths 4 radii apart.
    assert gain == pytest.approx(0.1271 * 0.03, rel=1e-3)
    free = end_corrections_m(replace(ROUND, wall_distance_m=0.03)) - end_corrections_m(ROUND)
    assert free == pytest.approx(gain / 2, rel=1e-9)


def test_flare_shortens_the_vent() -> None:
    # Exact: no flare is a flange; the larger the flare, the shorter the vent to the air, and never below its
    # straight part.
    vents = [replace(ROUND, outer_end="flared", flare_radius_m=r) for r in (0.0, 0.005, 0.015, 0.03)]
    lengths = [effective_length_m(vent) for vent in vents]
    assert lengths[0] == pytest.approx(effective_length_m(ROUND), rel=1e-12)
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[3] > 0.14 - 0.03 + 0.6127 * 0.03
    # Exact: a flare cannot be longer than the vent it is part of.
    huge = replace(ROUND, outer_end="flared", inner_end="flared", flare_radius_m=0.5)
    assert effective_length_m(huge) == effective_length_m(replace(huge, flare_radius_m=0.07)) > 0
    # Common practice: where the radius is not given, a quarter of the diameter.
    assert effective_length_m(replace(ROUND, outer_end="flared")) == pytest.approx(lengths[2], rel=1e-9)


@pytest.mark.parametrize(
    ("vent", "perimeter"), [(ROUND, 2 * pi * 0.03), (SLOT, 0.44), (OCTAGON, 16 * tan(pi / 8) * 0.03)]
)
def test_perimeter(vent: Vent, perimeter: float) -> None:
    # Exact: geometry.
    assert perimeter_m(vent) == pytest.approx(perimeter, rel=1e-12)


def test_friction_against_the_exact_tube() -> None:
    # Published: the exact viscous tube 1/(1 - 2 J1(x)/(x J0(x))) [Zwikker1949] for a very long vent, whose
    # ends do not matter; the boundary layer holds to a few per cent at a radius of 30 mm.
    air = standard_air()
    long = replace(ROUND, length_m=1e4)
    x = 0.03 * np.sqrt(np.array([-2j * pi * 40.0 * air.density_kg_m3 / air.viscosity_pa_s]))
    z = complex((1j / (1 - 2 * jv(1, x) / (x * jv(0, x))))[0])
    assert vent_q(long, 40.0, air) == pytest.approx(z.imag / z.real, rel=0.02)
    # Exact: 2 S/(P delta) = a/delta.
    assert vent_q(long, 40.0, air) == pytest.approx(0.03 / viscous_layer_m(40.0, air), rel=1e-5)


def test_friction_grows_with_the_root_of_frequency() -> None:
    # Exact: Q grows as sqrt(f); a slot has more wall, so less Q; several vents have the Q of one.
    air = standard_air()
    assert vent_q(ROUND, 80.0, air) / vent_q(ROUND, 20.0, air) == pytest.approx(2.0, rel=1e-12)
    assert vent_q(replace(ROUND, count=2), 44.0, air) == vent_q(ROUND, 44.0, air)
    assert vent_q(SLOT, 44.0, air) < 0.6 * vent_q(replace(SLOT, shape="custom"), 44.0, air)
    # Exact: end losses of one diameter more wall [Ingard1953, from memory] keep a short vent's Q finite.
    assert vent_q(replace(ROUND, length_m=1e-6), 44.0, air) < vent_q(ROUND, 44.0, air)
