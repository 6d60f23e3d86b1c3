"""The inner end of a slot across the whole width, against mode matching of plane flow."""

from math import log, pi

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.physics.slot_end import stepped_slot_m, thin_slot_m

Real = NDArray[np.float64]


def _overlap(count: int, height: float, room: Real, above: float = 0.0) -> Real:
    """Integrals of cos(n pi y/height) cos(room (y + above)) over the height, shape (count, modes)."""
    node, weight = np.polynomial.legendre.leggauss(600)
    y, weight = (node + 1.0) * height / 2.0, weight * height / 2.0
    low, whole = np.outer(np.arange(count), y) / height, np.outer(y + above, room)
    return np.asarray((np.cos(pi * low) * weight) @ np.cos(whole))


def _stored(count: int, height: float) -> Real:
    return np.concatenate([[0.0], height**2 / (2.0 * pi * np.arange(1.0, count))])


def shelf_end(height: float, ahead: float, wall: float | None = None, modes: int = 60) -> tuple[float, float]:
    """Length from the slot to the air above the shelf and to the air ahead, box height 1, by mode matching.

    ahead: share of the flow that goes straight on; the rest turns back over the shelf
    wall: from the shelf's edge to the wall that the slot faces
    """
    low, high = max(6, round(2 * modes * height)), max(6, round(2 * modes * (1.0 - height)))
    room = pi * np.arange(1.0, 8.0 * modes)
    basis = np.vstack([_overlap(low, height, room), _overlap(high, 1.0 - height, room, height)])
    closed = 1.0 if wall is None else np.tanh(room * wall)
    drop = (basis * (2.0 / (room * closed))) @ basis.T
    velocity = np.zeros(low + high)
    velocity[0], velocity[low] = 1.0, -(1.0 - ahead) * height / (1.0 - height)
    free = np.flatnonzero((np.arange(low + high) != 0) & (np.arange(low + high) != low))
    kept = np.diag(np.r_[_stored(low, height), _stored(high, 1.0 - height)])
    velocity[free] = np.linalg.solve((drop + kept)[np.ix_(free, free)], -(drop @ velocity)[free])
    pressure = drop @ velocity
    return float(pressure[0] / height - pressure[low] / (1.0 - height)), float(pressure[0] / height)


def step_end(height: float, modes: int = 80) -> float:
    """Length that a step from the height to 1 adds, by mode matching."""
    low = max(6, round(2 * modes * height))
    room = pi * np.arange(1.0, 8.0 * modes)
    basis = _overlap(low, height, room)
    drop = (basis * (2.0 / room)) @ basis.T
    swirl = np.linalg.solve((drop + np.diag(_stored(low, height)))[1:, 1:], -drop[1:, 0])
    return float(drop[0] @ np.r_[1.0, swirl] / height)


@pytest.mark.parametrize("height", [0.05, 0.1, 0.2, 0.5])
def test_both_ways_round_a_thin_shelf(height: float) -> None:
    # Independent: mode matching, which comes down to the exact value as modes are added (0.7 % at the thinnest slot).
    over, onward = shelf_end(height, 1.0)
    back, ahead = shelf_end(height, 0.0)
    formula = thin_slot_m(height, 1.0)
    assert over == pytest.approx(formula, rel=0.01)
    assert onward == pytest.approx(formula * (1.0 - height), rel=0.01)
    assert back == pytest.approx(formula / (1.0 - height), rel=0.01)
    # Exact: reciprocity.
    assert ahead == pytest.approx(over, rel=1e-9)
    # Exact: with half of the air on either side, the mean over the box is E (1 - u/2)^2/(1 - u).
    halves = shelf_end(height, 0.5)
    exact = formula * (1.0 - height / 2.0) ** 2 / (1.0 - height)
    assert sum(halves) / 2.0 == pytest.approx(exact, rel=0.01)
    assert exact == pytest.approx(formula, rel=0.02 if height < 0.25 else 0.13)


def test_thin_slot_of_half_the_height() -> None:
    # Exact: E = H ln 2/pi where the shelf halves the box.
    assert thin_slot_m(0.2, 0.4) == pytest.approx(0.4 * log(2.0) / pi, rel=1e-12)
    # Exact: nothing is added where the slot is as high as the box.
    assert thin_slot_m(0.4, 0.4) == stepped_slot_m(0.4, 0.4) == 0.0
    # Exact: plane flow round an edge grows as (h/pi) ln H.
    assert thin_slot_m(0.01, 20.0) - thin_slot_m(0.01, 10.0) == pytest.approx(0.01 * log(2.0) / pi, rel=1e-3)


@pytest.mark.parametrize("height", [0.05, 0.1, 0.2, 0.35, 0.5, 0.8])
def test_step(height: float) -> None:
    # Independent: mode matching.
    assert stepped_slot_m(height, 1.0) == pytest.approx(step_end(height), rel=2e-3)
    # Exact: lengths scale.
    assert stepped_slot_m(0.4 * height, 0.4) == pytest.approx(0.4 * stepped_slot_m(height, 1.0), rel=1e-12)


@pytest.mark.parametrize("height", [0.03, 0.05, 0.1, 0.2, 0.33])
@pytest.mark.parametrize("wall", [0.25, 0.5, 1.0, 2.0, 4.0])
def test_wall_ahead_of_a_slot(height: float, wall: float) -> None:
    # Independent: mode matching of a slot that faces a wall, so that all its air turns back; 3.70 slot heights at a
    # quarter of a height, and 1.15 far off, for h/H = 0.03 and 0.1. Trap: without the wall it is 1.5 and 1.03.
    exact, _ = shelf_end(height, 0.0, wall * height, 60 if height >= 0.1 else 120)
    assert thin_slot_m(height, 1.0, wall * height) == pytest.approx(exact, rel=0.025)
