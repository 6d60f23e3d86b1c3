"""What a box costs: against closed forms, limits of the circuit and boxes that lose nothing."""

from __future__ import annotations

from dataclasses import replace
from math import log10, pi

import numpy as np
import pytest
from scipy.integrate import quad
from tests.textbook import response_coefficients

from sealtune.design.prediction import predict
from sealtune.judgement.box_pair import MOST_ABSORPTION, boxed, shares_of
from sealtune.judgement.cost import SIMPLIFIED_DB, cost
from sealtune.judgement.resistance import weigh_resistance
from sealtune.physics.air import standard_air
from sealtune.physics.loudspeaker import Loudspeaker, air_and_vent
from sealtune.records.cost import Cost
from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.records.fit import BoxFit, Losses
from sealtune.records.interval import Interval
from sealtune.records.verdict import FaultName, Finding

AIR = standard_air()
DRIVER = Driver(
    fs_hz=37.0, qms=4.0, qes=0.38, vas_m3=0.0288, re_ohm=6.0, sd_m2=0.021, xmax_m=0.006, power_w=90.0
)
DESIGN = Design(
    "invented",
    Box(0.024),
    Vent("round", pi / 4 * 0.058**2, 0.165, diameter_m=0.058),
    Tuning(39.0),
    DRIVER,
)
PREDICTION = predict(DESIGN, AIR)


def exactly(value: float) -> Interval:
    return Interval(value, value, value)


def fitted(tuning_hz: float, box_q: float, *, alpha: float = 1.2, fs_hz: float = 37.0) -> BoxFit:
    """A fit with no uncertainty of the driver of DESIGN."""
    return BoxFit(
        tuning_hz=exactly(tuning_hz),
        box_q=exactly(box_q),
        compliance_ratio=exactly(alpha),
        fs_hz=exactly(fs_hz),
        qms=4.0,
        qes=0.38,
        re_ohm=6.0,
        res_ohm=6.0 * 4.0 / 0.38,
        creep=0.0,
        residual=0.005,
        noise=0.001,
        log_covariance=np.zeros((4, 4)),
        band_hz=(8.0, 400.0),
        frequency_hz=np.array([10.0, 100.0]),
        model_ohm=np.array([6.0 + 0j, 6.0 + 0j]),
        closed_box_misfit=50.0,
        converged=True,
    )


def priced(fit: BoxFit, *faults: FaultName, design: Design | None = DESIGN) -> Cost:
    findings = [Finding(fault, 0.9, "", "", "") for fault in faults]
    found = cost(design, None if design is None else PREDICTION, fit, AIR, findings)
    assert found is not None
    return found


def differences(found: Cost) -> list[float]:
    return [band.difference_db.value for band in found.bands]


@pytest.mark.parametrize(("tuning_hz", "ql"), [(39.0, 5.0), (47.0, 12.0), (31.0, 3.0)])
def test_band_levels_integrate_smalls_polynomial(tuning_hz: float, ql: float) -> None:
    # Exact: s^4/(s^4 + a1 s^3 + a2 s^2 + a3 s + 1) [Small1973, Part I] with all loss as leakage, integrated over ln f
    # between the edges of the base-ten third octaves 10^(n/10 +- 1/20) Hz [IEC61260]
    one = exactly(ql)
    none = exactly(1e9)
    found = priced(replace(fitted(tuning_hz, ql), losses=Losses(one, none, none)))
    h = tuning_hz / 37.0
    a1, a2, a3 = response_coefficients(h, 1.2, 1.0 / (1.0 / 4.0 + 1.0 / 0.38), ql)

    def power(ln_hz: float) -> float:
        s = 1j * np.exp(ln_hz) / (37.0 * np.sqrt(h))
        return float(abs(s**4 / (s**4 + a1 * s**3 + a2 * s**2 + a3 * s + 1.0)) ** 2)

    for place, band in enumerate(found.bands):
        low, high = (np.log(10.0) * (13 + place + side) / 10.0 for side in (-0.5, 0.5))
        exact_db = 10.0 * log10(quad(power, low, high)[0] / (high - low))
        assert band.measured_db == pytest.approx(exact_db, abs=0.003)
    assert [band.hz for band in found.bands[::5]] == [
        20.0,
        63.0,
        200.0,
    ]  # nominal, by IEC 61260-1 table (from memory)


