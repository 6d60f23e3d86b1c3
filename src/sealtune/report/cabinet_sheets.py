"""One cabinet on paper: the label, the tuning rule and the trace first, then all that is known, on two sheets of A4."""

from __future__ import annotations

from collections.abc import Sequence

from sealtune.records.verdict import Result, VerdictWord
from sealtune.report.bench import jobs, less_likely
from sealtune.report.content import (
    PROBLEM_TITLES,
    VERDICT_WORDS,
    box_q_words,
    capital,
    chance_words,
    curve_words,
    first_step,
    leak_words,
    percent,
    ranked_problems,
    reason,
    sentence,
)
from sealtune.report.cost_figure import draw_cost
from sealtune.report.cost_words import cost_note, cost_rows, cost_words
from sealtune.report.figures import draw_impedance
from sealtune.report.limits import limits
from sealtune.report.loss_words import loss_note, loss_rows
from sealtune.report.near_field_figure import draw_near_field
from sealtune.report.near_field_words import near_field_note, near_field_rows, near_field_words
from sealtune.report.numbers import Row, quality_rows, rows
from sealtune.report.paper import COLUMN_PT, MARGIN_PT, Paper
from sealtune.report.remarks import remarks
from sealtune.report.rule_on_paper import rule_on_paper
from sealtune.report.since import since_note, since_rows

LEFT_PT = 236.0
GAP_PT = 12.0
RIGHT_PT = COLUMN_PT - LEFT_PT - GAP_PT
TRACE_PT = 218.0

IN_PROSE = ("What it is", "In words")
"""Heads of columns that hold sentences, not numbers."""

_BAND_PT = 12.0


def cabinet_sheets(paper: Paper, result: Result) -> None:
    """Put a cabinet on the paper, from the top of a sheet on."""
    top = paper.y
    steps = [("Do this" if result.verdict != "good" else "", first_step(result))]
    label_end = label(
        paper, result.verdict, result.cabinet, VERDICT_WORDS[result.verdict], capital(reason(result)), steps
    )
    rule = rule_on_paper(paper, result, label_end + 6.0, LEFT_PT)
    right = MARGIN_PT + LEFT_PT + GAP_PT
    drawn = result.curve is not None and result.curve.frequency_hz.size > 1
    if drawn:
        paper.figure(lambda part, size: draw_impedance(part, result, size), right, top, RIGHT_PT, TRACE_PT)
    paper.y = max(rule, top + TRACE_PT if drawn else 0.0) + 4.0
    paper.paragraph(capital(curve_words(result)) + ".", 7.2, colour="soft")
    if result.summary.strip():
        paper.paragraph(sentence(result.summary), bold=True)
    _bench(paper, result)
    if result.comparison is not None:
        paper.heading(f"Since {result.comparison.file}")
        paper.paragraph(sentence(result.comparison.summary))
        row_table(
            paper,
            since_rows(result.comparison),
            ("What", "Before and now", "Change between (95 %)"),
            result.verdict,
        )
        paper.paragraph(since_note(result.comparison), 7.2, colour="soft")
    if loss_note(result):
        paper.heading("Where the box loses")
        row_table(paper, loss_rows(result), ("Loss", "Q", "Between (95 %)", "What it is"), result.verdict)
        paper.paragraph(loss_note(result), 7.6)
    _near_field(paper, result)
    _cost(paper, result)
    if remarks(result):
        paper.heading("Worth noting")
        bullets(paper, [capital(remark) for remark in remarks(result)])
    paper.heading("Numbers", 60.0)
    if result.fit:
        paper.paragraph(f"Box Q {box_q_words(result)}. Leak: {leak_words(result)}.", 7.6)
    row_table(paper, rows(result), ("What", "Measured", "Between (95 %)", "Designed"), result.verdict)
    _trust(paper, result)
    paper.heading("What this cannot tell")
    bullets(paper, limits(result))
    if result.sources:
        paper.heading("Files this rests on")
        lines = [(source.role, source.path.name, source.sha256[:12]) for source in result.sources]
        paper.table(
            [("Recording", "File", "SHA-256, first 12 digits"), *lines], (90.0, 250.0, 187.0), size=7.2
        )


def label(
    paper: Paper, verdict: VerdictWord, name: str, word: str, why: str, steps: Sequence[tuple[str, str]]
) -> float:
    """Put the label into the left column and return where it ends."""
    top, x, width = paper.y, MARGIN_PT + _BAND_PT + 9.0, LEFT_PT - _BAND_PT - 9.0
    paper.y += 3.0
    paper.paragraph(name, 8.5, x=x, width=width, colour="soft", after=1.0)
    paper.paragraph(
        word, 20.0 if len(word) < 9 else 16.0, x=x, width=width, bold=True, colour=verdict, after=0.0
    )
    paper.paragraph(why, 10.5, x=x, width=width, bold=True, after=3.0)
    for lead, text in steps:
        paper.paragraph(f"{lead}: {text}" if lead else text, 8.4, x=x, width=width, after=2.0)
    paper.block(MARGIN_PT, top, _BAND_PT, paper.y - top, verdict)
    return paper.y


