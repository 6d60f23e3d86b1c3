"""The model of cone and mouth against networks of its parts, and the way back from readings made by it."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq

from sealtune.analysis.acoustic_sum import apart, band_levels_db, piston_droop, plainly
from sealtune.analysis.near_field_fit import bare_null_hz, fit_near_field, told
from sealtune.analysis.near_field_model import (
    NearFieldFit,
    NearFieldTask,
    Readings,
    room_mode,
    tuning_and_q,
    vent_over_cone,
)
from sealtune.analysis.polarity import polarity
from sealtune.physics.near_field import Openings
from sealtune.records.near_field import Reading

Complexes = NDArray[np.complex128]
Reals = NDArray[np.float64]

WB = 2.0 * np.pi * 42.0
HZ = np.geomspace(10.0, 500.0, 500)
S = np.asarray(2j * np.pi * HZ)


def of_duct(s: Complexes, through_s: float, air: Complexes) -> Complexes:
    """Flow out of a lossless duct over that of the cone, for a box of compliance 1 and a vent of mass 1/w_B^2.

    Independent: the two-port of a line, open into the room: U_in = U_out cos x, p = j Z0 sin x U_out.
    """
    x = s.imag * through_s
    line = 1.0 / (WB**2 * through_s)
    return np.asarray(-1.0 / (np.cos(x) + 1j * line * np.sin(x) * air))


@pytest.mark.parametrize("through_s", [0.3e-3, 0.9e-3])
def test_a_duct_is_a_line(through_s: float) -> None:
    s = S[HZ < 250.0]
    assert vent_over_cone(s, WB, np.zeros(3), through_s) == pytest.approx(of_duct(s, through_s, s), rel=1e-9)


def test_leak_and_absorption_lie_beside_the_air() -> None:
    # Independent: the same line beside a resistance with its mass, 1/(R + s M), and beside a lossy compliance
    s, leakage, absorption, leak_s = S[HZ < 250.0], 0.08, 0.05, 0.7e-3
    leak = 1.0 / (1.0 / (WB * leakage) + s * leak_s / (WB * leakage))
    compliance = 1.0 / (1.0 / s + absorption / WB)
    found = vent_over_cone(s, WB, np.array([leakage, absorption, 0.0]), 0.6e-3, leak_s)
    assert found == pytest.approx(of_duct(s, 0.6e-3, np.asarray(leak + compliance)), rel=1e-9)


def test_friction_of_a_short_vent_takes_its_share_at_the_tuning() -> None:
    # Exact: sqrt(2 j) = 1 + j, so that the vent's impedance over that of its mass at w_B is j (1 + d_P) + d_P
    friction = 0.03
    s = np.array([1j * WB])
    vent = (1j * (1.0 + friction) + friction) / WB
    expected = -1.0 / (1.0 + vent * s)
    assert vent_over_cone(s, WB, np.array([0.0, 0.0, friction]), 1e-7) == pytest.approx(expected, rel=1e-6)


def test_a_mode_of_the_room_at_its_resonance_and_far_from_it() -> None:
    # Exact: w_r is that of 45 Hz; at the resonance -j A (w_r/w_0)^2, far above A/q (w_r/w)^2 with the sign turned
    at = room_mode(np.array([2j * np.pi * 60.0]), 60.0, 10.0, 0.3)
    assert at[0] == pytest.approx(-1j * 0.3 * (45.0 / 60.0) ** 2, rel=1e-12)
    far = room_mode(np.array([2j * np.pi * 6e4]), 60.0, 10.0, 0.3)
    assert far[0].real == pytest.approx(-0.03 * (45.0 / 6e4) ** 2, rel=2e-4)
    below = room_mode(np.array([2j * np.pi * 0.06]), 60.0, 10.0, 0.3)
    assert below[0].real == pytest.approx(0.03 * (45.0 / 60.0) ** 2, rel=1e-5)


@pytest.mark.parametrize(
    ("losses", "through_s"), [((0.05, 0.02, 0.015), 0.2e-3), ((0.3, 0.1, 0.05), 0.9e-3), ((1e-6, 1e-6, 1e-6), 0.6e-3)]
)  # fmt: skip
def test_tuning_and_q_are_where_the_admittance_is_real(
    losses: tuple[float, float, float], through_s: float
) -> None:
    # Independent: the admittance of air, leak and duct by their two-ports, its zero by scipy's root finder
    leakage, absorption, friction = losses
    leak_s = 0.4e-3

    def admittance(w: float) -> complex:
        s = 1j * w
        air = 1.0 / (1.0 / s + absorption / WB) + 1.0 / ((1.0 + s * leak_s) / (WB * leakage))
        mass = (s + friction * np.sqrt(2.0 * s * WB)) / WB**2
        x = w * through_s
        return complex(air + 1.0 / (mass * np.tan(x) / x))

    w = brentq(lambda w: admittance(w).imag, 0.7 * WB, 1.6 * WB)
    vector = np.array([np.log(WB), *np.log(losses), 0.0, 0.0, 0.0, np.log(through_s), np.log(leak_s)])
    tuning_hz, box_q = tuning_and_q(vector)
    assert tuning_hz == pytest.approx(w / (2.0 * np.pi), rel=1e-5)
    assert box_q == pytest.approx(w / admittance(w).real, rel=1e-3)


def synthetic(
    *, wb_hz: float = 42.0, ratio: float = 2.4, crosstalk: float = 0.08, rooms: tuple[tuple[float, float, float], ...]
) -> tuple[Complexes, Complexes, Complexes, NearFieldFit]:  # fmt: skip
    """Readings at cone and mouth of a cone that falls by 12 dB per octave below 50 Hz, the vent's flow, the truth."""
    truth = NearFieldFit(wb_hz, 0.0, 10.0, ratio, crosstalk, 0.9e-3, rooms, 0.0, (0.1e-3, 0.05e-3))
    own = np.asarray(S**2 / (S**2 + S * 2 * np.pi * 50.0 + (2 * np.pi * 50.0) ** 2))
    moved = vent_over_cone(S, 2.0 * np.pi * wb_hz, np.array([0.04, 0.015, 0.015]), 0.6e-3)
    at_cone, beside, at_mouth = truth.matrix(HZ)
    cone, mouth = own * (at_cone + beside * moved), own * (at_mouth * moved + beside)
    return np.asarray(cone), np.asarray(mouth), np.asarray(own * moved), truth


