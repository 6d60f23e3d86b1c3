from dataclasses import replace
from math import pi, sqrt, tan

import numpy as np
import pytest
from scipy.special import jv

from sealtune.physics.air import Air, standard_air
from sealtune.physics.end_correction import neighbour_m, rectangular_piston_m
from sealtune.physics.slot_end import thin_slot_m
from sealtune.physics.vent import (
    effective_length_for_tuning_m,
    effective_length_m,
    end_corrections_m,
    helmholtz_hz,
    length_for_tuning_m,
    perimeter_m,
    pipe_resonance_hz,
    tuning_hz,
    vent_ends_m,
    vent_q,
    viscous_layer_m,
)
from sealtune.records.design import Box, Vent

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
    # Independent: the handbook formula L[cm] = K D^2/(f^2 V[L]) - k D has K = c^2/(16 pi 1000), c in cm/s. It leaves
    # out how the vent's own air gives, so it holds for a vent with very little air beside the box's.
    air = Air(1.2, speed_m_s, 1.8e-5)
    length_cm = 100 * effective_length_for_tuning_m(Box(18.0), 44.0 / sqrt(1000.0), ROUND, air)
    assert length_cm == pytest.approx(constant * 6.0**2 / (44.0**2 * 18.0), rel=5e-5)
    # Exact to first order: the vent is shorter by its air's springiness, S L'/3 [(1 - i/L')^3 - (o/L')^3] over V.
    whole = constant * 6.0**2 / (44.0**2 * 18.0) / 100
    inner, outer = 0.6127 * 0.03 / whole, 0.8216 * 0.03 / whole
    share = pi * 0.03**2 * whole / 3 * ((1 - inner) ** 3 - outer**3) / 0.018
    shorter = 1 - effective_length_for_tuning_m(Box(0.018), 44.0, ROUND, air) / whole
    assert 0.009 < share < 0.012
    assert shorter == pytest.approx(share, rel=0.03)


@pytest.mark.parametrize(
    "vent",
    [
        ROUND,
        SLOT,
        OCTAGON,
        ODD,
        replace(ROUND, count=3, outer_end="flared"),
        replace(ROUND, inner_end="flared", outer_end="flared", flare_radius_m=0.03),
        replace(ROUND, count=3, spacing_m=0.08, wall_distance_m=0.02, wall_position="facing"),
        replace(SLOT, shared_walls=3, length_m=0.6),
    ],
)
def test_length_for_tuning_is_the_inverse(vent: Vent) -> None:
    # Exact: there and back.
    air, box = standard_air(), Box(0.03)
    hz = tuning_hz(box, vent, air)
    assert 20.0 < hz < 120.0
    assert length_for_tuning_m(box, hz, vent, air) == pytest.approx(vent.length_m, rel=1e-12)
    # Exact: without the duct's own give, twice the volume takes half of the effective length; with it, a little more
    # than half, for the larger box leaves the duct the smaller share.
    whole = effective_length_m(vent, box)
    half = effective_length_for_tuning_m(Box(0.06, height_m=0.03 ** (1 / 3)), hz, vent, air) / whole
    springy = vent.count * vent.area_m2 * whole / 3 / 0.03
    assert 0.5 < half < 0.5 * (1 + springy)


def test_helmholtz_of_arrays() -> None:
    # Exact: one number or many; a duct without air of its own is the lumped mass c/(2 pi) sqrt(S/(V L')).
    volume = np.array([0.01, 0.03, 0.09])
    many = helmholtz_hz(344.0, 3e-3, 0.15, 0.02, 0.025, volume)
    one = [float(helmholtz_hz(344.0, 3e-3, 0.15, 0.02, 0.025, v)) for v in (0.01, 0.03, 0.09)]
    assert many == pytest.approx(one, rel=1e-14)
    lumped = float(helmholtz_hz(344.0, 3e-3, 0.0, 0.02, 0.025, 0.01))
    assert lumped == pytest.approx(344.0 / (2 * pi) * sqrt(3e-3 / (0.01 * 0.045)), rel=1e-12)
    # Exact to first order: with short ends lower by a sixth of duct air over box air.
    duct = float(helmholtz_hz(344.0, 3e-3, 0.1, 0.0, 0.0, 0.03))
    assert 1 - duct / (344.0 / (2 * pi) * sqrt(3e-3 / (0.03 * 0.1))) == pytest.approx(0.01 / 6, rel=0.01)


