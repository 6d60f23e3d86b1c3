"""What no design tells of but the curve shows: a crossover before the driver, a wall that rings on its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sealtune.analysis.candidates import FEW_STEPS, POOR, Curves, Fitted, leaking
from sealtune.analysis.local_resonance import ringing
from sealtune.analysis.parameters import VENTED
from sealtune.analysis.search import search
from sealtune.physics.vented_box import VentedBox
from sealtune.records.design import Crossover

MOST_RINGING = 3
"""Narrow resonances that are explained or left out at most."""

CLEAR_OF_NOISE = 2.0
"""A narrow resonance is looked for where the model error is this many times the noise."""

NOT_NOISE_ALONE, LEAST_HIDDEN = 0.5, 1e-4
"""A crossover is looked for where the model error is this share of the noise, and at least so large."""

MUCH_BETTER = 0.6
"""Hidden parts are believed where the model error then falls to this share."""

ABOUT_AS_GOOD = 1.5
"""A leak that explains the curve within this many times the error, noise included, comes before a crossover."""

TAIL_SIZE = 3.0
"""What rings may be this many times as large as the residual shows, as one standard deviation."""


def best_of(coarse: Curves, starts: list[VentedBox]) -> Fitted | None:
    """Return the best minimum from some starts, no more of them than needed."""
    best = None
    for start in starts:
        found = coarse.searched(VENTED, start, stages=2)
        if found is not None and (best is None or found.model_error[0] < best.model_error[0]):
            best = found
        if best is not None and best.model_error[0] < POOR:
            break
    return best


def with_hidden_crossover(curves: Curves, best: Fitted) -> tuple[Curves, Fitted]:
    """Return the curves and the best circuit behind a crossover that the design does not tell of, if there is one."""
    coarse = curves.thinned()
    noise = float(np.median(coarse.points.sigma_ohm / coarse.points.size_ohm))
    if curves.crossover is not None or best.model_error[0] < max(NOT_NOISE_ALONE * noise, LEAST_HIDDEN):
        return curves, best
    usual = Crossover(series_h=1e-3, shunt_f=2e-5, shunt_ohm=1.0)
    behind = replace(curves, crossover=usual, hidden=True)
    few = behind.thinned()
    looked = few.searched(
        VENTED, best.model.unpack(best.vector), best.model_error, stages=1, most_steps=FEW_STEPS
    )
    if looked is None or looked.model_error[0] > best.model_error[0]:
        return curves, best
    found = search(few.points, looked.model, looked.vector, looked.model_error)
    if found is None or found.model_error[0] > MUCH_BETTER * best.model_error[0]:
        return curves, best
    leak = leaking(best, coarse)
    if leak is not None and np.hypot(leak.model_error[0], noise) < ABOUT_AS_GOOD * np.hypot(
        found.model_error[0], noise
    ):
        return curves, best
    return behind, found


def without_ringing(
    curves: Curves, best: Fitted, starts: list[VentedBox]
) -> tuple[Curves, Fitted, tuple[tuple[float, float], ...]]:
    """Return the curves without what rings on its own, the best circuit then, and the stretches left out.

    The first resonance gets a branch of its own in the circuit, as a wall of the box; what such a branch does not
    explain is left out, and its flanks are fitted. Either is done only where the circuit then follows the curve much
    better.
    """
    left_out: tuple[tuple[float, float], ...] = ()
    for _ in range(MOST_RINGING):
        coarse = curves.thinned()
        points = coarse.points
        if best.model_error[0] < CLEAR_OF_NOISE * float(np.median(points.sigma_ohm / points.size_ohm)):
            break
        found = ringing(best, points)
        if found is None:
            break
        much_better = MUCH_BETTER * best.model_error[0]
        box = best.model.unpack(best.vector)
        wall = replace(box, panel_ratio=0.005, panel_rad_s=2.0 * np.pi * found.hz, panel_loss=1.0 / found.q)
        ringing_curves = replace(curves, rings=True)
        explained = (
            None if curves.rings else ringing_curves.thinned().searched(VENTED, wall, best.model_error)
        )
        if explained is not None and explained.model_error[0] < much_better:
            curves, best = ringing_curves, explained
            continue
        low_hz, high_hz = found.stretch_hz
        hz = curves.by_role["open"].frequency_hz
        # the flanks of what rings reach far beyond its stretch; they are fitted along with the rest
        flank = TAIL_SIZE * float(np.abs(best.residual[points.parts[0]]).max()) * found.shape(hz)
        rest = curves.with_open_rows(np.array([flank, 1j * flank]))
        rest = rest.picked({"open": (hz < low_hz) | (hz > high_hz)})
        without = best_of(rest.thinned(), [box, *starts])
        if without is None or without.model_error[0] > much_better:
            break
        curves, best, left_out = rest, without, (*left_out, (low_hz, high_hz))
    return curves, best, tuple(sorted(left_out))
