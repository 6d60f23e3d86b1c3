"""Losses, what rings, what hides before the driver, which recordings were used: told on the page and in the text."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from sealtune.records.design import Crossover
from sealtune.records.fit import Losses
from sealtune.records.interval import Interval
from sealtune.records.recording import Source
from sealtune.records.verdict import Result
from sealtune.report.loss_words import loss_note, loss_rows, loss_words
from sealtune.report.numbers import quality_rows, rows
from sealtune.report.page import page
from sealtune.report.remarks import remarks, rounded
from sealtune.report.text import summary_text

LEAKAGE, VENT, ABSORPTION = Interval(12.0, 9.0, 15.0), Interval(60.0, 48.0, 75.0), Interval(45.0, 33.0, 62.0)
ALL = Losses(LEAKAGE, VENT, ABSORPTION, next_role=None)


def told(html: str) -> str:
    """The page's text without markup, blanks plain."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html.split("</style>")[1])).split())


def page_of(result: Result) -> str:
    return told(page([result], made_at=datetime(2026, 3, 1, 10, 15), program="sealtune 0.1.0"))


def fitted(result: Result, **changes: Any) -> Result:
    assert result.fit is not None
    return replace(result, fit=replace(result.fit, **changes))


@pytest.mark.parametrize(
    ("losses", "words"),
    [
        # exact: the record's own numbers
        (ALL, "leakage Q 12 (9 to 15), vent Q 60 (48 to 75), absorption Q 45 (33 to 62)"),
        (
            Losses(next_role="plugged"),
            "not separable from this measurement; a recording with the vent plugged airtight would tell",
        ),
        (
            Losses(next_role="free-air"),
            "not separable from this measurement; the driver's own curve in free air would tell",
        ),
        (Losses(next_role=None), "not separable from this measurement; no further recording would tell more"),
        (
            Losses(LEAKAGE, None, None, next_role="free-air"),
            "leakage Q 12 (9 to 15); vent and absorption not separable; "
            "the driver's own curve in free air would tell",
        ),
        (
            Losses(LEAKAGE, VENT, None, (("absorption", 45.3),), None),
            "leakage Q 12 (9 to 15), vent Q 60 (48 to 75), no absorption found (its Q is above 45)",
        ),
    ],
)
def test_split_in_words(losses: Losses, words: str) -> None:
    assert loss_words(losses) == words


def test_text_names_the_split_only_where_it_is_told_or_more_was_measured(good: Result) -> None:
    def losses_line(result: Result) -> list[str]:
        return [line for line in summary_text(result).splitlines() if line.startswith("Losses")]

    assert losses_line(good) == []
    assert losses_line(fitted(good, losses=ALL)) == [
        "Losses     Leakage Q 12 (9 to 15), vent Q 60 (48 to 75), absorption Q 45 (33 to 62)"
    ]
    both = losses_line(fitted(good, losses=Losses(next_role="free-air"), roles=("open", "plugged")))
    assert len(both) == 1
    assert "Not separable" in both[0]


def test_page_tells_each_loss_and_what_it_means(good: Result) -> None:
    result = fitted(good, losses=ALL, roles=("open", "plugged"))
    assert [(row.value, row.interval) for row in loss_rows(result)] == [
        ("12", "9 to 15"),
        ("60", "48 to 75"),
        ("45", "33 to 62"),
    ]
    text = page_of(result)
    assert "Leakage 12 9 to 15 air that slips through joints" in text
    assert "This box loses most by leakage, as most boxes do." in text


def test_page_names_no_greatest_loss_where_the_intervals_overlap(good: Result) -> None:
    close = Losses(Interval(40.0, 30.0, 55.0), VENT, ABSORPTION, next_role=None)
    assert "loses most" not in loss_note(fitted(good, losses=close))
    # an untold loss might be the greatest
    assert "loses most" not in loss_note(
        fitted(good, losses=Losses(LEAKAGE, VENT, None, next_role="free-air"))
    )
    vent = Losses(Interval(80.0, 60.0, 99.0), Interval(20.0, 16.0, 25.0), None, (("absorption", 45.0),), None)
    assert "This box loses most by vent." in loss_note(fitted(good, losses=vent))


