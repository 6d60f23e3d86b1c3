"""The page: whole, closed in itself, verdict first, safe against any name."""

from __future__ import annotations

import base64
import hashlib
import math
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from tests.report.html_reader import read

from sealtune.records.design import Design
from sealtune.records.interval import Interval
from sealtune.records.recording import Source
from sealtune.records.verdict import Finding, Problem, Result
from sealtune.report.cautions import CAUTIONS
from sealtune.report.page import page

MADE_AT = datetime(2026, 3, 1, 10, 15)


def made(results: Sequence[Result], notes: Sequence[str] = ()) -> str:
    return page(results, made_at=MADE_AT, program="sealtune 0.1.0", notes=notes)


def test_page_is_whole_and_closed_in_itself(
    good: Result, leaking: Result, remeasure: Result, undesigned: Result
) -> None:
    html = made([good, leaking, remeasure, undesigned])
    reader = read(html)
    assert html.startswith("<!DOCTYPE html>")
    assert not {"link", "iframe", "object", "base", "form", "img"} & set(reader.tags)
    assert reader.tags.count("script") == 1
    assert "http" not in html.replace("http-equiv", "")
    assert "@import" not in html
    assert "//" not in re.sub(r"<!--.*?-->", "", html)
    assert not re.search(r"url\((?!#)", html)
    attributes = dict(reader.attributes)
    assert all(
        value is not None and value.startswith("#") for name, value in reader.attributes if name == "href"
    )
    assert not any(name.startswith("on") for name, _ in reader.attributes)
    script = html.split("<script>")[1].split("</script>")[0]
    # exact: Content Security Policy names a script by the SHA-256 of its text
    named_by = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = (
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; "
        f"script-src 'sha256-{named_by}'"
    )
    assert ("content", policy) in reader.attributes
    assert attributes["lang"] == "en"
    assert ("name", "viewport") in reader.attributes
    ids = [value for name, value in reader.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    named = [
        part
        for name, value in reader.attributes
        if name == "aria-labelledby" and value
        for part in value.split()
    ]
    assert named
    assert set(named) <= set(ids)
    assert len(html.encode()) < 600_000


def test_verdict_and_remedy_stand_before_figures(leaking: Result) -> None:
    html = made([leaking])
    body = html[html.index("<body>") :]
    figure = body.index("<figure")
    for words in ("REWORK", "The box leaks", "Do this:", "run a bead of glue along the joint that leaks."):
        assert body.index(words) < figure
    assert body.count("<h1>") == 1
    assert "prefers-color-scheme:dark" in html
    assert "@page{size:A4" in html


def test_everything_known_is_told(leaking: Result) -> None:
    text = read(made([leaking])).text
    for words in (
        "almost certain, 97 %",
        "A vent 21 mm shorter than designed",
        "Seal the box first, then check again",
        "47.2 Hz",
        "47.0 to 47.4",
        "+7.3 %",
        "-3.2 to +3.2 %",
        "17.8 litres",
        "18.0 litres",
        "176 mm",
        "31 mm²",
        "0.40 %",
        "1.2 %",
        "Move the leads away from mains cables",
        "open.flac",
        "0123456789ab",
        "23 times worse",
    ):
        assert words in text, words
    assert "0123456789abc" not in text
    assert "recordings/bookshelf" not in text
    for caution in CAUTIONS:
        assert caution.title in text
        assert caution.text in text


def test_cautions_name_every_danger() -> None:
    text = " ".join(caution.text for caution in CAUTIONS)
    for word in (
        "quiet",
        "hearing",
        "Below the tuning",
        "level low",
        "bridged",
        "Divide the voltage",
        "ground",
        "mains plug",
        "electrical rules",
        "licensed",
        "Hot glue",
        "Solvents",
        "mask",
    ):
        assert word in text


def test_measure_again_tells_how(remeasure: Result) -> None:
    text = read(made([remeasure])).text
    assert "MEASURE AGAIN" in text
    assert "Turn the input down by 6 dB and record again." in text
    assert "412 samples of channel 1" in text
    assert "No impedance curve could be read." in text


def test_pair_shows_both_verdicts_first(good: Result, leaking: Result) -> None:
    html = made([good, leaking], ["Simulated recordings of invented cabinets"])
    body = html[html.index("<body>") : html.index("<article")]
    text = read(body.removeprefix("<body><main>")).text
    for words in ("Simulated recordings", "2 cabinets: 1 good, 1 rework", "GOOD", "REWORK"):
        assert words in text
    # exact: 47.2 - 43.9 = 3.3 Hz, 7.2 % of their mean 45.55 Hz
    assert "the two tunings lie 3.3 Hz (7.2 %) apart" in text
    assert html.count("<article") == 2
    assert len(html.encode()) < 600_000


def test_markup_in_names_is_text(leaking: Result) -> None:
    bad = "<script>alert('1')</script>&\"<b>\x1b\udc80"
    assert leaking.design is not None
    result = replace(
        leaking,
        cabinet=bad,
        summary=bad,
        design=Design(bad, leaking.design.box),
        findings=(Finding("leak", 0.9, bad, bad, bad),),
        problems=(Problem("hum", bad, bad, False),),
        sources=(Source("open", Path("x<img src=1>.wav"), bad),),
        leak=replace(leaking.leak, likeness=bad),
    )
    html = page([result, result], made_at=MADE_AT, program=bad, notes=[bad])
    reader = read(html)
    assert "img" not in reader.tags
    assert reader.tags.count("script") == 1
    assert "<script>alert('1')</script>&\"<b>??" in reader.text
    assert "x<img src=1>.wav" in reader.text
    html.encode()


def test_same_arguments_same_bytes(good: Result, leaking: Result) -> None:
    assert made([good, leaking]) == made([good, leaking])


def test_only_what_is_missing_is_called_missing(good: Result, undesigned: Result) -> None:
    assert "no design was given" in read(made([undesigned])).text
    assert "no design was given" not in read(made([good])).text
    assert "stopped airtight would tell them apart" in read(made([good])).text
    # a plugged recording that was left out tells nothing, one that was fitted does
    left_out = replace(good, sources=(*good.sources, Source("plugged", Path("plugged.flac"), "0" * 64)))
    assert "stopped airtight would tell them apart" in read(made([left_out])).text
    assert good.fit is not None
    plugged = replace(left_out, fit=replace(good.fit, roles=("open", "plugged")))
    assert "stopped airtight would tell them apart" not in read(made([plugged])).text


def test_numbers_that_are_none_are_not_shown(good: Result) -> None:
    assert good.fit is not None
    nothing = Interval(math.nan, -math.inf, math.inf)
    fit = replace(
        good.fit,
        tuning_hz=nothing,
        box_q=nothing,
        compliance_ratio=nothing,
        fs_hz=nothing,
        residual=math.nan,
        noise=math.nan,
        closed_box_misfit=math.inf,
        converged=False,
    )
    text = read(made([replace(good, fit=fit, volume_m3=nothing)])).text
    assert "not known" in text
    assert "did not settle" in text
    assert not re.search(r"\b(nan|inf|None)\b", text)


def test_empty_report_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one result"):
        made([])
