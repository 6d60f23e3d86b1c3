"""What the page shows of one cabinet: its label, and below it all that is known."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape

from sealtune.records.verdict import Result
from sealtune.report.bench import Job, jobs, less_likely
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
    tuning_words,
)
from sealtune.report.cost_figure import cost_figure
from sealtune.report.cost_words import cost_note, cost_rows, cost_words
from sealtune.report.figures import impedance_figure
from sealtune.report.frame import icon, safe
from sealtune.report.limits import limits
from sealtune.report.loss_words import loss_note, loss_rows
from sealtune.report.near_field_figure import near_field_figure
from sealtune.report.near_field_words import near_field_note, near_field_rows, near_field_words
from sealtune.report.numbers import Row, quality_rows, rows
from sealtune.report.reading import HINT
from sealtune.report.remarks import remarks
from sealtune.report.scale import tuning_scale_figure
from sealtune.report.since import since_note, since_rows

_CROWDED = 2400


def tag(result: Result, level: str, *, link: str = "") -> str:
    """The label on the workpiece: name, verdict, reason, and what to do."""
    tuning = (
        f'<p class="more">Tuning {escape(tuning_words(result))}. <a href="#{link}">Details</a></p>'
        if link
        else ""
    )
    lead = "" if result.verdict == "good" else "<b>Do this:</b> "
    return (
        f'<div class="tag {result.verdict}"><div class="side">{icon(result.verdict)}</div><div class="face">'
        f'<{level}><span class="name">{safe(result.cabinet)}</span> '
        f'<span class="word">{VERDICT_WORDS[result.verdict]}</span></{level}>'
        f'<p class="reason">{escape(capital(reason(result)))}</p>'
        f'<p class="step">{lead}{escape(first_step(result))}</p>{tuning}</div></div>'
    )


def _job(job: Job) -> str:
    chance = ""
    if job.probability is not None:
        width = round(100.0 * min(max(job.probability, 0.0), 1.0))
        chance = (
            f' <span class="chance"><span class="meter"><i style="width:{width}%"></i>'
            f"</span>{chance_words(job.probability)}, {percent(job.probability)}</span>"
        )
    lines = "".join(f"<dt>{term}</dt><dd>{escape(text)}</dd>" for term, text in job.lines)
    return f'<li><h4>{job.title}{chance}</h4><dl class="how">{lines}</dl></li>'


def _jobs(result: Result) -> str:
    """What the label's step rests on, and what else may be done."""
    items = [_job(job) for job in jobs(result)]
    if rest := less_likely(result):
        items.append(f"<li>{rest}</li>")
    if result.next_measurement is not None:
        items.append(f"<li><h4>Measure next</h4><p>{escape(result.next_measurement.words)}</p></li>")
    if not items:
        return ""
    return (
        f'<section class="long {result.verdict}"><h3>On the bench</h3>'
        f'<ul class="jobs">{"".join(items)}</ul></section>'
    )


def table(lines: Sequence[Row], heads: Sequence[str]) -> str:
    """The rows as a table of three columns, or of four where there are four heads."""
    out = ' class="out"'
    body = "".join(
        f'<tr{out if row.stands_out else ""}><th scope="row">{escape(row.name)}</th>'
        f"<td>{escape(row.value)}</td><td>{escape(row.interval)}</td>"
        + (f"<td>{escape(row.designed)}</td>" if len(heads) == 4 else "")
        + "</tr>"
        for row in lines
    )
    head = "".join(f'<th scope="col">{head}</th>' for head in heads)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _trust(result: Result) -> str:
    lines = quality_rows(result)
    made = table(lines, ("What", "Found", "In words")) if lines else "<p>No curve could be read.</p>"
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
    return f"<section><h3>Trust in the recording</h3>{problems}{made}</section>"


def _losses(result: Result) -> str:
    """Where the box loses its energy, and what each loss means; without a table where none is told."""
    note, lines = loss_note(result), loss_rows(result)
    if not note:
        return ""
    made = table(lines, ("Loss", "Q", "Between (95 %)", "What it is")) if lines else ""
    return f'<section class="losses"><h3>Where the box loses</h3>{made}<p>{escape(note)}</p></section>'


