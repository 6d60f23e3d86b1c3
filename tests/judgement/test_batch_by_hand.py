"""Order, mates and charts of a batch, and two cabinets weighed together, on numbers put in by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import sqrt

import numpy as np
import pytest
from tests.fit_by_hand import fit_by_hand
from tests.invented_box import INVENTED_24_L as DESIGN

from sealtune.design.prediction import predict
from sealtune.judgement.batch import charts_of, judge_batch, level_mismatch, mates_of
from sealtune.judgement.control_chart import FEWEST
from sealtune.judgement.pair_leak import weigh_mates
from sealtune.physics.air import standard_air
from sealtune.records.batch import BatchCabinet
from sealtune.records.design import Design, Tuning
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.verdict import VerdictWord

AIR = standard_air()
NOON = datetime(2026, 1, 5, 12, tzinfo=UTC)


def about(value: float, reach: float = 0.1) -> Interval:
    return Interval(value, value - reach, value + reach)


def cabinet(
    name: str, tuning_hz: float = 40.0, *, verdict: VerdictWord = "good", levels: tuple[float, ...] = (0.0, 0.0),
    deviation: float | None = None, design: Design | None = DESIGN,
) -> BatchCabinet:  # fmt: skip
    q = about(10.0 + 0.1 * len(name))
    return BatchCabinet(
        name, verdict, 0, "", "", tuning_hz=about(tuning_hz), box_q=q, compliance_ratio=q, fs_hz=about(36.0),
        levels_db=levels, design=design, target_hz=None if deviation is None else tuning_hz / (1.0 + deviation),
    )  # fmt: skip


def test_what_cannot_be_judged_comes_first_then_work_then_the_farthest_from_its_target() -> None:
    found = judge_batch(
        "shed",
        [
            cabinet("near", deviation=0.01), cabinet("far", deviation=-0.03), cabinet("none"),
            cabinet("work", verdict="rework", deviation=0.001), cabinet("again", verdict="remeasure"),
            cabinet("also", verdict="rework", deviation=0.001),
        ],
        ["dust"],
    )  # fmt: skip
    assert [one.name for one in found.cabinets] == ["again", "also", "work", "far", "near", "none"]
    assert (found.folder, found.passed_over) == ("shed", ("dust",))


def test_mates_are_of_one_design_whatever_its_name_and_ready_within_its_tolerance() -> None:
    # Exact: 41.5 over 40 Hz is within 4 %, 41.7 is not; the sums of differences leave one choice
    other = replace(DESIGN, tuning=Tuning(50.0))
    found = judge_batch(
        "shed",
        [
            cabinet("a", 41.5, levels=(0.0, 1.0)), cabinet("b", 40.0, levels=(0.0, 1.1)),
            cabinet("c", 40.0, levels=(0.0, 4.0), design=replace(DESIGN, name="the same")),
            cabinet("d", 41.7, levels=(0.0, 4.1)), cabinet("e", levels=(0.0, 1.0), design=other),
            cabinet("f", 40.0, levels=(0.0, 9.0)), cabinet("g", 40.0, levels=(0.0, 9.0), verdict="rework"),
            replace(cabinet("h"), levels_db=None), replace(cabinet("i"), tuning_hz=None),
        ],
    )  # fmt: skip
    pairs = {frozenset((pair.first, pair.second)): pair for pair in found.pairs}
    assert set(pairs) == {frozenset("ab"), frozenset("cd"), frozenset("fg")}
    assert pairs[frozenset("ab")].ready
    assert not pairs[frozenset("cd")].ready
    assert not pairs[frozenset("fg")].ready
    assert found.left_over == ("e",)
    # those that are ready come first, then by how well they go together
    assert [frozenset((pair.first, pair.second)) for pair in found.pairs] == [
        frozenset("ab"), frozenset("fg"), frozenset("cd"),
    ]  # fmt: skip
    one = pairs[frozenset("ab")]
    assert abs(one.tuning_hz) == pytest.approx(1.5)
    assert (one.tuning_hz > 0.0) == (one.first == "a")
    assert one.mismatch_db == pytest.approx(0.1 / sqrt(2.0))


def test_mismatch_counts_the_bands_that_either_lets_hear() -> None:
    # Exact: root of the mean square; the first band is at -13 dB in both of two, and at -11 dB in the third
    found = level_mismatch(np.array([[-13.0, 0.0, 1.0], [-20.0, 3.0, 5.0], [-11.0, 0.0, 1.0]]))
    assert found[0, 1] == pytest.approx(sqrt((9.0 + 16.0) / 2.0))
    assert found[0, 2] == pytest.approx(sqrt(4.0 / 3.0))
    assert found[1, 2] == pytest.approx(sqrt((81.0 + 9.0 + 16.0) / 3.0))
    assert found == pytest.approx(found.T)
    assert np.diag(found) == pytest.approx([0.0, 0.0, 0.0])
    silent = level_mismatch(np.full((2, 3), -30.0))
    assert silent == pytest.approx(np.zeros((2, 2)))


def test_of_an_odd_number_one_is_left() -> None:
    pairs, left = mates_of(
        [cabinet("a", levels=(0.0, 0.0)), cabinet("b", levels=(0.0, 9.0)), cabinet("c", levels=(0.0, 0.1))],
        DESIGN,
    )
    assert [{pair.first, pair.second} for pair in pairs] == [{"a", "c"}]
    assert left == ["b"]


def row(
    count: int, deviation: float | None = None, recorded_at: datetime | None = None
) -> list[BatchCabinet]:
    return [
        replace(
            cabinet(f"n{place:02}", 40.0 + 0.05 * (place % 3), deviation=deviation), recorded_at=recorded_at
        )
        for place in range(count)
    ]


def test_charts_want_enough_cabinets_and_are_in_percent_where_all_have_a_target() -> None:
    assert charts_of(row(FEWEST - 1), DESIGN) == []
    tuning, box_q, fs = charts_of(row(FEWEST), DESIGN)
    assert (tuning.quantity, tuning.unit, tuning.design) == ("tuning", "Hz", "invented")
    assert tuning.values[:3] == pytest.approx((40.0, 40.05, 40.1))
    assert (box_q.quantity, box_q.unit, fs.quantity, fs.unit) == ("box_q", "", "fs", "Hz")
    percent = charts_of(row(FEWEST, deviation=0.012), DESIGN)[0]
    assert percent.unit == "%"
    assert percent.values == pytest.approx((1.2,) * FEWEST)
    mixed = charts_of([*row(FEWEST, deviation=0.012)[1:], cabinet("n00")], DESIGN)[0]
    assert mixed.unit == "Hz"
    assert charts_of(row(FEWEST), None)[0].design is None
    assert charts_of(row(FEWEST), replace(DESIGN, name=""))[0].design is None


def test_charts_are_in_the_order_of_the_dates_where_all_are_known_and_differ() -> None:
    cabinets = [
        replace(one, recorded_at=NOON - timedelta(minutes=place)) for place, one in enumerate(row(FEWEST))
    ]
    dated = charts_of(cabinets, DESIGN)[0]
    assert dated.by_date
    assert dated.names == tuple(sorted((one.name for one in cabinets), reverse=True))
    for others in ([replace(cabinets[0], recorded_at=None), *cabinets[1:]], row(FEWEST, recorded_at=NOON)):
        named = charts_of(others, DESIGN)[0]
        assert not named.by_date
        assert named.names == tuple(sorted(one.name for one in others))


def test_a_few_good_ones_make_no_limits_of_their_own() -> None:
    # Exact: with fewer good ones than a chart needs all make the limits, so that the faulty one widens them
    few = [replace(one, verdict="rework") for one in row(2)] + row(FEWEST)[2:]
    far = replace(few[-1], tuning_hz=about(45.0))
    assert charts_of([*few[:-1], far], DESIGN)[0].limits.centre == pytest.approx(
        np.mean([one.tuning_hz.value for one in [*few[:-1], far] if one.tuning_hz is not None])
    )


# --- two cabinets weighed together


def fitted(tuning_hz: float, box_q: float, alpha: float = 1.25) -> BoxFit:
    return fit_by_hand(
        tuning_hz=about(tuning_hz), box_q=about(box_q, 0.4), compliance_ratio=about(alpha, 0.02), fs_hz=about(36.0),
        qms=3.8, re_ohm=6.1, residual=0.005, log_covariance=np.diag([1e-3, 0.03, 0.015, 2e-3]) ** 2,
    )  # fmt: skip


@pytest.mark.parametrize(
    "fits", [((38.4, 12.0), (39.1, 8.5)), ((38.4, 12.0), (36.0, 11.0)), ((38.4, 7.0), (38.6, 7.2))]
)
def test_left_and_right_are_words_only_where_two_are_weighed(
    fits: tuple[tuple[float, float], tuple[float, float]],
) -> None:
    # Exact: exchanged, the probabilities change sides and nothing else
    one, other = fitted(*fits[0]), fitted(*fits[1])
    prediction = predict(DESIGN, AIR)
    ours = weigh_mates((one, other), DESIGN, prediction, AIR)
    theirs = weigh_mates((other, one), DESIGN, prediction, AIR)
    for mine, its in zip(ours, theirs[::-1], strict=True):
        assert sum(mine.values()) == pytest.approx(1.0)
        assert {fault: pytest.approx(share, rel=1e-6, abs=1e-12) for fault, share in its.items()} == mine
    same = weigh_mates((one, one), DESIGN, prediction, AIR)
    assert {fault: pytest.approx(share, rel=1e-6, abs=1e-12) for fault, share in same[0].items()} == same[1]
