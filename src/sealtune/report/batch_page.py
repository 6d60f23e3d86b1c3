"""The page of a batch: what needs work first, who goes with whom, and whether the production drifts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from html import escape

from sealtune.records.batch import Batch, BatchCabinet
from sealtune.report.batch_text import (
    CHARTS,
    chart_words,
    counts_words,
    drift_words,
    limits_words,
    pair_lines,
    rows,
    to_do_words,
)
from sealtune.report.cautions import CAUTIONS
from sealtune.report.chart_figure import chart_figure
from sealtune.report.content import INTERVALS, VERDICT_WORDS, capital, clean, number, sentence
from sealtune.report.frame import frame, icon, safe


def batch_page(batch: Batch, *, made_at: datetime, program: str, notes: Sequence[str] = ()) -> str:
    """The whole page; arguments as for `page`."""
    counts = counts_words(batch)
    worst, todo = batch.worst, batch.to_do
    drift = [words for words in map(drift_words, batch.charts) if words]
    step = to_do_words(todo[0]) if todo else "Nothing to do on the cabinets."
    more = "".join(f'<p class="step"><b>Production:</b> {safe(words)}</p>' for words in drift[:1])
    label = (
        f'<div class="tag {worst}"><div class="side">{icon(worst)}</div><div class="face">'
        f'<h1><span class="name">{safe(batch.folder)}</span> <span class="word">{VERDICT_WORDS[worst]}</span></h1>'
        f'<p class="reason">{escape(counts)}</p><p class="step">{"<b>First:</b> " if todo else ""}'
        f"{safe(step)}</p>{more}</div></div>"
    )
    tables = f'<div class="pair"><div>{_cabinets(batch)}</div><div>{_pairs(batch)}{_passed_over(batch)}</div></div>'
    return frame(
        label + tables + _to_do(todo) + _production(batch),
        title=f"{clean(batch.folder)}: {counts} - box check",
        kind="Batch check",
        subject=batch.folder,
        made_at=made_at,
        program=program,
        notes=notes,
        cautions=CAUTIONS,
        cautions_title="Before you work on them",
        foot=INTERVALS,
    )


def _cabinets(batch: Batch) -> str:
    head, *body = rows(batch)
    heads = "".join(f'<th scope="col">{escape(capital(cell))}</th>' for cell in head)
    lines = "".join(
        f'<tr class="{cabinet.verdict}{"" if cabinet.verdict == "good" else " out"}">'
        f'<th scope="row">{safe(row[0])}</th>'
        + "".join(f"<td>{safe(cell)}</td>" for cell in row[1:])
        + "</tr>"
        for cabinet, row in zip(batch.cabinets, body, strict=True)
    )
    return (
        "<section><h2>Cabinets, those that need most work first</h2>"
        f"<table><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table></section>"
    )


def _pairs(batch: Batch) -> str:
    if not batch.pairs and not batch.left_over:
        return ""
    items = [line.strip() for line in pair_lines(batch)]
    items += [f"Without a mate: {clean(name)}" for name in batch.left_over]
    total = (
        f"<p>Together {number(batch.total_mismatch_db, 2)} dB, the least there is.</p>" if batch.pairs else ""
    )
    listed = "".join(f"<li>{safe(item)}</li>" for item in items)
    return f'<section class="long"><h2>Best pairs</h2><ul class="plain">{listed}</ul>{total}</section>'


def _to_do(todo: Sequence[BatchCabinet]) -> str:
    if not todo:
        return ""
    items = "".join(
        f'<li class="{one.verdict}"><h3><span class="name">{safe(one.name)}</span> '
        f"{safe(capital(sentence(one.reason)))}</h3><p>{safe(sentence(one.step))}</p></li>"
        for one in todo
    )
    return f'<section class="long"><h2>To do</h2><ul class="jobs">{items}</ul></section>'


def _production(batch: Batch) -> str:
    if not batch.charts:
        return ""
    figures = ""
    for place, chart in enumerate(batch.charts):
        design = f" of {safe(chart.design)}" if chart.design else ""
        words = chart_words(chart) or "No drift, and nothing beyond the limits."
        figures += (
            f"<figure><h3>{capital(CHARTS[chart.quantity])}{design}</h3>{chart_figure(chart, prefix=f'b{place}-')}"
            f"<figcaption>{safe(words)}</figcaption></figure>"
        )
    return (
        f'<section class="long"><h2>Production</h2><div class="charts">{figures}</div>'
        f"<p>{safe(limits_words(batch.charts))}</p></section>"
    )


def _passed_over(batch: Batch) -> str:
    if not batch.passed_over:
        return ""
    names = "".join(f"<li>{safe(name)}</li>" for name in batch.passed_over)
    return f'<section><h2>Passed over: no recording of the open vent</h2><ul class="plain">{names}</ul></section>'
