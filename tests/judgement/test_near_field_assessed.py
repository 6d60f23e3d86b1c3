"""What cone and mouth say of a cabinet, on readings made so that the answer is known."""

from dataclasses import replace
from math import log, pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.fit_by_hand import exactly, fit_by_hand

from sealtune.analysis.near_field_model import NearFieldFit
from sealtune.design.prediction import predict
from sealtune.judgement.expected_sound import expected_sound
from sealtune.judgement.near_field import Known, assess
from sealtune.physics.air import standard_air
from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.near_field import NearField, Reading

Complexes = NDArray[np.complex128]
Reals = NDArray[np.float64]

AIR = standard_air()
HZ = np.geomspace(15.0, 1000.0, 1500)
S = np.asarray(2j * pi * HZ)
SD = 0.0136
VENT = Vent("round", pi / 4 * 0.058**2, 0.165, diameter_m=0.058)
BARE = Design("bare", Box(0.024), VENT, Tuning(40.0), Driver(sd_m2=SD))
WHOLE = replace(BARE, driver=Driver(fs_hz=37.0, qms=4.0, qes=0.38, vas_m3=0.0288, re_ohm=6.0, sd_m2=SD))


def fitted(tuning_hz: float, reach: float = 0.1) -> BoxFit:
    return fit_by_hand(
        tuning_hz=Interval(tuning_hz, tuning_hz - reach, tuning_hz + reach), fs_hz=exactly(37.0)
    )


def droop() -> Reals:
    half = pi * HZ * sqrt(SD / pi) / AIR.speed_m_s
    return np.asarray(np.sin(half) / half)


def of_cone(whole: Complexes | Reals, design: Design) -> NearField:
    """Readings whose sum is `whole`: the mouth is silent, the cone's middle falls behind by its droop [Keele1974]."""
    cone = Reading("cone", HZ, np.asarray(whole * droop(), dtype=np.complex128), np.full(HZ.size, 1e-9))
    mouth = Reading("mouth", HZ, np.zeros(HZ.size, dtype=np.complex128), np.full(HZ.size, 1e-9))
    return assess(cone, mouth, Known(design, predict(design, AIR), None, AIR))


def in_db(*steps: tuple[float, float, float]) -> Reals:
    """A level of 0 dB with so many dB between two frequencies."""
    level = np.zeros(HZ.size)
    for low, high, db in steps:
        level[(low <= HZ) & (high > HZ)] = db
    return np.asarray(10.0 ** (level / 20.0))


def test_the_level_is_that_of_the_bands_from_twice_the_tuning_to_400_hz() -> None:
    # Exact: those bands are at +2 dB, whatever the others are at; edges of third octaves are 10^(n/10 +- 1/20)
    found = of_cone(in_db((88.0, 446.0, 2.0), (446.0, 1100.0, 8.0), (35.3, 44.8, -5.0)), BARE).sound
    assert found is not None
    assert not found.by_model
    assert found.common_db == pytest.approx(2.0, abs=0.05)
    levels = {band.hz: band.level_db for band in found.bands}
    assert levels[40.0] == pytest.approx(-7.0, abs=0.1)
    assert levels[500.0] == pytest.approx(6.0, abs=0.1)
    assert levels[20.0] == pytest.approx(-2.0, abs=0.05)
    assert found.designed_db is None
    assert max(levels) == 630.0  # the next would end above ka = 1, 832 Hz
    assert found.frequency_hz[-1] == pytest.approx(found.limit_hz, rel=5e-3)
    assert found.frequency_hz[-1] <= found.limit_hz


def test_of_a_box_tuned_high_the_three_uppermost_bands_are_the_level() -> None:
    # Exact: from 2.2 x 190 Hz on no band is left below 400 Hz
    high = replace(BARE, tuning=Tuning(190.0))
    found = of_cone(in_db((354.0, 1100.0, 6.0)), high).sound
    assert found is not None
    assert found.common_db == pytest.approx(6.0, abs=0.05)


def expected(hz: Reals) -> Complexes:
    found = expected_sound(WHOLE, predict(WHOLE, AIR), None, AIR, ())
    assert found is not None
    return found.sound(hz)


