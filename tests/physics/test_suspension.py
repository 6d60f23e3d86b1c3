import numpy as np
import pytest

from sealtune.physics.suspension import creep_factor


def test_creep() -> None:
    # Exact, from the formula [Knudsen1993, from memory]: at j w_S, log10(j) = j pi/(2 ln 10).
    at_resonance = complex(creep_factor(250j, 0.1, 250.0))
    assert at_resonance == pytest.approx(1 - 0.1j * np.pi / (2 * np.log(10)), rel=1e-12)
    # Exact: one decade down the real part has grown by lambda.
    assert complex(creep_factor(25j, 0.1, 250.0)).real == pytest.approx(1.1, rel=1e-12)
    assert complex(creep_factor(2500j, 0.1, 250.0)).real == pytest.approx(0.9, rel=1e-12)


def test_creep_only_takes_power() -> None:
    # Exact: the spring's impedance 1/(s c) has a positive real part at every frequency in use.
    s = 1j * np.logspace(1, 4, 50)
    assert np.all((1.0 / (s * creep_factor(s, 0.15, 250.0))).real > 0)
    np.testing.assert_array_equal(creep_factor(s, 0.0, 250.0), np.ones(50))
