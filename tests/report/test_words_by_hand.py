"""Sentences and rows of the page on results put in by hand; the numbers in them are those put in."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.fit_by_hand import fit_by_hand
from tests.invented_box import INVENTED_24_L

from sealtune.design.prediction import predict
from sealtune.physics.air import standard_air
from sealtune.records.comparison import Change, Comparison
from sealtune.records.curve import Landmark, Landmarks
from sealtune.records.interval import Interval
from sealtune.records.verdict import Leak, Result
from sealtune.report.content import box_q_words, curve_words
from sealtune.report.numbers import quality_rows, rows
from sealtune.report.since import since_note, since_rows, since_words

PREDICTION = replace(predict(INVENTED_24_L, standard_air()), box_q=12.0, box_q_spread=0.25)


def change(before: float, now: float, reach: float) -> Change:
    apart = now - before
    return Change(before, now, Interval(apart, apart - reach, apart + reach))


def result(q: Interval | None = None, *, known: bool = True, marks: Landmarks | None = None) -> Result:
    return Result(
        "box", "good", "", None, PREDICTION if known else None, None, marks,
        None if q is None else fit_by_hand(box_q=q), Leak(0.0, None, None), None, None, None, (), (), (),
    )  # fmt: skip


def test_rows_of_what_changed() -> None:
    whole = Comparison(
        "open.1.wav", "better", "The tuning fell", change(41.0, 39.0, 0.3), change(6.0, 12.0, 7.0),
        change(1.2, 1.25, 0.01), change(6.2, 6.15, 0.1), Interval(0.031, 0.012, 0.05), (0.8, 0.05),
        change(60.0, 0.0, 20.0), 2,
    )  # fmt: skip
    ohm = "\N{GREEK CAPITAL LETTER OMEGA}"
    rows = [(row.name, row.value, row.interval, row.stands_out) for row in since_rows(whole)]
    assert rows == [
        ("Tuning", "41.0 Hz, now 39.0 Hz", "-2.3 to -1.7", True),
        ("Box Q", "6.0, now 12.0", "-1.0 to +13.0", False),
        ("Compliance ratio", "1.20, now 1.25", "+0.04 to +0.06", True),
        ("R_E", f"6.20 {ohm}, now 6.15 {ohm}", "-0.15 to +0.05", False),
        ("Leak, open area", "60 mm\N{SUPERSCRIPT TWO}, now 0 mm\N{SUPERSCRIPT TWO}", "-80 to -40", True),
        ("Air in the box", "+3.1 %", "+1.2 to +5.0 %", True),
        ("Leak, probability", "80 %, now 5 %", "", False),
    ]  # fmt: skip
    assert since_rows(Comparison("open.1.wav", "worse", "no.")) == ()
    (air,) = since_rows(Comparison("open.1.wav", "worse", "no.", air_share=Interval(-0.01, -0.03, 0.01)))
    assert (air.value, air.interval, air.stands_out) == ("-1.0 %", "-3.0 to +1.0 %", False)
    assert since_words(whole) == "open.1.wav: The tuning fell."


@pytest.mark.parametrize(
    ("passed_over", "words"),
    [
        (0, "a warm coil."), (1, "a warm coil. 1 newer recording that cannot be judged was passed over."),
        (2, "a warm coil. 2 newer recordings that cannot be judged were passed over."),
    ],
)  # fmt: skip
def test_what_was_held_against_what(passed_over: int, words: str) -> None:
    note = since_note(Comparison("open.1.wav", "changed", "S.", passed_over=passed_over))
    assert note == (
        "Both recordings of the open vent were judged alone, against the design as it stands now. The intervals leave "
        "out what is wrong alike in both, and hold what differs from day to day: noise, room temperature, "
        + words
    )


@pytest.mark.parametrize(
    ("q", "known", "words"),
    [
        # 12 within exp(1.645 x 0.25) = 1.51 either way
        (Interval(6.0, 5.5, 7.5), True, "low, a sign of lost air or friction: a sealed box like this has 8 to 18"),
        (Interval(7.0, 6.0, 9.0), True, "on the low side: a sealed box like this has about 12, from 8 to 18"),
        (Interval(9.7, 9.0, 11.0), True, "as a sealed box like this has: 8 to 18"),
        (Interval(19.0, 17.0, 21.0), True, "high, the box loses very little: a sealed box like this has 8 to 18"),
        (Interval(4.0, 3.5, 4.9), False, "low, a sign of lost air or friction: a sealed box usually shows 5 to 20"),
        (Interval(4.9, 4.5, 5.5), False, "on the low side: a sealed box usually shows 5 to 20"),
        (Interval(12.0, 11.0, 13.0), False, "as a sealed box usually shows: 5 to 20"),
        (Interval(21.0, 19.0, 23.0), False, "high, the box loses very little: a sealed box usually shows 5 to 20"),
        (None, True, "not known"),
        (Interval(float("inf"), 3.0, float("inf")), True, "not known"),
    ],
)  # fmt: skip
def test_what_a_box_q_means(q: Interval | None, known: bool, words: str) -> None:
    assert box_q_words(result(q, known=known)) == words


def test_what_the_curve_shows() -> None:
    low, saddle, high = Landmark(25.04, 36.0), Landmark(41.0, 7.94), Landmark(70.0, 32.0)
    assert curve_words(result()) == "no impedance curve could be read"
    assert curve_words(result(marks=Landmarks((low, high), low, saddle, high))) == (
        "peaks 25.0 Hz (36.0 ohm) and 70.0 Hz (32.0 ohm), saddle 41.0 Hz (7.9 ohm)"
    )
    end = "; a vented box shows two with a saddle between"
    for peaks, words in (
        ((), "no peak"), ((low,), "only one peak (25.0 Hz)"),
        ((low, saddle, high), "3 peaks (25.0 Hz, 41.0 Hz, 70.0 Hz)"),
    ):  # fmt: skip
        assert curve_words(result(marks=Landmarks(peaks, None, None, None))) == words + end


def test_what_is_to_be_known_of_the_fit_and_the_table() -> None:
    fit = fit_by_hand(converged=False, closed_box_misfit=99.0)
    found = {row.name: row for row in quality_rows(replace(result(), fit=fit, skipped_lines=3))}
    assert found["Lines of the table passed over"].value == "3"
    assert found["Lines of the table passed over"].interval == "they do not begin with a number"
    assert found["Search for the best fit"].value == "did not settle"
    assert found["Search for the best fit"].stands_out
    assert found["A box without a vent would fit"].value == "99 times worse"
    settled = {
        row.name: row for row in quality_rows(replace(result(), fit=fit_by_hand(closed_box_misfit=101.0)))
    }
    assert settled["A box without a vent would fit"].value == "over 100 times worse"
    assert "Search for the best fit" not in settled
    assert "Lines of the table passed over" not in settled


@pytest.mark.parametrize(("leak", "told"), [(0.49, True), (0.51, False)])
def test_a_vents_length_is_told_where_no_leak_is_likelier(leak: float, told: bool) -> None:
    change = Interval(-0.012, -0.015, -0.009)
    whole = replace(result(), fit=fit_by_hand(), length_change_m=change, leak=Leak(leak, None, None))
    found = [row for row in rows(whole) if row.name == "Vent length to reach the design"]
    assert len(found) == told
    if told:
        assert (found[0].value, found[0].stands_out) == ("shorten by 12 mm", True)
