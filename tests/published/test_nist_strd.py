"""The search and its covariance against certified results: NIST Statistical Reference Datasets, nonlinear regression.

The sets are real; they are fitted as curves whose imaginary part is nought, which adds nothing to the sum of squares.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.intervals import covariance
from sealtune.analysis.least_squares import descend
from sealtune.analysis.search import Minimum, Points, search

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Formula = Callable[[Reals, Reals], tuple[Reals, list[Reals]]]
"""From x and the parameters to y and its derivatives by each parameter."""

FOLDER = Path(__file__).with_name("nist_strd")
SURE = 1e-20
"""Share of the sum of squares at which nothing but rounding is left to gain."""


def _misra1a(x: Reals, b: Reals) -> tuple[Reals, list[Reals]]:
    decay = np.exp(-b[1] * x)
    return b[0] * (1.0 - decay), [1.0 - decay, b[0] * x * decay]


def _lanczos3(x: Reals, b: Reals) -> tuple[Reals, list[Reals]]:
    y, slopes = np.zeros_like(x), []
    for height, rate in b.reshape(3, 2):
        decay = np.exp(-rate * x)
        y = y + height * decay
        slopes += [decay, -height * x * decay]
    return y, slopes


def _mgh09(x: Reals, b: Reals) -> tuple[Reals, list[Reals]]:
    above, below = x**2 + x * b[1], x**2 + x * b[2] + b[3]
    y = b[0] * above / below
    return y, [above / below, b[0] * x / below, -y * x / below, -y / below]


def _thurber(x: Reals, b: Reals) -> tuple[Reals, list[Reals]]:
    below = 1.0 + b[4] * x + b[5] * x**2 + b[6] * x**3
    y = (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3) / below
    return y, [x**power / below for power in range(4)] + [-y * x**power / below for power in (1, 2, 3)]


def _eckerle4(x: Reals, b: Reals) -> tuple[Reals, list[Reals]]:
    apart = (x - b[2]) / b[1]
    bell = np.exp(-0.5 * apart**2) / b[1]
    y = b[0] * bell
    return y, [bell, y * (apart**2 - 1.0) / b[1], y * apart / b[1]]


@dataclass(frozen=True)
class Certified:
    """One set: formula, the two published starts, parameters and their standard deviations, the sum of squares of the
    residual and its standard deviation; whether the logarithms of the parameters are searched."""

    formula: Formula
    starts: tuple[tuple[float, ...], tuple[float, ...]]
    parameters: tuple[float, ...]
    deviations: tuple[float, ...]
    squares: float
    residual: float
    logarithms: bool = False


# certified, published on the page of each set [StRD]
SETS = {
    "misra1a": Certified(
        _misra1a,
        ((500, 0.0001), (250, 0.0005)),
        (2.3894212918e02, 5.5015643181e-04),
        (2.7070075241e00, 7.2668688436e-06),
        1.2455138894e-01,
        1.0187876330e-01,
    ),
    "lanczos3": Certified(
        _lanczos3,
        ((1.2, 0.3, 5.6, 5.5, 6.5, 7.6), (0.5, 0.7, 3.6, 4.2, 4.0, 6.3)),
        (8.6816414977e-02, 9.5498101505e-01, 8.4400777463e-01, 2.9515951832e00, 1.5825685901e00, 4.9863565084e00),
        (1.7197908859e-02, 9.7041624475e-02, 4.1488663282e-02, 1.0766312506e-01, 5.8371576281e-02, 3.4436403035e-02),
        1.6117193594e-08,
        2.9923229172e-05,
    ),
    "mgh09": Certified(
        _mgh09,
        ((25, 39, 41.5, 39), (0.25, 0.39, 0.415, 0.39)),
        (1.9280693458e-01, 1.9128232873e-01, 1.2305650693e-01, 1.3606233068e-01),
        (1.1435312227e-02, 1.9633220911e-01, 8.0842031232e-02, 9.0025542308e-02),
        3.0750560385e-04,
        6.6279236551e-03,
        logarithms=True,  # the page tells of a local minimum at infinity, some of it at negative parameters
    ),
    "thurber": Certified(
        _thurber,
        ((1000, 1000, 400, 40, 0.7, 0.3, 0.03), (1300, 1500, 500, 75, 1, 0.4, 0.05)),
        (
            1.2881396800e03, 1.4910792535e03, 5.8323836877e02, 7.5416644291e01,
            9.6629502864e-01, 3.9797285797e-01, 4.9727297349e-02,
        ),
        (
            4.6647963344e00, 3.9571156086e01, 2.8698696102e01, 5.5675370270e00,
            3.1333340687e-02, 1.4984928198e-02, 6.5842344623e-03,
        ),
        5.6427082397e03,
        1.3714600784e01,
    ),
    "eckerle4": Certified(
        _eckerle4,
        ((1, 10, 500), (1.5, 5, 450)),
        (1.5543827178e00, 4.0888321754e00, 4.5154121844e02),
        (1.5408051163e-02, 4.6803020753e-02, 4.6800518816e-02),
        1.4635887487e-03,
        6.7629245447e-03,
        logarithms=True,  # from the first start the bell has to find a peak five widths away
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Scaled:
    """The formula over the start: each coordinate is the parameter, or its logarithm, in units of the start.

    logarithms: the parameters are positive
    """

    formula: Formula
    x: Reals
    start: Reals
    logarithms: bool

    @property
    def first(self) -> Reals:
        """The vector of the start."""
        return np.zeros_like(self.start) if self.logarithms else np.ones_like(self.start)

    def parameters(self, vector: Reals) -> Reals:
        """Return b."""
        return self.start * (np.exp(vector) if self.logarithms else vector)

    def slope(self, vector: Reals) -> Reals:
        """Return db/d(vector), one by one."""
        return self.parameters(vector) if self.logarithms else self.start

    def evaluate(self, vector: Reals) -> tuple[Complexes, Complexes]:
        y, slopes = self.formula(self.x, self.parameters(vector))
        return y.astype(np.complex128), (np.array(slopes).T * self.slope(vector)).astype(np.complex128)

    def prior(self) -> tuple[Reals, Reals]:
        return np.zeros_like(self.start), np.zeros_like(self.start)

    def moved(self, vector: Reals, step: Reals) -> Reals:
        return vector + step


def _points(y: Reals, sigma: float) -> Points:
    count = np.arange(1.0, y.size + 1.0)
    return Points(count, y.astype(np.complex128), np.full(y.size, sigma))


CASES = pytest.mark.parametrize(("name", "number"), [(name, number) for name in SETS for number in (0, 1)])


def _posed(name: str, number: int) -> tuple[Certified, Reals, Scaled]:
    case = SETS[name]
    y, x = np.loadtxt(FOLDER / f"{name}.dat", unpack=True)
    model = Scaled(case.formula, x, np.array(case.starts[number], dtype=np.float64), case.logarithms)
    return case, y, model


def _descended(y: Reals, model: Scaled) -> tuple[Reals, float]:
    """The vector at the minimum, and the residual standard deviation there; nothing is known of the noise before."""
    found = descend(model, y.astype(np.complex128), np.ones(y.size), model.first, SURE)
    assert found is not None
    vector, reached = found
    assert reached
    left = model.evaluate(vector)[0].real - y
    return vector, float(np.sqrt(np.sum(left**2) / (y.size - vector.size)))


def _deviations(minimum: Minimum[Scaled], points: Points) -> Reals:
    """Standard deviations of the parameters themselves."""
    spread = np.sqrt(np.diag(covariance(minimum, points)))
    return np.asarray(spread * np.abs(minimum.model.slope(minimum.vector)))


@CASES
def test_least_squares_are_the_certified_ones(name: str, number: int) -> None:
    # certified: eleven digits [StRD]; the sums of squares also show that no figure of the data is mistyped
    case, y, model = _posed(name, number)
    vector, residual = _descended(y, model)
    np.testing.assert_allclose(model.parameters(vector), case.parameters, rtol=1e-6)
    assert residual == pytest.approx(case.residual, rel=1e-9)
    assert residual**2 * (y.size - vector.size) == pytest.approx(case.squares, rel=1e-9)


@CASES
def test_standard_deviations_are_the_certified_ones(name: str, number: int) -> None:
    # certified: eleven digits [StRD]; the covariance counts an error of the model of at least 1e-7 of each value,
    # which Lanczos3, known to 1e-5, feels in the fifth digit
    case, y, model = _posed(name, number)
    vector, residual = _descended(y, model)
    points = _points(y, residual)
    value, jacobian = model.evaluate(vector)
    none = np.array([1e-12])
    minimum = Minimum(model, vector, jacobian, value - points.impedance_ohm, none, 0.0, True)
    np.testing.assert_allclose(_deviations(minimum, points), case.deviations, rtol=2e-5)


@CASES
def test_search_ends_at_the_certified_parameters(name: str, number: int) -> None:
    # certified [StRD]; the search stops where a step would gain 3e-6 of the sum of squares, of which there are up to
    # 32 here: a hundredth of a standard deviation
    case, y, model = _posed(name, number)
    points = _points(y, _descended(y, model)[1])
    minimum = search(points, model, model.first, np.array([1e-7]))
    assert minimum is not None
    assert minimum.converged
    # exact: the noise explains the residual, whose imaginary part is nought
    np.testing.assert_array_equal(minimum.model_error, [1e-7])
    off = (model.parameters(minimum.vector) - case.parameters) / np.array(case.deviations)
    assert np.abs(off).max() < 0.01
    # the derivatives are those a hundredth of a standard deviation away
    np.testing.assert_allclose(_deviations(minimum, points), case.deviations, rtol=1e-2)
    assert minimum.cost == pytest.approx(0.5 * (y.size - minimum.vector.size), rel=1e-4)