def test_vent_too_small_for_the_tuning() -> None:
    # Exact: a pin hole cannot tune a small box to 200 Hz, however short; at the highest tuning there is, nothing is
    # left of its length.
    air, box = standard_air(), Box(0.02)
    assert length_for_tuning_m(box, 200.0, ROUND, air) < 0
    highest = tuning_hz(box, replace(ROUND, length_m=0.0), air)
    assert length_for_tuning_m(box, highest, ROUND, air) == pytest.approx(0.0, abs=1e-12)
    assert 0 < length_for_tuning_m(box, 0.999 * highest, ROUND, air) < 1e-3
    assert length_for_tuning_m(box, 1.001 * highest, ROUND, air) < 0


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
    assert tuning_hz(Box(0.036), two, air) == pytest.approx(tuning_hz(Box(0.018), ROUND, air), rel=1e-12)
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


def test_wall_that_the_inner_mouth_faces() -> None:
    # Exact: far off it is the image a^2/(8 s), the same as from a wall beside it; close by it adds much more.
    far = replace(ROUND, wall_distance_m=0.6)
    facing = replace(far, wall_position="facing")
    gain = end_corrections_m(facing) - end_corrections_m(ROUND)
    assert gain == pytest.approx(0.03**2 / (8 * 0.6), rel=0.03)
    assert gain == pytest.approx(end_corrections_m(far) - end_corrections_m(ROUND), rel=0.1)
    close = replace(facing, wall_distance_m=0.003)
    # Independent: 1.066 radii at a tenth of a radius (coaxial rings, tests/independent/test_vent_facing_wall.py).
    assert end_corrections_m(close) - end_corrections_m(ROUND) == pytest.approx(1.066 * 0.03, rel=0.02)
    # Exact: only the inner end is changed, and a mouth that touches the wall still has a finite end.
    assert vent_ends_m(close)[1] == vent_ends_m(ROUND)[1]
    assert 2 * 0.03 < end_corrections_m(replace(close, wall_distance_m=0.0)) < 6 * 0.03


def test_several_vents_close_together() -> None:
    # Independent: 0.1719 radii for two flanged mouths 3 radii apart (2 int (J1/t)^2 J0), half for free ones.
    pair = replace(ROUND, count=2, spacing_m=0.09)
    inner, outer = (a - b for a, b in zip(vent_ends_m(pair), vent_ends_m(ROUND), strict=True))
    assert outer == pytest.approx(0.1719 * 0.03, abs=6e-5 * 0.03)
    assert inner == pytest.approx(outer / 2, rel=1e-9)
    # Exact: of three in a row the middle one has two neighbours at d, the outer ones one at d and one at 2 d.
    three = replace(pair, count=3)
    expected = (4 * neighbour_m(0.03, 0.09) + 2 * neighbour_m(0.03, 0.18)) / 3
    assert vent_ends_m(three)[1] - vent_ends_m(ROUND)[1] == pytest.approx(expected, rel=1e-9)
    # Exact: None, far apart and a single vent are the same.
    apart = end_corrections_m(replace(pair, spacing_m=1e4))
    assert apart == pytest.approx(end_corrections_m(replace(pair, spacing_m=None)), abs=1e-7)
    assert end_corrections_m(replace(pair, count=1)) == end_corrections_m(ROUND)