def test_what_is_missing_is_told_by_the_band_where_it_counts() -> None:
    # Exact: the design's own sound times what was put in; 1 dB is worth telling, from 0.6 of the tuning to 200 Hz
    change = in_db(
        (22.4, 28.2, -3.0), (35.3, 44.8, 1.3), (56.1, 70.9, -0.8), (178.0, 224.0, -2.0), (224.0, 282.0, -2.0)
    )
    near = of_cone(expected(HZ) * change * 10.0, WHOLE)
    assert near.sound is not None
    assert near.sound.designed_db is not None
    inner = (near.sound.frequency_hz > 90.0) & (near.sound.frequency_hz < 170.0)
    assert near.sound.level_db[inner] == pytest.approx(near.sound.designed_db[inner], abs=0.7)
    # the level is common to seven bands, two of which are 2 dB low: 4/7 dB come on top everywhere
    lift = 4.0 / 7.0
    differences = {band.hz: band.difference_db for band in near.sound.bands}
    assert differences[40.0] == pytest.approx(1.3 + lift, abs=0.1)
    assert differences[63.0] == pytest.approx(-0.8 + lift, abs=0.1)
    assert {one.hz: round(one.difference_db - lift, 1) for one in near.missing} == pytest.approx(
        {25.0: -3.0, 40.0: 1.3, 200.0: -2.0}, abs=0.15
    )
    for one in near.missing:
        assert one.shares == ()
        assert one.open_db == one.difference_db
    assert of_cone(expected(HZ), WHOLE).missing == ()


def box(tuning_hz: float) -> tuple[Reading, Reading]:
    """Readings of a lossy box by its equations, without crosstalk or room: the vent's flow over the cone's."""
    wb = 2.0 * pi * tuning_hz
    loss = 0.05
    moved = -1.0 / (1.0 + S * (S + wb * loss) / wb**2)
    cone = S**2 / (S**2 + S * 2 * pi * 50.0 + (2 * pi * 50.0) ** 2)
    ratio = sqrt(SD / VENT.area_m2)
    values = [np.asarray(cone, dtype=np.complex128), np.asarray(ratio * cone * moved, dtype=np.complex128)]
    return (
        Reading("cone", HZ, values[0], 1e-3 * np.abs(values[0])),
        Reading("mouth", HZ, values[1], 1e-3 * np.abs(values[1])),
    )


SHORT = replace(BARE, vent=replace(VENT, length_m=0.001))


def test_two_tunings_agree_within_what_both_leave_open() -> None:
    # Exact: 1.96 root of the sum of the variances, 0.6 % of them for the day and the bung
    cone, mouth = box(40.0)
    prediction = predict(SHORT, AIR)
    alone = assess(cone, mouth, Known(SHORT, None, None, AIR))
    assert alone.tuning_hz is not None
    assert alone.agrees is None
    assert alone.tuning_hz.value == pytest.approx(40.0, rel=5e-3)
    own = log(alone.tuning_hz.high / alone.tuning_hz.low) / 2.0
    reach = sqrt(own**2 + (0.1 / 40.0) ** 2 + (1.96 * 0.006) ** 2)
    for times, agrees in ((0.93, True), (1.07, False), (-0.93, True), (-1.07, False)):
        fit = fitted(alone.tuning_hz.value * float(np.exp(times * reach)))
        found = assess(cone, mouth, Known(SHORT, prediction, fit, AIR))
        assert found.tuning_hz is not None
        shift = log(found.tuning_hz.value / alone.tuning_hz.value)
        assert abs(shift) < 1e-4
        assert found.agrees == agrees


def test_the_polarity_is_that_of_both_together_and_the_mouth_as_loud_as_its_area_says() -> None:
    cone, mouth = box(40.0)
    known = Known(SHORT, predict(SHORT, AIR), None, AIR)
    right = assess(cone, mouth, known)
    assert right.polarity is not None
    assert right.polarity.word == "normal"
    assert right.mouth_excess_db == pytest.approx(0.0, abs=0.3)
    both = assess(replace(cone, value=-cone.value), replace(mouth, value=-mouth.value), known)
    assert both.polarity is not None
    assert both.polarity.word == "reversed"


