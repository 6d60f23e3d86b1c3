"""The interval by profile: exact where the problem is quadratic, open where a quantity may be none at all.

A circuit is replaced by functions whose profile can be written down.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import cast

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import chi2

from sealtune.analysis.circuit import Circuit
from sealtune.analysis.profile import FARTHEST, LIMIT, Profile, profile
from sealtune.analysis.search import Minimum, Points

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

NAMES = ("re_ohm", "res_ohm", "leakage")
COUNT = 40


@dataclass(frozen=True)
class Bent:
    """matrix @ bend(vector): linear where bend is the identity."""

    matrix: Complexes
    bend: Callable[[Reals], Reals] = lambda vector: vector
    slope: Callable[[Reals], Reals] = np.ones_like
    known: Reals = field(default_factory=lambda: np.zeros(len(NAMES)))
    mean: Reals = field(default_factory=lambda: np.zeros(len(NAMES)))
    names: tuple[str, ...] = NAMES

    def evaluate(self, vector: Reals) -> tuple[Complexes, Complexes]:
        return self.matrix @ self.bend(vector), self.matrix * self.slope(vector)

    def prior(self) -> tuple[Reals, Reals]:
        return self.mean, self.known

    def moved(self, vector: Reals, step: Reals) -> Reals:
        return vector + step


def _profile(model: Bent, vector: Reals, sigma: Reals, name: str, shrink: float, deviation: float) -> Profile:
    """The profile around a vector that explains the curve exactly."""
    z, jacobian = model.evaluate(vector)
    points = Points(np.geomspace(10.0, 100.0, z.size), z, sigma)
    circuit = cast(Circuit, model)
    minimum = Minimum(circuit, vector, jacobian, np.zeros_like(z), np.array([1e-12]), 0.0, True)
    return profile(minimum, points, name, shrink, deviation)


def _matrix(seed: int) -> Complexes:
    rng = np.random.default_rng(seed)
    shape = (COUNT, len(NAMES))
    plain = rng.standard_normal(shape) + 1j * rng.standard_normal(shape)
    # leakage and R_ES look much alike, so that fitting the other anew makes the interval several times wider
    plain[:, 2] = plain[:, 1] + 0.2 * plain[:, 2]
    return np.asarray(plain)


def test_limit_is_that_of_chi_square() -> None:
    # published: twice the rise of the logarithm of the likelihood is chi square of one degree [Wilks1938]
    assert pytest.approx(chi2.ppf(0.95, 1), abs=2e-3) == LIMIT


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("shrink", [1.0, 0.25])
@pytest.mark.parametrize("guess", [0.2, 1.0, 5.0])
def test_quadratic_problem_has_the_normal_interval(name: str, shrink: float, guess: float) -> None:
    # exact: the rise is (distance/deviation)^2 with the others fitted anew; each part of Z has the deviation sigma
    for seed in range(3):
        model = Bent(_matrix(seed))
        sigma = np.linspace(0.05, 0.2, COUNT)
        slope = model.matrix / sigma[:, None]
        information = (slope.conj().T @ slope).real
        row = NAMES.index(name)
        deviation = float(np.sqrt(np.linalg.inv(information)[row, row]))
        vector = np.array([0.3, -0.7, 1.1])
        found = _profile(model, vector, sigma, name, shrink, guess * deviation)
        reach = 1.96 * deviation / np.sqrt(shrink)
        assert found.low is not None
        assert found.high is not None
        # it is searched to a twentieth of a deviation
        tolerance = 0.05 * max(guess * deviation, reach)
        assert vector[row] - found.low == pytest.approx(reach, abs=tolerance)
        assert found.high - vector[row] == pytest.approx(reach, abs=tolerance)
        if name != "re_ohm":  # with the others held it would be several times narrower
            assert reach > 3.0 * 1.96 / np.sqrt(shrink * information[row, row])


def test_knowledge_of_the_others_counts_and_of_itself_does_not() -> None:
    # exact: information of the others is data and prior; what was known of the quantity itself is left out
    sigma = np.full(COUNT, 0.1)
    known = np.array([0.0, 50.0, 300.0])
    vector = np.array([0.3, -0.7, 1.1])
    model = Bent(_matrix(4), known=known, mean=vector)
    slope = model.matrix / sigma[:, None]
    data = (slope.conj().T @ slope).real

    def deviation(*weights: float) -> float:
        return float(np.sqrt(np.linalg.inv(data + np.diag(np.square(weights)))[2, 2]))

    expected = deviation(0.0, 50.0, 0.0)
    found = _profile(model, vector, sigma, "leakage", 1.0, expected)
    assert found.high is not None
    assert found.high - vector[2] == pytest.approx(1.96 * expected, rel=0.05)
    # each of the other two readings would show
    assert deviation(0.0, 0.0, 0.0) > 1.2 * expected > 1.44 * deviation(0.0, 50.0, 300.0)


def _loss(centre: float, deviation: float, sign: float) -> Profile:
    """Of a loss e^x that adds itself to each point of a curve, or of its Q, e^-x, where `sign` is -1."""
    ones = np.ones((COUNT, 1), dtype=np.complex128)
    model = Bent(
        ones,
        lambda x: np.exp(sign * x),
        lambda x: sign * np.exp(sign * x),
        np.zeros(1),
        np.zeros(1),
        ("leakage",),
    )
    return _profile(model, np.array([centre]), np.full(COUNT, 0.1), "leakage", 1.0, deviation)


def test_loss_that_may_be_none_is_open_to_one_side() -> None:
    # exact: the loss itself is known to 0.1/sqrt(40); of its logarithm that is an upper bound alone, since none at
    # all is 1.9 deviations away
    spread = 0.1 / np.sqrt(COUNT)
    faint = 1.9 * spread
    found = _loss(float(np.log(faint)), 0.5, 1.0)
    assert found.low is None
    assert found.high is not None
    assert np.exp(found.high) == pytest.approx(faint + 1.96 * spread, rel=0.03)
    # the same told of its Q is open upwards
    mirrored = _loss(float(-np.log(faint)), 0.5, -1.0)
    assert mirrored.high is None
    assert mirrored.low is not None
    assert np.exp(-mirrored.low) == pytest.approx(faint + 1.96 * spread, rel=0.03)


@pytest.mark.parametrize("times", [2.2, 4.0, 20.0])
def test_loss_that_is_there_has_a_skewed_interval(times: float) -> None:
    # exact: bounds of the loss lie evenly, those of its logarithm do not; 1.96 and more deviations from none at all
    spread = 0.1 / np.sqrt(COUNT)
    centre = times * spread
    found = _loss(float(np.log(centre)), 1.0 / times, 1.0)
    assert found.low is not None
    assert found.high is not None
    assert np.exp(found.high) == pytest.approx((times + 1.96) * spread, rel=0.04)
    below = np.log(times / (times - 1.96))
    assert np.log(centre) - found.low == pytest.approx(below, rel=0.05)
    assert below < FARTHEST


def test_profile_holds_the_truth_as_often_as_it_says() -> None:
    # exact: of independent 95 % intervals the number that holds the truth is binomial: of 200, 178 to 199 but for two
    # times in ten thousand
    rng = np.random.default_rng(11)
    spread = 0.1 / np.sqrt(COUNT)
    truth, draws, held = 3.5 * spread, 200, 0
    for _ in range(draws):
        measured = truth + spread * float(rng.standard_normal())
        if measured <= 0.0:
            continue
        found = _loss(float(np.log(measured)), spread / measured, 1.0)
        low = -np.inf if found.low is None else found.low
        high = np.inf if found.high is None else found.high
        held += low <= np.log(truth) <= high
    assert 178 <= held <= 199
