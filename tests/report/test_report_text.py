"""The terminal's summary: verdict first, never more than 15 lines, nothing cut mid-word."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sealtune.records.interval import Interval
from sealtune.records.verdict import FaultName, Finding, Leak, Problem, ProblemName, Result, VerdictWord
from sealtune.report.content import (
    FAULT_REASONS,
    FAULT_TITLES,
    PROBLEM_TITLES,
    VERDICT_WORDS,
    chance_words,
    leak_words,
    percent,
    vent_words,
)
from sealtune.report.text import columns, summary_text

TEXTS = st.text(max_size=600) | st.text("abc äß-漢字 ", max_size=900)
CHANCES = st.floats(0.0, 1.0)
INTERVALS = st.builds(Interval, *(st.floats(allow_nan=True, allow_infinity=True) for _ in range(3)))
FINDINGS = st.builds(Finding, st.sampled_from(get_args(FaultName)), CHANCES, TEXTS, TEXTS, TEXTS)
PROBLEMS = st.builds(Problem, st.sampled_from(get_args(ProblemName)), TEXTS, TEXTS, st.booleans())


def test_leaking_cabinet_says_verdict_then_what_to_do(leaking: Result) -> None:
    lines = summary_text(leaking).splitlines()
    assert lines[0] == "right: REWORK - the box leaks"
    assert any(line.startswith("Do ") and "Leak, almost certain (97 %)" in line for line in lines[1:3])
    text = " ".join(" ".join(lines).split())
    assert "run a bead of glue along the joint that leaks." in text
    # the fixture's own numbers: tuning 47.2 Hz, +-0.5 %, against 44.0 Hz (42.6 to 45.4): 47.2/44 - 1 = 7.27 %
    assert "47.2 Hz (47.0 to 47.4), designed 44.0 Hz (42.6 to 45.4): 7.3 % too high" in text
    assert "31 square mm (14 to 55)" in text
    assert "Move the leads away from mains cables." in text
    # a vent must not be cut while the box leaks
    assert "lengthen" not in text


def test_a_doubtful_finding_says_what_is_likelier(leaking: Result) -> None:
    # Exact: the sentence is there even where the lines are short; without it the verdict reads as an order
    said = "Rework: the box leaks, possibly, though it is likelier that nothing is wrong: box Q 9.1."
    first = replace(leaking.findings[0], probability=0.17)
    doubtful = replace(leaking, summary=said, findings=(first,))
    lines = summary_text(doubtful).splitlines()
    assert lines[0] == "right: REWORK - possibly the box leaks"
    assert lines[1] == said
    assert len(lines) <= 15
    # a certain one leaves the line to what else is known
    many = replace(leaking, summary=said, unknowns=("one thing is not known " * 20, "nor is another " * 20))
    assert said not in summary_text(many)
    assert said in summary_text(replace(many, findings=(first,)))


def test_good_cabinet_needs_nothing(good: Result) -> None:
    text = summary_text(good)
    assert text.startswith("left: GOOD - sealed and tuned as designed\n")
    assert "Nothing to do" in text
    assert "0.2 % low, within tolerance" in text
    # exact: ln spread 0.3 and 90 % range about 11: 11 exp(-+1.645 x 0.3) = 6.7 to 18.0
    assert "as a sealed box like this has: 7 to 18" in text


def test_spoilt_recording_says_how_to_make_it_again(remeasure: Result) -> None:
    lines = summary_text(remeasure).splitlines()
    assert lines[0] == "third: MEASURE AGAIN - the recording is overloaded (clipped)"
    assert any(line.startswith("Do") and "Turn the input down by 6 dB" in line for line in lines[:3])
    assert "could not be read" in summary_text(remeasure)


def test_without_design_no_target_is_invented(undesigned: Result) -> None:
    text = summary_text(undesigned)
    assert "no design to compare it with" in text
    assert "designed" not in text.split("Tuning")[1].splitlines()[0]
    # common practice: finished boxes show 5 to 20
    assert "usually shows: 5 to 20" in text


def test_vent_change_is_told_when_the_box_is_sealed(good: Result) -> None:
    short = replace(good, verdict="rework", length_change_m=Interval(-0.0123, -0.0141, -0.0102))
    assert "shorten by 12 mm (10 to 14)" in summary_text(short)
    long = replace(good, verdict="rework", length_change_m=Interval(0.0123, 0.0102, 0.0141))
    assert "lengthen by 12 mm (10 to 14)" in summary_text(long)


@pytest.mark.parametrize(
    ("box_q", "words"),
    [
        (3.0, "low, a sign"),
        (9.9, "as a sealed"),
        (7.2, "on the low side: a sealed box like this has about 11"),
        (40.0, "high, the box"),
    ],
)
def test_box_q_in_words(good: Result, box_q: float, words: str) -> None:
    assert good.fit is not None
    fit = replace(good.fit, box_q=Interval(box_q, 0.9 * box_q, 1.1 * box_q))
    line = next(
        line for line in summary_text(replace(good, fit=fit)).splitlines() if line.startswith("Box Q")
    )
    assert words in line


def test_first_remedy_is_whole_when_lines_are_short(leaking: Result) -> None:
    remedy = "Take off the driver, " + "check the gasket all round, " * 8 + "and put it back."
    crowded = replace(
        leaking,
        findings=tuple(
            Finding(fault, 0.9, "e " * 90, remedy, "c") for fault in ("leak", "vent_short", "overstuffed")
        ),
        problems=tuple(
            Problem(name, "d " * 90, "r " * 90, False) for name in ("hum", "noisy", "level_dependent")
        ),
    )
    text = summary_text(crowded)
    assert len(text.splitlines()) <= 15
    assert remedy in " ".join(text.split())
    assert "remarks in the report" in text.splitlines()[-1]


def test_long_name_is_wrapped_and_never_cut_mid_word(good: Result) -> None:
    name = " ".join(f"word{number:03d}" for number in range(12))
    text = summary_text(replace(good, cabinet=name))
    assert name in " ".join(text.split())
    words = {*name.split(), "..."}
    shortened = summary_text(replace(good, cabinet=" ".join([name] * 9))).splitlines()[:4]
    assert all(word in words for line in shortened for word in line.split())
    assert shortened[-1].endswith(" ...")


def test_controls_cannot_reach_the_terminal(good: Result) -> None:
    text = summary_text(replace(good, cabinet="a\x1b[2Jb\u202ec\nd\udc80", summary="x\r\ny"))
    assert all(char == "\n" or char.isprintable() for char in text)
    assert text.splitlines()[0].startswith("a?[2Jbc d?: GOOD")


def test_every_name_has_its_words() -> None:
    assert set(FAULT_TITLES) == set(FAULT_REASONS) == set(get_args(FaultName))
    assert set(PROBLEM_TITLES) == set(get_args(ProblemName))
    assert set(VERDICT_WORDS) == set(get_args(VerdictWord))


def test_no_chance_is_told_as_certain() -> None:
    assert [percent(chance) for chance in (0.0, 0.3, 1.0)] == ["under 1 %", "30 %", "over 99 %"]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(
    cabinet=TEXTS,
    summary=TEXTS,
    verdict=st.sampled_from(get_args(VerdictWord)),
    likeness=st.none() | TEXTS,
    chance=CHANCES,
    area=st.none() | INTERVALS,
    tuning=INTERVALS,
    box_q=INTERVALS,
    change=st.none() | INTERVALS,
    findings=st.lists(FINDINGS, max_size=5),
    problems=st.lists(PROBLEMS, max_size=5),
    width=st.integers(40, 120),
    bare=st.booleans(),
)
def test_fifteen_lines_hold_for_any_result(
    good: Result,
    cabinet: str,
    summary: str,
    verdict: VerdictWord,
    likeness: str | None,
    chance: float,
    area: Interval | None,
    tuning: Interval,
    box_q: Interval,
    change: Interval | None,
    findings: list[Finding],
    problems: list[Problem],
    width: int,
    bare: bool,
) -> None:
    assert good.fit is not None
    result = replace(
        good,
        cabinet=cabinet,
        summary=summary,
        verdict=verdict,
        leak=Leak(chance, area, likeness),
        fit=None if bare else replace(good.fit, tuning_hz=tuning, box_q=box_q),
        length_change_m=change,
        findings=tuple(findings),
        problems=tuple(problems),
        prediction=None if bare else good.prediction,
        landmarks=None if bare else good.landmarks,
    )
    lines = summary_text(result, width=width).splitlines()
    assert 1 <= len(lines) <= 15
    assert max(columns(line) for line in lines) <= width
    if len(cabinet) < 10:
        assert VERDICT_WORDS[verdict] in " ".join(lines[:2])


def test_words_for_chances_go_with_the_numbers_beside_them(good: Result) -> None:
    assert (chance_words(0.796), chance_words(0.804)) == ("very likely", "very likely")  # both print as 80 %
    told = leak_words(replace(good, leak=Leak(0.31, Interval(0.0, 0.0, 20.0), None)))
    assert told == "possible (31 %); what could hide is at most 20 square mm"


def test_causes_that_may_be_there_at_once_are_no_alternatives(good: Result) -> None:
    def labels(first: float, second: float) -> set[str]:
        found = (
            Finding("vent_short", first, "E.", "Lengthen it.", "C."),
            Finding("leak", second, "E.", "Seal it.", "C."),
        )
        lines = summary_text(replace(good, verdict="rework", findings=found)).splitlines()
        return {line.split(" ")[0] for line in lines} | {" ".join(line.split(" ")[:2]) for line in lines}

    assert "Also" in labels(0.99, 0.4)
    assert "Or else" in labels(0.63, 0.42)


def test_each_of_several_vents_has_its_change() -> None:
    assert vent_words(Interval(0.0123, 0.0102, 0.0141), 0.0, 2).startswith("each of the 2: lengthen by 12 mm")