def test_a_box_as_designed_costs_nothing() -> None:
    # Exact: the same box on both sides
    found = priced(fitted(PREDICTION.target_hz, PREDICTION.box_q))
    assert differences(found) == pytest.approx([0.0] * 11, abs=1e-9)
    for pair in (found.f3_hz, found.travel_w, found.usable_w, found.air_speed_m_s):
        assert pair.measured is not None
        assert pair.measured == pytest.approx(pair.designed, rel=1e-9)
    assert found.excess_matters_db == pytest.approx(0.0, abs=1e-9)


def test_the_driver_s_scatter_costs_nothing() -> None:
    # Exact: V_AS and f_S off by what drivers scatter, in a box that is as designed
    found = priced(fitted(PREDICTION.target_hz, PREDICTION.box_q, alpha=1.4, fs_hz=33.0))
    assert differences(found) == pytest.approx([0.0] * 11, abs=1e-9)


def test_far_below_the_tuning_only_the_tuning_counts() -> None:
    # Exact limit: sound -> x^2 s^2/w_B^2 without losses, 40 dB per decade of the tuning; so is its interval
    design = replace(DESIGN, tuning=Tuning(2000.0), driver=replace(DRIVER, fs_hz=2000.0))
    prediction = replace(PREDICTION, target_hz=2000.0, box_q=1e6, box_q_spread=0.3)
    fit = replace(fitted(2500.0, 1e6, fs_hz=2000.0), log_covariance=np.diag([0.02, 0.0, 0.0, 0.0]) ** 2)
    found = cost(design, prediction, fit, AIR)
    assert found is not None
    lowest = found.bands[0].difference_db
    assert lowest.value == pytest.approx(-40.0 * log10(1.25), abs=0.002)
    deviation = 40.0 * log10(np.e) * 0.02
    assert lowest.high - lowest.value == pytest.approx(1.96 * np.hypot(deviation, SIMPLIFIED_DB), rel=0.002)
    assert lowest.value - lowest.low == pytest.approx(lowest.high - lowest.value)


def test_a_resistance_in_series_divides_the_voltage_far_above_the_resonances() -> None:
    # Exact limit: the cone is held by its mass alone; R_E of 6 ohm behind 3 ohm gets 2/3 of the voltage
    fit = replace(fitted(8.0, 10.0, fs_hz=8.0), re_ohm=9.0, qes=0.38 * 1.5)
    design = replace(DESIGN, tuning=Tuning(8.0))
    prediction = replace(PREDICTION, target_hz=8.0)
    findings = [Finding("series_resistance", 0.95, "", "", "")]
    found = cost(design, prediction, fit, AIR, findings)
    assert found is not None
    # how much of the 3 ohm is laid to the resistance and how much to tolerance is the judgement's affair
    last = found.bands[-1].difference_db
    assert last.low < 20.0 * log10(6.0 / 9.0) < last.high
    assert last.value == pytest.approx(-3.5, abs=0.8)
    without = cost(design, prediction, fit, AIR)
    assert without is not None
    assert without.bands[-1].difference_db.value == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("kind", [0, 1, 2])
@pytest.mark.parametrize("box_q", [12.0, 4.0, 2.2])
def test_tuning_and_q_come_out_as_measured_whatever_the_loss(kind: int, box_q: float) -> None:
    # Exact: Im y = 0 and Re y = w/Q at the tuning, by the admittance itself
    shares = np.full(3, 0.01)
    shares[kind] += 1.0 / box_q - shares.sum()
    made = boxed(Loudspeaker(232.0, 4.0, 0.38, 1.2, 1.0), 41.0, shares)
    w = 2.0 * pi * 41.0
    y = complex(sum(part[0] for part in air_and_vent(np.array([1j * w]), made)))
    assert y.imag / w == pytest.approx(0.0, abs=1e-12)
    assert y.real / w == pytest.approx(1.0 / box_q, rel=1e-12)


def test_absorption_alone_cannot_bring_more_than_half() -> None:
    # Exact: a/(1 + a^2) <= 1/2; what is beyond counts as leakage
    made = boxed(Loudspeaker(232.0, 4.0, 0.38, 1.2, 1.0), 41.0, np.array([0.0, 0.0, 0.7]))
    w = 2.0 * pi * 41.0
    y = complex(sum(part[0] for part in air_and_vent(np.array([1j * w]), made)))
    assert y.real / w == pytest.approx(0.7, rel=1e-12)
    assert made.leakage > 0.7 - MOST_ABSORPTION - 0.1


