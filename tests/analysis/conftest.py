"""Curves of circuits with seeded noise."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.records.curve import ImpedanceCurve

MakeCurve = Callable[..., ImpedanceCurve]


def _noisy(
    frequency_hz: NDArray[np.float64], impedance_ohm: NDArray[np.complex128], noise: float, seed: int = 0
) -> ImpedanceCurve:
    rng = np.random.default_rng(seed)
    sigma_ohm = noise * np.abs(impedance_ohm)
    error = rng.standard_normal(frequency_hz.size) + 1j * rng.standard_normal(frequency_hz.size)
    return ImpedanceCurve(frequency_hz, impedance_ohm + sigma_ohm * error, sigma_ohm)


@pytest.fixture
def noisy_curve() -> MakeCurve:
    """Return a curve with relative noise: (frequency_hz, impedance_ohm, noise, seed)."""
    return _noisy
