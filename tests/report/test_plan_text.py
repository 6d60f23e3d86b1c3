"""The plan on the terminal: what to cut and how sure it is first, hints for what is missing, the own row marked."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import pytest

from sealtune.records.design import Driver, Tuning, Vent
from sealtune.records.plan import Plan, VolumeChoice
from sealtune.report.plan_facts import facts
from sealtune.report.plan_tables import vent_table, volume_table
from sealtune.report.plan_text import plan_text
from sealtune.report.plan_words import digits, headline, spare_mm
from sealtune.report.text import columns


def flat(plan: Plan, width: int = 100) -> str:
    return " ".join(plan_text(plan, width=width).split())


def fact(plan: Plan, label: str) -> str:
    return " ".join(one.text for one in facts(plan) if one.label == label)


def test_headline_says_what_to_cut_and_the_tuning_against_its_target(planned: Plan) -> None:
    lines = plan_text(planned).splitlines()
    assert lines[0] == "Bookshelf: GO AHEAD - Cut the vent to 200 mm."
    # the fixture's own numbers: 44.0 Hz, 3.5 % to either side, target 44.0 Hz with 4 %
    assert lines[1] == "Tuning    44.0 Hz (42.5 to 45.5); target 44.0 Hz, met from 42.2 to 45.8 Hz."


def test_another_length_is_asked_for_where_the_given_one_misses_the_band(planned: Plan) -> None:
    assert planned.design.vent is not None
    off = replace(
        planned,
        design=replace(
            planned.design, vent=replace(planned.design.vent, length_m=0.14, length_is_computed=False)
        ),
        prediction=replace(planned.prediction, tuning_hz=50.6),
        expected={**planned.expected, "tuning_hz": replace(planned.expected["tuning_hz"], value=50.6)},
    )
    top = headline(off)
    assert top.word == "CHANGE THE VENT"
    assert top.step == "Cut the vent to 200 mm instead of 140 mm for 44.0 Hz."
    assert top.reason.endswith("too high")
    never = replace(off, length_for_target_m=-0.003)
    assert "No length of this opening reaches 44.0 Hz" in headline(never).step


def test_cut_long_where_the_interval_is_wider_than_the_band(planned: Plan) -> None:
    narrow = replace(planned, prediction=replace(planned.prediction, low_hz=43.5, high_hz=44.5))
    # exact: the high end is 44.0 x 1.035 = 45.54 Hz, 1.54 Hz above; at 0.09 Hz per mm that is 17.1, so 18 mm
    assert spare_mm(narrow) == 18
    assert headline(narrow).word == "CUT LONG, THEN TRIM"
    assert "18 mm longer at first" in headline(narrow).step


def test_what_speaks_against_the_own_vent_is_told_first(planned: Plan) -> None:
    vents = tuple(replace(one, against=("it hisses",)) if one.designed else one for one in planned.vents)
    top = headline(replace(planned, vents=vents))
    assert (top.word, top.kind) == ("TAKE A SECOND LOOK", "remeasure")
    assert "but: it hisses." in top.step


def test_without_a_vent_the_design_asks_for_one(planned: Plan) -> None:
    bare = replace(
        planned,
        design=replace(planned.design, vent=None),
        prediction=replace(planned.prediction, tuning_hz=None, effective_length_m=None),
        hz_per_mm=None,
        length_for_target_m=None,
        pipe_hz=None,
        vents=(),
    )
    assert headline(bare).word == "NO VENT YET"
    assert "Target 44.0 Hz" in flat(bare)
    assert "Cut " not in flat(bare)


def test_every_line_tells_its_numbers(planned: Plan) -> None:
    vent = fact(planned, "Vent")
    for words in (
        "Round, 60 mm across, 28.3 cm²",
        "200 mm from mouth to mouth",
        "243 mm with the air",
        "0.09 Hz",
        "705 Hz",
    ):
        assert words in vent
    assert "air at the vent's ends 75 %, box volume 20 %, vent opening 4 %" in fact(planned, "Sure to")
    assert "temperature" not in fact(planned, "Sure to")  # 1 % decides nothing
    assert "lower peak 26.7 Hz (23.5 to 29.9)" in fact(planned, "Expect")
    assert "upper peak 79.4 Hz (70.7 to 88.1), 48 ohm" in fact(planned, "Expect")
    # exact: h 0.98 x 48 Hz = 47.0 Hz; 21 litres / 1.25 = 16.8 litres
    assert "QB3, flat with a soft knee (47.0 Hz, 16.8 litres)" in fact(planned, "Sound")
    assert "orientation" in fact(planned, "Sound")
    assert "0.57 V rms" in fact(planned, "Sweep")
    assert "10 % of x_max" in fact(planned, "Sweep")
    assert fact(planned, "Note") == "Q_TS 0.38 was worked out from Q_MS and Q_ES."


def test_what_gives_out_first_stands_first(planned: Plan) -> None:
    # exact: air of 4.71 % of the speed of sound at 23 W reaches 5 % with 23 (5/4.71)^2 = 25.9 W
    assert "first: cone travel (23 W), vent air (26 W), rated power (60 W)" in fact(planned, "Limits")
    assert "E²/R_E" in fact(planned, "Limits")
    air = fact(planned, "Vent air")
    assert "16 m/s peak at 45 Hz with 23 W (4.7 % of the speed of sound): quiet enough" in air
    assert "17 m/s (5 %), 23 cm² of opening (here 28) [Small1973, Part II, from memory]" in air
    assert planned.limits is not None
    windy = replace(planned, limits=replace(planned.limits, air_speed_m_s=24.0, air_speed_share=0.07))
    # exact: 23 (5/7)^2 = 11.7 W
    assert "first: vent air (12 W)" in fact(windy, "Limits")
    assert "likely to be heard" in fact(windy, "Vent air")
    top = headline(windy)
    assert (top.word, top.step) == (
        "GO AHEAD",
        "Cut the vent to 200 mm; its air will be heard at full power.",
    )


def test_small_numbers_keep_their_digits(planned: Plan) -> None:
    assert planned.limits is not None
    assert planned.limits.above is not None
    # exact: two significant digits of the numbers given
    little = replace(planned.limits, above=replace(planned.limits.above, power_w=0.003421), usable_w=0.003421)
    tiny = replace(planned, limits=little, sweep=replace(planned.sweep, volts=0.000716), hz_per_mm=-0.0021)
    text = flat(tiny)
    assert "with 0.0034 W (at 65 Hz) from the tuning upwards" in text
    assert "At most 0.00072 V rms" in text
    assert "lowers the tuning by 0.002 Hz" in text
    assert "Air: fastest with 0.0034 W" in text
    assert not re.search(r"\b0\.00? (W|V|Hz|mm|cm²)", text)


@pytest.mark.parametrize(
    ("value", "decimals", "least", "words"),
    [
        # exact
        (0.0, 2, 2, "0.00"), (1e-9, 2, 2, "under 0.000001"), (0.00995, 1, 2, "0.0100"), (0.1, 1, 2, "0.10"),
        (0.56789, 2, 2, "0.57"), (12.34, 0, 2, "12"), (0.4, 0, 1, "0.4"), (float("nan"), 1, 2, "not known"),
    ],
)  # fmt: skip
def test_digits(value: float, decimals: int, least: int, words: str) -> None:
    assert digits(value, decimals, least) == words


def test_columns_without_a_value_are_left_out(bare: Plan) -> None:
    vents, volumes = vent_table(bare), volume_table(bare)
    assert vents is not None
    assert volumes is not None
    assert [word for word, _ in vents.heads] == ["bore", "count", "length", "pipe", "takes"]
    assert "air" not in vents.foot.lower()
    assert [word for word, _ in volumes.heads] == ["volume", "length"]
    assert volumes.foot == ""
    assert {len(row.cells) for row in volumes.rows} == {2}
    # without a vent nothing is left to tell
    shapeless = replace(
        bare, design=replace(bare.design, vent=None), vents=(),
        volumes=tuple(replace(one, length_m=None) for one in bare.volumes),
    )  # fmt: skip
    assert volume_table(shapeless) is None
    assert "Other" not in flat(shapeless)


def test_a_volume_tells_what_speaks_against_its_vent(planned: Plan) -> None:
    small, own, large = planned.volumes
    none = VolumeChoice(0.05, None, None, None, None, None, False, ("no length reaches 44 Hz",))
    table = volume_table(replace(planned, volumes=(small, own, large, none)))
    assert table is not None
    assert [row.fits for row in table.rows] == [True, True, True, False]
    assert table.rows[3].cells == ("50.0", "-", "-", "-", "-", "-")
    text = plan_text(replace(planned, volumes=(small, own, large, none)))
    assert any(
        line.split()[:2] == ["50.0", "-"] and line.endswith("reaches 44 Hz") for line in text.splitlines()
    )


def test_no_length_at_all_is_no_missing_vent(planned: Plan) -> None:
    missed = replace(planned.prediction, low_hz=90.0, target_hz=95.0, high_hz=99.0)
    assert (
        headline(replace(planned, length_for_target_m=None, prediction=missed)).word == "NOT WITH THIS VENT"
    )
    # within tolerance the vent will do as it is, even where the exact one cannot be built
    assert headline(replace(planned, length_for_target_m=None)).word == "GO AHEAD"


def test_the_sweep_says_where_the_travel_is_not_known(planned: Plan) -> None:
    sweep = replace(planned.sweep, travel_share=None, power_share=0.004, because="usual level")
    driver = replace(planned.design.driver, xmax_m=None)
    told = fact(replace(planned, sweep=sweep, design=replace(planned.design, driver=driver)), "Sweep")
    assert told.endswith(
        "the coil takes 0.4 % of its rated power. A usual level; how far the cone moves is not known. "
        "Give [driver] xmax_mm to see that."
    )


def test_where_no_alignment_lies_near_that_is_no_fault(planned: Plan) -> None:
    assert planned.alignment is not None
    words = "No published alignment lies near; that is no fault."
    assert words in flat(replace(planned, alignment=replace(planned.alignment, family=None)))
    assert words not in flat(planned)


def test_the_price_of_the_vent_is_told(planned: Plan) -> None:
    closed = fact(planned, "Closed")
    assert "x_max takes 8.8 W closed, 1.8 W with the vent" in closed
    assert re.search(r"the vent makes it \d dB quieter and moves the cone 1\.\d times as far", closed)


@pytest.mark.parametrize("width", [40, 80, 100, 7])
def test_missing_data_lead_to_hints(bare: Plan, width: int) -> None:
    text = flat(bare, width)
    for words in (
        "Give [driver] fs_hz, qms, qes, vas_l and re_ohm to see the whole impedance curve.",
        "Give [driver] fs_hz, qms, qes and vas_l to see response and group delay.",
        "sd_cm2 and xmax_mm to see cone travel",
        "a usual level",
    ):
        assert words in text
    assert not re.search(r"\b(nan|inf|None)\b", text)


def test_only_what_is_missing_is_asked_for(bare: Plan) -> None:
    plan = replace(bare, design=replace(bare.design, driver=Driver(fs_hz=48.0, qms=4.2, qes=0.42)))
    assert "Give [driver] vas_l to see response and group delay." in flat(plan)
    assert "fs_hz" not in flat(plan)


def test_tables_mark_the_own_row_and_tell_what_speaks_against(planned: Plan) -> None:
    lines = plan_text(planned).splitlines()
    own = [line for line in lines if line.startswith("> ") and "design" not in line]
    assert [line.split() for line in own] == [
        [">", "60", "1", "200", "16", "705", "0.57"],
        [">", "18.0", "200", "1.17", "49.6", "23", "0.1"],
    ]
    assert any(
        line.split()[:2] == ["70", "1"] and line.endswith("longer than the box is deep") for line in lines
    )
    vents, volumes = vent_table(planned), volume_table(planned)
    assert vents is not None
    assert volumes is not None
    assert [row.designed for row in vents.rows] == [False, False, True, False, False, False]
    # a vent that reaches the tuning with no length has none
    assert vents.rows[4].cells[2] == "-"
    assert not vents.rows[4].fits


def test_long_tables_keep_the_own_row_its_neighbours_and_another_count(planned: Plan) -> None:
    one, own, two = planned.vents[0], planned.vents[2], planned.vents[5]
    narrower = tuple(replace(one, size_m=mm / 1e3) for mm in (30, 35, 40, 45, 50, 55))
    wider = tuple(replace(one, size_m=mm / 1e3) for mm in (65, 70, 75, 80))
    pairs = tuple(replace(two, size_m=mm / 1e3) for mm in (38, 42, 46))
    many = (*narrower, own, *wider, *pairs)
    text = plan_text(replace(planned, vents=many))
    shown = [line.split()[:2] for line in text.splitlines() if re.match(r"[> ] +\d+ +[12] ", line)]
    assert [">", "60"] in shown
    for row in (["55", "1"], ["65", "1"], ["42", "2"]):
        assert row in shown
    assert ["30", "1"] not in shown
    assert "7 more on the page." in " ".join(text.split())


@pytest.mark.parametrize("width", [40, 57, 80, 100, 140])
def test_no_line_is_wider_than_the_terminal(planned: Plan, width: int) -> None:
    lines = plan_text(planned, width=width).splitlines()
    assert max(columns(line) for line in lines) <= width
    assert lines == [line.rstrip() for line in lines]
    told = lines[: lines.index("")]
    for line, below in pairwise(told):
        assert not (re.search(r"\d$", line) and re.match(r" +(mm|Hz|%|W|ohm|dB|litres)\b", below)), line


def test_length_at_the_usual_width(planned: Plan) -> None:
    # our own aim: about 45 lines at 100 columns
    assert 30 <= len(plan_text(planned).splitlines()) <= 48


def test_names_are_one_line_and_printable(planned: Plan) -> None:
    text = plan_text(
        replace(planned, design=replace(planned.design, name="a\nb\x1b[31m\u202e"), notes=("c\x07d",))
    )
    assert text.startswith("a b?[31m: ")
    assert "\x1b" not in text
    assert "c?d." in text


@pytest.mark.parametrize(
    ("vent", "words"),
    [
        (Vent("rectangular", 0.003, 0.2, width_m=0.15, height_m=0.02), "Rectangular, 150 x 20 mm, 30.0 cm²"),
        (Vent("polygon", 0.0031, 0.2, sides=6, across_flats_m=0.06, count=2),
         "2 vents alike, 6-sided, 60 mm across flats, each 31.0 cm²"),
        (Vent("custom", 0.0031, 0.2), "Of a shape of its own, 31.0 cm²"),
    ],
)  # fmt: skip
def test_every_shape_has_words(planned: Plan, vent: Vent, words: str) -> None:
    assert fact(replace(planned, design=replace(planned.design, vent=vent)), "Vent").startswith(words)


def test_without_a_target_none_is_invented(planned: Plan) -> None:
    text = flat(replace(planned, design=replace(planned.design, tuning=Tuning(None, 0.04))))
    assert "no target given, so within 42.2 to 45.8 Hz" in text