def row_table(
    paper: Paper, lines: Sequence[Row], heads: Sequence[str], verdict: VerdictWord, *, x: float = MARGIN_PT,
    width: float = COLUMN_PT,
) -> None:  # fmt: skip
    """Put rows as a table of three columns, or of four where there are four heads."""
    if not lines:
        return
    cells = [[line.name, line.value, line.interval, line.designed][: len(heads)] for line in lines]
    if heads[-1] in IN_PROSE:
        shares: tuple[float, ...] = (0.3, 0.12, 0.14, 0.44) if len(heads) == 4 else (0.3, 0.2, 0.5)
    else:
        first = 0.34 if len(heads) == 4 else 0.54
        shares = (first, *((1.0 - first) / (len(heads) - 1),) * (len(heads) - 1))
    widths = [width * share for share in shares]
    marked = [line.stands_out for line in lines]
    paper.table([heads, *cells], widths, x=x, marked=marked, colour=verdict, size=7.4)


def bullets(paper: Paper, texts: Sequence[str], size: float = 7.6) -> None:
    """Put a list."""
    for text in texts:
        paper.room(size * 1.3)
        paper.write(MARGIN_PT, paper.y, "•", size)
        paper.paragraph(text, size, x=MARGIN_PT + 9.0, width=COLUMN_PT - 9.0, after=1.0)


def _bench(paper: Paper, result: Result) -> None:
    """What the step rests on, and what else may be done."""
    told = jobs(result)
    if not told and result.next_measurement is None:
        return
    paper.heading("On the bench")
    for job in told:
        chance = (
            ""
            if job.probability is None
            else f": {chance_words(job.probability)}, {percent(job.probability)}"
        )
        paper.paragraph(f"{job.title}{chance}", 8.6, bold=True, after=0.5)
        for term, text in job.lines:
            paper.paragraph(f"{term}: {text}", 7.8, x=MARGIN_PT + 9.0, width=COLUMN_PT - 9.0, after=0.5)
        paper.y += 2.0
    if rest := less_likely(result):
        paper.paragraph(rest, 7.8)
    if result.next_measurement is not None:
        paper.paragraph(f"Measure next: {result.next_measurement.words}", 8.2, bold=True)


def _near_field(paper: Paper, result: Result) -> None:
    near = result.near_field
    if near is None:
        return
    sound, height, width = near.sound, 122.0, 0.62 * COLUMN_PT
    words = capital(near_field_words(near)) + "."
    if sound is None:
        paper.heading("Close to cone and mouth")
        paper.paragraph(words, bold=True)
    else:
        paper.heading("Close to cone and mouth", height + 8.0)
        top, beside, rest = paper.y, MARGIN_PT + width + GAP_PT, COLUMN_PT - width - GAP_PT
        paper.figure(
            lambda part, size: draw_near_field(part, sound, size),
            MARGIN_PT,
            top,
            width,
            height,
            letters_pt=6.2,
            legend_columns=3,
        )
        paper.paragraph(words, 7.8, bold=True, x=beside, width=rest)
        paper.paragraph(near_field_note(result), 6.8, colour="soft", x=beside, width=rest)
        paper.y = max(paper.y, top + height) + 4.0
    row_table(paper, near_field_rows(near), ("What", "Found", "Between (95 %)", "In words"), result.verdict)


def _cost(paper: Paper, result: Result) -> None:
    cost = result.cost
    if cost is None:
        return
    height, width = 116.0, 0.62 * COLUMN_PT
    paper.heading("What it costs", height + 16.0)
    paper.paragraph(capital(cost_words(cost)) + ".", bold=True)
    top, beside = paper.y, MARGIN_PT + width + GAP_PT
    paper.figure(
        lambda part, size: draw_cost(part, cost, size),
        MARGIN_PT,
        top,
        width,
        height,
        letters_pt=6.6,
        legend_columns=4,
    )
    rest = COLUMN_PT - width - GAP_PT
    row_table(
        paper, cost_rows(cost), ("What", "As measured", "As designed"), result.verdict, x=beside, width=rest
    )
    paper.y = max(paper.y, top + height) + 4.0
    paper.paragraph(cost_note(cost), 7.2, colour="soft")


def _trust(paper: Paper, result: Result) -> None:
    paper.heading("Trust in the recording")
    if result.problems and result.verdict != "remeasure":
        bullets(
            paper,
            [
                f"{capital(PROBLEM_TITLES[one.problem])}. {sentence(one.detail)} {sentence(one.remedy)}"
                for one in ranked_problems(result)
            ],
        )
    elif not result.problems:
        paper.paragraph("No fault found in the recording.", 7.6)
    row_table(paper, quality_rows(result), ("What", "Found", "In words"), result.verdict)
