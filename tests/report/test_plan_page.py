"""The plan's page: closed in itself, what to cut first, safe against any name; and its figures."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
from tests.report.html_reader import read

from sealtune.records.plan import Plan
from sealtune.report.plan_figures import plan_figures
from sealtune.report.plan_page import plan_page
from sealtune.report.plan_panels import stretches

MADE_AT = datetime(2026, 3, 1, 10, 15)


def made(plan: Plan) -> str:
    return plan_page(plan, made_at=MADE_AT, program="sealtune 0.1.0")


def svgs(plan: Plan) -> list[str]:
    """Every svg element of the plan's figures."""
    return [
        f"{part}</svg>" for _, both in plan_figures(plan) for part in both.split("</svg>") if part.strip()
    ]


def test_page_is_closed_in_itself(planned: Plan) -> None:
    html = made(planned)
    reader = read(html)
    assert not {"script", "link", "iframe", "object", "base", "form", "img"} & set(reader.tags)
    assert "http" not in html.replace("http-equiv", "")
    assert "@import" not in html
    assert "//" not in html
    assert not re.search(r"url\((?!#)", html)
    assert (
        "content",
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'",
    ) in reader.attributes
    assert not any(name.startswith("on") for name, _ in reader.attributes)
    ids = [value for name, value in reader.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    named = {
        part
        for name, value in reader.attributes
        if name == "aria-labelledby"
        for part in (value or "").split()
    }
    assert named
    assert named <= set(ids)
    assert len(html.encode()) < 600_000
    assert "prefers-color-scheme:dark" in html
    assert "@page{size:A4" in html


def test_what_to_cut_stands_before_facts_and_figures(planned: Plan) -> None:
    html = made(planned)
    body = html[html.index("<body>") :]
    places = [
        body.index(words)
        for words in ("GO AHEAD", "target 44.0", "Cut the vent to 200", "In short", "<figure")
    ]
    assert places == sorted(places)
    assert body.count("<h1>") == 1
    text = read(html).text
    for words in (
        "Box plan of Bookshelf",
        "17 m/s",
        "E²/R_E",
        "orientation",
        "common practice",
        "QB3",
        "from memory",
    ):
        assert words in text
    for title in ("Ears", "Driver", "Glue and dust"):
        assert f"<dt>{title}</dt>" in html


def test_own_rows_are_marked_in_both_tables(planned: Plan) -> None:
    html = made(planned)
    own = [
        re.findall(r"<td[^>]*>([^<]*)</td>", row) for row in re.findall(r'<tr class="own">(.*?)</tr>', html)
    ]
    assert own == [
        ["▶", "60", "1", "200", "16", "705", "0.57", ""],
        ["▶", "18.0", "200", "1.17", "49.6", "23", "0.1"],
    ]
    assert html.count('<tr class="no">') == 5
    assert "longer than the box is deep" in html


def test_markup_in_names_is_text(planned: Plan) -> None:
    bad = "<script>alert('1')</script>&\"$x^2$<b>\x1b"
    vents = tuple(replace(one, against=(bad,)) for one in planned.vents)
    html = plan_page(
        replace(planned, design=replace(planned.design, name=bad), notes=(bad,), vents=vents),
        made_at=MADE_AT,
        program=bad,
    )
    reader = read(html)
    assert "script" not in reader.tags
    assert reader.text.count("<script>alert('1')</script>&\"$x^2$<b>?") >= 6
    html.encode()


def test_same_plan_same_bytes(planned: Plan) -> None:
    assert made(planned) == made(planned)


def test_missing_data_leave_no_holes(bare: Plan) -> None:
    text = read(made(bare)).text
    assert not re.search(r"\b(nan|inf|None)\b", text)
    assert "Give [driver] fs_hz, qms, qes and vas_l to see response and group delay." in text
    # the vents' lengths need no driver
    assert len(plan_figures(bare)) == 1
    assert "vent length, mm" in plan_figures(bare)[0][1]


def test_figures_say_what_they_show(planned: Plan) -> None:
    found = svgs(planned)
    assert len(found) == 6  # five figures, the impedance in two widths
    for svg in found:
        root = ElementTree.fromstring(svg)
        assert root.get("role") == "img"
        parts = {child.tag: "".join(child.itertext()) for child in root}
        assert parts["title"].endswith("of Bookshelf")
        assert len(parts["desc"]) > 40
        assert "http" not in svg
        assert len(list(root.iter("text"))) > 8
    words = " | ".join(
        "".join(node.itertext()) for svg in found for node in ElementTree.fromstring(svg).iter("text")
    )
    for told in ("vent open", "vent stopped", "wished tuning 42.2 to 45.8 Hz", "tuning 44.0 Hz (42.5 to 45.5)",
                 "26.7 Hz (23.5 to 29.9)", "x_max 5.0 mm", "usual bound 17 m/s", "vent, f3 49.6 Hz", "closed, f3",
                 "cone travel limits", "vent air limits", "rated power limits", "this design", "2 vents",
                 "delay, ms", "something against it"):  # fmt: skip
        assert told in words, told


def test_what_is_not_known_is_not_drawn(planned: Plan) -> None:
    assert planned.vented is not None
    plan = replace(
        planned,
        impedance_ohm=None,
        plugged_ohm=None,
        closed=None,
        vented=replace(
            planned.vented, travel_m=None, air_speed_m_s=None, highest_db=None, limited_by=(), f3_hz=None
        ),
        limits=None,
        vents=(),
    )
    captions = [caption for caption, _ in plan_figures(plan)]
    assert len(captions) == 1
    assert "group delay" in captions[0]
    assert "closed" not in plan_figures(plan)[0][1]
    read(made(plan))


def test_limits_are_drawn_without_gaps(planned: Plan) -> None:
    # exact: together the stretches of one curve hold every point, and each begins where the one before ended
    assert planned.vented is not None
    found = stretches(planned.vented.limited_by)
    assert [word for word, _ in found] == [
        word for place, word in enumerate(planned.vented.limited_by)
        if place == 0 or word != planned.vented.limited_by[place - 1]
    ]  # fmt: skip
    assert len({word for word, _ in found}) == 3
    for (_, before), (_, after) in pairwise(found):
        assert before[-1] == after[0]
    assert np.array_equal(np.unique(np.concatenate([places for _, places in found])), np.arange(300))


def test_heads_of_the_vent_table(planned: Plan) -> None:
    assert planned.design.vent is not None
    slot = replace(planned.design.vent, shape="rectangular", width_m=0.15, height_m=0.02)
    plan = replace(planned, design=replace(planned.design, vent=slot))
    assert "height, mm" in made(plan)
    assert "height of one vent, mm" in plan_figures(plan)[-1][1]
