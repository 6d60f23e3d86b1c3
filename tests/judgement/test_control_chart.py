"""Control limits against published worked examples, and the trend against another implementation."""

import numpy as np
import pytest
from scipy.stats import linregress, t

from sealtune.judgement.batch import charts_of
from sealtune.judgement.control_chart import FEWEST, control_limits, trend
from sealtune.records.batch import BatchCabinet
from sealtune.records.interval import Interval
from sealtune.records.verdict import VerdictWord


def test_limits_of_the_flow_rates_of_the_handbook() -> None:
    # published: NIST/SEMATECH e-Handbook, section 6.3.2.2 (individuals chart): mean 50.81, mean moving range 1.8778,
    # limits 45.8159 and 55.8041; from memory
    limits = control_limits(np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]))
    assert limits.centre == pytest.approx(50.81, abs=5e-3)
    assert limits.range_centre == pytest.approx(1.8778, abs=5e-5)
    assert limits.low == pytest.approx(45.8159, abs=5e-4)
    assert limits.high == pytest.approx(55.8041, abs=5e-4)


def test_limits_of_the_loans_of_the_textbook() -> None:
    # published: Montgomery, Introduction to Statistical Quality Control, example 6.5: mean 300.5, mean moving range
    # 7.79, limits 279.78 and 321.22, of the range 25.45; from memory
    weeks = [
        310,
        288,
        297,
        298,
        307,
        303,
        294,
        297,
        308,
        306,
        294,
        299,
        297,
        299,
        314,
        295,
        293,
        306,
        301,
        304,
    ]
    limits = control_limits(np.array(weeks, dtype=np.float64))
    assert limits.centre == pytest.approx(300.5, abs=0.05)
    assert limits.range_centre == pytest.approx(7.79, abs=5e-3)
    assert limits.low == pytest.approx(279.78, abs=0.02)
    assert limits.high == pytest.approx(321.22, abs=0.02)
    assert limits.range_high == pytest.approx(25.45, abs=0.01)


def test_the_limit_of_chance_is_kept_by_chance() -> None:
    # exact: 0.27 % of normal values lie beyond three standard deviations; of 200 values the limits are nearly those
    rng = np.random.default_rng(4)
    beyond = 0
    for _ in range(200):
        values = rng.normal(10.0, 2.0, 200)
        limits = control_limits(values)
        beyond += int(np.sum((values < limits.low) | (values > limits.high)))
    assert 0.0015 < beyond / 40_000 < 0.005


def test_a_faulty_cabinet_does_not_widen_the_limits() -> None:
    # exact: the limits are those of the good ones alone; the faulty one lies beyond them
    hz = [43.0, 43.1, 42.9, 43.0, 43.2, 43.1, 43.0, 42.9, 43.1]

    def made(place: int, tuning_hz: float, verdict: VerdictWord) -> BatchCabinet:
        around = Interval(tuning_hz, tuning_hz - 0.1, tuning_hz + 0.1)
        q = Interval(10.0 + 0.1 * (place % 3), 9.0, 11.0)
        return BatchCabinet(
            f"{place}", verdict, 0, "", "", tuning_hz=around, box_q=q, compliance_ratio=q, fs_hz=around
        )

    good = [made(place, value, "good") for place, value in enumerate(hz)]
    alone = charts_of(good, None)[0]
    both = charts_of([*good, made(9, 55.0, "rework")], None)[0]
    assert both.limits == alone.limits
    assert both.outside == ("9",)
    assert len(both.values) == 10


def test_the_line_is_that_of_another_implementation() -> None:
    # independent: scipy.stats.linregress
    values = np.random.default_rng(1).normal(0.0, 0.3, 25) + 0.05 * np.arange(25)
    found = trend(values)
    other = linregress(np.arange(25), values)
    assert found is not None
    assert found.change.value == pytest.approx(24.0 * other.slope, rel=1e-9)
    reach = 24.0 * float(t.ppf(0.975, 23)) * other.stderr
    assert found.change.high - found.change.value == pytest.approx(reach, rel=1e-9)
    assert found.certain == (other.pvalue < 0.01)


def test_chance_alone_is_called_a_drift_once_in_a_hundred() -> None:
    # exact: the two-sided level of the test, within four standard deviations of 3000 batches
    rng = np.random.default_rng(9)
    told = sum(bool(found and found.certain) for found in (trend(rng.normal(size=30)) for _ in range(3000)))
    assert 8 <= told <= 52


def test_few_cabinets_have_no_trend() -> None:
    assert trend(np.arange(FEWEST - 1.0)) is None
