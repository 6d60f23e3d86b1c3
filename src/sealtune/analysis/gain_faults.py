"""Whether the gain of one channel against the other drifted while a sweep ran.

A drift bends the magnitude of the ratio along the logarithm of frequency, and leaves its phase. In the ratio of two
voltages of a passive circuit, which has neither poles nor zeros on the right, the phase follows from the slope of
the magnitude [Bode1945]: phase(u) = 1/pi * integral of d ln|T|/dv * ln coth(|v - u|/2) dv over v = ln f. So a slope
that the phase knows nothing of is a drift. What lies beyond the band adds odd powers of f and of 1/f to the phase,
ln coth(x/2) being 2 (exp(-x) + exp(-3x)/3 + ...), and a delay between the channels adds to the first of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sealtune.records.fit import BoxFit
from sealtune.records.recording import Sweep
from sealtune.records.verdict import Problem
from sealtune.signals.transfer_function import Ratio

STEPS_PER_OCTAVE = 64
FEWEST_OCTAVES = 4.0
BEYOND_TERMS = 2
"""Odd powers for what lies beyond either end of the band."""

END = 0.3
"""e-folds at either end that are left to the powers above."""

UNSTEADY_DB = 0.4
"""Read from magnitude and phase alone, a drift over the whole sweep beyond this spoils the recording; virtual cabinets
without drift read as 0.1 dB at most."""

TOLD_DB = 0.04
"""Read by the fit, a drift beyond this is told; the fit has taken it up."""

SPOILS_DB = 0.15
"""Beyond this it spoils the recording: what drifts so far is not sure to drift evenly, and what the even drift leaves
is no longer small beside what parts a leak from other losses."""

STANDS_OUT = 3.0
"""Half widths of its 95 % interval by which a fitted drift has to stand out."""

OTHERWISE_WRONG_DB = 12.0
"""More is no drift but a channel upside down or lost samples."""

CERTAIN = 5.0
"""Standard errors that a drift has to stand out by."""


@dataclass(frozen=True)
class GainDrift:
    """The gain of channel 2 against channel 1: its slope over ln f, nepers per e-fold, and the standard error."""

    slope: float
    error: float


def drift_problems(ratio: Ratio, sweep: Sweep) -> list[Problem]:
    """Return the problem `dropout` where the gain of one channel drifted during a sweep."""
    drift = gain_drift(ratio)
    if drift is None:
        return []
    whole_db = 20.0 / float(np.log(10.0)) * float(np.log(sweep.stop_hz / sweep.start_hz))
    decibels = abs(drift.slope) * whole_db
    if not max(UNSTEADY_DB, CERTAIN * drift.error * whole_db) < decibels < OTHERWISE_WRONG_DB:
        return []
    return [_drifted(f"about {decibels:.1f} dB", spoils=True)]


def fitted_drift_problems(fit: BoxFit) -> list[Problem]:
    """Return the problem `dropout` for each recording whose gain drifted, as the fit has it."""
    problems = []
    for role, drift in fit.gain_drifts_db:
        size, reach = abs(drift.value), drift.high - drift.value
        if size < max(TOLD_DB, STANDS_OUT * reach):
            continue
        problem = _drifted(f"{size:.2f} dB", spoils=size > SPOILS_DB and role == "open")
        if role != "open":
            problem = replace(problem, detail=f"Of {role}: {problem.detail[0].lower()}{problem.detail[1:]}")
        problems.append(problem)
    return problems


def _drifted(size: str, *, spoils: bool) -> Problem:
    taken_up = "." if spoils else ". The fit has taken this up and stands."
    return Problem(
        "dropout",
        f"The level of one channel against the other drifted by {size} while the sweep ran: a clip or plug sits "
        f"loosely, an input warms up or has automatic gain, or a knock fell into it{taken_up}",
        "Clean and tighten the clips and plugs, switch automatic gain off, keep still, and record again.",
        spoils=spoils,
    )


def gain_drift(ratio: Ratio) -> GainDrift | None:
    """Return how the gain drifted along the sweep, None where the band is too narrow to tell."""
    position = np.log(ratio.frequency_hz)
    octaves = float((position[-1] - position[0]) / np.log(2.0))
    if octaves < FEWEST_OCTAVES or ratio.value.size < 8 * FEWEST_OCTAVES:
        return None
    grid = np.linspace(position[0], position[-1], int(octaves * STEPS_PER_OCTAVE))
    level = _on_grid(grid, position, np.log(np.maximum(np.abs(ratio.value), 1e-12)))
    phase = _on_grid(grid, position, np.unwrap(np.angle(ratio.value)))
    distance = np.abs(0.5 * (grid[1:] + grid[:-1])[None, :] - grid[:, None])
    asked = -np.log(np.tanh(0.5 * distance)) @ np.diff(level) / np.pi
    powers = 2.0 * np.arange(BEYOND_TERMS) + 1.0
    columns = np.concatenate(
        [
            np.ones((grid.size, 1)),
            np.exp(powers * (grid - grid[-1])[:, None]),
            np.exp(powers * (grid[0] - grid)[:, None]),
        ],
        axis=1,
    )
    inner = (grid > grid[0] + END) & (grid < grid[-1] - END)
    inverse = np.linalg.pinv(columns[inner])
    found = inverse @ (phase - asked)[inner]
    # the noise of the points: magnitude and phase alike, as many of them as there are grid steps to a point
    share = ratio.sigma / np.maximum(np.abs(ratio.value), 1e-12)
    noise = np.interp(grid[inner], position, share)
    repeated = max(1.0, grid.size / ratio.value.size)
    error = float(np.sqrt(2.0 * repeated * np.sum((inverse[0] * noise) ** 2)))
    return GainDrift(float(-found[0] / (0.5 * np.pi)), error / (0.5 * np.pi))


def _on_grid(
    grid: NDArray[np.float64], position: NDArray[np.float64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    return np.asarray(np.interp(grid, position, values))
