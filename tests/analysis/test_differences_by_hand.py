"""How far two curves lie apart, and a part that rings on its own, on curves whose answer is known."""

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.curve_difference import impedance_difference
from sealtune.analysis.local_resonance import Ringing, ringing
from sealtune.analysis.search import Points
from sealtune.records.curve import ImpedanceCurve

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
HZ = np.geomspace(5.0, 900.0, 700)


def curve(times: Reals | float, hz: Reals = HZ, noise: float = 0.0) -> ImpedanceCurve:
    z = np.asarray(times * 8.0 * np.exp(0.3j) * np.ones(hz.size), dtype=np.complex128)
    return ImpedanceCurve(hz, z, noise * np.abs(z))


def test_a_factor_over_the_band_is_its_decibels() -> None:
    # Exact: 20 lg 1.1 = 0.828 dB everywhere; two takes that differ by 1 % leave 1.96 x 8.686 x 1 % = 0.170 dB
    found = impedance_difference(curve(1.1), curve(1.0), 0.01)
    assert found is not None
    assert (found.low_hz, found.high_hz) == (20.0, 200.0)
    assert found.rms_db.value == pytest.approx(0.8279, abs=1e-4)
    assert found.rms_db.high - found.rms_db.value == pytest.approx(0.1702, abs=1e-3)
    assert found.rms_db.value - found.rms_db.low == pytest.approx(0.1702, abs=1e-3)
    assert found.largest_db.value == pytest.approx(0.8279, abs=1e-4)
    assert found.largest_db.high - found.largest_db.value == pytest.approx(0.1702, abs=1e-3)
    turned = impedance_difference(curve(1.0), curve(1.1), 0.01)
    assert turned is not None
    assert turned.largest_db.value == pytest.approx(-0.8279, abs=1e-4)
    assert turned.rms_db.value == pytest.approx(0.8279, abs=1e-4)
    near = impedance_difference(curve(1.005), curve(1.0), 0.01)
    assert near is not None
    assert near.rms_db.low == 0.0


def test_noise_of_both_counts_and_is_less_over_the_whole_band_than_at_one_place() -> None:
    # Exact: 1 and 2 % are 8.686 x 2.236 % = 0.194 dB; of 400 points every ten are alike, so that 40 are averaged
    found = impedance_difference(curve(1.1, noise=0.01), curve(1.0, noise=0.02), 0.0)
    assert found is not None
    at_one = 1.96 * 8.6859 * 0.02236
    assert found.largest_db.high - found.largest_db.value == pytest.approx(at_one, rel=2e-3)
    assert found.rms_db.high - found.rms_db.value == pytest.approx(at_one / np.sqrt(40.0), rel=2e-3)


def test_a_step_is_found_where_it_is_and_counts_with_its_share() -> None:
    # Exact: half of the band's logarithm, 63.2 to 200 Hz, at 2 dB is a root mean square of 2/sqrt 2
    step = np.where(np.sqrt(20.0 * 200.0) <= HZ, 10.0**0.1, 1.0)
    found = impedance_difference(curve(step), curve(1.0), 0.01)
    assert found is not None
    assert found.rms_db.value == pytest.approx(np.sqrt(2.0), rel=0.01)
    assert found.at_hz > 62.0
    assert found.largest_db.value == pytest.approx(2.0, abs=1e-3)


def test_only_what_both_hold_is_compared() -> None:
    # Exact: from 100 Hz on there are 200/100 = 2; from 140 Hz on 1.43, which is too little
    for low_hz, compared in ((100.0, True), (140.0, False)):
        found = impedance_difference(curve(1.0, HZ[low_hz < HZ]), curve(1.0), 0.01)
        assert (found is not None) == compared
    low, high = curve(1.0, HZ[HZ < 90.0]), curve(1.0, HZ[HZ > 30.0])
    for part in (impedance_difference(low, high, 0.01), impedance_difference(high, low, 0.01)):
        assert part is not None
        assert part.low_hz == HZ[HZ > 30.0][0]
        assert part.high_hz == HZ[HZ < 90.0][-1]


def test_the_shape_of_what_rings() -> None:
    # Exact: 1 at its frequency, and half of the power where Q (f/f0 - f0/f) is 1
    one = Ringing(200.0, 30.0)
    half = 200.0 * (np.sqrt(1.0 + 1.0 / 60.0**2) + np.array([-1.0, 1.0]) / 60.0)
    assert one.shape(np.array([200.0])) == pytest.approx([1.0])
    assert np.abs(one.shape(half)) ** 2 == pytest.approx([0.5, 0.5])
    assert one.shape(half).imag == pytest.approx([0.5, -0.5])
    low, high = one.stretch_hz
    assert np.log(high / 200.0) == pytest.approx(4.0 / 30.0)
    assert low * high == pytest.approx(200.0**2)
    assert np.log(Ringing(200.0, 100.0).stretch_hz[1] / 200.0) == pytest.approx(0.08)


def left_over(error: Complexes) -> Ringing | None:
    whole = curve(1.0, noise=1e-3)
    minimum = SimpleNamespace(residual=error * whole.impedance_ohm)
    return ringing(cast(Any, minimum), Points.of([whole]))


@pytest.mark.parametrize(("hz", "q"), [(180.0, 25.0), (333.0, 60.0)])
def test_what_rings_is_found_in_what_the_circuit_leaves(hz: float, q: float) -> None:
    # Exact: the resonance that was put in
    error = (0.01 - 0.02j) * Ringing(hz, q).shape(HZ)
    found = left_over(error)
    assert found is not None
    assert found.hz == pytest.approx(hz, rel=1e-3)
    assert found.q == pytest.approx(q, rel=0.06)
    # beside as much of another kind it is not believed, beside half as much it is
    rng = np.random.default_rng(2)
    rough = rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size)
    rough *= np.sqrt(np.sum(np.abs(error) ** 2) / np.sum(np.abs(rough) ** 2))
    assert left_over(np.asarray(error + np.sqrt(2.0) * rough)) is None
    assert left_over(np.asarray(error + np.sqrt(0.7) * rough)) is not None
    assert left_over(np.zeros(HZ.size, dtype=np.complex128)) is None
