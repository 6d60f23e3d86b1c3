"""The combinations of a circuit's quantities of which curves tell less than was known before."""

import numpy as np

from sealtune.analysis.circuit import Circuit
from sealtune.analysis.identifiability import information
from sealtune.analysis.search import Minimum, Points

TELLING = 0.3
"""Share of a direction, of length 1, from which on a quantity is named with it."""


def undetermined(minimum: Minimum[Circuit], points: Points) -> list[tuple[float, set[str]]]:
    """Return how sharply each is told, in units of what is known beforehand (0..1, rising), and what makes it up."""
    names = minimum.model.names
    known = minimum.model.prior()[1][: len(names)]
    spread = 1.0 / np.where(known > 0.0, known, 1.0)
    values, vectors = np.linalg.eigh(information(minimum, points) * np.outer(spread, spread))
    return [
        (float(np.sqrt(max(value, 0.0))), {names[i] for i in np.flatnonzero(np.abs(vector) >= TELLING)})
        for value, vector in zip(values, vectors.T, strict=True)
        if value < 1.0
    ]
