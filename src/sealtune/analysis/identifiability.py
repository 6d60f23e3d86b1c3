"""What the curves determine of the circuit, and what they leave to what was known before.

From one open curve the split of losses cannot be told: driver loss and three losses of the box are one quantity more
than the motional part of the curve has coefficients, and the information is exactly singular in that direction.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.circuit import Circuit
from sealtune.analysis.intervals import independent_share
from sealtune.analysis.search import Minimum, Points

Reals = NDArray[np.float64]


def information(minimum: Minimum[Circuit], points: Points) -> Reals:
    """Return what the data alone tell of the shared quantities, shape (p, p), per unit of their coordinates.

    What each curve has to itself, such as its jig's error, is eliminated with what is known of it.
    """
    shared = len(minimum.model.names)
    slope = minimum.jacobian / points.spread_ohm(minimum.model_error)[:, None]
    told = independent_share(points, minimum.model_error) * (slope.conj().T @ slope).real
    told[shared:, shared:] += np.diag(minimum.model.prior()[1][shared:] ** 2)
    own = told[shared:, shared:]
    if own.size == 0:
        return np.asarray(told[:shared, :shared])
    return np.asarray(
        told[:shared, :shared] - told[:shared, shared:] @ np.linalg.solve(own, told[shared:, :shared])
    )


def deviation_by_data(minimum: Minimum[Circuit], points: Points, gradient: Reals, trust: float) -> Reals:
    """Return the standard deviations of some functions of the shared quantities, shape (q,).

    gradient: derivatives of the functions by the coordinates, shape (q, p)
    trust: share of what was known beforehand that counts, 0..1; 1e-2 is a tenfold standard deviation
    """
    shared = len(minimum.model.names)
    known = minimum.model.prior()[1][:shared]
    total = information(minimum, points) + np.diag(trust * known**2)
    unit = 1.0 / np.sqrt(np.maximum(np.diag(total), 1e-300))
    spread = unit[:, None] * np.linalg.pinv(total * np.outer(unit, unit), rcond=1e-13, hermitian=True) * unit
    return np.asarray(np.sqrt(np.maximum(np.einsum("qi,ij,qj->q", gradient, spread, gradient), 0.0)))
