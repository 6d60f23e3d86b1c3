"""A batch and a pair in words, on the page and on paper, put in by hand; the numbers are those put in."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import datetime

import pytest
from pypdf import PdfReader

from sealtune.records.batch import Batch, BatchCabinet, BatchPair, ControlChart, ControlLimits, Trend
from sealtune.records.interval import Interval
from sealtune.records.near_field import NearFieldPair
from sealtune.records.pair import BandDifference, Pair
from sealtune.records.verdict import Leak, Result
from sealtune.report.batch_page import batch_page
from sealtune.report.batch_text import batch_text
from sealtune.report.pair_text import level_words, sound_words, step_lines
from sealtune.report.pdf import batch_pdf

MADE_AT = datetime(2026, 3, 1, 10, 15)
NAMES = tuple(f"c{n}" for n in range(8))
GOOD = BatchCabinet(
    "c0", "good", 0, "as designed", "Nothing.", tuning_hz=Interval(39.0, 38.9, 39.1), box_q=Interval(11.0, 10.0, 12.0),
    target_hz=38.5, leak_probability=0.03,
)  # fmt: skip
BAD = BatchCabinet("c1", "rework", 2, "the box leaks", "Seal the seam")
LIMITS = ControlLimits(0.5, -1.25, 2.25, 0.6, 2.0)


def chart(
    *, falls: bool = False, by_date: bool = True, count: int = 8, outside: tuple[str, ...] = ()
) -> ControlChart:
    change = Interval(-1.5, -2.4, -0.6) if falls else Interval(1.5, -0.6, 3.6)
    names = tuple(f"c{n}" for n in range(count))
    values = tuple(0.1 * n for n in range(count))
    return ControlChart("tower", "tuning", "%", names, values, LIMITS, outside, by_date, Trend(change, falls))


def batch(*charts: ControlChart, passed_over: tuple[str, ...] = ()) -> Batch:
    pairs = (
        BatchPair("c0", "c2", 0.25, 0.4, True), BatchPair("c0", "c1", 0.5, -1.0, False),
        BatchPair("c2", "c3", 0.5, 3.0, False),
    )  # fmt: skip
    cabinets = (BAD, GOOD, replace(GOOD, name="c2"), replace(GOOD, name="c3"))
    return Batch("shed", cabinets, pairs, ("c7",), charts, passed_over)


LIMIT_WORDS = (
    "Limits are mean and 2.66 times the mean moving range of the good cabinets, of all where fewer than 8 are good: "
    "what chance alone keeps to in 997 of 1000."
)


def test_a_batch_in_words() -> None:
    told = batch_text(
        batch(chart(outside=("c3", "c5")), passed_over=("dust", "old")), width=1000
    ).splitlines()
    assert told[0] == "shed: 4 cabinets: 1 to rework, 3 good"
    assert "  c1: the box leaks. Seal the seam." in told
    assert "Pairs with the least total mismatch (1.25 dB)" in told
    assert "  c0 + c2: 0.25 dB, tunings 0.40 Hz apart" in told
    assert "  c0 + c1: 0.50 dB, tunings 1.00 Hz apart; after the rework measure and pair again" in told
    assert "  c2 + c3: 0.50 dB, tunings 3.00 Hz apart; the tunings lie too far apart" in told
    assert "  without a mate: c7" in told
    assert "  Beyond the control limits of the tuning (-1.25 to 2.25 %) of tower: c3, c5." in told
    assert f"  {LIMIT_WORDS} Of fewer than 20 cabinets they are provisional." in told
    assert told[-1] == "Passed over, without a recording of the open vent: dust, old."
    assert "No drift" not in "".join(told)


@pytest.mark.parametrize(("by_date", "order"), [(True, "recordings"), (False, "names")])
def test_a_drift_in_words(by_date: bool, order: str) -> None:
    told = batch_text(batch(chart(falls=True, by_date=by_date, count=20)), width=1000).splitlines()
    assert (
        "  Drift: the tuning falls by 1.50 % (0.60 to 2.40) over the 20 cabinets of tower, in the order of their "
        f"{order}. Look for what changes little by little: a blunt cutter, a stop that creeps, boards of another "
        "thickness."
    ) in told
    assert told[-1] == f"  {LIMIT_WORDS}"


def test_where_nothing_drifts() -> None:
    told = batch_text(batch(chart()), width=1000).splitlines()
    assert "  No drift, and nothing beyond the control limits." in told
    assert "Passed over" not in "".join(told)


def test_the_same_on_the_page_and_on_paper() -> None:
    whole = batch(chart(), chart(falls=True, by_date=False), passed_over=("dust",))
    page = batch_page(whole, made_at=MADE_AT, program="sealtune 0.1.0")
    pages = PdfReader(io.BytesIO(batch_pdf(whole, made_at=MADE_AT, program="sealtune 0.1.0"))).pages
    paper = " ".join(" ".join(each.extract_text().split()) for each in pages)
    for words in (
        "No drift, and nothing beyond the limits.", "Drift: the tuning falls by", "in the order of their names",
        "Passed over: no recording of the open vent", "dust", "he box leaks", "Seal the seam.",
        "Of fewer than 20 cabinets they are provisional.",
    ):  # fmt: skip
        assert words in page
        assert words in paper
    plain = batch_page(Batch("shed", (GOOD,), (), (), ()), made_at=MADE_AT, program="sealtune 0.1.0")
    for words in ("Passed over", "To do", "Production"):
        assert words not in plain


def result() -> Result:
    return Result(
        "left", "good", "", None, None, None, None, None, Leak(0.0, None, None), None, None, None, (), (), ()
    )


def pair(**changes: object) -> Pair:
    plain = Pair(
        result(), replace(result(), cabinet="right"), "rework", False, "Not matched: they differ.", 0.04
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("near", "words"),
    [
        (None, ""),
        (
            NearFieldPair("alike", ((40.0, 0.5),), 0.0, 0.0, (), 0.42),
            "Close to cone and mouth the two sound alike, within 1 dB below 200 Hz. Each third octave's difference is "
            "known to 0.4 dB. Their cones move the same way.",
        ),
        (NearFieldPair("unclear", ((40.0, 1.5),), 0.0, 0.0, ("At 40 Hz it is so.",)), "At 40 Hz it is so."),
        (NearFieldPair("alike", (), None, None, ()), "Their cones move the same way."),
    ],
)  # fmt: skip
def test_what_the_microphone_says_of_a_pair(near: NearFieldPair | None, words: str) -> None:
    assert sound_words(pair(near_field=near)) == words


def test_what_to_do_where_no_vent_evens_it() -> None:
    assert step_lines(pair()) == [
        (
            "Do",
            "No change of the vents evens this: compare drivers and damping material, or give either another mate.",
        )
    ]
    assert step_lines(pair(matched=True)) == [("Do", "Nothing: leave both as they are.")]


def test_a_pair_of_which_nothing_is_heard_in_the_bass() -> None:
    silent = BandDifference(20.0, Interval(3.0, 2.9, 3.1), Interval(1.0, 1.0, 1.0), False)
    assert level_words(pair(bands=(silent,))) == "nothing that either box plays"
    heard = replace(silent, hz=31.5, heard=True)
    assert level_words(pair(bands=(silent, heard))).startswith(
        "left less right at most +3.0 dB (+2.9 to +3.1"
    )