def _cost(result: Result, name: str) -> str:
    """What the box loses against its design: level by third octaves, limits, and what it is heard on."""
    if result.cost is None:
        return ""
    wide = cost_figure(result, prefix=f"{name}kw-", css_class="wide")
    slim = cost_figure(result, prefix=f"{name}kn-", narrow=True, css_class="narrow")
    lines = cost_rows(result.cost)
    made = table(lines, ("What", "As measured", "As designed")) if lines else ""
    return (
        f'<section class="cost"><h3>What it costs</h3><p><b>{escape(capital(cost_words(result.cost)))}.</b></p>'
        f'<figure class="costs">{wide}{slim}'
        f"<figcaption>{escape(cost_note(result.cost))}</figcaption></figure><div>{made}</div></section>"
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
    rows = near_field_rows(near)
    told = table(rows, ("What", "Found", "Between (95 %)", "In words")) if rows else ""
    title = "What rattles" if near.cone is None and near.mouth is None else "Close to cone and mouth"
    return (
        f'<section class="{result.verdict}"><h3>{title}</h3>'
        f"<p><b>{escape(capital(near_field_words(near)))}.</b></p>{figure}{told}</section>"
    )


def _since(result: Result) -> str:
    """What changed since an older recording, and whether the remedy worked; empty without one."""
    if result.comparison is None:
        return ""
    lines = since_rows(result.comparison)
    made = table(lines, ("What", "Before and now", "Change between (95 %)")) if lines else ""
    return (
        f'<section class="long {result.verdict}"><h3>Since {safe(result.comparison.file)}</h3>'
        f"<p>{safe(sentence(result.comparison.summary))}</p>{made}<p>{escape(since_note(result.comparison))}</p></section>"
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


def article(result: Result, place: int, *, alone: bool) -> str:
    """All that is known of a cabinet; place: which on the page; alone: the page shows no other one."""
    name = f"c{place}"
    drawn = impedance_figure(result, prefix=f"{name}z-", css_class="trace")
    scale = tuning_scale_figure(result, prefix=f"{name}s-")
    trace = (
        f'<figure>{drawn}<output class="reading" hidden>{HINT}</output>'
        f"<figcaption>{escape(capital(curve_words(result)))}.</figcaption></figure>"
    )
    if not drawn:
        trace = "<p>No impedance curve could be read.</p>"
    told = f"Box Q {escape(box_q_words(result))}. Leak: {escape(leak_words(result))}." if result.fit else ""
    bench, trust = _jobs(result), _trust(result)
    classes = [*(["alone"] if alone else []), *(["crowded"] if len(bench) + len(trust) > _CROWDED else [])]
    made = (
        f'<article id="{name}" class="{" ".join(classes)}">'
        + f'<div class="first"><div>{tag(result, "h1" if alone else "h2")}'
        + (f'<section class="scale {result.verdict}"><h3>Tuning rule</h3>{scale}</section>' if scale else "")
        + f'</div><section class="trace"><h3>Impedance trace</h3>{trace}</section></div>'
        + (f'<p class="said">{safe(sentence(result.summary))}</p>' if result.summary.strip() else "")
        + bench
        + _since(result)
        + _losses(result)
        + _near_field(result, name)
        + _cost(result, name)
        + _remarks(result)
        + f'<div class="pair"><section class="{result.verdict}"><h3>Numbers</h3>'
        + table(rows(result), ("What", "Measured", "Between (95 %)", "Designed"))
        + (f"<p>{told}</p>" if told else "")
        + "</section>"
        + f'<div>{trust}<section><h3>What this cannot tell</h3><ul class="plain">'
        + "".join(f"<li>{escape(limit)}</li>" for limit in limits(result))
        + f"</ul></section></div></div>{_inputs(result)}</article>"
    )
    # under the page's own heading the cabinet's come one level higher
    return (
        re.sub(r"(?<=<)(/?)h([34])(?=>)", lambda tag: f"{tag[1]}h{int(tag[2]) - 1}", made) if alone else made
    )
