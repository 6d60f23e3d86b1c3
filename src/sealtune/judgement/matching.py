"""The assignment of cabinets into pairs with the least total mismatch, exactly.

A perfect matching of least weight in a general graph, by growing trees and shrinking odd cycles to blossoms
[Edmonds1965]. Every cabinet v has a price y_v, every blossom B a price z_B >= 0, so that no pair costs less than the
prices of its two ends less those of the blossoms that hold both; where every chosen pair costs just that, no other
choice is better. The prices begin with those of the assignment problem, in which the pairs may be halves: its solution
leaves few cabinets without a mate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Edge = tuple[int, int]

FREE, OUTER, INNER = 0, 1, 2
"""What a blossom or single cabinet is to the tree: not in it, at an even distance from its root, at an odd one."""


def least_pairs(mismatch: Reals) -> tuple[Edge, ...]:
    """Return the pairs with the least total mismatch; of an odd number, the one left out is chosen along with them.

    mismatch: shape (n, n), symmetric, >= 0, finite; it need not be a distance
    returns: pairs (i, j) with i < j, rising
    """
    count = mismatch.shape[0]
    if count < 2:
        return ()
    if count % 2:  # a mate that costs nothing for the one left out
        wider = np.zeros((count + 1, count + 1))
        wider[:count, :count] = mismatch
        return tuple(pair for pair in least_pairs(wider) if pair[1] < count)
    matching = Matching(mismatch)
    matching.complete()
    return tuple((one, other) for one, other in enumerate(matching.mate) if one < other)


@dataclass
class _Blossom:
    """An odd cycle of cabinets or blossoms; the first one is the one that is matched to the outside.

    edges: number k joins the children k and k + 1, from a cabinet in the one to a cabinet in the other
    """

    children: list[int]
    edges: list[Edge]
    price: float = 0.0


class Matching:
    """A matching that grows until it is perfect.

    mate: of each cabinet, -1 for none
    price: of each cabinet; blossoms: by number, from the number of cabinets on
    """

    def __init__(self, cost: Reals) -> None:
        self.cost = np.array(cost, dtype=np.float64)
        np.fill_diagonal(self.cost, np.inf)
        self.count = cost.shape[0]
        self.blossoms: dict[int, _Blossom] = {}
        self.top = np.arange(self.count)
        self.label: dict[int, int] = {}
        self.entry: dict[int, Edge] = {}
        self.price, self.mate = self._first()

    def complete(self) -> None:
        """Give every cabinet its mate."""
        for root in range(self.count):
            if self.mate[root] < 0:
                self.label, self.entry = {int(self.top[root]): OUTER}, {}
                while not self._step():
                    pass

    def bound(self) -> float:
        """Return what the prices prove that no perfect matching can cost less than."""
        inside = sum(one.price * (len(self.members(name)) - 1) / 2.0 for name, one in self.blossoms.items())
        return float(self.price.sum()) - inside

    def members(self, name: int) -> list[int]:
        """Return the cabinets of a blossom, or the single one."""
        if name < self.count:
            return [name]
        return [one for child in self.blossoms[name].children for one in self.members(child)]

    def _first(self) -> tuple[Reals, list[int]]:
        """Return prices and matching by the assignment problem: cycles of odd length leave one without a mate."""
        from scipy.optimize import linear_sum_assignment

        _, to = linear_sum_assignment(self.cost)
        paid = self.cost[np.arange(self.count), to]
        by_column = np.zeros(self.count)
        while True:  # shortest ways in what is left over
            shorter = np.minimum(by_column, (self.cost + (by_column[to] - paid)[:, None]).min(axis=0))
            if np.all(by_column - shorter <= 1e-13 * float(paid.max(initial=0.0))):
                break
            by_column = shorter
        price = 0.5 * (paid - by_column[to] + by_column)
        mate = [-1] * self.count
        seen: set[int] = set()
        for start in range(self.count):
            cycle = []
            while start not in seen:
                seen.add(start)
                cycle.append(start)
                start = int(to[start])
            for one, other in zip(cycle[0::2], cycle[1::2], strict=False):
                mate[one], mate[other] = other, one
        return price, mate

    def _step(self) -> bool:
        """Move the prices until something new happens, and do that; return whether the root has found a mate."""
        kind = np.zeros(2 * self.count + len(self.blossoms), dtype=np.int64)
        for name, label in self.label.items():
            kind[name] = label
        of = kind[self.top]
        outer = np.flatnonzero(of == OUTER)
        slack = self.cost[outer] - self.price[outer, None] - self.price
        slack[:, of == INNER] = np.inf
        slack[:, outer] = np.where(self.top[outer, None] == self.top[outer], np.inf, 0.5 * slack[:, outer])
        place = int(np.argmin(slack))
        one, other = int(outer[place // self.count]), place % self.count
        least = float(slack.flat[place])
        shrinking = min(
            (name for name, label in self.label.items() if label == INNER and name >= self.count),
            key=lambda name: self.blossoms[name].price,
            default=None,
        )
        if shrinking is not None and 0.5 * self.blossoms[shrinking].price <= least:
            self._move(max(0.5 * self.blossoms[shrinking].price, 0.0), of)
            self._open(shrinking)
            return False
        self._move(max(least, 0.0), of)
        if of[other] == OUTER:
            self._shrink(one, other)
            return False
        name = int(self.top[other])
        across = self.mate[self.base(name)]
        if across < 0:
            self._augment(one, other)
            return True
        self.label[name], self.entry[name] = INNER, (one, other)
        self.label[int(self.top[across])] = OUTER
        return False

    def _move(self, by: float, of: NDArray[np.int64]) -> None:
        self.price += by * np.where(of == OUTER, 1.0, np.where(of == INNER, -1.0, 0.0))
        for name, label in self.label.items():
            if name >= self.count:
                self.blossoms[name].price += 2.0 * by if label == OUTER else -2.0 * by

    def base(self, name: int) -> int:
        """Return the cabinet of a blossom that is matched to the outside, or to none."""
        while name >= self.count:
            name = self.blossoms[name].children[0]
        return name

    def _way_up(self, name: int) -> list[int]:
        """Return the blossoms from an outer one to the root."""
        way = [name]
        while (across := self.mate[self.base(way[-1])]) >= 0:
            inner = int(self.top[across])
            way += [inner, int(self.top[self.entry[inner][0]])]
        return way

    def _upward(self, way: list[int]) -> list[Edge]:
        """Return the edges along a way up."""
        edges: list[Edge] = []
        for name in way[:-1]:
            if self.label[name] == OUTER:
                base = self.base(name)
                edges.append((base, self.mate[base]))
            else:
                edges.append((self.entry[name][1], self.entry[name][0]))
        return edges

    def _shrink(self, one: int, other: int) -> None:
        """Make a blossom of the odd cycle that an edge between two outer ones closes."""
        up, down = self._way_up(int(self.top[one])), self._way_up(int(self.top[other]))
        meeting = next(name for name in up if name in set(down))
        up, down = up[: up.index(meeting) + 1], down[: down.index(meeting) + 1]
        forth = [(b, a) for a, b in reversed(self._upward(up))]
        children = [*reversed(up), *down[:-1]]
        edges = [*forth, (one, other), *self._upward(down)]
        name = self.count
        while name in self.blossoms:
            name += 1
        self.blossoms[name] = _Blossom(children, edges)
        for child in children:
            self.label.pop(child, None)
        self.label[name] = OUTER
        self.top[self.members(name)] = name

    def _open(self, name: int) -> None:
        """Take a blossom of price 0 apart; of its cycle stays in the tree what leads evenly to its base."""
        one = self.blossoms.pop(name)
        entry = self.entry.pop(name)
        del self.label[name]
        for child in one.children:
            self.top[self.members(child)] = child
        size = len(one.children)
        here = one.children.index(int(self.top[entry[1]]))
        forward = here % 2 == 1
        self.label[one.children[here]], self.entry[one.children[here]] = INNER, entry
        while here % size:
            step = 1 if forward else -1
            between, after = (here + step) % size, (here + 2 * step) % size
            a, b = one.edges[between] if forward else one.edges[after][::-1]
            self.label[one.children[between]] = OUTER
            self.label[one.children[after]], self.entry[one.children[after]] = INNER, (a, b)
            here = after

    def _augment(self, one: int, other: int) -> None:
        """Match along the way from the root to an edge that leaves the tree."""
        self._turn(int(self.top[other]), other)
        while True:
            name = int(self.top[one])
            across = self.mate[self.base(name)]
            self._turn(name, one)
            self.mate[one], self.mate[other] = other, one
            if across < 0:
                return
            inner = int(self.top[across])
            one, other = self.entry[inner]
            self._turn(inner, other)

    def _turn(self, name: int, new_base: int) -> None:
        """Match the inside of a blossom so that another cabinet is its base."""
        if name < self.count:
            return
        blossom = self.blossoms[name]
        place = next(n for n, child in enumerate(blossom.children) if new_base in self.members(child))
        blossom.children = blossom.children[place:] + blossom.children[:place]
        blossom.edges = blossom.edges[place:] + blossom.edges[:place]
        self._turn(blossom.children[0], new_base)
        for n in range(1, len(blossom.children), 2):
            one, other = blossom.edges[n]
            self._turn(blossom.children[n], one)
            self._turn(blossom.children[n + 1], other)
            self.mate[one], self.mate[other] = other, one
