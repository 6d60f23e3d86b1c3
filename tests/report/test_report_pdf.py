"""The report on paper, read back by pypdf."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from pypdf import PdfReader

from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions
from sealtune.jobs.report import mates
from sealtune.records.comparison import Change, Comparison
from sealtune.records.interval import Interval
from sealtune.records.near_field import NearField
from sealtune.records.verdict import Finding, Result
from sealtune.report.cautions import CAUTIONS
from sealtune.report.numbers import rows
from sealtune.report.paper import Paper
from sealtune.report.pdf import cabinets_pdf, pair_pdf

MADE_AT = datetime(2026, 3, 1, 10, 15)
RECORDINGS = Path(__file__).parents[2] / "recordings"


def made(results: Sequence[Result], notes: Sequence[str] = ()) -> bytes:
    return cabinets_pdf(results, made_at=MADE_AT, program="sealtune 0.1.0", notes=notes)


def texts(data: bytes) -> list[str]:
    """The text of each page, its lines joined."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(data)).pages]


@pytest.fixture(scope="module")
def shipped() -> tuple[Result, Result]:
    left, right = (check(RECORDINGS / name, CheckOptions()) for name in ("left", "right"))
    return left, right


def test_a_cabinet_takes_two_sheets_of_a4_with_all_that_is_known(shipped: tuple[Result, Result]) -> None:
    for result, word in zip(shipped, ("GOOD", "REWORK"), strict=True):
        data = made([result], ["a note"])
        reader = PdfReader(io.BytesIO(data))
        assert len(reader.pages) <= 2
        for page in reader.pages:
            # exact: A4 is 210 by 297 mm
            assert float(page.mediabox.width) == pytest.approx(210 / 25.4 * 72, abs=0.2)
            assert float(page.mediabox.height) == pytest.approx(297 / 25.4 * 72, abs=0.2)
        first, *_ = found = texts(data)
        whole = " ".join(found)
        for text in (
            word,
            "a note",
            "Do this" if word == "REWORK" else "Nothing to do",
            "upper peak",
            "measured",
        ):
            assert text in first, text
        for row in rows(result):
            assert row.name in whole, row.name
            assert row.value in whole, row.value
        for text in (
            "Trust in the recording",
            "What this cannot tell",
            "open.flac",
            *(one.title for one in CAUTIONS),
        ):
            assert text in whole, text
        assert reader.metadata is not None
        assert word in str(reader.metadata.title)


def test_a_pair_on_paper(shipped: tuple[Result, Result]) -> None:
    pair = mates(shipped)
    assert pair is not None
    found = texts(pair_pdf(pair, made_at=MADE_AT, program="sealtune 0.1.0"))
    assert "NOT MATCHED" in found[0]
    assert "left less right" in " ".join(found).lower()
    assert len(found) <= 6
    assert any("GOOD" in page for page in found[1:])


def test_what_has_changed_stands_on_paper(good: Result) -> None:
    fell = Change(41.0, 39.0, Interval(-2.0, -2.3, -1.7))
    since = Comparison("open.1.wav", "better", "The tuning fell", tuning_hz=fell)
    whole = " ".join(texts(made([replace(good, comparison=since)])))
    assert "Since open.1.wav The tuning fell. What Before and now Change between (95 %)" in whole
    assert "Since open" not in " ".join(texts(made([good])))


def test_a_microphone_that_told_nothing_stands_on_paper(good: Result) -> None:
    whole = " ".join(texts(made([replace(good, near_field=NearField(None, None))])))
    assert "Close to cone and mouth The recordings tell nothing" in whole
    assert "Close to cone" not in " ".join(texts(made([good])))


def test_same_arguments_same_bytes(leaking: Result) -> None:
    assert made([leaking]) == made([leaking])


def test_any_name_and_a_recording_without_curve(leaking: Result, remeasure: Result) -> None:
    bad = "$x^2$ <b>größer 箱\x1b\udc80 \\alpha " + "w" * 300
    result = replace(leaking, cabinet=bad, summary=bad, findings=(Finding("leak", 0.9, bad, bad, bad),))
    found = " ".join(texts(made([result, remeasure], [bad])))
    assert "$x^2$ <b>größer ???" in found
    assert "MEASURE AGAIN" in found


def test_lines_are_no_wider_than_the_column() -> None:
    # independent: matplotlib's own measure of the drawn text, kerning included
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextToPath

    paper = Paper("")
    text = "Search the vent's flange first, then the driver's gasket, AVAVAV " * 6 + "x" * 120
    lines = paper.lines_of(text, 8.0, 200.0)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    font = FontProperties(family="DejaVu Sans", size=8.0)
    widths = [TextToPath().get_text_width_height_descent(line, font, ismath=False)[0] for line in lines]
    assert max(widths) <= 202.0
    assert min(widths[:6]) > 120.0