def test_slot_that_shares_walls() -> None:
    # Exact: a slot on the floor is half of a free slot twice as high; in a corner a quarter of one twice as wide too.
    slot = Vent("rectangular", 0.1 * 0.03, 0.2, width_m=0.1, height_m=0.03)
    on_floor, in_corner = replace(slot, shared_walls=1), replace(slot, shared_walls=2)
    for shared, width, height in ((on_floor, 0.1, 0.06), (in_corner, 0.2, 0.06)):
        whole = Vent("rectangular", width * height, 0.2, width_m=width, height_m=height)
        assert vent_ends_m(shared)[0] == pytest.approx(vent_ends_m(whole)[0], rel=1e-12)
        assert vent_ends_m(shared)[1] == vent_ends_m(slot)[1]
    # Exact: which side is called the width does not matter.
    turned = replace(on_floor, width_m=0.03, height_m=0.1)
    assert vent_ends_m(turned) == pytest.approx(vent_ends_m(on_floor), rel=1e-12)
    # Exact: the more the walls hem in the air, the longer the slot is to it.
    box = Box(0.1 * 0.4 * 0.4, height_m=0.4)
    across = replace(slot, shared_walls=3)
    inner = [vent_ends_m(vent, box)[0] for vent in (slot, on_floor, in_corner)]
    assert inner == sorted(inner)
    assert vent_ends_m(across, box)[0] == pytest.approx(thin_slot_m(0.03, 0.4), rel=1e-12)
    # Exact: without a height the cube root of the volume stands in.
    assert vent_ends_m(across, Box(0.4**3))[0] == pytest.approx(thin_slot_m(0.03, 0.4), rel=1e-12)
    # Exact: flush in a wall from shelf to lid, its air spreads into half the room: longer than round a thin shelf, and
    # less than twice as long.
    flush = replace(across, inner_end="flanged")
    assert 1.0 < vent_ends_m(flush, box)[0] / vent_ends_m(across, box)[0] < 2.0
    # Exact: a wall ahead makes the end longer.
    faced = replace(across, wall_distance_m=0.03, wall_position="facing")
    assert vent_ends_m(faced, box)[0] > 1.2 * vent_ends_m(across, box)[0]


def test_pipe_resonance() -> None:
    # Exact: half a wave fits into the effective length.
    air = Air(1.2, 344.0, 1.8e-5)
    assert pipe_resonance_hz(ROUND, Box(0.018), air) == pytest.approx(344.0 / (2 * 0.18303), rel=1e-4)


RADII = np.linspace(0.015, 0.06, 10)
VOLUMES = np.geomspace(0.005, 0.2, 8)
TUNINGS = np.linspace(25.0, 80.0, 8)


@pytest.mark.parametrize("volume_m3", VOLUMES)
@pytest.mark.parametrize("target_hz", TUNINGS)
def test_what_every_builder_knows(volume_m3: float, target_hz: float) -> None:
    # Common practice: for one tuning a narrower vent is shorter and a wider one longer.
    air = standard_air()

    def length(volume: float, vent: Vent) -> float:
        return length_for_tuning_m(Box(volume), target_hz, vent, air)

    vents = [Vent("round", pi * r**2, 0.1, diameter_m=2 * r) for r in RADII]
    lengths = np.array([length(volume_m3, vent) for vent in vents])
    assert np.all(np.diff(lengths)[lengths[:-1] > 0] > 0)
    # Common practice: a larger box needs a shorter vent.
    for vent, here in zip(vents, lengths, strict=True):
        assert length(1.1 * volume_m3, vent) < here
        # Common practice: two vents of the same area are a little longer than one, for their ends are shorter.
        half = replace(
            vent, area_m2=vent.area_m2 / 2, diameter_m=vent.diameter_m and vent.diameter_m / sqrt(2), count=2
        )
        assert length(volume_m3, half) > here


@pytest.mark.parametrize("area_m2", [5e-4, 3e-3, 1e-2])
def test_round_ducts_waste_the_least(area_m2: float) -> None:
    # Common practice: a round duct has the least wall around its area, and so the highest Q and the least wood.
    side = sqrt(area_m2)
    circle = Vent("round", area_m2, 0.15, diameter_m=2 * sqrt(area_m2 / pi))
    others = [Vent("polygon", area_m2, 0.15, sides=n, across_flats_m=side) for n in range(3, 13)]
    others += [
        Vent("rectangular", area_m2, 0.15, width_m=side * q, height_m=side / q) for q in (1.0, 1.4, 2.0, 3.2)
    ]
    assert all(perimeter_m(circle) < perimeter_m(other) for other in others)
    assert all(vent_q(circle, 40.0, standard_air()) > vent_q(other, 40.0, standard_air()) for other in others)


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