def test_a_mouth_on_other_frequencies_is_read_by_straight_lines() -> None:
    # Exact but for the curvature between points that lie 0.3 % apart
    cone, mouth = box(40.0)
    known = Known(SHORT, predict(SHORT, AIR), None, AIR)
    other = np.geomspace(16.0, 900.0, 1400)
    moved = Reading(
        "mouth", other,
        np.asarray(np.interp(other, HZ, mouth.value.real) + 1j * np.interp(other, HZ, mouth.value.imag)),
        1e-3 * np.interp(other, HZ, np.abs(mouth.value)),
    )  # fmt: skip
    found = assess(cone, moved, known)
    assert found.tuning_hz is not None
    assert found.tuning_hz.value == pytest.approx(40.0, rel=5e-3)
    assert found.mouth is not None
    inside = (HZ > 17.0) & (HZ < 800.0)
    assert found.mouth.value[inside] == pytest.approx(mouth.value[inside], rel=5e-3)
    # what lies outside of its own frequencies is not believed
    assert np.all(found.mouth.sigma[HZ > 900.0] > 100.0 * np.abs(found.mouth.value[HZ > 900.0]))


def test_without_readings_nothing_is_told_and_the_cone_alone_tells_its_polarity() -> None:
    known = Known(SHORT, predict(SHORT, AIR), None, AIR)
    nothing = assess(None, None, known)
    assert (nothing.polarity, nothing.sound, nothing.tuning_hz, nothing.null_hz) == (None, None, None, None)
    alone = assess(box(40.0)[0], None, known)
    assert alone.polarity is not None
    assert alone.polarity.word == "normal"
    assert alone.tuning_hz is None
    assert assess(box(40.0)[0], None, Known(None, None, None, AIR)).polarity is None


def test_the_curves_of_the_design_and_of_each_side_are_levels_in_db() -> None:
    # Exact: the mean power of a third octave is its band's level; half as much is 6.02 dB less
    half = 0.5 * sqrt(SD / VENT.area_m2)
    cone, mouth = expected(HZ) * droop(), half * expected(HZ) * droop()
    sigma = np.full(HZ.size, 1e-9)
    known = Known(WHOLE, predict(WHOLE, AIR), None, AIR)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(MODEL, lambda *_, **__: None)
        sound = assess(Reading("cone", HZ, cone, sigma), Reading("mouth", HZ, mouth, sigma), known).sound
    assert sound is not None
    assert sound.designed_db is not None
    for band in sound.bands:
        inside = np.abs(np.log10(sound.frequency_hz / band.hz)) < 0.05
        of_design, of_box = (
            10.0 * np.log10(np.mean(10.0 ** (curve[inside] / 10.0)))
            for curve in (sound.designed_db, sound.level_db)
        )
        assert of_design == pytest.approx(band.designed_db, abs=0.3)  # 31.5 stands for 31.6
        assert of_box == pytest.approx(band.level_db, abs=0.3)
    assert sound.bands[0].designed_db is not None
    assert sound.bands[0].designed_db < -15.0  # low enough for a wrong unit to be seen
    own_db = 20.0 * np.log10(np.abs(cone[sound.limit_hz >= HZ])) - sound.common_db
    assert sound.cone_db == pytest.approx(own_db, abs=1e-9)
    assert sound.cone_db - sound.mouth_db == pytest.approx(np.full(own_db.size, 20.0 * np.log10(2.0)))


MODEL = "sealtune.judgement.near_field.fit_near_field"


def model_that_leaves(upright: float | None, upside_down: float | None) -> object:
    """What stands for the fit: it leaves so much of the readings as they are, and with the mouth's sign turned."""

    def fit(_: Reals, cone: Complexes, mouth: Complexes, *__: object, **___: object) -> NearFieldFit | None:
        left = upright if (mouth[0] / cone[0]).real < 0.0 else upside_down
        return None if left is None else NearFieldFit(40.0, 0.004, 9.0, 2.3, 0.05, 1e-3, (), left, (0.0, 0.0))

    return fit


