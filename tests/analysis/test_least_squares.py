"""The way down to the minimum on problems whose minimum is known."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.least_squares import REACH, descend

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Function = Callable[[Reals], tuple[Reals | Complexes, Reals | Complexes]]


@dataclass
class Problem:
    """Values and slopes by a function, with what is known beforehand, and a record of what was asked.

    function: vector of shape (p,) to values, shape (n,), and slopes, shape (n, p)
    """

    function: Function
    mean: Reals
    known: Reals
    asked: list[Reals] = field(default_factory=list)
    steps: list[Reals] = field(default_factory=list)
    moving: Callable[[Reals, Reals], Reals] = lambda vector, step: vector + step

    def evaluate(self, vector: Reals) -> tuple[Complexes, Complexes]:
        self.asked.append(vector.copy())
        value, slopes = self.function(vector)
        return np.asarray(value, dtype=np.complex128), np.asarray(slopes, dtype=np.complex128)

    def prior(self) -> tuple[Reals, Reals]:
        return self.mean, self.known

    def moved(self, vector: Reals, step: Reals) -> Reals:
        self.steps.append(step.copy())
        return self.moving(vector, step)

    def cost(self, vector: Reals, target: Complexes, weight: Reals) -> float:
        value = np.asarray(self.function(vector)[0])
        missed = np.sum(np.abs((value - target) * weight) ** 2)
        return float(missed + np.sum(((vector - self.mean) * self.known) ** 2))


def problem(function: Function, size: int) -> Problem:
    """A problem of which nothing is known beforehand."""
    return Problem(function, np.zeros(size), np.zeros(size))


def line(seed: int = 3, count: int = 40, size: int = 4) -> tuple[Complexes, Complexes, Reals]:
    """Slopes, target and weights of a linear problem that fits only roughly."""
    rng = np.random.default_rng(seed)
    slopes = rng.normal(size=(count, size)) + 1j * rng.normal(size=(count, size))
    target = slopes @ rng.uniform(-0.4, 0.4, size) + 0.1 * (
        rng.normal(size=count) + 1j * rng.normal(size=count)
    )
    return slopes, np.asarray(target), rng.uniform(0.2, 5.0, count)


def solved(slopes: Complexes, target: Complexes, weight: Reals, mean: Reals, known: Reals) -> Reals:
    """The closed form, by the normal equations: (A^T W A + K) x = A^T W b + K m."""
    normal = (slopes.conj().T @ (slopes * weight[:, None] ** 2)).real + np.diag(known**2)
    right = (slopes.conj().T @ (target * weight**2)).real + known**2 * mean
    return np.asarray(np.linalg.solve(normal, right))


def test_linear_problem_takes_one_step() -> None:
    # exact: the normal equations; real and imaginary parts count alike
    slopes, target, weight = line()
    linear = problem(lambda x: (slopes @ x, slopes), 4)
    found = descend(linear, target, weight, np.zeros(4), 1e-12)
    assert found is not None
    assert found[1]
    expected = solved(slopes, target, weight, np.zeros(4), np.zeros(4))
    assert np.abs(expected).min() > 0.01
    np.testing.assert_allclose(found[0], expected, rtol=1e-10)
    assert len(linear.asked) == 2  # where it begins, and where it ends


def test_far_start_takes_a_few_steps() -> None:
    # exact: the same minimum from 25 away; the radius that is trusted grows 2.5-fold: 1 + 2.5 + 6.2 + 15.6 > 25
    slopes, target, weight = line()
    linear = problem(lambda x: (slopes @ x, slopes), 4)
    found = descend(linear, target, weight, np.array([15.0, -20.0, 0.0, 0.0]), 1e-12)
    assert found is not None
    assert found[1]
    expected = solved(slopes, target, weight, np.zeros(4), np.zeros(4))
    np.testing.assert_allclose(found[0], expected, rtol=1e-8)
    assert 5 <= len(linear.asked) <= 8
    lengths = [float(np.linalg.norm(step)) for step in linear.steps]
    assert lengths[0] == pytest.approx(1.0, rel=0.06)  # within 5 % of the radius


@pytest.mark.parametrize("strength", [2.0, 20.0, 500.0])
def test_prior_knowledge_pulls_as_ridge_regression(strength: float) -> None:
    # exact: ridge regression around a mean
    slopes, target, weight = line()
    mean, known = np.array([0.5, -0.5, 0.3, 0.0]), strength * np.array([1.0, 2.0, 0.0, 1.0])
    ridge = Problem(lambda x: (slopes @ x, slopes), mean, known)
    found = descend(ridge, target, weight, np.zeros(4), 1e-12)
    assert found is not None
    expected = solved(slopes, target, weight, mean, known)
    np.testing.assert_allclose(found[0], expected, rtol=1e-9, atol=1e-12)
    free = solved(slopes, target, weight, np.zeros(4), np.zeros(4))
    assert np.abs(found[0] - free).max() > 1e-3  # it is felt


def test_prior_knowledge_settles_what_the_values_leave_open() -> None:
    # exact: only the sum shows; of all pairs with the sum 1, (0.7, 0.3) is nearest to (0.6, 0.2), the point where
    # both are equally well known, as the values are known a million times better
    both = Problem(
        lambda x: (np.array([x.sum()]), np.ones((1, 2))), np.array([0.6, 0.2]), np.array([1.0, 1.0])
    )
    found = descend(both, np.array([1.0 + 0j]), np.array([1e6]), np.zeros(2), 1e-14)
    assert found is not None
    np.testing.assert_allclose(found[0], [0.7, 0.3], atol=1e-6)


def rosenbrock(x: Reals) -> tuple[Reals, Reals]:
    """[Rosenbrock1960] as residuals."""
    return np.array([10.0 * (x[1] - x[0] ** 2), 1.0 - x[0]]), np.array([[-20.0 * x[0], 10.0], [-1.0, 0.0]])


def helix(x: Reals) -> tuple[Reals, Reals]:
    """The helical valley [Fletcher1963]; minimum 0 at (1, 0, 0)."""
    turn, radius = np.arctan2(x[1], x[0]) / (2.0 * np.pi), np.hypot(x[0], x[1])
    value = np.array([10.0 * (x[2] - 10.0 * turn), 10.0 * (radius - 1.0), x[2]])
    around = 100.0 / (2.0 * np.pi * radius**2)
    slopes = np.array(
        [
            [around * x[1], -around * x[0], 10.0],
            [10.0 * x[0] / radius, 10.0 * x[1] / radius, 0.0],
            [0, 0, 1.0],
        ]
    )
    return value, slopes


def test_rosenbrocks_valley() -> None:
    # published: minimum 0 at (1, 1), from the customary start (-1.2, 1) [Rosenbrock1960]
    found = descend(
        problem(rosenbrock, 2), np.zeros(2, dtype=np.complex128), np.ones(2), np.array([-1.2, 1.0]), 1e-12
    )
    assert found is not None
    np.testing.assert_allclose(found[0], [1.0, 1.0], rtol=1e-9)


def test_helical_valley() -> None:
    # published: minimum 0 at (1, 0, 0), from the customary start (-1, 0, 0) [Fletcher1963]
    task = problem(helix, 3)
    found = descend(task, np.zeros(3, dtype=np.complex128), np.ones(3), np.array([-1.0, 0.0, 0.0]), 1e-12)
    assert found is not None
    np.testing.assert_allclose(found[0], [1.0, 0.0, 0.0], atol=1e-9)


LOAD = np.array(
    [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0]
)
DYE = np.array(
    [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78]
)


def adsorbed(x: Reals) -> tuple[Reals, Reals]:
    """y = b1 (1 - exp(-b2 x)) for the logarithms of b1 and b2."""
    most, rate = np.exp(x)
    left = np.exp(-rate * LOAD)
    return most * (1.0 - left), np.column_stack([most * (1.0 - left), most * rate * LOAD * left])


@pytest.mark.parametrize("start", [(500.0, 1e-4), (250.0, 5e-4)], ids=["far", "near"])
def test_certified_curve(start: tuple[float, float]) -> None:
    # certified: NIST StRD "Misra1a", y = b1 (1 - exp(-b2 x)), with both of its starts; logarithms are fitted. The
    # numbers are from memory, but belong together: the sum of squares comes out to nine digits
    task = problem(adsorbed, 2)
    found = descend(task, DYE.astype(np.complex128), np.ones(14), np.log(start), 1e-14)
    assert found is not None
    assert found[1]
    assert np.exp(found[0][0]) == pytest.approx(238.94212918, rel=1e-6)
    assert np.exp(found[0][1]) == pytest.approx(5.5015643181e-4, rel=1e-6)
    assert task.cost(found[0], DYE.astype(np.complex128), np.ones(14)) == pytest.approx(
        0.12455138894, rel=1e-8
    )


def test_start_that_is_not_finite_gives_none() -> None:
    def broken(x: Reals) -> tuple[Reals, Reals]:
        return np.sqrt(x), 0.5 / np.sqrt(x)[:, None]

    target = np.array([1.0 + 0j])
    assert descend(problem(broken, 1), target, np.ones(1), np.array([-1.0]), 1e-9) is None
    assert descend(problem(broken, 1), target, np.ones(1), np.array([0.0]), 1e-9) is None
    assert descend(problem(broken, 1), target, np.ones(1), np.array([np.nan]), 1e-9) is None


def test_step_into_nowhere_is_taken_back() -> None:
    # exact: 3 ln x = -6 at x = e^-2; the straight line through x = 1 leads to x < 0, where there is nothing
    def cliff(x: Reals) -> tuple[Reals, Reals]:
        safe = np.where(x > 0.0, x, np.nan)
        return np.log(safe) * 3.0, 3.0 / safe[:, None]

    task = problem(cliff, 1)
    found = descend(task, np.array([-6.0 + 0j]), np.ones(1), np.array([1.0]), 1e-16)
    assert found is not None
    assert any(float(at[0]) <= 0.0 for at in task.asked)
    assert found[0][0] == pytest.approx(np.exp(-2.0), rel=1e-9)


def test_tolerance_is_the_share_still_to_gain() -> None:
    # exact where the problem is linear: stopping leaves less than the tolerance of the sum of squares to be gained
    slopes, target, weight = line()
    for tolerance in (0.5, 1e-2, 1e-9):
        linear = problem(lambda x: (slopes @ x, slopes), 4)
        found = descend(linear, target, weight, np.array([15.0, -20.0, 0.0, 0.0]), tolerance)
        assert found is not None
        assert found[1]
        least = linear.cost(solved(slopes, target, weight, np.zeros(4), np.zeros(4)), target, weight)
        cost = linear.cost(found[0], target, weight)
        assert cost - least <= tolerance * cost * (1.0 + 1e-6) + 1e-12 * least
    # a start that is good enough is left as it is
    start = solved(slopes, target, weight, np.zeros(4), np.zeros(4)) + 1e-4
    linear = problem(lambda x: (slopes @ x, slopes), 4)
    found = descend(linear, target, weight, start, 0.1)
    assert found is not None
    np.testing.assert_array_equal(found[0], start)
    assert len(linear.asked) == 1


def test_rougher_search_ends_sooner() -> None:
    asked, costs = [], []
    for tolerance in (0.3, 1e-14):
        task = problem(adsorbed, 2)
        found = descend(task, DYE.astype(np.complex128), np.ones(14), np.log((500.0, 1e-4)), tolerance)
        assert found is not None
        assert found[1]
        asked.append(len(task.asked))
        costs.append(task.cost(found[0], DYE.astype(np.complex128), np.ones(14)))
    assert asked[0] < asked[1]
    assert costs[1] < costs[0] < 2.0 * costs[1]


@pytest.mark.parametrize("most_steps", [0, 1, 3])
def test_no_more_steps_than_allowed(most_steps: int) -> None:
    task = problem(rosenbrock, 2)
    start, target = np.array([-1.2, 1.0]), np.zeros(2, dtype=np.complex128)
    found = descend(task, target, np.ones(2), start, 1e-12, most_steps=most_steps)
    assert found is not None
    assert not found[1]
    assert (
        most_steps + 1 <= len(task.asked) <= 2 * most_steps + 1
    )  # a step may be looked at twice, bent and not
    # never uphill
    assert task.cost(found[0], target, np.ones(2)) <= task.cost(start, target, np.ones(2))


def test_nothing_is_followed_beyond_its_reach() -> None:
    away = problem(lambda x: (np.array([x[0] - 1e6]), np.ones((1, 1))), 1)
    found = descend(away, np.zeros(1, dtype=np.complex128), np.ones(1), np.zeros(1), 1e-9)
    assert found is not None
    assert found[0][0] == REACH
    far = problem(lambda x: (np.array([x[0] - 7.0]), np.ones((1, 1))), 1)
    found = descend(far, np.zeros(1, dtype=np.complex128), np.ones(1), np.array([99.0]), 1e-9, reach=5.0)
    assert found is not None
    assert found[0][0] == 5.0


def test_model_says_how_a_step_is_made() -> None:
    # exact: in ln x the value x is bent, but along x itself it is straight: one step of ln(1 + step) is enough
    def straight(vector: Reals, step: Reals) -> Reals:
        return np.asarray(vector + np.log1p(np.maximum(step, -0.8)))

    def grown(x: Reals) -> tuple[Reals, Reals]:
        return np.exp(x), np.exp(x)[:, None]

    target = np.array([1.9 + 0j])
    evenly = problem(grown, 1)
    evenly.moving = straight
    found = descend(evenly, target, np.ones(1), np.zeros(1), 1e-12)
    assert found is not None
    assert found[0][0] == pytest.approx(np.log(1.9), rel=1e-9)
    assert len(evenly.asked) == 2
    bent = problem(grown, 1)
    found = descend(bent, target, np.ones(1), np.zeros(1), 1e-12)
    assert found is not None
    assert found[0][0] == pytest.approx(np.log(1.9), rel=1e-9)
    assert len(bent.asked) > 3