def test_the_loss_is_split_as_known_then_as_usual_then_as_the_fault_says() -> None:
    # Exact: sums
    usual = np.array([0.05, 0.02, 0.01])
    assert shares_of(0.04, usual, (None,) * 3, "leakage") == pytest.approx(usual / 2.0)
    assert shares_of(0.20, usual, (None,) * 3, "absorption") == pytest.approx([0.05, 0.02, 0.13])
    assert shares_of(0.20, usual, (None, 0.09, None), "friction") == pytest.approx([0.10, 0.09, 0.01])
    assert shares_of(0.20, usual, (0.08, 0.01, 0.01), "leakage") == pytest.approx([0.16, 0.02, 0.02])


def test_with_a_wrong_volume_the_compliance_ratio_is_put_right_too() -> None:
    # Exact: a quarter less air at the same losses: w_B^2 and alpha both go up by 4/3
    right = fitted(PREDICTION.target_hz, PREDICTION.box_q)
    small = fitted(PREDICTION.target_hz * (4.0 / 3.0) ** 0.5, PREDICTION.box_q, alpha=1.6)
    as_volume, as_vent = priced(small, "volume_small"), priced(small, "vent_short")
    assert [band.designed_db for band in as_volume.bands] == pytest.approx(
        [band.designed_db for band in priced(right).bands], abs=1e-9
    )
    assert as_volume.bands[3].difference_db.value < as_vent.bands[3].difference_db.value - 1.0


def test_intervals_grow_with_what_is_not_known() -> None:
    fit = fitted(44.0, 6.0)
    sharp = priced(fit, "leak")
    known = np.diag([0.01, 0.3, 0.05, 0.01]) ** 2
    wide = priced(replace(fit, log_covariance=known), "leak")
    for one, other in zip(sharp.bands, wide.bands, strict=True):
        assert one.difference_db.value == other.difference_db.value
        width = other.difference_db.high - other.difference_db.low
        assert width > one.difference_db.high - one.difference_db.low > 0.2


def test_worst_band_counts_only_what_is_heard() -> None:
    found = priced(fitted(50.0, 9.0), "vent_short")
    assert found.worst is not None
    assert found.softest is not None
    assert found.loudest is not None
    assert not found.bands[0].heard, "40 dB down at 20 Hz"
    assert found.softest.difference_db.value < -3.0
    assert found.loudest.hz > found.softest.hz


def test_without_a_design_the_same_box_at_usual_losses_is_the_measure() -> None:
    found = priced(fitted(44.0, 4.0), design=None)
    assert found.against == "usual losses"
    assert found.usable_w.measured is None
    at_tuning = next(band for band in found.bands if band.hz == 40.0)
    assert -4.0 < at_tuning.difference_db.value < -1.0
    assert found.excess_matters_db > 0.05


def test_no_cost_without_usable_numbers() -> None:
    assert cost(DESIGN, PREDICTION, fitted(float("nan"), 8.0), AIR) is None


def with_findings(fit: BoxFit, *found: tuple[FaultName, float]) -> Cost:
    made = cost(DESIGN, PREDICTION, fit, AIR, [Finding(fault, share, "", "", "") for fault, share in found])
    assert made is not None
    return made


def test_the_excess_counts_as_the_likeliest_fault_has_it() -> None:
    fit = fitted(39.0, 4.0)
    for fault, kind in (
        ("leak", "leakage"), ("vent_lined", "friction"), ("vent_restricted", "friction"),
        ("overstuffed", "absorption"), ("vent_long", "leakage"),
    ):  # fmt: skip
        assert with_findings(fit, (fault, 0.3)).excess == kind  # type: ignore[arg-type]
    assert cost(DESIGN, PREDICTION, fit, AIR).excess == "leakage"  # type: ignore[union-attr]
    # what comes second counts where it is probable by itself
    assert with_findings(fit, ("vent_long", 0.9), ("vent_lined", 0.6)).excess == "friction"
    assert with_findings(fit, ("vent_long", 0.9), ("vent_lined", 0.4)).excess == "leakage"


def test_a_resistance_counts_where_it_is_probable() -> None:
    fit = replace(fitted(39.0, PREDICTION.box_q), re_ohm=9.0, qes=0.57)
    probable = with_findings(fit, ("vent_long", 0.9), ("series_resistance", 0.6))
    doubtful = with_findings(fit, ("vent_long", 0.9), ("series_resistance", 0.4))
    assert probable.bands[-1].difference_db.value < -2.0
    assert doubtful.bands[-1].difference_db.value == pytest.approx(0.0, abs=0.1)
    wide = probable.bands[-1].difference_db
    assert wide.high - wide.low > 2.0 * (
        doubtful.bands[-1].difference_db.high - doubtful.bands[-1].difference_db.low
    )


