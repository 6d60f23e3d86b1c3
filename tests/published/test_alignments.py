"""Alignments against the published tables."""

from math import inf, sqrt

import numpy as np
import pytest
from tests.textbook import response_coefficients

from sealtune.physics.alignment import (
    Alignment,
    align,
    bessel,
    butterworth,
    chebyshev,
    from_coefficients,
    quasi_butterworth,
)


def values(box: Alignment) -> tuple[float, float, float]:
    return box.tuning_ratio, box.compliance_ratio, box.cutoff_ratio


def test_butterworth_without_losses() -> None:
    # Published: Q_T 0.383, alpha 1.414, f3/fS 1 [Thiele1971, table I no. 5]; exact sin(pi/8), sqrt 2.
    box = align("B4")
    assert box.qt == pytest.approx(0.38268, abs=5e-6)
    assert values(box) == pytest.approx((1.0, sqrt(2.0), 1.0), rel=1e-9)


# Published for Q_L 7: "Qts=0.4048, Vas/Vb=1.0613, F3/Fs=1.0, Fb/Fs=1.0", tables after [Small1973].
# Independent for the others: derived from the circuit.
@pytest.mark.parametrize(
    ("ql", "qt", "alpha"),
    [
        (20, 0.39015, 1.28606),
        (15, 0.39270, 1.24445),
        (10, 0.39791, 1.16290),
        (7, 0.40481, 1.06132),
        (5, 0.41440, 0.93159),
        (3, 0.43864, 0.65428),
    ],
)
def test_butterworth_with_losses(ql: float, qt: float, alpha: float) -> None:
    box = align("B4", ql=ql)
    assert box.qt == pytest.approx(qt, abs=6e-6)
    assert values(box) == pytest.approx((1.0, alpha, 1.0), abs=6e-6)


def test_bessel() -> None:
    # Published for Q_L 7: "Qts=0.3312, Vas/Vb=1.9076, F3/Fs=1.4941, Fb/Fs=0.97354", same tables.
    box = align("Bessel", ql=7.0)
    assert box.qt == pytest.approx(0.3312, abs=6e-5)
    assert values(box) == pytest.approx((0.97354, 1.9076, 1.4941), abs=6e-5)


# [Thiele1971, table I nos. 1-4], from memory, rounded as printed; the second row of digits is an independent
# computation at that Q_T.
@pytest.mark.parametrize(
    ("qt", "printed", "computed"),
    [
        (0.180, (2.00, 10.48, 2.68), (1.997, 10.445, 2.679)),
        (0.209, (1.73, 7.48, 2.28), (1.730, 7.454, 2.274)),
        (0.259, (1.42, 4.46, 1.77), (1.413, 4.456, 1.772)),
        (0.303, (1.23, 2.95, 1.45), (1.224, 2.947, 1.448)),
    ],
)
def test_quasi_butterworth(
    qt: float, printed: tuple[float, float, float], computed: tuple[float, float, float]
) -> None:
    box = align("QB3", qt)
    assert box.qt == pytest.approx(qt, rel=1e-9)
    assert values(box) == pytest.approx(printed, rel=0.006)
    assert values(box) == pytest.approx(computed, abs=6e-4)


