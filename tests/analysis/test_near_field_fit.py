"""Tuning, polarity and rattles by the microphone on a few virtual cabinets; the benchmark has a hundred."""

import numpy as np
import pytest
from tests.benchmarks.near_field import draw_case, heard, polarity_right, rattles, sum_error_db

from sealtune.analysis.near_field_fit import bare_null_hz, fit_near_field
from sealtune.analysis.near_field_model import LEAK_S, vent_over_cone
from sealtune.analysis.polarity import polarity
from sealtune.records.near_field import Reading


@pytest.fixture(scope="module")
def found() -> list[tuple[float, float, bool, float, float]]:
    rows = []
    for number in range(4):
        rng = np.random.default_rng([77, number])
        case = draw_case(rng)
        near = heard(case, rng)
        truth = case.cabinet.truth().tuning_hz
        assert truth is not None
        assert near.tuning_hz is not None
        assert near.null_hz is not None
        ours, plain, _ = sum_error_db(case, near)
        error, null = (abs(hz / truth - 1.0) for hz in (near.tuning_hz.value, near.null_hz))
        rows.append((error, null, near.tuning_hz.holds(truth), ours, plain))
    return rows


def test_tuning_by_the_near_field_alone(found: list[tuple[float, float, bool, float, float]]) -> None:
    # Independent: the virtual cabinet's own tuning; aims: 0.5 % in the middle, 2 % at the 95th percentile
    errors = [row[0] for row in found]
    assert np.median(errors) < 0.005
    assert max(errors) < 0.02
    assert np.median([row[1] for row in found]) > 4.0 * np.median(errors)  # the bare minimum
    assert sum(row[2] for row in found) >= 3


def test_sum_is_the_far_field(found: list[tuple[float, float, bool, float, float]]) -> None:
    # Independent: the virtual cabinet's far field; aim: 0.5 dB below the limit
    assert max(row[3] for row in found) < 0.5
    assert np.median([row[4] for row in found]) > 2.0 * np.median([row[3] for row in found])


def test_polarity_at_10_db() -> None:
    for number in range(8):
        rng = np.random.default_rng([78, number])
        assert polarity_right(draw_case(rng), rng, 10.0)


def test_rattles_told_and_no_others() -> None:
    told, false = 0, 0
    for number in range(3):
        rng = np.random.default_rng([79, number])
        case = draw_case(rng)
        told += rattles(case, rng, 0.01)
        false += rattles(case, rng, None)
    assert told == 3
    assert false == 0


def test_model_without_losses() -> None:
    # Exact: M = -w_B^2/(w_B^2 - w^2)
    w = 2 * np.pi * np.array([20.0, 30.0, 60.0])
    wb = 2 * np.pi * 40.0
    found = vent_over_cone(np.asarray(1j * w), wb, np.zeros(3), 1e-9, LEAK_S)
    assert found == pytest.approx(-(wb**2) / (wb**2 - w**2), rel=1e-6)


def test_readings_that_are_none_of_a_box() -> None:
    hz = np.geomspace(10.0, 500.0, 300)
    rng = np.random.default_rng(5)
    noise = np.asarray(rng.standard_normal(300) + 1j * rng.standard_normal(300), dtype=np.complex128)
    even = np.ones(300, dtype=np.complex128)
    found = fit_near_field(hz, noise, even, np.full(300, 1e-3), np.full(300, 1e-3))
    assert found is None or found.residual > 0.06  # more than what is believed
    assert fit_near_field(hz[:5], noise[:5], noise[:5], np.ones(5), np.ones(5)) is None


def test_bare_null_of_a_known_curve() -> None:
    hz = np.geomspace(20.0, 80.0, 400)
    value = np.asarray(1.0 + 0j + 30.0 * np.log(hz / 41.3) ** 2)
    assert bare_null_hz(hz, value, (30.0, 60.0)) == pytest.approx(41.3, rel=1e-3)
    assert bare_null_hz(hz, value, (45.0, 60.0)) is None


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("delay_s", [0.0, 3e-4])
def test_polarity_of_a_delayed_reading(sign: float, delay_s: float) -> None:
    hz = np.geomspace(20.0, 900.0, 300)
    s = 2j * np.pi * hz
    over = s**2 + s * 2 * np.pi * 60.0 / 0.7 + (2 * np.pi * 60.0) ** 2
    high_pass = np.asarray(s**2 / over, dtype=np.complex128)
    value = np.asarray(sign * high_pass * np.exp(-s * delay_s))
    reading = Reading("cone", hz, value, np.full(300, 1e-3))
    word = "normal" if sign > 0 else "reversed"
    assert polarity(reading, 40.0, None).word == word
    assert polarity(reading, 40.0, high_pass).word == word


def test_polarity_of_noise_is_unclear() -> None:
    rng = np.random.default_rng(2)
    hz = np.geomspace(20.0, 900.0, 300)
    noise = rng.standard_normal(300) + 1j * rng.standard_normal(300)
    assert polarity(Reading("cone", hz, noise, np.full(300, 0.1)), 40.0, None).word == "unclear"


@pytest.mark.parametrize("number", [46, 47])
def test_no_mode_of_a_room_stands_for_another_tuning(number: int) -> None:
    # Independent: the virtual cabinet's tuning and far field. A mode at 115 or 130 Hz as high as only one at 40 Hz can
    # be explained these readings with tunings 10 % low and 4 % high, and sums off by 6 and 1.8 dB
    rng = np.random.default_rng([313131, number])
    case = draw_case(rng)
    near = heard(case, rng)
    truth = case.cabinet.truth().tuning_hz
    assert near.tuning_hz is not None
    assert near.tuning_hz.value == pytest.approx(truth, rel=0.015)
    assert sum_error_db(case, near)[0] < 0.5
