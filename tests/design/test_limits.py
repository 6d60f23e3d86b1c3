"""Travel, air speed, power and the level of the sweep, against parts in SI units put together by hand."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.design.behaviour import FAST_AIR, behaviour, curve_frequencies, moved
from sealtune.design.designed_speaker import DesignedSpeaker, designed_speaker
from sealtune.design.limits import (
    SWEEP_BAND_HZ,
    SWEEP_POWER,
    SWEEP_TRAVEL,
    least_vent_area_m2,
    limits,
    sweep_level,
)
from sealtune.design.losses import Losses
from sealtune.design.prediction import predict
from sealtune.physics.air import Air
from sealtune.records.design import Crossover, Design
from sealtune.records.plan import Limits

HZ = curve_frequencies()
LOSSES = Losses(1 / 12, 1 / 40, 1 / 50)


def speaker_of(design: Design, air: Air) -> DesignedSpeaker:
    found = designed_speaker(design, predict(design, air), air, LOSSES)
    assert found is not None
    return found


def limits_of(design: Design, air: Air) -> Limits:
    speaker = speaker_of(design, air)
    return limits(speaker, HZ, behaviour(speaker, HZ), behaviour(speaker, HZ, closed=True))


def by_hand(
    design: Design, air: Air, hz: NDArray[np.float64], source_ohm: float = 0.0, *, closed: bool = False
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """Travel, m, and flow in the vent, m3/s, per volt: Newton's law with mass, spring, motor and air (independent)."""
    driver, s = design.driver, 2j * pi * hz
    assert driver.fs_hz is not None
    assert driver.vas_m3 is not None
    assert driver.sd_m2 is not None
    assert driver.re_ohm is not None
    assert driver.qes is not None
    assert driver.qms is not None
    ws, wb = 2 * pi * driver.fs_hz, 2 * pi * speaker_of(design, air).tuning_hz
    stiff = air.bulk_modulus_pa * driver.sd_m2**2 / driver.vas_m3
    mass = stiff / ws**2
    bl2 = ws * mass * driver.re_ohm / driver.qes
    c = design.box.volume_m3 / air.bulk_modulus_pa
    vent_z = s / (wb**2 * c) + LOSSES.friction / (wb * c)
    air_y = 1 / (1 / (s * c) + LOSSES.absorption / (wb * c)) + LOSSES.leakage * wb * c
    box_z = 1 / (air_y + (0 if closed else 1 / vent_z))
    mechanical = s * mass + ws * mass / driver.qms + stiff / s + driver.sd_m2**2 * box_z
    speed = np.sqrt(bl2) / (driver.re_ohm + source_ohm) / (mechanical + bl2 / (driver.re_ohm + source_ohm))
    return speed / s, driver.sd_m2 * speed * box_z / vent_z


def test_travel_and_air_speed(bookshelf: Design, air: Air) -> None:
    # Independent: see by_hand; 1 W is sqrt(R_E) volt, peak is sqrt 2 of root mean square.
    seen = behaviour(speaker_of(bookshelf, air), HZ)
    travel, flow = by_hand(bookshelf, air, HZ)
    assert bookshelf.vent is not None
    assert seen.travel_m == pytest.approx(np.abs(travel) * np.sqrt(2 * 5.6), rel=1e-9)
    assert seen.air_speed_m_s == pytest.approx(
        np.abs(flow) * np.sqrt(2 * 5.6) / bookshelf.vent.area_m2, rel=1e-9
    )
    closed = behaviour(speaker_of(bookshelf, air), HZ, closed=True)
    travel, _ = by_hand(bookshelf, air, HZ, closed=True)
    assert closed.travel_m == pytest.approx(np.abs(travel) * np.sqrt(2 * 5.6), rel=1e-9)
    assert closed.air_speed_m_s is None


def test_power_at_the_end_of_travel(bookshelf: Design, air: Air) -> None:
    # Independent: the worst frequency of a fine scan, by hand.
    seen, tuning = limits_of(bookshelf, air), speaker_of(bookshelf, air).tuning_hz
    for point, low, high, closed in (
        (seen.above, tuning, 500.0, False),
        (seen.below, tuning / 2, tuning, False),
        (seen.closed, tuning / 2, 500.0, True),
    ):
        assert point is not None
        hz = np.linspace(low, high, 20001)
        volts = 0.0055 / (np.sqrt(2) * np.abs(by_hand(bookshelf, air, hz, closed=closed)[0]))
        assert point.power_w == pytest.approx(
            float(volts.min()) ** 2 / 5.6, rel=0.03
        )  # the curves' grid is 0.8 %
        assert low * 0.99 <= point.hz <= high
        at = 0.0055 / (
            np.sqrt(2) * np.abs(by_hand(bookshelf, air, np.array([point.hz]), closed=closed)[0][0])
        )
        assert point.power_w == pytest.approx(at**2 / 5.6, rel=1e-9)
    assert seen.above is not None
    assert seen.usable_w == min(60.0, seen.above.power_w)


