"""What the curves themselves say of a leak: a narrow duct beside the vent, with a frequency law of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.candidates import Fitted
from sealtune.analysis.intervals import covariance, derived, propagated, weights
from sealtune.analysis.search import Points
from sealtune.records.fit import LeakSeen

Reals = NDArray[np.float64]

MOST = 1e12
"""A Bayes factor beyond this says no more."""


def leak_seen(without: Fitted | None, leak: Fitted, points: Points) -> LeakSeen:
    """Return what a circuit with a leak says of it, against the best one without.

    without, leak: minima on the same points; None where no circuit without a leak explains the curves together
    """
    names = leak.model.names
    shared = len(names)
    known = covariance(leak, points)[:shared, :shared]
    vector = leak.vector[:shared]

    def effect(at: Reals) -> Reals:
        box = leak.model.packing.unpack(at)
        return (derived(box) - derived(replace(box, leak_ratio=0.0)))[:2]

    change = effect(vector)
    spread = np.sqrt(np.diag(propagated(effect, vector, known)))
    box = leak.model.unpack(leak.vector)
    row = names.index("leak_ratio")
    return LeakSeen(
        bayes_factor=MOST if without is None else _factor(without, leak, points),
        log_tuning=(float(change[0]), float(spread[0])),
        log_q=(float(change[1]), float(spread[1])),
        ratio=(box.leak_ratio, float(np.sqrt(known[row, row]))),
        time_s=box.leak_time_s,
        shape=box.leak_shape,
    )


def _factor(without: Fitted, leak: Fitted, points: Points) -> float:
    bare, with_leak = weights([without, leak], points)
    return float(min(with_leak / max(bare, 1e-300), MOST))
