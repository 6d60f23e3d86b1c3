"""Sums of relaxations against the functions that they follow."""

import numpy as np
import pytest
from scipy.special import jn_zeros

from sealtune.physics.leak import hole_flow, slit_flow
from sealtune.physics.relaxations import relaxations

S = np.asarray(2j * np.pi * np.geomspace(2.0, 2000.0, 500), dtype=np.complex128)


@pytest.mark.parametrize("exponent", [0.5, 0.7, 0.95])
def test_powers_of_frequency(exponent: float) -> None:
    # exact: the power itself, between the points of the fit
    found = relaxations(lambda s: np.asarray(s ** (exponent - 1.0)))
    np.testing.assert_allclose(found(S), S ** (exponent - 1.0), rtol=2e-3)
    assert found.constant >= 0.0
    assert min(found.sizes) > 0.0
    assert len(found.sizes) <= 20


@pytest.mark.parametrize("creep", [0.03, 0.2])
def test_creep(creep: float) -> None:
    # exact: 1 - lambda log10(s/w_S); without its losses a spring would be off by pi/2 lambda/ln 10, 2 to 14 %
    found = relaxations(lambda s: np.asarray(1.0 - creep * np.log10(s / 250.0), dtype=np.complex128))
    np.testing.assert_allclose(found(S), 1.0 - creep * np.log10(S / 250.0), rtol=1e-3)


@pytest.mark.parametrize("time_s", [1e-4, 6e-3, 0.1])
def test_flow_through_a_gap(time_s: float) -> None:
    # exact: (1 - tanh(k)/k)/k^2 has its corners at the zeros of the cosine, and sizes 2/zero^4 (residues)
    zeros = (np.arange(4) + 0.5) * np.pi
    found = relaxations(lambda s: slit_flow(np.asarray(s * time_s)), (zeros**2 / time_s).tolist())
    np.testing.assert_allclose(found(S), slit_flow(S * time_s), rtol=5e-4)
    assert found.sizes[0] == pytest.approx(2.0 / zeros[0] ** 4, rel=1e-3)


@pytest.mark.parametrize("time_s", [0.1, 0.6, 3.0])
def test_flow_through_a_hole(time_s: float) -> None:
    # exact: 1 - 2 I1(q)/(q I0(q)) over q^2 has its corners at the zeros of J0, and sizes 4/zero^4 (residues)
    zeros = jn_zeros(0, 4)
    found = relaxations(lambda s: hole_flow(np.asarray(s * time_s)), (zeros**2 / time_s).tolist())
    np.testing.assert_allclose(found(S), hole_flow(S * time_s), rtol=5e-4)
    assert found.sizes[0] == pytest.approx(4.0 / zeros[0] ** 4, rel=1e-3)