def test_page_of_an_open_curve_says_what_would_tell(good: Result) -> None:
    text = page_of(good)
    assert (
        "not separable from this measurement; a recording with the vent plugged airtight would tell." in text
    )
    assert "Loss Q Between" not in text


def test_no_loss_found_is_told_with_its_bound(good: Result) -> None:
    losses = Losses(LEAKAGE, VENT, None, (("absorption", 45.3),), None)
    assert "Absorption none found above 45" in page_of(fitted(good, losses=losses))


def test_hidden_crossover_is_a_note_and_no_fault(good: Result, undesigned: Result) -> None:
    parts = Crossover(series_h=0.00123, shunt_f=14.7e-6, shunt_ohm=2.04)
    for result in (fitted(good, hidden_crossover=parts), fitted(undesigned, hidden_crossover=parts)):
        for text in (page_of(result), " ".join(summary_text(result).split())):
            # exact: 1.23 mH, 14.7 uF and 2.04 ohm to two digits
            assert "A crossover of about 1.2 mH in series and 15 µF with 2.0 ohm across the driver" in text
            assert "into design.toml under [crossover] as series_mh, shunt_uf, shunt_ohm." in text
            assert "GOOD" in text
    assert "the design does not tell of" in page_of(fitted(good, hidden_crossover=parts))
    assert "no design tells of" in page_of(fitted(undesigned, hidden_crossover=parts))
    assert remarks(good) == ()


def test_what_rings_is_told_at_its_frequency(good: Result) -> None:
    # exact: the middle of 144 to 169 Hz by ratio is 12 x 13 = 156 Hz
    text = page_of(fitted(good, left_out_hz=((144.0, 169.0),)))
    assert "A wall or another part rings on its own at about 156 Hz; the curve from 144 to 169 Hz" in text


def test_recordings_used_and_left_out(good: Result) -> None:
    more = replace(
        good,
        sources=(
            *good.sources,
            Source("plugged", Path("plugged.flac"), "0" * 64),
            Source("free-air", Path("free-air.flac"), "1" * 64),
        ),
    )
    text = page_of(fitted(more, roles=("open", "free-air"), ignored_roles=("plugged",)))
    assert "Fitted together open, free-air left out: plugged" in text
    assert "left out" not in page_of(fitted(more, roles=("open", "plugged", "free-air")))
    assert "Fitted together" not in page_of(good)


def test_resistance_of_leads_where_it_is_known(good: Result) -> None:
    def leads(result: Result) -> list[tuple[str, str]]:
        return [
            (row.value, row.interval) for row in rows(result) if row.name.startswith("Resistance of leads")
        ]

    assert leads(good) == []
    assert leads(fitted(good, series_ohm=Interval(0.42, 0.31, 0.57))) == [("0.42 Ω", "0.31 to 0.57")]
    # an interval of the logarithm never reaches zero: what may be next to nothing is told by its upper end
    assert leads(fitted(good, series_ohm=Interval(0.034, 0.0034, 0.34))) == [("at most 0.34 Ω", "")]


def test_jig_and_its_correction(good: Result, remeasure: Result) -> None:
    words = "divider, 10 ohm: corrected by leads open and leads shorted"
    for result in (replace(good, jig_words=words), replace(remeasure, jig_words=words)):
        row = next(row for row in quality_rows(result) if row.name == "Jig")
        assert (row.value, row.interval) == ("divider, 10 ohm", "corrected by leads open and leads shorted")
    assert "Jig divider, 10 ohm corrected by leads open" in page_of(replace(good, jig_words=words))
    assert all(row.name != "Jig" for row in quality_rows(good))


@pytest.mark.parametrize(
    ("value", "words"), [(0.8234, "0.82"), (12.4, "12"), (154.0, "150"), (0.0, "0"), (0.996, "1.0")]
)
def test_two_digits(value: float, words: str) -> None:
    assert rounded(value) == words


def test_notes_that_repeat_are_told_once(good: Result) -> None:
    html = page([good], made_at=datetime(2026, 3, 1), program="p", notes=["Simulated", "Simulated", "Other"])
    assert html.count("Simulated") == 1
    assert html.count("Other") == 1
