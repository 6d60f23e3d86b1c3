"""Stretches of samples of which something holds one after the other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def runs(holds: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the first sample of each run of True and the one behind its last, rising, shape (runs,) each.

    holds: shape (n,)
    """
    beside = np.concatenate([[False], holds, [False]])
    edges = np.flatnonzero(beside[1:] != beside[:-1])
    return edges[::2], edges[1::2]
