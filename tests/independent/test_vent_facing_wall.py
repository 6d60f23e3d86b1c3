"""The end of a pipe whose mouth faces a wall, against coaxial rings of current and against mode matching.

Air without rotation about a thin pipe moves like the magnetic field about a superconducting one. The pipe and its
mirror image, which carries the opposite current, are cut into rings; the flux through each is the same; current over
flux is the length that the pipe has to the air.
"""

from math import pi

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ellipe, ellipkm1, j0, j1, jn_zeros

from sealtune.physics.end_correction import FLANGED, FREE, facing_wall_m

Real = NDArray[np.float64]
LENGTH = 60.0  # of the pipe, radii
RINGS = 300


def _mutual(square: Real) -> Real:
    """Flux through one ring of radius 1 by unit current in another, whose plane is the root of `square` away."""
    k = np.sqrt(4.0 / (4.0 + square))
    return np.asarray((2.0 / k - k) * ellipkm1(square / (4.0 + square)) - (2.0 / k) * ellipe(k**2))


def _whole_length(distance: float | None) -> float:
    """Length to the air of a pipe of LENGTH, radii; a wall faces one mouth at that distance."""
    edges = LENGTH * (1.0 + np.tanh(6.0 * np.linspace(-1.0, 1.0, RINGS + 1)) / np.tanh(6.0)) / 2.0
    centre, width = (edges[1:] + edges[:-1]) / 2.0, np.diff(edges)
    node, weight = np.polynomial.legendre.leggauss(12)
    place = centre[:, None] + node * width[:, None] / 2.0
    apart = centre[:, None, None] - place

    def log_integral(to: Real) -> Real:  # of ln|t|, exact, where the kernel is singular
        return np.asarray(to * np.log(np.abs(to)) - to)

    smooth = ((_mutual(apart**2) + np.log(np.abs(apart))) * weight).sum(-1) * width / 2.0
    flux = smooth - log_integral(edges[1:] - centre[:, None]) + log_integral(edges[:-1] - centre[:, None])
    if distance is not None:
        image = centre[:, None, None] + place + 2.0 * distance
        flux = flux - (_mutual(image**2) * weight).sum(-1) * width / 2.0
    return float(pi * (np.linalg.solve(flux, np.ones(RINGS)) * width).sum())


def free_end(distance: float | None) -> float:
    """End correction over radius; what the two ends of a finite pipe hear of each other is taken off."""
    added = _whole_length(distance) - LENGTH
    if distance is None:
        return (added + 0.5 / LENGTH) / 2.0
    heard = 0.5 * (1.0 / LENGTH + 1.0 / (LENGTH + 2.0 * distance)) - 0.25 / (2.0 * LENGTH + 2.0 * distance)
    return added + heard - FREE


def test_the_rings_give_the_free_end() -> None:
    # Exact: 0.61270 [Levine1948, the integral]; a pipe of 60 radii is within 0.02 %.
    assert free_end(None) == pytest.approx(0.61270, rel=3e-4)


@pytest.mark.parametrize("distance", [0.1, 0.15, 0.2, 0.35, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0])
def test_wall_ahead_of_a_free_pipe(distance: float) -> None:
    # Independent: coaxial rings; 1.679, 0.954, 0.780 and 0.648 radii in all at 0.1, 0.5, 1 and 4.
    exact = free_end(distance)
    assert FREE + facing_wall_m(1.0, distance) == pytest.approx(exact, rel=0.017)


def test_close_to_the_wall_the_air_chooses_its_way() -> None:
    # Independent: coaxial rings. Trap: air that rises evenly over the mouth would add a^2/(8 s), which is 1.25 radii
    # at a tenth of one and 2.5 at a twentieth; the truth is 1.07 and 1.46.
    assert free_end(0.1) - FREE == pytest.approx(1.066, abs=2e-3)
    assert free_end(0.05) - FREE == pytest.approx(1.462, abs=2e-3)


def test_wall_far_ahead() -> None:
    # Exact: the mirror image, a source at 2 s: a^2/(8 s).
    assert facing_wall_m(1.0, 500.0) == pytest.approx(1.0 / 4000.0, rel=2e-3)
    assert free_end(12.0) - free_end(None) == pytest.approx(1.0 / 96.0, rel=0.06)
    # Exact: lengths scale.
    assert facing_wall_m(0.03, 0.06) == pytest.approx(0.03 * facing_wall_m(1.0, 2.0), rel=1e-12)


def flush_end(radius: float, depth: float, modes: int = 30) -> float:
    """End correction over radius of a pipe flush in the flat wall of a round room that gives evenly, by mode matching.

    radius, depth: of the room, in radii of the pipe; the end is what lies between mouth and mean of the room
    """
    inside = np.r_[0.0, jn_zeros(1, modes)]
    room = jn_zeros(1, int(4 * modes * radius)) / radius
    top = np.r_[1.0, j0(inside[1:])]
    shared = room * j1(room) * top[:, None] / (room**2 - inside[:, None] ** 2)
    drop = (shared * (2.0 / (room * np.tanh(room * depth) * (radius * j0(room * radius)) ** 2))) @ shared.T
    stored = np.diag(top[1:] ** 2 / (2.0 * inside[1:]))
    swirl = np.linalg.solve(drop[1:, 1:] + stored, -drop[1:, 0])
    return float(2.0 * (drop[0] @ np.r_[1.0, swirl]) + depth / (3.0 * radius**2))


def test_the_modes_give_the_flanged_end() -> None:
    # Published: 0.8216 [Dalmont2001]; a room of 40 radii takes off 1.25/40 of it and its depth adds 1/120.
    end = flush_end(40.0, 40.0, 20)
    assert end == pytest.approx(FLANGED * (1.0 - 1.25 / 40.0) + 1.0 / 120.0, rel=4e-3)


@pytest.mark.parametrize("depth", [1.0, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("radius", [5.0, 8.0])
def test_flush_mouth_in_a_shallow_room(radius: float, depth: float) -> None:
    # Independent: mode matching; the formula of a free pipe errs by less than a quarter of a radius, for the room's
    # sides take off about what the wall ahead adds.
    formula = FLANGED + facing_wall_m(1.0, depth)
    assert formula == pytest.approx(flush_end(radius, depth), abs=0.25)
    # Exact: nearer walls make the end longer, in the formula as in the room, once they are a radius or two away.
    assert flush_end(radius, 1.0) > flush_end(radius, 2.0)