def test_the_matrix_is_made_of_delay_crosstalk_and_room() -> None:
    # Exact, by the equations at the module's head
    rooms = ((60.0, 10.0, 0.2), (90.0, 15.0, -0.1))
    truth = synthetic(rooms=rooms)[3]
    at_cone, beside, at_mouth = truth.matrix(HZ)
    room = sum(
        height / q * (2 * np.pi * 45.0) ** 2 / (S**2 + S * 2 * np.pi * hz / q + (2 * np.pi * hz) ** 2)
        for hz, q, height in rooms
    )
    assert at_cone == pytest.approx(np.exp(-S * 0.1e-3) + room, rel=1e-12)
    assert beside == pytest.approx(0.08 * np.exp(-S * 0.9e-3) + room, rel=1e-12)
    assert at_mouth == pytest.approx(2.4 * np.exp(-S * 0.05e-3) + room, rel=1e-12)


def test_cone_and_vent_come_apart_again() -> None:
    # Exact: the readings are that matrix times what was put in
    cone, mouth, vent, truth = synthetic(rooms=((60.0, 10.0, 0.2),))
    by_cone, by_vent = apart(HZ, cone, mouth, truth)
    assert by_vent == pytest.approx(vent, rel=1e-9)
    own = S**2 / (S**2 + S * 2 * np.pi * 50.0 + (2 * np.pi * 50.0) ** 2)
    assert by_cone == pytest.approx(own, rel=1e-9)
    two = Openings(0.02, 2, 0.005, 1, 50.0)
    assert plainly(cone, mouth, two)[1] == pytest.approx(mouth / two.mouth_over_cone)


@pytest.mark.parametrize(
    ("wb_hz", "rooms"),
    [(30.0, ()), (55.0, ()), (30.0, ((48.0, 12.0, 0.25),))],
    ids=["low", "high", "in a room"],
)
def test_the_fit_finds_what_was_put_in(wb_hz: float, rooms: tuple[tuple[float, float, float], ...]) -> None:
    # Exact: readings by the model itself with a thousandth of noise, whose tuning is the zero of the admittance
    cone, mouth, _, truth = synthetic(wb_hz=wb_hz, rooms=rooms)
    rng = np.random.default_rng(3)
    sigmas = [1e-3 * np.abs(each) for each in (cone, mouth)]
    noisy = [
        each + sigma * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size))
        for each, sigma in zip((cone, mouth), sigmas, strict=True)
    ]
    some = slice(None, None, 8 if rooms else 1)
    found = fit_near_field(
        HZ[some], noisy[0][some], noisy[1][some], sigmas[0][some], sigmas[1][some], 2.3, truth.delays_s, 0.6e-3,
        near_hz=40.0,
    )  # fmt: skip
    assert found is not None
    losses = np.log([0.04, 0.015, 0.015])
    vector = np.array([np.log(2 * np.pi * wb_hz), *losses, 0.0, 0.0, 0.0, np.log(0.6e-3), np.log(0.4e-3)])
    tuning_hz, box_q = tuning_and_q(vector)
    assert found.tuning_hz == pytest.approx(tuning_hz, rel=2e-3)
    assert found.box_q == pytest.approx(box_q, rel=0.25)
    assert found.mouth_over_cone == pytest.approx(2.4, rel=0.03)
    assert found.crosstalk == pytest.approx(0.08, rel=0.2)
    assert found.flight_s == pytest.approx(0.9e-3, rel=0.4)
    assert found.residual < 0.003
    # Q of 14 leaves 0.35 % that the model's vent brings along, and no more; a lossy box has more, see MADE_UP
    assert 0.0035 <= found.tuning_spread < (0.006 if rooms else 0.005)
    for mode in rooms:
        assert min(abs(one[0] - mode[0]) for one in found.rooms) < 1.5
    assert found.delays_s == truth.delays_s


