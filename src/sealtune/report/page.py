"""The report: one self-contained page, verdict first."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from html import escape

from sealtune.records.verdict import Finding, Result
from sealtune.report.cautions import CAUTIONS
from sealtune.report.content import (
    FAULT_TITLES,
    PROBLEM_TITLES,
    VERDICT_WORDS,
    box_q_words,
    capital,
    chance_words,
    clean,
    curve_words,
    first_step,
    leak_words,
    number,
    percent,
    ranked_findings,
    ranked_problems,
    reason,
    sentence,
    tuning_words,
)
from sealtune.report.cost_figure import cost_figure
from sealtune.report.cost_words import cost_note, cost_rows, cost_words
from sealtune.report.figures import impedance_figure
from sealtune.report.frame import frame, icon, safe
from sealtune.report.limits import limits
from sealtune.report.loss_words import loss_note, loss_rows
from sealtune.report.near_field_figure import near_field_figure
from sealtune.report.near_field_words import near_field_note, near_field_rows, near_field_words
from sealtune.report.numbers import Row, quality_rows, rows
from sealtune.report.remarks import remarks
from sealtune.report.scale import tuning_scale_figure
from sealtune.report.since import since_note, since_rows

_MOST_FULL_FINDINGS = 3
_CROWDED = 2400


def _tag(result: Result, level: str, *, link: str = "") -> str:
    """The label on the workpiece: name, verdict, reason, and what to do."""
    tuning = (
        f'<p class="more">Tuning {escape(tuning_words(result))}. <a href="#{link}">Details</a></p>'
        if link
        else ""
    )
    said = (
        "" if link or not result.summary.strip() else f'<p class="said">{safe(sentence(result.summary))}</p>'
    )
    lead = "" if result.verdict == "good" else "<b>Do this:</b> "
    return (
        f'<div class="tag {result.verdict}"><div class="side">{icon(result.verdict)}</div><div class="face">'
        f'<{level}><span class="name">{safe(result.cabinet)}</span> '
        f'<span class="word">{VERDICT_WORDS[result.verdict]}</span></{level}>'
        f'<p class="reason">{escape(capital(reason(result)))}</p>'
        f'<p class="step">{lead}{escape(first_step(result))}</p>{said}{tuning}</div></div>'
    )


def _how(pairs: Sequence[tuple[str, str]]) -> str:
    filled = [(term, sentence(text)) for term, text in pairs if text.strip()]
    return (
        '<dl class="how">'
        + "".join(f"<dt>{term}</dt><dd>{escape(text)}</dd>" for term, text in filled)
        + "</dl>"
    )


def _finding(finding: Finding, *, told: bool) -> str:
    width = round(100.0 * min(max(finding.probability, 0.0), 1.0))
    return (
        f'<li><h4>{FAULT_TITLES[finding.fault]} <span class="chance">'
        f'<span class="meter"><i style="width:{width}%"></i>'
        f"</span>{chance_words(finding.probability)}, {percent(finding.probability)}</span></h4>"
        + _how(
            (
                ("Do", "" if told else finding.remedy),
                ("Why", finding.evidence),
                ("To be sure", finding.confirm),
            )
        )
        + "</li>"
    )


def _jobs(result: Result) -> str:
    """What the label's step rests on, and what else may be done; the step itself is not said twice."""
    findings = ranked_findings(result)
    rework = result.verdict == "rework"
    items = [
        _finding(finding, told=rework and place == 0)
        for place, finding in enumerate(findings[:_MOST_FULL_FINDINGS])
    ]
    problems = [
        f"<li><h4>{capital(PROBLEM_TITLES[problem.problem])}</h4>"
        + _how((("Do", problem.remedy if place else ""), ("Why", problem.detail)))
        + "</li>"
        for place, problem in enumerate(ranked_problems(result))
    ]
    if result.verdict == "remeasure":
        items = problems + items
    rest = ", ".join(
        f"{FAULT_TITLES[one.fault].lower()} ({percent(one.probability)})"
        for one in findings[_MOST_FULL_FINDINGS:]
    )
    if rest:
        items.append(f"<li>Less likely: {rest}.</li>")
    if result.next_measurement is not None:
        items.append(f"<li><h4>Measure next</h4><p>{escape(result.next_measurement.words)}</p></li>")
    if not items:
        return ""
    return (
        f'<section class="long {result.verdict}"><h3>On the bench</h3>'
        f'<ul class="jobs">{"".join(items)}</ul></section>'
    )


