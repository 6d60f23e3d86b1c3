"""Pairs with the least total mismatch: against every possibility on few, against another solver on many."""

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sealtune.judgement.matching import Matching, least_pairs

Reals = NDArray[np.float64]


def distances(count: int, dimensions: int, seed: int) -> Reals:
    points = np.random.default_rng(seed).normal(size=(count, dimensions))
    return np.asarray(np.linalg.norm(points[:, None] - points[None, :], axis=2))


def anything(count: int, seed: int) -> Reals:
    cost = np.random.default_rng(seed).random((count, count))
    cost = cost + cost.T
    np.fill_diagonal(cost, 0.0)
    return np.asarray(cost)


def total(cost: Reals, pairs: tuple[tuple[int, int], ...]) -> float:
    return float(sum(cost[i, j] for i, j in pairs))


def least_by_trying(cost: Reals, left: tuple[int, ...]) -> float:
    """Return the least total over all perfect matchings, one after the other; of an odd number one is left out."""
    if len(left) < 2:
        return 0.0
    first, rest = left[0], left[1:]
    tried = [
        float(cost[first, mate]) + least_by_trying(cost, tuple(x for x in rest if x != mate)) for mate in rest
    ]
    if len(left) % 2:
        tried.append(least_by_trying(cost, rest))
    return min(tried)


@pytest.mark.parametrize("seed", range(40))
def test_eight_as_by_trying_all_105_possibilities(seed: int) -> None:
    # independent: every perfect matching tried
    cost = distances(8, 1 + seed % 4, seed) if seed % 2 else anything(8, seed)
    pairs = least_pairs(cost)
    assert sorted(name for pair in pairs for name in pair) == list(range(8))
    assert total(cost, pairs) == pytest.approx(least_by_trying(cost, tuple(range(8))), abs=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_of_seven_the_one_left_out_is_chosen_along_with_the_pairs(seed: int) -> None:
    # independent: every choice of the one left out, with every matching of the rest
    cost = distances(7, 2, seed) if seed % 2 else anything(7, seed)
    pairs = least_pairs(cost)
    assert len(pairs) == 3
    assert total(cost, pairs) == pytest.approx(least_by_trying(cost, tuple(range(7))), abs=1e-12)


def test_two_hundred_as_by_another_solver() -> None:
    cost = anything(200, 5)
    pairs = least_pairs(cost)
    # independent: networkx, Galil's algorithm on all pairs
    graph = nx.Graph()
    graph.add_weighted_edges_from((i, j, -float(cost[i, j])) for i in range(200) for j in range(i))
    other = nx.max_weight_matching(graph, maxcardinality=True)
    assert len(pairs) == 100
    assert total(cost, pairs) == pytest.approx(sum(float(cost[i, j]) for i, j in other), rel=1e-12)


@pytest.mark.parametrize("seed", range(8))
def test_the_prices_prove_that_nothing_is_better(seed: int) -> None:
    # exact: duality [Edmonds1965]; nearest ones greedily paired cost more, so that the bound is not met by any pairs
    cost = distances(120, 1 + seed % 3, seed)
    matching = Matching(cost)
    matching.complete()
    found = sum(cost[one, other] for one, other in enumerate(matching.mate)) / 2.0
    assert matching.bound() == pytest.approx(found, rel=1e-10)
    assert all(one.price > -1e-9 for one in matching.blossoms.values())
    left, greedy = set(range(120)), 0.0
    edges = [(i, j) for i in range(120) for j in range(i)]
    for i, j in sorted(edges, key=lambda pair: float(cost[pair])):
        if i in left and j in left:
            left -= {i, j}
            greedy += float(cost[i, j])
    assert found < greedy - 1e-6


@settings(max_examples=60)
@given(st.integers(2, 12), st.integers(0, 10_000), st.integers(1, 4))
def test_ties_and_equal_cabinets_are_no_obstacle(count: int, seed: int, steps: int) -> None:
    # whole numbers make many choices alike; independent: every possibility tried
    cost = np.random.default_rng(seed).integers(0, steps + 1, (count, count)).astype(np.float64)
    cost = np.triu(cost, 1) + np.triu(cost, 1).T
    pairs = least_pairs(cost)
    assert len(pairs) == count // 2
    assert len({name for pair in pairs for name in pair}) == 2 * len(pairs)
    if count <= 8:
        assert total(cost, pairs) == least_by_trying(cost, tuple(range(count)))


def test_none_and_one_have_no_mate() -> None:
    assert least_pairs(np.zeros((0, 0))) == ()
    assert least_pairs(np.zeros((1, 1))) == ()
