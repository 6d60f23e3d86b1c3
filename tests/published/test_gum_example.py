"""The law of propagation of uncertainty on the worked example of the Guide: an impedance from three readings."""

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.intervals import propagated

Reals = NDArray[np.float64]

# published: the five readings of volt, milliampere and radian [GUM, H.2, table H.2]
READINGS = np.array(
    [
        [5.007, 19.663, 1.0456],
        [4.994, 19.639, 1.0438],
        [5.005, 19.640, 1.0468],
        [4.990, 19.685, 1.0428],
        [4.999, 19.678, 1.0433],
    ]
)


def _impedance(quantities: Reals) -> Reals:
    """Resistance, reactance and magnitude, ohm."""
    volt, milliampere, radian = quantities
    size = volt / milliampere * 1e3
    return np.array([size * np.cos(radian), size * np.sin(radian), size])


def _mean_and_covariance() -> tuple[Reals, Reals]:
    """Of the means of five readings."""
    count = READINGS.shape[0]
    return READINGS.mean(axis=0), np.asarray(np.cov(READINGS.T) / count)


def _correlation(covariance: Reals) -> Reals:
    deviation = np.sqrt(np.diag(covariance))
    return np.asarray(covariance / np.outer(deviation, deviation))


def test_readings_have_the_published_means() -> None:
    # published: means, their standard uncertainties and correlations [GUM, H.2, table H.2]; guards the figures above
    mean, covariance = _mean_and_covariance()
    assert mean == pytest.approx([4.9990, 19.6610, 1.04446], abs=1e-6)
    assert np.sqrt(np.diag(covariance)) == pytest.approx([0.0032, 0.0095, 0.00075], rel=0.01)
    correlation = _correlation(covariance)
    assert correlation[[0, 0, 1], [1, 2, 2]] == pytest.approx([-0.36, 0.86, -0.65], abs=0.006)


def test_resistance_and_reactance_of_the_guide() -> None:
    # published: R, X, Z, their standard uncertainties and correlations [GUM, H.2, table H.3]
    mean, covariance = _mean_and_covariance()
    assert _impedance(mean) == pytest.approx([127.732, 219.847, 254.260], abs=6e-4)
    spread = propagated(_impedance, mean, covariance)
    assert np.sqrt(np.diag(spread)) == pytest.approx([0.071, 0.295, 0.236], abs=6e-4)
    correlation = _correlation(spread)
    assert correlation[[0, 0, 1], [1, 2, 2]] == pytest.approx([-0.588, -0.485, 0.993], abs=6e-4)


def test_second_way_of_the_guide_gives_the_same() -> None:
    # exact to first order [GUM, H.2, approach 2]: R, X and Z of each reading, averaged, have the same covariance
    mean, covariance = _mean_and_covariance()
    each = np.array([_impedance(reading) for reading in READINGS])
    spread = propagated(_impedance, mean, covariance)
    np.testing.assert_allclose(spread, np.cov(each.T) / READINGS.shape[0], rtol=1e-2)


def test_correlations_are_not_left_out() -> None:
    # independent readings would make R as uncertain as this, by the derivatives written out
    mean, covariance = _mean_and_covariance()
    size, angle = _impedance(mean)[2], mean[2]
    slope = size * np.array([np.cos(angle) / mean[0], -np.cos(angle) / mean[1], -np.sin(angle)])
    alone = float(np.sqrt(slope**2 @ np.diag(covariance)))
    assert alone > 2.5 * 0.071
    found = propagated(_impedance, mean, covariance)[0, 0]
    assert found == pytest.approx(slope @ covariance @ slope, rel=1e-6)
