"""A small nodal solver: a network of admittances and couplings, solved at every frequency at once.

Each node has a potential (voltage, velocity or pressure) and the flows into it (current, force, volume
velocity) balance. The electrical, mechanical and acoustic sides of a cabinet share one matrix.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

Complex = NDArray[np.complex128]
AnyComplex = NDArray[np.complexfloating[Any, Any]]
GROUND = "ground"


class Network:
    """A linear network with named nodes; `GROUND` is always there and has the potential zero."""

    def __init__(self, points: int, nodes: Sequence[str]) -> None:
        """Make an unconnected network.

        points: number of frequencies
        nodes: names of the nodes other than the ground
        """
        self._index = {name: place for place, name in enumerate(nodes)}
        self._matrix = np.zeros((points, len(nodes), len(nodes)), dtype=np.complex128)

    def connect(self, first: str, second: str, admittance: AnyComplex | complex) -> None:
        """Put a two-terminal admittance, shape (points,) or a number, between two nodes."""
        for node, other in ((first, second), (second, first)):
            if node != GROUND:
                self._add(node, node, admittance)
                if other != GROUND:
                    self._add(node, other, -admittance)

    def gyrator(self, first: str, second: str, conductance: float) -> None:
        """Couple two nodes so that `first` gives away the flow g times the potential of `second`,
        and `second` receives the flow g times the potential of `first`. No power is lost.

        A cone does this: velocity v and force S p on one side, pressure p and flow S v on the other.
        """
        self._add(first, second, conductance)
        self._add(second, first, -conductance)

    def transformer(self, first: str, second: str, ratio: float, series: AnyComplex | complex) -> None:
        """Couple two nodes by an ideal transformer behind a series admittance on the side of `first`.

        The flow from `first` is series (V_first - ratio V_second); `second` receives ratio times that flow.
        A voice coil does this: ratio is the force factor in T m, series is one over the blocked impedance.
        """
        admittance: Complex = np.asarray(series, dtype=np.complex128)
        self._add(first, first, admittance)
        self._add(first, second, -ratio * admittance)
        self._add(second, first, -ratio * admittance)
        self._add(second, second, ratio**2 * admittance)

    def two_port(self, first: str, second: str, same: Complex, across: Complex) -> None:
        """Put a symmetric two-port between two nodes, both against the ground.

        same, across: its admittance parameters y11 = y22 and y12 = y21, shape (points,)
        """
        self._add(first, first, same)
        self._add(second, second, same)
        self._add(first, second, across)
        self._add(second, first, across)

    def potentials(self, node: str) -> dict[str, Complex]:
        """Potential of every node, each of shape (points,), when a unit flow is fed into `node`.

        Raises numpy.linalg.LinAlgError where a node hangs in the air.
        """
        source = np.zeros((self._matrix.shape[0], self._matrix.shape[1], 1), dtype=np.complex128)
        source[:, self._index[node], 0] = 1.0
        solution = np.linalg.solve(self._matrix, source)
        return {name: np.asarray(solution[:, place, 0], np.complex128) for name, place in self._index.items()}

    def impedance_at(self, node: str) -> Complex:
        """Impedance between `node` and the ground, shape (points,)."""
        return self.potentials(node)[node]

    def _add(self, row: str, column: str, value: AnyComplex | complex) -> None:
        self._matrix[:, self._index[row], self._index[column]] += value