def test_twice_the_travel_is_four_times_the_power(bookshelf: Design, air: Air) -> None:
    # Exact.
    once, twice = (
        limits_of(replace(bookshelf, driver=replace(bookshelf.driver, xmax_m=xmax)), air)
        for xmax in (0.004, 0.008)
    )
    assert once.above is not None
    assert twice.above is not None
    assert twice.above.power_w == pytest.approx(4 * once.above.power_w, rel=1e-12)


def test_highest_level_keeps_every_limit(bookshelf: Design, air: Air) -> None:
    # Exact: at the power of the highest level no limit is passed, and the named one is met.
    seen = behaviour(speaker_of(bookshelf, air), HZ)
    assert seen.highest_db is not None
    assert seen.travel_m is not None
    assert seen.air_speed_m_s is not None
    power = 10 ** ((seen.highest_db - seen.level_db) / 10)
    used = {
        "travel": np.sqrt(power) * seen.travel_m / 0.0055,
        "power": power / 60.0,
        "vent air": np.sqrt(power) * seen.air_speed_m_s / (FAST_AIR * air.speed_m_s),
    }
    assert all(share.max() <= 1 + 1e-9 for share in used.values())
    assert [used[by][place] for place, by in enumerate(seen.limited_by)] == pytest.approx(np.ones(HZ.size))
    assert set(seen.limited_by) == {"travel", "power", "vent air"}


def test_least_vent_area() -> None:
    # [Small1973, Part II], from memory: S_V >= 0.8 f_B V_D; 40 Hz and 120 cm3 want 38.4 cm2.
    assert least_vent_area_m2(40.0, 120e-6) == pytest.approx(38.4e-4, rel=1e-9)


def test_the_chosen_bounds() -> None:
    # Our own judgement: a tenth of x_max and 2 % of the power; [Small1973, Part II], from memory: 5 % of the speed of
    # sound.
    assert (SWEEP_TRAVEL, SWEEP_POWER, FAST_AIR) == (0.1, 0.02, 0.05)


def test_several_vents_share_the_flow(bookshelf: Design, air: Air) -> None:
    # Independent: the flow by hand over the area of both.
    assert bookshelf.vent is not None
    pair = replace(bookshelf, vent=replace(bookshelf.vent, count=2))
    seen = behaviour(speaker_of(pair, air), HZ)
    _, flow = by_hand(pair, air, HZ)
    area = 2 * bookshelf.vent.area_m2
    assert seen.air_speed_m_s == pytest.approx(np.abs(flow) * np.sqrt(2 * 5.6) / area, rel=1e-9)


def test_power_that_no_coil_takes_is_not_called_usable(bookshelf: Design, air: Air) -> None:
    # Our own judgement: 500 W where the data sheet gives none.
    endless = replace(bookshelf, driver=replace(bookshelf.driver, power_w=None, xmax_m=0.1))
    seen = limits_of(endless, air)
    assert seen.above is not None
    assert seen.above.power_w > 1000
    assert seen.usable_w == 500.0


@pytest.mark.parametrize("ohm", [1.0, 10.0, 47.0])
def test_sweep_moves_the_cone_a_tenth(bookshelf: Design, air: Air, ohm: float) -> None:
    # Independent: travel by hand behind the jig's resistor at the level told.
    level = sweep_level(speaker_of(bookshelf, air), ohm)
    travel, _ = by_hand(bookshelf, air, np.linspace(*SWEEP_BAND_HZ, 20001), ohm)
    largest = level.volts * np.sqrt(2) * np.abs(travel).max() / 0.0055
    power = level.volts**2 * 5.6 / (5.6 + ohm) ** 2 / 60.0
    assert largest <= SWEEP_TRAVEL * 1.001
    assert power <= SWEEP_POWER * 1.001
    assert level.travel_share == pytest.approx(largest, rel=1e-3)
    if level.because == "travel":
        assert largest == pytest.approx(SWEEP_TRAVEL, rel=1e-3)


def test_sweep_without_data_of_the_driver(bookshelf: Design, air: Air) -> None:
    # Common practice: a few tenths of a volt, and the result says that nothing was known.
    level = sweep_level(None, 10.0)
    assert 0.1 < level.volts <= 0.3
    assert (level.because, level.travel_share, level.power_share) == ("usual level", None, None)
    bare = replace(bookshelf, driver=replace(bookshelf.driver, xmax_m=None, power_w=None))
    assert sweep_level(speaker_of(bare, air), 10.0).because == "usual level"
    # Where the travel is not known the power alone allows no more than the usual level.
    rated = replace(bookshelf, driver=replace(bookshelf.driver, xmax_m=None))
    assert sweep_level(speaker_of(rated, air), 10.0).volts == level.volts
    assert sweep_level(speaker_of(bookshelf, air), 10.0).volts > level.volts