@pytest.mark.parametrize(
    ("upright", "upside_down", "opposed"),
    [
        (0.040, 0.019, True), (0.040, 0.021, False), (0.014, 0.002, False), (0.016, 0.002, True),
        (0.061, 0.050, True), (None, 0.050, True), (None, 0.061, False), (0.040, None, False),
    ],
)  # fmt: skip
def test_a_mouth_upside_down_is_believed_where_it_leaves_less_than_half(
    upright: float | None, upside_down: float | None, opposed: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Exact: half of what is left, tried from 1.5 % on only; a model that leaves more than 6 % is none
    monkeypatch.setattr(MODEL, model_that_leaves(upright, upside_down))
    cone, mouth = box(40.0)
    found = assess(cone, mouth, Known(SHORT, predict(SHORT, AIR), None, AIR))
    assert found.polarity is not None
    assert (found.polarity.word == "contradictory") == opposed
    assert found.mouth is not None
    assert found.mouth.value == pytest.approx(-mouth.value if opposed else mouth.value)
    assert (found.tuning_hz is None) == (not opposed and (upright is None or upright > 0.06))
    if (
        found.tuning_hz is not None
    ):  # by the areas the mouth is sqrt(S_D/S_V) times as loud, by the model 2.3 times
        assert found.mouth_excess_db == pytest.approx(20.0 * np.log10(2.3 / sqrt(SD / VENT.area_m2)))
        # 0.4 % is one standard deviation of the logarithm
        assert log(found.tuning_hz.high / 40.0) == pytest.approx(1.96 * 0.004)
        assert log(40.0 / found.tuning_hz.low) == pytest.approx(1.96 * 0.004)


def test_what_lies_outside_a_reading_weighs_a_millionth(monkeypatch: pytest.MonkeyPatch) -> None:
    # Exact: a standard deviation of a thousand times the last value beside that value's own, a weight of 1e-6
    monkeypatch.setattr(MODEL, model_that_leaves(None, None))
    cone, _ = box(40.0)
    short = Reading("mouth", np.array([20.0, 40.0]), np.array([3.0j, 4.0 + 0j]), np.array([0.5, 0.25]))
    mouth = assess(cone, short, Known(SHORT, None, None, AIR)).mouth
    assert mouth is not None
    inside = (HZ >= 20.0) & (HZ <= 40.0)
    assert mouth.sigma[HZ < 20.0] == pytest.approx(np.full((HZ < 20.0).sum(), 3000.5))
    assert mouth.sigma[HZ > 40.0] == pytest.approx(np.full((HZ > 40.0).sum(), 4000.25))
    assert mouth.sigma[inside] == pytest.approx(0.5 - 0.25 * (HZ[inside] - 20.0) / 20.0)


@pytest.mark.parametrize("tuning_hz", [36.0, 44.0])
def test_what_the_impedance_explains_leaves_nothing_open(
    tuning_hz: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Exact: the cabinet plays what driver, tuning and losses by the impedance let expect, so that their shares are all
    monkeypatch.setattr(MODEL, model_that_leaves(None, None))
    prediction, fit = predict(WHOLE, AIR), fitted(tuning_hz)
    way = expected_sound(WHOLE, prediction, fit, AIR, ())
    assert way is not None
    cone = Reading("cone", HZ, np.asarray(way.sound(HZ, -1) * droop()), np.full(HZ.size, 1e-9))
    mouth = Reading("mouth", HZ, np.zeros(HZ.size, dtype=np.complex128), np.full(HZ.size, 1e-9))
    near = assess(cone, mouth, Known(WHOLE, prediction, fit, AIR))
    assert near.missing
    for one in near.missing:
        assert one.open_db == pytest.approx(0.0, abs=1e-6)
        assert sum(share for _, share in one.shares) == pytest.approx(one.difference_db, abs=0.6)
        assert [abs(share) for _, share in one.shares] == sorted(
            (abs(share) for _, share in one.shares), reverse=True
        )
        assert all(abs(share) >= 0.2 for _, share in one.shares)
    biggest = max(near.missing, key=lambda one: abs(one.difference_db))
    assert biggest.shares[0][0] == "the tuning"