def test_slopes_are_those_of_the_misfit() -> None:
    # Exact: differences of the misfit either side, in each quantity of a box with two modes of the room
    cone, mouth, _, truth = synthetic(rooms=((60.0, 10.0, 0.2),))
    n = HZ.size
    readings = Readings(S, cone, 1.1 * mouth, np.ones(n), np.ones(n), 2.4, truth.delays_s, 0.6e-3)
    task = NearFieldTask(readings, np.ones(n), 2)
    vector = np.array([
        *np.log([1.1 * WB, 0.05, 0.02, 0.015, 2.2, 0.1]), 0.3, *np.log([0.5e-3, 0.6e-3]),
        np.log(2.0 * np.pi * 55.0), np.log(8.0), 0.15, np.log(2.0 * np.pi * 90.0), np.log(14.0), -0.1,
    ])  # fmt: skip
    here, slopes = task.evaluate(vector)
    assert here == pytest.approx(task.misfit(vector))
    for place, step in enumerate(1e-4 * np.eye(vector.size)):
        expected = (task.misfit(vector + step) - task.misfit(vector - step)) / 2e-4
        assert np.abs(expected).max() > 1e-3, "each of them moves something"
        assert np.abs(slopes[:, place] - expected).max() < 1e-4 * np.abs(expected).max() + 1e-7


def test_misfit_beyond_twice_the_noise_counts_for_a_tenth_of_the_points() -> None:
    # Exact: variances in proportion to the misfit, and to n/10 where neighbours err together; 0.35 % are systematic
    cone, mouth, _, truth = synthetic(rooms=())
    some = slice(None, None, 3)
    n = HZ[some].size
    readings = Readings(
        S[some], cone[some], (1.0 + 1e-5) * mouth[some], np.ones(n), np.ones(n), 2.4, truth.delays_s, 0.6e-3
    )
    vector = np.log([WB, 0.04, 0.015, 0.015, 2.4, 0.08, 1.0, 0.6e-3, 0.4e-3])
    square = float(np.sum(np.abs(NearFieldTask(readings, np.ones(n), 0).misfit(vector)) ** 2)) / (2 * n - 9)

    def variance(per_point: float) -> float:
        found = told(NearFieldTask(readings, np.full(n, np.sqrt(per_point / square)), 0), vector)
        assert found is not None
        assert found.box_q > 12.0
        return found.tuning_spread**2 - 0.0035**2

    assert variance(2.01) / variance(1.99) == pytest.approx(n / 10.0, rel=0.02)
    # a higher weight makes the misfit larger and the variance smaller alike, until noise alone explains it
    assert variance(1.96) == pytest.approx(variance(1.04), rel=0.01)
    assert variance(0.5) == pytest.approx(2.0 * variance(1.0), rel=0.05)


def test_band_levels_are_those_of_pink_noise() -> None:
    # Exact: of f^2 the mean over the logarithm is (high^2 - low^2)/(2 ln(high/low)); nominal frequencies [IEC61260]
    hz = np.geomspace(17.5, 1000.0, 4000)
    found = band_levels_db(hz, np.asarray(hz, dtype=np.complex128), 832.0)
    assert [nominal for nominal, _ in found] == [
        20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0, 630.0,
    ]  # fmt: skip
    for n, (_, level_db) in enumerate(found, 13):
        low, high = 10.0 ** (n / 10.0 - 0.05), 10.0 ** (n / 10.0 + 0.05)
        power, _ = quad(lambda x: np.exp(2.0 * x), np.log(low), np.log(high))
        assert level_db == pytest.approx(10.0 * np.log10(power / np.log(high / low)), abs=2e-3)
    ones = np.ones(hz.size, dtype=np.complex128)
    assert len(band_levels_db(hz[hz > 18.0], ones[hz > 18.0], 832.0)) == 15
    assert band_levels_db(hz[hz < 200.0], ones[hz < 200.0], 832.0)[-1][0] == 160.0


