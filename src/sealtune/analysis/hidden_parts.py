"""What no design tells of but the curve shows: a crossover before the driver, a wall that rings on its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sealtune.analysis.candidates import FEW_STEPS, POOR, WORTH_TELLING, Curves, Fitted, leaking
from sealtune.analysis.intervals import odds_of, weights
from sealtune.analysis.local_resonance import ringing
from sealtune.analysis.parameters import VENTED
from sealtune.analysis.search import residual_model_errors, search
from sealtune.physics.vented_box import REFERENCE_RAD_S, VentedBox
from sealtune.records.design import Crossover

MOST_RINGING = 3
"""Narrow resonances that are explained or left out at most."""

CLEAR_OF_NOISE = 2.0
"""A narrow resonance is looked for where the model error is this many times the noise."""

NOT_NOISE_ALONE, LEAST_HIDDEN = 0.35, 1e-4
"""Other hills and crossovers are looked for where the model error is this share of the noise, and so large."""

BRIDGED_EXPONENT, BRIDGED_S = 0.95, 0.2
"""A coil bridged by 5 ohm, to begin the search with; LR2 circuits of woofers have 2 to 10 ohm, from memory."""

LOOK_STEPS, CLOSE = 15, 0.005
"""Steps of the first look at it, and the model error for them, at most."""

NEARLY = 2.0
"""Where the error is then within this many times the best circuit's, the look goes on once."""

HOPEFUL = 1e-3
"""A crossover is searched for in earnest where it may be true with this probability after a few steps."""

UNTOLD = (
    Crossover(series_h=1e-3, series_ohm=0.3, shunt_f=2e-5, shunt_ohm=0.5),
    Crossover(series_h=1e-3, series_ohm=0.3, shunt_f=2e-5, shunt_ohm=5.0),
)
"""What a crossover that nobody told of is like, in the middle: a low-pass, and one whose capacitor has a resistor of
about the driver's to even out the coil; common practice."""

MUCH_BETTER = 0.6
"""A wall that rings is believed where the model error then falls to this share, and so is a crossover, or"""

EXPLAINED = 2.0
"""where no more than so many times the noise is left over."""

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


def with_other_coil(curves: Curves, best: Fitted) -> Fitted:
    """Return the best circuit, or the one on the other hill of the coil where that follows the curve better.

    A semi-inductor and a coil with a bridged one behind it look alike at first, so that the search may settle between.
    Looked for where noise does not explain what is left over.
    """
    if _missed(curves, best) < least_missed(curves):
        return best
    box, coarse = best.model.unpack(best.vector), curves.thinned()
    lossy = box.coil_ohm * 1j**box.coil_exponent
    ohm = (lossy / (1.0 + lossy * box.coil_shunt_s)).imag + REFERENCE_RAD_S * box.coil_h
    start = replace(
        box,
        coil_h=0.3 * ohm / REFERENCE_RAD_S,
        coil_ohm=0.7 * ohm,
        coil_exponent=BRIDGED_EXPONENT,
        coil_shunt_s=BRIDGED_S,
    )
    looked = coarse.searched(VENTED, start, best.model_error, stages=1, most_steps=FEW_STEPS)
    if looked is None or looked.model_error[0] > best.model_error[0]:
        return best
    found = search(coarse.points, looked.model, looked.vector, looked.model_error, stages=2)
    return found if found is not None and found.model_error[0] < best.model_error[0] else best


def least_missed(curves: Curves) -> float:
    """Return the model error from which on noise does not explain what is left over."""
    noise = float(np.median(curves.points.sigma_ohm / curves.points.size_ohm))
    return max(NOT_NOISE_ALONE * noise, LEAST_HIDDEN)


def behind_crossovers(curves: Curves, best: Fitted) -> list[Fitted]:
    """Return the circuits behind a crossover that the design does not tell of, none where no look is worth it.

    best: the circuit without one, on some of the points
    """
    if curves.crossover is not None or _missed(curves, best) < least_missed(curves):
        return []
    coarse = replace(curves, crossover=UNTOLD[0], hidden=True).thinned()
    # from the landmarks again: without its crossover the best circuit may be bent far away
    looked = coarse.searched(
        VENTED, curves.known, np.minimum(best.model_error, CLOSE), stages=1, most_steps=LOOK_STEPS
    )
    if looked is not None and not looked.converged and not _hopeful(looked, best, coarse):
        if looked.model_error[0] > NEARLY * best.model_error[0]:
            return []
        looked = search(
            coarse.points, looked.model, looked.vector, best.model_error, stages=1, most_steps=LOOK_STEPS
        )
    if looked is None or not _hopeful(looked, best, coarse):
        return []
    # what no circuit explains is correlated over unknown lengths, so that evidence alone would invent crossovers
    noise = EXPLAINED * float(np.median(curves.points.sigma_ohm / curves.points.size_ohm))
    much_better = MUCH_BETTER * float(best.model_error[0])
    found = []
    for parts in UNTOLD:
        circuit = replace(looked.model, packing=replace(looked.model.packing, crossover=parts))
        minimum = search(coarse.points, circuit, looked.vector, looked.model_error)
        if minimum is not None and minimum.model_error[0] < max(noise, much_better):
            found.append(minimum)
    return found


def _hopeful(looked: Fitted, best: Fitted, coarse: Curves) -> bool:
    return bool(weights([best, looked], coarse.points)[1] > HOPEFUL)


def _missed(curves: Curves, coarse: Fitted) -> float:
    """Return by how much a circuit found on some points misses all of them, noise aside, over |Z|."""
    points, circuit = curves.points, replace(coarse.model, views=curves.views)
    residual = circuit.evaluate(coarse.vector)[0] - points.impedance_ohm
    return float(residual_model_errors(residual, points, coarse.vector.size)[0])


def rivals(curves: Curves, best: Fitted) -> list[tuple[Curves, Fitted]]:
    """Return the circuit without and those with a crossover that nobody told of, as far as they may be true.

    returns: with the curves that each belongs to, the most probable first. The circuit without one also comes with a
        leak, which may explain what a crossover does.
    """
    behind = behind_crossovers(curves, best)
    if not behind:
        return [(curves, best)]
    coarse = curves.thinned()
    leak = leaking(best, coarse)
    minima = [best, *behind] if leak is None else [best, leak, *behind]
    share = weights(minima, coarse.points, [odds_of(minimum.model) for minimum in minima])
    return [
        (_curves_of(curves, minima[index]), minima[index])
        for index in np.argsort(-share, kind="stable").tolist()
        if share[index] > WORTH_TELLING
    ]


def _curves_of(curves: Curves, minimum: Fitted) -> Curves:
    packing = minimum.model.packing
    return replace(curves, crossover=packing.crossover, hidden=not packing.given)


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
