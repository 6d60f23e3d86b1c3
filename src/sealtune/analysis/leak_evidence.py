"""What the curves themselves say of a leak: a narrow duct beside the vent, with a frequency law of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.candidates import Fitted
from sealtune.analysis.intervals import covariance, derived, propagated
from sealtune.analysis.search import Points

Reals = NDArray[np.float64]


def leak_rise(leak: Fitted, points: Points) -> tuple[float, float]:
    """Return by how much the leak of a circuit raises the logarithm of the tuning, and the standard deviation of that.

    leak: a minimum on the points, of a circuit with a leak
    """
    shared = len(leak.model.names)

    def rise(at: Reals) -> Reals:
        box = leak.model.packing.unpack(at)
        return (derived(box) - derived(replace(box, leak_ratio=0.0)))[:1]

    vector, known = leak.vector[:shared], covariance(leak, points)[:shared, :shared]
    return float(rise(vector)[0]), float(np.sqrt(propagated(rise, vector, known)[0, 0]))
