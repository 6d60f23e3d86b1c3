"""The report on paper, as PDF: the same as the page says, of cabinets, of a pair, of a batch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial

from sealtune.records.batch import Batch
from sealtune.records.pair import Pair
from sealtune.records.verdict import Result
from sealtune.report.batch_text import (
    CHARTS,
    chart_words,
    counts_words,
    drift_words,
    limits_words,
    pair_lines,
    to_do_words,
)
from sealtune.report.batch_text import rows as batch_rows
from sealtune.report.cabinet_sheets import (
    GAP_PT,
    LEFT_PT,
    RIGHT_PT,
    TRACE_PT,
    bullets,
    cabinet_sheets,
    label,
    row_table,
)
from sealtune.report.cautions import CAUTIONS
from sealtune.report.chart_figure import draw_chart
from sealtune.report.content import INTERVALS, VERDICT_WORDS, capital, clean, headline, number, sentence
from sealtune.report.pair_figures import draw_levels, draw_traces
from sealtune.report.pair_page import DIFFERENCE_HEADS, difference_notes, difference_rows
from sealtune.report.pair_text import farther_words, impedance_words, level_words, match_words, step_lines
from sealtune.report.paper import COLUMN_PT, MARGIN_PT, Paper


def cabinets_pdf(
    results: Sequence[Result], *, made_at: datetime, program: str, notes: Sequence[str] = ()
) -> bytes:
    """Return the report of one cabinet or several as a PDF file; arguments as for `page`."""
    names = ", ".join(f"{clean(result.cabinet)} {VERDICT_WORDS[result.verdict]}" for result in results[:4])

    def fill(paper: Paper) -> None:
        if len(results) > 1:
            bullets(paper, [headline(result) for result in results], 9.0)
        for place, result in enumerate(results):
            if place or len(results) > 1:
                paper.new_sheet()
            cabinet_sheets(paper, result)

    subject = next((result.design.name for result in results if result.design is not None), "")
    return _made(fill, f"{names} - box check", f"Box check of {subject}", made_at, program, notes)


def pair_pdf(pair: Pair, *, made_at: datetime, program: str, notes: Sequence[str] = ()) -> bytes:
    """Return the report of two cabinets as a PDF file; arguments as for `page`."""
    names = f"{clean(pair.left.cabinet)} and {clean(pair.right.cabinet)}"
    word, _, why = match_words(pair).partition(" - ")

    def fill(paper: Paper) -> None:
        top = paper.y
        paper.y = label(paper, pair.verdict, names, word, sentence(capital(why)), step_lines(pair))
        drawn = pair.left.curve is not None and pair.right.curve is not None
        if drawn:
            x = MARGIN_PT + LEFT_PT + GAP_PT
            paper.figure(lambda part, size: draw_traces(part, pair, size), x, top, RIGHT_PT, TRACE_PT)
            paper.y = max(paper.y, top + TRACE_PT) + 4.0
        if pair.impedance is not None:
            paper.paragraph(capital(impedance_words(pair)) + ".", 7.2, colour="soft")
        for result in (pair.left, pair.right):
            paper.paragraph(headline(result), bold=True)
        if pair.bands:
            paper.heading("What the difference costs", 130.0)
            paper.paragraph(capital(level_words(pair)) + ".")
            paper.figure(
                lambda part, size: draw_levels(part, pair, size),
                MARGIN_PT,
                paper.y,
                COLUMN_PT * 0.7,
                110.0,
                letters_pt=7.0,
            )
            paper.y += 117.0
            if farther_words(pair):
                paper.paragraph(f"Farther from the design: {farther_words(pair)}.")
        if pair.differences:
            paper.heading("Differences")
            row_table(paper, difference_rows(pair), DIFFERENCE_HEADS, pair.verdict)
            bullets(paper, difference_notes(pair))
        for result in (pair.left, pair.right):
            paper.new_sheet()
            cabinet_sheets(paper, result)

    subject = pair.left.design.name if pair.left.design is not None else ""
    return _made(fill, f"{names} {word} - box check", f"Box check of {subject}", made_at, program, notes)


def batch_pdf(batch: Batch, *, made_at: datetime, program: str, notes: Sequence[str] = ()) -> bytes:
    """Return the report of a batch as a PDF file; arguments as for `page`."""
    counts = counts_words(batch)

    def fill(paper: Paper) -> None:
        drift = [("Production", words) for words in map(drift_words, batch.charts) if words]
        label(paper, batch.worst, batch.folder, VERDICT_WORDS[batch.worst], counts, drift[:1])
        paper.heading("Cabinets, those that need most work first")
        head, *body = batch_rows(batch)
        widths = [COLUMN_PT * share for share in (0.26, 0.2, 0.26, 0.1, 0.09, 0.09)]
        marked = [one.verdict != "good" for one in batch.cabinets]
        paper.table(
            [[capital(cell) for cell in head], *body], widths, marked=marked, colour="rework", size=7.4
        )
        if batch.to_do:
            paper.heading("To do")
            bullets(paper, [to_do_words(one) for one in batch.to_do])
        if batch.pairs or batch.left_over:
            paper.heading("Best pairs")
            bullets(paper, [line.strip() for line in pair_lines(batch)])
            bullets(paper, [f"Without a mate: {name}" for name in batch.left_over])
            paper.paragraph(f"Together {number(batch.total_mismatch_db, 2)} dB, the least there is.", 7.6)
        if batch.charts:
            paper.heading("Production", 170.0)
        for chart in batch.charts:
            height = 140.0
            paper.room(height + 34.0)
            of = f" of {chart.design}" if chart.design else ""
            paper.paragraph(f"{capital(CHARTS[chart.quantity])}{of}", bold=True)
            paper.figure(
                partial(draw_chart, chart=chart),
                MARGIN_PT,
                paper.y,
                COLUMN_PT * 0.8,
                height,
                legend_columns=4,
            )
            paper.y += height + 7.0
            words = chart_words(chart) or "No drift, and nothing beyond the limits."
            paper.paragraph(words, 7.4, after=5.0)
        if batch.charts:
            paper.paragraph(limits_words(batch.charts), 7.4, colour="soft")
        if batch.passed_over:
            paper.heading("Passed over: no recording of the open vent")
            bullets(paper, batch.passed_over)

    return _made(
        fill, f"{clean(batch.folder)}: {counts}", f"Batch check of {batch.folder}", made_at, program, notes
    )


def _made(
    fill: Callable[[Paper], None],
    title: str,
    kind: str,
    made_at: datetime,
    program: str,
    notes: Sequence[str],
) -> bytes:
    when = made_at.strftime("%Y-%m-%d %H:%M")
    paper = Paper(f"{clean(kind)}, made by {clean(program)} on {when}. {INTERVALS}")
    for note in dict.fromkeys(notes):
        paper.paragraph(note, 7.6, bold=True)
    fill(paper)
    paper.heading("Before you work on it")
    for caution in CAUTIONS:
        paper.paragraph(f"{caution.title}: {caution.text}", 7.0, after=0.5)
    return paper.pdf(title, program, made_at)