def _table(lines: Sequence[Row], heads: Sequence[str]) -> str:
    body = "".join(
        f'<tr{" class=out" if row.stands_out else ""}><th scope="row">{escape(row.name)}</th>'
        f"<td>{escape(row.value)}</td><td>{escape(row.interval)}</td>"
        + (f"<td>{escape(row.designed)}</td>" if len(heads) == 4 else "")
        + "</tr>"
        for row in lines
    )
    head = "".join(f'<th scope="col">{head}</th>' for head in heads)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>".replace(
        "class=out", 'class="out"'
    )


def _trust(result: Result) -> str:
    lines = quality_rows(result)
    table = _table(lines, ("What", "Found", "In words")) if lines else "<p>No curve could be read.</p>"
    problems = ""
    if result.problems and result.verdict != "remeasure":
        problems = (
            '<ul class="plain">'
            + "".join(
                f"<li><b>{capital(PROBLEM_TITLES[one.problem])}.</b> {escape(sentence(one.detail))} "
                f"{escape(sentence(one.remedy))}</li>"
                for one in ranked_problems(result)
            )
            + "</ul>"
        )
    elif not result.problems:
        problems = "<p>No fault found in the recording.</p>"
    return f"<section><h3>Trust in the recording</h3>{problems}{table}</section>"


def _losses(result: Result) -> str:
    """Where the box loses its energy, and what each loss means; without a table where none is told."""
    note, lines = loss_note(result), loss_rows(result)
    if not note:
        return ""
    table = _table(lines, ("Loss", "Q", "Between (95 %)", "What it is")) if lines else ""
    return f'<section class="losses"><h3>Where the box loses</h3>{table}<p>{escape(note)}</p></section>'


def _cost(result: Result, name: str) -> str:
    """What the box loses against its design: level by third octaves, limits, and what it is heard on."""
    if result.cost is None:
        return ""
    wide = cost_figure(result, prefix=f"{name}kw-", css_class="wide")
    slim = cost_figure(result, prefix=f"{name}kn-", narrow=True, css_class="narrow")
    lines = cost_rows(result.cost)
    table = _table(lines, ("What", "As measured", "As designed")) if lines else ""
    return (
        f"<section><h3>What it costs</h3><p><b>{escape(capital(cost_words(result.cost)))}.</b></p>"
        f'<figure class="costs">{wide}{slim}'
        f"<figcaption>{escape(cost_note(result.cost))}</figcaption></figure>{table}</section>"
    )


def _near_field(result: Result, name: str) -> str:
    """What the microphone tells: cone, mouth, their sum and the design; empty without such a recording."""
    near = result.near_field
    if near is None:
        return ""
    wide = near_field_figure(result, prefix=f"{name}mw-", css_class="wide")
    slim = near_field_figure(result, prefix=f"{name}mn-", narrow=True, css_class="narrow")
    figure = (
        f"<figure>{wide}{slim}<figcaption>{escape(near_field_note(result))}</figcaption></figure>"
        if wide
        else ""
    )
    table = _table(near_field_rows(near), ("What", "Found", "Between (95 %)", "In words"))
    return (
        f'<section class="{result.verdict}"><h3>Close to cone and mouth</h3>'
        f"<p><b>{escape(capital(near_field_words(near)))}.</b></p>{figure}{table}</section>"
    )


def _since(result: Result) -> str:
    """What changed since an older recording, and whether the remedy worked; empty without one."""
    if result.comparison is None:
        return ""
    lines = since_rows(result.comparison)
    table = _table(lines, ("What", "Before and now", "Change between (95 %)")) if lines else ""
    return (
        f'<section class="{result.verdict}"><h3>Since {safe(result.comparison.file)}</h3>'
        f"<p>{safe(sentence(result.comparison.summary))}</p>{table}<p>{escape(since_note(result.comparison))}</p></section>"
    )


def _remarks(result: Result) -> str:
    """What is worth noting and no fault."""
    items = "".join(f"<li>{escape(capital(remark))}</li>" for remark in remarks(result))
    return f'<section><h3>Worth noting</h3><ul class="plain">{items}</ul></section>' if items else ""


