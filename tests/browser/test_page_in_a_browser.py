"""The page as a browser shows it: closed in itself, the verdict at once, legible, two sheets of paper."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from pypdf import PdfReader
from tests.browser.conftest import MADE_AT, PAGES

from sealtune.jobs.report import write_report
from sealtune.records.curve import Landmarks
from sealtune.records.verdict import Result

if TYPE_CHECKING:
    from tests.browser.window import Window

ALL = (*PAGES, "two", "batch")

FIRST_SCREEN = """
const seen = selector => {
  const box = document.querySelector(selector)?.getBoundingClientRect();
  return box ? [box.top, box.bottom, box.left, box.right, box.width, box.height] : null;
};
return {word: seen(".tag .word"), step: seen(".tag .step"), scale: seen(".scale svg"), trace: seen("svg.trace"),
        width: innerWidth, height: innerHeight, wide: document.documentElement.scrollWidth};
"""


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("size", ["desk", "phone"])
def test_nothing_is_asked_for_and_nothing_complained_of(
    name: str, size: str, pages: dict[str, Path], window: Window
) -> None:
    window.open(pages[name], size)
    assert window.requests() == [pages[name].resolve().as_uri()]
    assert window.complaints() == []
    if name != "batch":
        assert window.ask("return document.querySelector('output.reading:not([hidden])') !== null")


def test_the_policy_forbids_what_is_not_the_pages_own(
    pages: dict[str, Path], window: Window, tmp_path: Path
) -> None:
    # a page into which somebody has written a script, a picture from elsewhere and a form
    evil = (
        "<script>document.title='taken'</script><img src='http://192.0.2.1/x.png' onerror='document.title=1'>"
    )
    page = tmp_path / "evil.html"
    page.write_text(
        pages["good"].read_text(encoding="utf-8").replace("<main>", f"<main>{evil}"), encoding="utf-8"
    )
    window.open(page)
    assert window.ask("return document.title") not in ("taken", "1")
    assert len(window.complaints()) >= 2
    assert window.ask("return document.querySelector('output.reading').hidden") is False, (
        "its own script runs"
    )


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("size", ["desk", "phone"])
def test_verdict_step_scale_and_curve_are_on_the_first_screen(
    name: str, size: str, pages: dict[str, Path], window: Window
) -> None:
    window.open(pages[name], size)
    seen = window.ask(FIRST_SCREEN)
    assert seen["wide"] <= seen["width"], "no scrolling sideways"
    for part in ("word", "step"):
        top, bottom = seen[part][:2]
        assert 0 <= top < bottom <= seen["height"], part
    for part in ("scale", "trace"):
        if seen[part] is None:  # a recording that cannot be judged may have none
            assert name == "spoilt"
            continue
        top, bottom, left, right, width, _ = seen[part]
        assert 0 <= left < right <= seen["width"]
        assert width > 250
        assert top >= 0
        # at least the panel of the magnitude, two thirds of the drawing
        assert top + 0.67 * (bottom - top) <= seen["height"], part


def test_verdicts_of_pair_and_batch_are_on_the_first_screen(pages: dict[str, Path], window: Window) -> None:
    for size in ("desk", "phone"):
        for name, word in (("batch", "REWORK"), ("two", "NOT MATCHED")):
            window.open(pages[name], size)
            seen = window.ask(FIRST_SCREEN)
            assert window.ask("return document.querySelector('.tag .word').textContent") == word
            assert seen["wide"] <= seen["width"]
            for part in ("word", "step"):
                assert 0 <= seen[part][0] < seen[part][1] <= seen["height"], (name, part)
        words = window.ask(
            "return [...document.querySelectorAll('.row .word')].map(word => [word.textContent, "
            "word.getBoundingClientRect().bottom])"
        )
        assert [word for word, _ in words] == ["GOOD", "REWORK"]
        assert all(bottom <= window.ask("return innerHeight") for _, bottom in words)


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_contrast_names_and_order_by_axe(
    name: str, dark: bool, pages: dict[str, Path], window: Window
) -> None:
    # independent: axe-core's rules for WCAG 2 A and AA and its best practices
    window.open(pages[name], "desk", dark=dark)
    window.ask(files("axe_core_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    found = window.ask_later("const done = arguments[arguments.length - 1]; axe.run(document).then(done)")
    told = [
        f"{one['id']}: {node['html'][:120]} {node['failureSummary'][:300]}"
        for one in found["violations"]
        for node in one["nodes"]
    ]
    assert told == []
    passed = {one["id"] for one in found["passes"]}
    assert {"color-contrast", "svg-img-alt", "html-has-lang", "document-title", "heading-order"} <= passed


def _luminance(colour: str) -> float:
    """Relative luminance of "rgb(r, g, b)" by WCAG 2.1, 0 black to 1 white."""
    levels = [int(level) / 255.0 for level in re.findall(r"\d+", colour)[:3]]
    linear = [level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4 for level in levels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_figures_follow_the_mode_and_stay_legible(dark: bool, pages: dict[str, Path], window: Window) -> None:
    window.open(pages["leaking"], "desk", dark=dark)
    ground, *inks = window.ask(
        "const card = document.querySelector('section.trace'), svg = card.querySelector('svg');"
        "return [getComputedStyle(card).backgroundColor,"
        " ...[...svg.querySelectorAll('text')].map(text => getComputedStyle(text).fill)]"
    )
    assert (_luminance(ground) < 0.05) == dark
    assert len(inks) > 10
    for ink in inks:
        light, deep = sorted((_luminance(ground), _luminance(ink)), reverse=True)
        # published: WCAG 2.1, success criterion 1.4.3, at least 4.5 to 1
        assert (light + 0.05) / (deep + 0.05) >= 4.5, ink


def test_pointing_at_the_curve_reads_it(pages: dict[str, Path], window: Window) -> None:
    window.open(pages["good"], "desk")
    rows = window.ask("return document.querySelector('svg.trace').dataset.curve").split(";")
    hz, ohm, _ = np.array([row.split() for row in rows], dtype=float).T
    found = None
    for tick in (20.0, 50.0, 100.0, 200.0):
        # independent: matplotlib centres the number of a tick below its frequency
        x, y = window.ask(
            "const told = [...document.querySelectorAll('svg.trace text')]"
            ".findLast(text => text.textContent.trim() === arguments[0]).getBoundingClientRect();"
            "return [(told.left + told.right) / 2, told.top - 150]",
            f"{tick:g}",
        )
        window.point_at(x, y)
        told = window.ask("return document.querySelector('output.reading').textContent")
        found = re.fullmatch(r"([\d.]+) Hz: ([\d.]+) Ω, (−?[\d.]+)°", told)
        assert found, told
        assert float(found[1]) == pytest.approx(tick, rel=0.015)
        assert float(found[2]) == ohm[np.argmin(np.abs(hz - float(found[1])))]
    assert found
    window.ask("document.querySelector('svg.trace').focus()")
    for key in ("ArrowRight", "ArrowRight", "ArrowLeft"):
        window.tell("Input.dispatchKeyEvent", type="keyDown", key=key)
    moved = window.ask("return document.querySelector('output.reading').textContent")
    place = [row.split()[0] for row in rows].index(found[1])
    assert moved.startswith(f"{rows[place + 1].split()[0]} Hz: {rows[place + 1].split()[1]} Ω")
    window.point_at(5, 5)


def test_tapping_the_curve_reads_it_on_a_phone(pages: dict[str, Path], window: Window) -> None:
    window.open(pages["good"], "phone")
    left, top, width, height = window.ask(
        "const box = document.querySelector('svg.trace').getBoundingClientRect();"
        "return [box.left, box.top, box.width, box.height]"
    )
    window.tap(left + 0.6 * width, top + 0.4 * height)
    told = window.ask("return document.querySelector('output.reading').textContent")
    assert re.fullmatch(r"[\d.]+ Hz: [\d.]+ Ω, −?[\d.]+°", told), told


@pytest.mark.parametrize("scale", [1.0, 0.35, 2.5])
@pytest.mark.parametrize("size", ["desk", "phone"])
def test_no_text_of_the_curve_lies_over_another(
    scale: float, size: str, results: dict[str, Result], window: Window, tmp_path: Path
) -> None:
    # the same cabinet with its peaks elsewhere, at the left end of the axis and far to the right
    good = results["good"]
    assert good.curve is not None
    assert good.landmarks is not None
    peaks = tuple(replace(peak, hz=scale * peak.hz) for peak in good.landmarks.peaks)
    marks = (good.landmarks.lower, good.landmarks.saddle, good.landmarks.upper)
    lower, saddle, upper = (mark and replace(mark, hz=scale * mark.hz) for mark in marks)
    curve = replace(good.curve, frequency_hz=scale * good.curve.frequency_hz)
    moved = replace(good, curve=curve, fit=None, landmarks=Landmarks(peaks, lower, saddle, upper))
    page = tmp_path / "moved.html"
    write_report([moved], page, MADE_AT)
    window.open(page, size)
    boxes = window.ask(
        "return [...document.querySelectorAll('svg.trace text')].map(text => [text.textContent.trim(),"
        " text.getBoundingClientRect()]).map(([text, box]) => [text, box.left, box.right, box.top, box.bottom])"
    )
    assert len(boxes) > 12
    over = [
        (one[0], other[0])
        for place, one in enumerate(boxes)
        for other in boxes[:place]
        # letters do not fill their boxes to the brim: two pixels are let pass
        if min(one[2], other[2]) - max(one[1], other[1]) > 2
        and min(one[4], other[4]) - max(one[3], other[3]) > 2
    ]
    assert over == []


def test_without_script_the_page_is_whole(pages: dict[str, Path], window: Window) -> None:
    window.open(pages["leaking"], "desk", script=False)
    assert window.height() > 1000, "the page has loaded"
    height = window.height()
    assert len(window.picture()) > 20_000
    window.open(pages["leaking"], "desk")
    assert abs(height - window.height()) < 40, "all but the line that reads the curve"


@pytest.mark.parametrize("name", PAGES)
def test_printed_on_two_pages_at_most(name: str, pages: dict[str, Path], window: Window) -> None:
    window.open(pages[name], "desk")
    # independent: pypdf counts the pages and reads their size; A4 is 595 by 842 points
    reader = PdfReader(io.BytesIO(window.printed()))
    assert 1 <= len(reader.pages) <= 2
    assert [round(float(side)) for side in reader.pages[0].mediabox[2:]] in ([595, 842], [596, 842])
    text = reader.pages[0].extract_text()
    assert re.search(r"GOOD|REWORK|MEASURE\s+AGAIN", text)


@pytest.mark.parametrize("name", ALL)
def test_small_enough_to_send(name: str, pages: dict[str, Path]) -> None:
    # our own aim: 600 kB for one cabinet
    assert pages[name].stat().st_size < 600_000
