"""The short summary for the terminal: at most 15 lines, verdict first, then what to do, then the numbers."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from sealtune.judgement.summary import WIRING
from sealtune.records.verdict import Result
from sealtune.report.content import (
    FAULT_TITLES,
    PROBLEM_TITLES,
    box_q_words,
    chance_words,
    clean,
    curve_words,
    decimals_for,
    doubted,
    first_step,
    headline,
    leak_words,
    number,
    percent,
    ranked_findings,
    ranked_problems,
    sentence,
    span,
    tuning_words,
    vent_words,
)
from sealtune.report.cost_words import cost_words, worth_telling
from sealtune.report.loss_words import loss_words, worth_a_line
from sealtune.report.near_field_words import near_field_words
from sealtune.report.remarks import remarks
from sealtune.report.since import since_words

MOST_LINES = 15
LEAST_WIDTH = 40
_LABEL_COLUMNS = 11
_MOST_LINES_IF_NEEDED = 4
_MOST_LINES_IF_OPTIONAL = 3


_OPTIONAL = 10

BOTH = 1.1
"""Two causes whose probabilities sum to more are no alternatives: they are probably there at once."""


@dataclass(frozen=True)
class _Block:
    """A labelled paragraph; low urgency gets lines first, from _OPTIONAL on it may be dropped."""

    label: str
    text: str
    urgency: int


def columns(text: str) -> int:
    """How many terminal columns a text takes: wide characters count two, combining marks none."""
    return sum(
        0 if unicodedata.combining(char) else 2 if unicodedata.east_asian_width(char) in "WF" else 1
        for char in text
    )


def aligned(rows: Sequence[Sequence[str]], left: Collection[int]) -> list[str]:
    """Rows of cells as lines, two blanks between the columns.

    left: the columns that begin at one place; the other ones end at one
    """
    widths = [max(map(columns, cells)) for cells in zip(*rows, strict=True)]
    lines = []
    for row in rows:
        gaps = [" " * (wide - columns(cell)) for cell, wide in zip(row, widths, strict=True)]
        told = (
            cell + gap if n in left else gap + cell
            for n, (cell, gap) in enumerate(zip(row, gaps, strict=True))
        )
        lines.append("  ".join(told).rstrip())
    return lines


def _pieces(word: str, width: int) -> list[str]:
    """A word broken where it alone is wider than a line; nothing is lost."""
    pieces, piece = [], ""
    for char in word:
        if columns(piece + char) > width:
            pieces.append(piece)
            piece = ""
        piece += char
    return [*pieces, piece]


def wrapped(text: str, width: int) -> list[str]:
    """The text in lines of at most `width` columns; only a word wider than a line is broken."""
    lines: list[str] = []
    line = ""
    for word in [piece for whole in text.split() for piece in _pieces(whole, width)]:
        longer = f"{line} {word}" if line else word
        if columns(longer) <= width:
            line = longer
        else:
            lines.append(line)
            line = word
    return [*lines, line]


def _shortened(lines: list[str], most: int, width: int) -> list[str]:
    """The first `most` lines, ending with "..." after a whole word where something had to be left out."""
    if len(lines) <= most:
        return lines
    kept = lines[:most]
    words = kept[-1].split(" ")
    while len(words) > 1 and columns(" ".join(words)) + 4 > width:
        words.pop()
    last = " ".join(words)
    kept[-1] = f"{last} ..." if columns(last) + 4 <= width else "..."
    return kept


def _findings(result: Result) -> list[_Block]:
    good, spoilt = result.verdict == "good", result.verdict == "remeasure"
    blocks = [_Block("Do", first_step(result), 1)] if good else []
    findings = ranked_findings(result)[: 1 if spoilt else 3]
    for place, finding in enumerate(findings, start=1):
        # resistance and the box fail apart: the one does not explain the other
        apart = (finding.fault in WIRING) != (findings[0].fault in WIRING)
        apart = apart or finding.probability + findings[0].probability > BOTH
        other = "Also" if apart else "Or else"
        label = "Watch" if good else "Perhaps" if spoilt else "Do" if place == 1 else other
        chance = f"{chance_words(finding.probability)} ({percent(finding.probability)})"
        title = f"{FAULT_TITLES[finding.fault]}, {chance}"
        blocks.append(
            _Block(
                label,
                f"{title}: {sentence(finding.remedy)}",
                1 if place == 1 and not (good or spoilt) else 10 + 2 * place,
            )
        )
    if not blocks and result.verdict == "rework":
        blocks.append(_Block("Do", first_step(result), 1))
    return blocks


def _problems(result: Result) -> list[_Block]:
    spoilt = result.verdict == "remeasure"
    blocks = []
    for place, problem in enumerate(ranked_problems(result)[:3]):
        title = PROBLEM_TITLES[problem.problem]
        if spoilt:
            told = "" if place == 0 else f" ({title[0].upper()}{title[1:]}: {clean(problem.detail)})"
            text = f"{sentence(problem.remedy)}{told}"  # the summary tells the first one
        else:
            text = f"{title[0].upper()}{title[1:]}: {sentence(problem.detail)} {sentence(problem.remedy)}"
        blocks.append(
            _Block(
                "Do" if spoilt and place == 0 else "Also" if spoilt else "Recording",
                text,
                1 if spoilt and place == 0 else 15 + 2 * place,
            )
        )
    if spoilt and not blocks:
        blocks.append(_Block("Do", first_step(result), 1))
    return blocks


def _numbers(result: Result) -> list[_Block]:
    blocks = [_Block("Tuning", tuning_words(result), 5), _Block("Curve", curve_words(result), 6)]
    if result.fit is not None:
        q = result.fit.box_q
        places = min(1, decimals_for(q))
        blocks.append(
            _Block("Box Q", f"{number(q.value, places)} ({span(q, places)}), {box_q_words(result)}", 7)
        )
        if worth_a_line(result.fit):
            words = loss_words(result.fit.losses)
            blocks.append(_Block("Losses", words[:1].upper() + words[1:], 8))
    if result.length_change_m is not None:
        vents = result.design.vent.count if result.design and result.design.vent else 1
        blocks.append(_Block("Vent", vent_words(result.length_change_m, result.leak.probability, vents), 6))
    blocks.append(_Block("Leak", leak_words(result), 5))
    if result.next_measurement is not None:
        blocks.append(_Block("Next", result.next_measurement.words, 4))
    if result.near_field is not None:
        words = near_field_words(result.near_field)
        blocks.append(_Block("Sound", words[:1].upper() + words[1:], 8))
    if result.cost is not None and worth_telling(result):
        words = cost_words(result.cost)
        if result.findings and result.findings[0].fault == "driver_off":
            words += "; what the driver itself is off is not counted"
        blocks.append(_Block("Costs", words[:1].upper() + words[1:], 9))
    return blocks


def _granted(blocks: list[_Block], wanted: list[int]) -> tuple[list[int], int]:
    """How many lines each block gets, and how many blocks get none.

    Every needed block has one line for certain; then the most urgent take what they want,
    up to four lines, three if they may be left out.
    """
    granted = [int(block.urgency < _OPTIONAL) for block in blocks]
    by_urgency = sorted(range(len(blocks)), key=lambda place: blocks[place].urgency)
    capped = [
        min(lines, _MOST_LINES_IF_OPTIONAL if block.urgency >= _OPTIONAL else _MOST_LINES_IF_NEEDED)
        for lines, block in zip(wanted, blocks, strict=True)
    ]
    spare = MOST_LINES - sum(granted) - int(sum(capped) > MOST_LINES)
    for place in by_urgency:
        extra = min(capped[place] - granted[place], spare)
        granted[place] += extra
        spare -= extra
    left_out = granted.count(0)
    if not left_out and sum(capped) > MOST_LINES:
        cut = [place for place in by_urgency if granted[place] < capped[place]]
        granted[cut[0]] += 1
    return granted, left_out


def summary_text(result: Result, *, width: int = 100) -> str:
    """The result for a person at the bench, in at most 15 lines.

    result: any result, however incomplete
    width: columns of the terminal, at least 40 (less is taken as 40)
    returns: lines joined by line feeds, none wider than `width`: verdict, what to do, numbers.
        What does not fit ends in "..." after a whole word; only a word wider than a line is broken.
    """
    width = max(width, LEAST_WIDTH)
    actions, problems = _findings(result), _problems(result)
    spoilt = result.verdict == "remeasure"
    blocks = [
        _Block("", headline(result), 0),
        *(problems + actions if spoilt else actions),
        *_numbers(result),
        *([] if spoilt else problems),
        *(_Block("Note", remark[:1].upper() + remark[1:], _OPTIONAL + 1) for remark in remarks(result)),
    ]
    summary = sentence(result.summary)
    if summary:
        blocks.insert(1, _Block("", summary, 3 if doubted(result) else 16))  # it says what is likelier
    if result.comparison is not None:
        blocks.insert(2 if summary else 1, _Block("Since", since_words(result.comparison), 2))

    def room(block: _Block) -> int:
        return width - _LABEL_COLUMNS if block.label else width

    granted, left_out = _granted(blocks, [len(wrapped(block.text, room(block))) for block in blocks])
    lines: list[str] = []
    for block, most in zip(blocks, granted, strict=True):
        for place, line in enumerate(
            _shortened(wrapped(block.text, room(block)), most, room(block)) if most else ()
        ):
            margin = (block.label if place == 0 else "").ljust(_LABEL_COLUMNS) if block.label else ""
            lines.append(f"{margin}{line}".rstrip())
    if left_out:
        count = "1 remark" if left_out == 1 else f"{left_out} remarks"
        lines.append("More".ljust(_LABEL_COLUMNS) + f"{count} in the report")
    return "\n".join(lines)