def test_a_leak_takes_its_share_of_the_air_that_the_vent_moves() -> None:
    # Exact: at the same losses w_B^2 goes with 1/mass, so that a vent beside a leak moves (39/44)^2 of the air
    fit = fitted(44.0, PREDICTION.box_q)
    both: tuple[FaultName, FaultName] = ("leak", "vent_short")
    leak, vent = (with_findings(fit, (fault, 0.9)) for fault in both)
    assert leak.air_speed_m_s.measured is not None
    assert vent.air_speed_m_s.measured is not None
    assert leak.air_speed_m_s.measured / vent.air_speed_m_s.measured == pytest.approx(
        (39.0 / 44.0) ** 2, rel=5e-3
    )
    assert leak.air_speed_m_s.designed == vent.air_speed_m_s.designed
    assert leak.usable_w == vent.usable_w
    low = fitted(36.0, PREDICTION.box_q)
    alike = [with_findings(low, (fault, 0.9)).air_speed_m_s.measured for fault in both]
    assert alike[0] == alike[1], "no share is more than the whole"


def test_losses_that_the_curves_tell_stay_where_they_are() -> None:
    # Exact: told shares of 1/Q leave nothing open, so that it does not matter what an excess counts as
    told = Losses(exactly(8.0), exactly(40.0), exactly(60.0))
    fit = replace(fitted(39.0, 1.0 / (1 / 8.0 + 1 / 40.0 + 1 / 60.0)), losses=told)
    assert with_findings(fit, ("leak", 0.9)).excess_matters_db == pytest.approx(0.0, abs=1e-9)
    open_fit = replace(fit, losses=Losses())
    assert with_findings(open_fit, ("leak", 0.9)).excess_matters_db > 0.05
    # one told to be none counts half of what it may be at most: 1/(2 x 50)
    none = replace(fit, losses=Losses(None, exactly(40.0), exactly(60.0), none_found=(("leakage", 50.0),)))
    half = replace(fit, losses=Losses(exactly(100.0), exactly(40.0), exactly(60.0)))
    assert differences(with_findings(none, ("leak", 0.9))) == pytest.approx(
        differences(with_findings(half, ("leak", 0.9)))
    )


def test_half_of_the_passband_power_by_the_polynomial() -> None:
    # Independent: the frequency at which Small's polynomial is at 1/2, by bisection
    one, none = exactly(6.0), exactly(1e9)
    found = priced(replace(fitted(44.0, 6.0), losses=Losses(one, none, none)))
    h = 44.0 / 37.0
    a1, a2, a3 = response_coefficients(h, 1.2, 1.0 / (1.0 / 4.0 + 1.0 / 0.38), 6.0)
    hz = np.linspace(20.0, 100.0, 400_000)
    s = 1j * hz / (37.0 * np.sqrt(h))
    power = np.abs(s**4 / (s**4 + a1 * s**3 + a2 * s**2 + a3 * s + 1.0)) ** 2
    assert found.f3_hz.measured == pytest.approx(hz[np.argmax(power > 0.5)], rel=2e-3)


def test_what_is_open_of_a_resistance_is_the_step_either_way() -> None:
    # Exact: beside what the circuit and the usual losses leave open, half the difference of a deviation more and less;
    # far above the resonances that is 20 lg of the divided voltage
    fit = replace(fitted(39.0, PREDICTION.box_q), re_ohm=9.0, qes=0.57)
    probable = with_findings(fit, ("vent_long", 0.9), ("series_resistance", 0.6))
    doubtful = with_findings(fit, ("vent_long", 0.9), ("series_resistance", 0.4))
    resistance = weigh_resistance(DESIGN, fit)
    assert resistance is not None
    ohm = resistance.series_ohm
    deviation = (ohm.high - ohm.low) / 2.0 / 1.96
    voltage = [20.0 * np.log10((9.0 - one) / 9.0) for one in (ohm.value - deviation, ohm.value + deviation)]
    rest, whole = (
        (each.bands[-1].difference_db.high - each.bands[-1].difference_db.low) / 3.92
        for each in (doubtful, probable)
    )
    assert whole == pytest.approx(np.hypot(rest, 0.5 * (voltage[0] - voltage[1])), rel=0.2)
