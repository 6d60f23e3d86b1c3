"""Further curves of the same cabinet, taken in where they go with the open one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.candidates import FEWEST_POINTS, POOR, Curves, Fitted, bending, leaking, within
from sealtune.analysis.parameters import LEAK, VENTED
from sealtune.physics.vented_box import VentedBox
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Design
from sealtune.records.recording import Role

MISMATCH = 3.0
"""A further curve belongs to the same cabinet where its model error stays within this many times the others', or within
POOR, and"""

GROWTH = 1.3
"""where the others' error, noise included, does not grow beyond this. On virtual cabinets it grows by a fiftieth."""


CLOSE = 5e-4
"""A curve that is followed as closely as this is followed, however quiet it is: a small hole is no slit, as the
circuit has it, and leaves 0.04 %."""

BRIDGES = ("duct_share", "air_load")
"""Quantities that tell what changed between the takes."""

STRAINED = 4.0
"""Standard deviations by which what differs from take to take may be off."""


def joined(
    alone: Curves,
    best: Fitted,
    others: Mapping[Role, ImpedanceCurve],
    highest_hz: float,
    known: VentedBox,
    design: Design | None,
) -> tuple[Curves, Curves, Fitted, tuple[Role, ...]]:
    """Return all curves that one circuit explains, the same thinned, the best circuit, and the roles left out.

    A curve that does not go with the open one, such as that of a bung that leaks, would bend the result.
    """
    curves, coarse, ignored = alone, alone.thinned(), []
    for role, curve in others.items():
        lowest = 0.0 if role == "plugged" else float(alone.by_role["open"].frequency_hz[0])
        more = bending(within(curve, lowest, highest_hz))
        found = None
        if more.frequency_hz.size >= FEWEST_POINTS:
            wider = replace(
                Curves.of({**curves.by_role, role: more}, known, design),
                crossover=alone.crossover, rings=alone.rings, hidden=alone.hidden,
            )  # fmt: skip
            found = _together(wider.thinned(), best)
        if found is None:
            ignored.append(role)
        else:
            curves, coarse, best = wider, wider.thinned(), found
    return curves, coarse, best, tuple(ignored)


def _together(coarse: Curves, best: Fitted) -> Fitted | None:
    """Return the circuit that explains one curve more, None where none explains it about as well."""
    box = best.model.unpack(best.vector)
    first = np.append(best.model_error, best.model_error.max())
    noise = coarse.points.noise
    # the curves that were there before must be followed as well as before, the new one about as well as they
    before = np.maximum(GROWTH * np.hypot(first[:-1], noise[:-1]), CLOSE)
    allowed = np.append(before, max(MISMATCH * first[-1], POOR))
    names = (*VENTED, *LEAK) if "leak_ratio" in best.model.names else VENTED
    found = coarse.searched(names, box, first)
    if found is None or _belongs(found, allowed):
        return found
    leak = leaking(found, coarse)
    return leak if leak is not None and _belongs(leak, allowed) else None


def _belongs(found: Fitted, allowed: NDArray[np.float64]) -> bool:
    return bool(np.all(found.model_error < allowed)) and not _strained(found)


def _strained(found: Fitted) -> bool:
    """Return whether the last curve goes with the others only by shifts that no two takes of one cabinet show."""
    mean, known = found.model.prior()
    far = np.abs((found.vector - mean) * known)
    view = found.model.views[-1]
    first = found.vector.size - view.extras
    apart = far[first : first + len(view.own)]
    shared = [far[row] for row, name in enumerate(found.model.names) if name in BRIDGES]
    return max((*apart.tolist(), *shared), default=0.0) > STRAINED