# [Thiele1971, table I nos. 6-9], from memory, as printed; then an independent computation, k and ripple too.
@pytest.mark.parametrize(
    ("qt", "printed", "computed", "k", "ripple_db"),
    [
        (0.415, (0.927, 1.055, 0.867), (0.9277, 1.0528, 0.8663), 0.7989, 0.003),
        (0.466, (0.829, 0.729, 0.729), (0.8270, 0.7243, 0.7260), 0.5969, 0.071),
        (0.518, (0.757, 0.559, 0.641), (0.7553, 0.5578, 0.6414), 0.4756, 0.277),
        (0.557, (0.716, 0.485, 0.600), (0.7177, 0.4858, 0.6001), 0.4147, 0.509),
    ],
)
def test_chebyshev(
    qt: float,
    printed: tuple[float, float, float],
    computed: tuple[float, float, float],
    k: float,
    ripple_db: float,
) -> None:
    box = align("C4", qt)
    assert values(box) == pytest.approx(printed, rel=0.008)
    assert values(box) == pytest.approx(computed, abs=6e-5)
    by_k = from_coefficients(chebyshev(k))
    assert by_k.qt == pytest.approx(qt, abs=5e-5)
    # The ripple is what the response itself does in its pass band. Exact: 1/sinh^2(4 artanh k) as a fraction (derived).
    big = 1.0 / k**2 - 1.0
    exact_db = 10.0 * np.log10(1.0 + big**4 / (64.0 + 128.0 * big + 80.0 * big**2 + 16.0 * big**3))
    level = 20.0 * np.log10(np.abs(response(chebyshev(k), np.logspace(0.0, 3.0, 20001))))
    ripple = level.max() - level[np.argmax(level) :].min()
    assert ripple == pytest.approx(exact_db, abs=2e-5)
    assert ripple == pytest.approx(ripple_db, abs=6e-4)


# Independent, same method as the tables above, for Q_L 7.
@pytest.mark.parametrize(
    ("qt", "expected"),
    [
        (0.20, (1.9393, 7.7775, 2.5289)),
        (0.25, (1.5629, 4.5822, 1.9667)),
        (0.30, (1.3145, 2.8452, 1.5732)),
        (0.35, (1.1395, 1.7964, 1.2702)),
        (0.40, (1.0106, 1.1141, 1.0214)),
        (0.45, (0.8992, 0.6868, 0.8348)),
        (0.50, (0.8031, 0.4642, 0.7155)),
        (0.60, (0.6805, 0.2749, 0.5884)),
    ],
)
def test_with_usual_losses(qt: float, expected: tuple[float, float, float]) -> None:
    box = align("QB3" if qt < 0.4048 else "C4", qt, 7.0)
    assert values(box) == pytest.approx(expected, abs=6e-5)


@pytest.mark.parametrize("ql", [3.0, 7.0, 20.0, inf])
@pytest.mark.parametrize("shape", [butterworth(), bessel(), quasi_butterworth(4.0), chebyshev(0.5)])
def test_round_trip(shape: tuple[float, float, float], ql: float) -> None:
    # Exact: coefficients to box and back [Small1973, Part I].
    box = from_coefficients(shape, ql)
    back = response_coefficients(box.tuning_ratio, box.compliance_ratio, box.qt, ql)
    assert back == pytest.approx(shape, rel=1e-9)
    # Exact: half of the power at f3.
    at_cutoff = np.array([box.cutoff_ratio / sqrt(box.tuning_ratio)])
    assert abs(response(shape, at_cutoff)[0]) ** 2 == pytest.approx(0.5, rel=1e-9)


def test_families_meet() -> None:
    # Exact: at a1 = sqrt(4 + 2 sqrt 2) QB3 is B4; at k = 1 C4 is B4.
    assert quasi_butterworth(sqrt(4.0 + 2.0 * sqrt(2.0))) == pytest.approx(butterworth(), rel=1e-12)
    assert chebyshev(1.0) == pytest.approx(butterworth(), rel=1e-12)


def test_out_of_reach() -> None:
    # published: QB3 ends at B4, whose lossless driver has a Q of 0.383 [Thiele1971]
    with pytest.raises(ValueError, match=r"expected a total driver Q from 0\.\d+ to 0\.383, got 0\.7"):
        align("QB3", 0.7)
    with pytest.raises(ValueError, match=r"expected a total driver Q from 0\.383 to \d\.\d+, got 0\.2"):
        align("C4", 0.2)
    with pytest.raises(ValueError, match="give qt"):
        align("C4")


def response(shape: tuple[float, float, float], frequency: np.ndarray) -> np.ndarray:
    a1, a2, a3 = shape
    s = 1j * frequency
    return np.asarray(s**4 / (s**4 + a1 * s**3 + a2 * s**2 + a3 * s + 1.0))