def test_missing_data_leave_gaps(bookshelf: Design, air: Air) -> None:
    # Exact: without S_D no travel, without x_max and power no highest level, and no limit is invented.
    driver = replace(bookshelf.driver, sd_m2=None, xmax_m=None, power_w=None)
    seen = behaviour(speaker_of(replace(bookshelf, driver=driver), air), HZ)
    assert (seen.travel_m, seen.highest_db, seen.limited_by) == (None, None, ())
    assert seen.air_speed_m_s is not None
    found = limits_of(replace(bookshelf, driver=driver), air)
    assert (found.above, found.usable_w, found.air_speed_m_s, found.least_area_m2) == (None, None, None, None)


def test_crossover_takes_off_level(bookshelf: Design, air: Air) -> None:
    # Independent: a resistor in series, by hand; level and travel fall alike.
    behind = replace(bookshelf, crossover=Crossover(series_ohm=1.4))
    seen = behaviour(speaker_of(behind, air), HZ)
    travel, _ = by_hand(bookshelf, air, HZ, 1.4)
    assert seen.travel_m == pytest.approx(np.abs(travel) * np.sqrt(2 * 5.6), rel=1e-9)
    # Exact: far above the resonances 20 lg(5.6/7.0) = -1.94 dB
    assert seen.relative_db[-1] == pytest.approx(-1.94, abs=0.1)


def test_half_space_level(bookshelf: Design, air: Air) -> None:
    # Published [Small1972]: eta_0 = 4 pi^2 f_S^3 V_AS/(c^3 Q_ES), 112.1 dB for 1 W of sound at 1 m in half space.
    seen = behaviour(speaker_of(bookshelf, air), HZ)
    eta = 4 * pi**2 / air.speed_m_s**3 * 46.0**3 * 0.020 / 0.41
    assert seen.level_db[-1] - seen.relative_db[-1] == pytest.approx(112.1 + 10 * np.log10(eta), abs=0.1)


def test_group_delay(bookshelf: Design, air: Air) -> None:
    # Independent: slope of the unwrapped phase; exact: the delay times the frequency fades far above the tuning.
    seen, fine = behaviour(speaker_of(bookshelf, air), HZ), np.geomspace(5.0, 500.0, 40001)
    phase = np.unwrap(np.angle(moved(speaker_of(bookshelf, air), fine).sound))
    slope = -np.gradient(phase, 2 * pi * fine)
    assert seen.group_delay_s[5:-5] == pytest.approx(np.interp(HZ, fine, slope)[5:-5], rel=2e-3)
    assert seen.group_delay_s.max() > 5 * seen.group_delay_s[-1] > 0


# Common practice over a grid of designs.
@pytest.mark.parametrize("volume", [0.012, 0.018, 0.03])
@pytest.mark.parametrize("tuning_hz", [35.0, 44.0, 55.0])
def test_trade_between_vented_and_closed(
    bookshelf: Design, air: Air, volume: float, tuning_hz: float
) -> None:
    design = replace(
        bookshelf,
        box=replace(bookshelf.box, volume_m3=volume),
        vent=None,
        tuning=replace(bookshelf.tuning, target_hz=tuning_hz),
    )
    speaker = speaker_of(design, air)
    vented, closed = behaviour(speaker, HZ), behaviour(speaker, HZ, closed=True)
    assert vented.travel_m is not None
    assert closed.travel_m is not None
    # around the tuning the vent holds the cone still
    near = int(np.argmin(abs(HZ - tuning_hz)))
    assert vented.travel_m[near] < 0.4 * closed.travel_m[near]
    # far below it the cone moves as if there were no box, and a closed box holds it by 1 + alpha
    low = np.array([0.02 * tuning_hz])
    free = abs(moved(replace(speaker, circuit=replace(speaker.circuit, alpha=1e-9)), low).cone)
    assert abs(moved(speaker, low).cone) == pytest.approx(free, rel=0.01)
    tight = replace(speaker, circuit=replace(speaker.circuit, leakage=0.0))
    held = abs(moved(tight, low, closed=True).cone)
    assert held == pytest.approx(free / (1 + 0.020 / volume), rel=0.01)
    # the vent reaches lower, and falls faster below
    assert vented.f3_hz is not None
    assert closed.f3_hz is not None
    assert vented.f3_hz < closed.f3_hz
    assert vented.relative_db[0] < closed.relative_db[0]


def test_a_vent_too_narrow_makes_noise(bookshelf: Design, air: Air) -> None:
    # Common practice: half the diameter, four times the speed at the same tuning.
    assert bookshelf.vent is not None
    speeds = []
    for factor in (1.0, 0.5):
        vent = replace(bookshelf.vent, area_m2=bookshelf.vent.area_m2 * factor**2)
        speaker = speaker_of(bookshelf, air)
        seen = behaviour(replace(speaker, design=replace(bookshelf, vent=vent)), HZ)
        assert seen.air_speed_m_s is not None
        speeds.append(seen.air_speed_m_s.max())
    assert speeds[1] / speeds[0] == pytest.approx(4.0, rel=1e-9)
