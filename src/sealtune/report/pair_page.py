"""The page of two cabinets: whether they match, what to do about it, both curves, and then each by itself."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from html import escape

from sealtune.records.pair import Pair
from sealtune.report.cabinet_article import article, table
from sealtune.report.cautions import CAUTIONS
from sealtune.report.content import INTERVALS, VERDICT_WORDS, capital, clean, number, reason, sentence, signed
from sealtune.report.frame import frame, icon, safe
from sealtune.report.numbers import Row
from sealtune.report.pair_figures import levels_figure, traces_figure
from sealtune.report.pair_text import (
    MATCH_WORDS,
    QUANTITIES,
    farther_words,
    impedance_words,
    leak_words,
    level_words,
    match_words,
    sound_words,
    span_words,
    step_lines,
)


def pair_page(pair: Pair, *, made_at: datetime, program: str, notes: Sequence[str] = ()) -> str:
    """The whole page; arguments as for `page`."""
    word, _, why = match_words(pair).partition(" - ")
    names = f"{safe(pair.left.cabinet)} and {safe(pair.right.cabinet)}"
    steps = "".join(
        f'<p class="step"><b>{escape(label)}:</b> {safe(sentence(text))}</p>'
        for label, text in step_lines(pair)
    )
    label = (
        f'<div class="tag {pair.verdict}"><div class="side">{icon(pair.verdict)}</div><div class="face">'
        f'<h1><span class="name">{names}</span> <span class="word">{word}</span></h1>'
        f'<p class="reason">{safe(sentence(capital(why)))}</p>{steps}</div></div>'
    )
    traces = traces_figure(pair, prefix="pz-") or "<p>There are not two curves to show.</p>"
    words = f"<figcaption>{safe(capital(impedance_words(pair)))}.</figcaption>" if pair.impedance else ""
    first = (
        f'<div class="first"><div>{label}{_sides(pair)}</div><section class="trace"><h2>Both impedance traces</h2>'
        f"<figure>{traces}{words}</figure></section></div>"
    )
    return frame(
        f"{first}{_levels(pair)}{_differences(pair)}"
        + "\n".join(
            article(result, place, alone=False) for place, result in enumerate((pair.left, pair.right))
        ),
        title=f"{clean(pair.left.cabinet)} and {clean(pair.right.cabinet)} {MATCH_WORDS[pair.matched]} - box check",
        kind="Box check",
        subject=clean(pair.left.design.name) if pair.left.design is not None else "",
        made_at=made_at,
        program=program,
        notes=notes,
        cautions=CAUTIONS,
        cautions_title="Before you work on it",
        foot=INTERVALS,
        reads_curves=True,
    )


def _sides(pair: Pair) -> str:
    """Both verdicts in short, each leading to its cabinet."""
    return (
        '<div class="row">'
        + "".join(
            f'<div class="tag mini {result.verdict}"><div class="side">{icon(result.verdict)}</div><div class="face">'
            f'<h2><a href="#c{place}"><span class="name">{safe(result.cabinet)}</span> '
            f'<span class="word">{VERDICT_WORDS[result.verdict]}</span></a></h2>'
            f'<p class="reason">{escape(capital(reason(result)))}</p></div></div>'
            for place, result in enumerate((pair.left, pair.right))
        )
        + "</div>"
    )


def _levels(pair: Pair) -> str:
    drawn = levels_figure(pair, prefix="pl-")
    if not drawn:
        return ""
    farther = farther_words(pair)
    more = f"<p>Farther from the design: {safe(farther)}.</p>" if farther else ""
    return (
        f'<section class="level"><h2>What the difference costs</h2><figure>{drawn}'
        f"<figcaption>{safe(capital(level_words(pair)))}.</figcaption></figure>{more}</section>"
    )


DIFFERENCE_HEADS = ("What", "Left less right", "Between (95 %)", "Left and right")


def difference_rows(pair: Pair) -> list[Row]:
    """What differs by how much, as lines of a table with DIFFERENCE_HEADS."""
    lines = []
    for one in pair.differences:
        name, unit, places = QUANTITIES[one.name]
        both = " and ".join(number(value, places) + unit for value in (one.left, one.right))
        value = signed(one.difference.value, places) + unit
        lines.append(Row(name, value, span_words(one.difference, places), both, one.certain))
    return lines


def difference_notes(pair: Pair) -> list[str]:
    """What the table rests on."""
    told = [f"Leak, {leak_words(pair)}"] if pair.leak_probability is not None else []
    told += [sound] if (sound := sound_words(pair)) else []
    told += [*pair.notes, "What is marked differs for certain"]
    return [sentence(capital(text)) for text in told]


def _differences(pair: Pair) -> str:
    if not pair.differences:
        return ""
    listed = "".join(f"<li>{safe(text)}</li>" for text in difference_notes(pair))
    return (
        f'<section class="{pair.verdict}"><h2>Differences</h2>{table(difference_rows(pair), DIFFERENCE_HEADS)}'
        f'<ul class="plain">{listed}</ul></section>'
    )