@pytest.mark.parametrize(
    ("ka", "db"), [(0.0, 0.0), (0.5, -0.091), (1.0, -0.365), (1.6, -0.947), (2.0, -1.499), (2.783, -3.01)]
)
def test_droop_of_the_near_field(ka: float, db: float) -> None:
    # From memory [Keele1974], computed from his equation for a rigid piston: 20 log10 [sin(ka/2)/(ka/2)]; exact at 0
    hz = np.array([ka * 344.0 / (2.0 * np.pi * 0.1)])
    assert 20.0 * np.log10(piston_droop(hz, np.pi * 0.1**2, 344.0)) == pytest.approx([db], abs=0.005)


def level(count: int, low_hz: float, high_hz: float, value: complex = 1.0 + 0j) -> Reading:
    hz = np.geomspace(low_hz, high_hz, count)
    return Reading("cone", hz, np.full(count, value), np.full(count, 1e-9))


def test_polarity_of_acceleration_that_goes_with_the_voltage_is_sure() -> None:
    # Exact: above its resonances the cone's acceleration is in phase with the voltage; 1 is all of it
    assert polarity(level(200, 20.0, 900.0), 40.0, None).word == "normal"
    assert polarity(level(200, 20.0, 900.0), 40.0, None).sureness == pytest.approx(1.0, abs=1e-6)
    turned = polarity(level(200, 20.0, 900.0, -2.0 + 0j), 40.0, None)
    assert (turned.word, round(turned.sureness, 6)) == ("reversed", 1.0)


def test_polarity_is_read_where_mass_rules_and_below_its_limit() -> None:
    # Exact: what lies outside 3 to 8 times the tuning, or above 600 Hz, is turned and must not count
    for tuning_hz in (40.0, 90.0):
        reading = level(300, 20.0, 2000.0)
        inside = (reading.frequency_hz >= 3.0 * tuning_hz) & (
            reading.frequency_hz <= min(8.0 * tuning_hz, 600.0)
        )
        value = np.where(inside, 1.0 + 0j, -5.0 + 0j)
        assert polarity(replace(reading, value=value), tuning_hz, None).sureness == pytest.approx(1.0)
        assert polarity(replace(reading, value=-value), tuning_hz, None).word == "reversed"


def test_polarity_of_a_few_points_and_of_noisy_ones() -> None:
    assert polarity(level(7, 130.0, 300.0), 40.0, None).word == "unclear"
    assert polarity(level(7, 130.0, 300.0), 40.0, None).sureness == 0.0
    assert polarity(level(8, 130.0, 300.0), 40.0, None).word == "normal"
    # Exact: points of a hundred times the noise count (1 + 2 x 100^2)^-1, so that half of them cannot turn the word
    reading = level(100, 130.0, 300.0)
    half = np.arange(100) % 2 == 0
    noisy = replace(reading, value=np.where(half, -1.0 + 0j, 1.0 + 0j), sigma=np.where(half, 100.0, 1e-9))
    assert polarity(noisy, 40.0, None).sureness == pytest.approx(1.0, abs=1e-3)

    # Exact: a point whose noise is twice as high counts a ninth of one without, 1/(1 + 2 x 2^2); half are turned
    low = replace(reading, value=noisy.value, sigma=np.where(half, 2.0, 1e-9))
    assert polarity(low, 40.0, None).sureness == pytest.approx((1.0 - 1.0 / 9.0) / (1.0 + 1.0 / 9.0))
    # Exact: noise counts against the size of its point, not by itself
    sized = replace(reading, value=np.where(half, -100.0 + 0j, 0.01 + 0j), sigma=np.where(half, 200.0, 1e-9))
    assert polarity(sized, 40.0, None).sureness == pytest.approx((1.0 - 1.0 / 9.0) / (1.0 + 1.0 / 9.0))


def test_a_minimum_at_the_edge_or_of_a_few_points_is_none() -> None:
    hz = np.geomspace(20.0, 80.0, 400)
    value = np.asarray(np.hypot(hz / 41.0 - 41.0 / hz, 0.05), dtype=np.complex128)
    assert bare_null_hz(hz, value, (30.0, 60.0)) == pytest.approx(41.0, rel=1e-4)
    assert bare_null_hz(hz, value, (20.0, 40.0)) is None
    assert bare_null_hz(hz, value, (42.0, 80.0)) is None
    few = slice(200, 204)
    assert bare_null_hz(hz[few], value[few], (20.0, 80.0)) is None


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("way_m", [0.1, 0.25, 0.38])
def test_a_microphone_up_to_40_cm_away_tells_the_polarity(sign: float, way_m: float) -> None:
    # Exact: sound comes late by its way over 344 m/s, and turns by that and nothing else
    reading = level(300, 20.0, 900.0)
    value = sign * np.exp(-2j * np.pi * reading.frequency_hz * way_m / 344.0)
    found = polarity(replace(reading, value=np.asarray(value)), 40.0, None)
    assert found.word == ("normal" if sign > 0.0 else "reversed")
    assert found.sureness > 0.97