def _inputs(result: Result) -> str:
    if not result.sources:
        return ""
    lines = "".join(
        f"<tr><td>{safe(source.role)}</td><td>{safe(source.path.name)}</td>"
        f'<td><code title="{safe(source.sha256)}">{safe(source.sha256[:12])}</code></td></tr>'
        for source in result.sources
    )
    return (
        '<section class="files"><h3>Files this rests on</h3><table><thead><tr><th scope="col">Recording</th>'
        f'<th scope="col">File</th><th scope="col">SHA-256, first 12 digits</th></tr></thead>'
        f"<tbody>{lines}</tbody></table></section>"
    )


def _cabinet(result: Result, place: int, *, alone: bool) -> str:
    name = f"c{place}"
    wide = impedance_figure(result, prefix=f"{name}w-", css_class="wide")
    slim = impedance_figure(result, prefix=f"{name}n-", narrow=True, css_class="narrow")
    scale = tuning_scale_figure(result, prefix=f"{name}s-")
    trace = f"<figure>{wide}{slim}<figcaption>{escape(capital(curve_words(result)))}.</figcaption></figure>"
    if not wide:
        trace = "<p>No impedance curve could be read.</p>"
    told = f"Box Q {escape(box_q_words(result))}. Leak: {escape(leak_words(result))}." if result.fit else ""
    bench, trust = _jobs(result), _trust(result)
    classes = [*(["alone"] if alone else []), *(["crowded"] if len(bench) + len(trust) > _CROWDED else [])]
    return (
        f'<article id="{name}" class="{" ".join(classes)}">'
        + _tag(result, "h1" if alone else "h2")
        + bench
        + _since(result)
        + (f'<section class="scale {result.verdict}"><h3>Tuning rule</h3>{scale}</section>' if scale else "")
        + f"<section><h3>Impedance trace</h3>{trace}</section>"
        + _near_field(result, name)
        + _cost(result, name)
        + _remarks(result)
        + _losses(result)
        + f'<section class="{result.verdict}"><h3>Numbers</h3>'
        + _table(rows(result), ("What", "Measured", "Between (95 %)", "Designed"))
        + (f"<figcaption>{told}</figcaption>".replace("figcaption", "p") if told else "")
        + "</section>"
        + f'<div class="pair">{trust}<section><h3>What this cannot tell</h3><ul class="plain">'
        + "".join(f"<li>{escape(limit)}</li>" for limit in limits(result))
        + f"</ul></section></div>{_inputs(result)}</article>"
    )


def _overview(results: Sequence[Result]) -> str:
    counts = {word: sum(result.verdict == word for result in results) for word in VERDICT_WORDS}
    tally = ", ".join(f"{count} {VERDICT_WORDS[word].lower()}" for word, count in counts.items() if count)
    tags = "".join(_tag(result, "h2", link=f"c{place}") for place, result in enumerate(results))
    between = ""
    if len(results) == 2 and results[0].fit is not None and results[1].fit is not None:
        first, second = results[0].fit.tuning_hz.value, results[1].fit.tuning_hz.value
        if first > 0.0 and second > 0.0:
            apart = 200.0 * abs(first - second) / (first + second)
            between = (
                f'<p class="between"><b>Side by side:</b> the two tunings lie '
                f"{number(abs(first - second), 1)} Hz "
                f"({number(apart, 1)} %) apart.</p>"
            )
    return f'<h1 class="quiet">{len(results)} cabinets: {tally}</h1><div class="row">{tags}</div>{between}'


def page(results: Sequence[Result], *, made_at: datetime, program: str, notes: Sequence[str] = ()) -> str:
    """The whole report as one HTML page that needs nothing else: no script, no font, no address.

    results: at least one result; several get an overview on top
    made_at: when the page is made
    program: name and version of the program, for the foot
    notes: remarks shown at the top, such as that the recordings are simulated
    returns: the page, the same bytes for the same arguments
    raises: ValueError without any result
    """
    if not results:
        raise ValueError("a report needs at least one result")
    alone = len(results) == 1
    title = ", ".join(f"{clean(result.cabinet)} {VERDICT_WORDS[result.verdict]}" for result in results[:4])
    return frame(
        ("" if alone else _overview(results))
        + "\n".join(_cabinet(result, place, alone=alone) for place, result in enumerate(results)),
        title=f"{title} - box check",
        kind="Box check",
        subject=next((clean(result.design.name) for result in results if result.design is not None), ""),
        made_at=made_at,
        program=program,
        notes=notes,
        cautions=CAUTIONS,
        cautions_title="Before you work on it",
        foot="An interval holds the true value 95 times in 100.",
    )
