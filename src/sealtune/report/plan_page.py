"""The plan as one self-contained page: what to cut first, then the facts, the figures and the tables."""

from __future__ import annotations

from datetime import datetime
from html import escape

from sealtune.records.plan import Plan
from sealtune.report.cautions import CAUTIONS
from sealtune.report.content import capital, clean
from sealtune.report.frame import frame, icon, safe
from sealtune.report.plan_facts import facts
from sealtune.report.plan_figures import plan_figures
from sealtune.report.plan_tables import PlanRow, PlanTable, vent_table, volume_table
from sealtune.report.plan_words import Headline, headline

_DANGERS = ("Ears", "Driver", "Glue and dust")

_ICONS = {"good": "good", "rework": "rework", "remeasure": "consider"}

_FOOT = (
    "An interval holds what 95 of 100 boxes built to this design show. Powers are E²/R_E, levels are in a half space. "
    "Names of alignments and the bound of 17 m/s are for orientation; that a vent below its tuning lets the cone go "
    "and that wide vents are quiet and long is common practice."
)

_STYLE = """
.facts{display:grid;grid-template-columns:max-content 1fr;gap:5px 16px;margin:0}
.facts dt{font-weight:700;color:var(--soft)}.facts dd{margin:0;overflow-wrap:anywhere}
.grid{display:grid;grid-template-columns:1fr 1fr;gap:14px}
.grid section{margin-top:0}.grid{margin-top:14px}
.choices td,.choices th{text-align:right}
.choices td:last-child,.choices th:last-child{padding-right:0}
.choices .say{text-align:left}
.choices td:first-of-type{font-weight:400}
.choices .own{background:var(--wood)}.choices .own td{font-weight:700}
.choices .no td{color:var(--soft)}
.choices .also{display:none}
.choices .mark{width:1em;padding-right:4px;text-align:left}
.sheet{overflow-x:auto}
.sheet+p{font-size:14px;color:var(--soft);margin-top:5px}
@media (max-width:640px){.facts{grid-template-columns:1fr;gap:0}.facts dd{margin-bottom:6px}
 .grid{grid-template-columns:1fr}.choices th,.choices td{padding-right:6px}
 .choices .say{display:none}.choices .also{display:table-row}
 .choices .also td{text-align:left;color:var(--soft);font-size:13px}
 .choices tr:has(+.also) td{border-bottom:0}}
@media print{.facts{gap:2px 12px}.grid{grid-template-columns:1fr 1fr;gap:7px;margin-top:7px}
 .grid section{margin-top:0}.facts{font-size:8.4pt;line-height:1.22}
 figure svg.wide{max-height:58mm}.grid figure svg{max-height:61mm}
 .choices{font-size:8pt}.sheet+p{font-size:8pt;margin-top:2px}}
"""


def plan_page(plan: Plan, *, made_at: datetime, program: str) -> str:
    """The plan as one HTML page that needs nothing else: no script, no font, no address.

    plan: any plan, however incomplete
    made_at: when the page is made
    program: name and version of the program, for the foot
    returns: the page, the same bytes for the same arguments
    """
    top = headline(plan)
    figures = plan_figures(plan)
    wide = [pair for pair in figures if 'class="wide"' in pair[1]]
    panels = [pair for pair in figures if pair not in wide]
    body = (
        '<article class="alone">'
        + _tag(top)
        + _facts(plan)
        + "".join(f"<section><h3>What to expect at measuring</h3>{_figure(pair)}</section>" for pair in wide)
        + _table(vent_table(plan))
        + (
            f'<div class="grid">{"".join(f"<section>{_figure(pair)}</section>" for pair in panels)}</div>'
            if panels
            else ""
        )
        + _table(volume_table(plan))
        + "</article>"
    )
    return frame(
        body,
        title=f"{clean(plan.design.name)} {top.word} - box plan",
        kind="Box plan",
        subject=plan.design.name,
        made_at=made_at,
        program=program,
        notes=(),
        cautions=[one for one in CAUTIONS if one.title in _DANGERS],
        cautions_title="Before you build and measure",
        foot=escape(_FOOT),
        more_style=_STYLE,
    )


def _tag(top: Headline) -> str:
    lead = "" if top.kind == "good" else "<b>Do this:</b> "
    return (
        f'<div class="tag {top.kind}"><div class="side">{icon(_ICONS[top.kind])}</div><div class="face">'
        f'<h1><span class="name">{safe(top.name)}</span> <span class="word">{escape(top.word)}</span></h1>'
        f'<p class="reason">{safe(top.reason)}</p><p class="step">{lead}{safe(top.step)}</p></div></div>'
    )


def _facts(plan: Plan) -> str:
    listed = "".join(f"<dt>{escape(fact.label)}</dt><dd>{safe(fact.text)}</dd>" for fact in facts(plan))
    return f'<section class="long"><h3>In short</h3><dl class="facts">{listed}</dl></section>'


def _figure(pair: tuple[str, str]) -> str:
    caption, svg = pair
    return f"<figure>{svg}<figcaption>{escape(caption)}</figcaption></figure>"


def _table(table: PlanTable | None) -> str:
    if table is None:
        return ""
    remarks = any(row.remark for row in table.rows)
    heads = "".join(
        f'<th scope="col">{escape(word)}{f", {escape(unit)}" if unit else ""}</th>'
        for word, unit in table.heads
    )
    said = f'<th scope="col" class="say">{capital(table.remark_head)}</th>' if remarks else ""
    rows = "".join(_row(row, remarks=remarks) for row in table.rows)
    own = "▶ this design." if any(row.designed for row in table.rows) else ""
    return (
        f'<section><h3>{escape(table.title)}</h3><div class="sheet"><table class="choices">'
        f'<thead><tr><th class="mark"></th>{heads}{said}</tr></thead>'
        f"<tbody>{rows}</tbody></table></div><p>{own} {escape(table.foot)}</p></section>"
    )


def _row(row: PlanRow, *, remarks: bool) -> str:
    """One line; on narrow screens its remark stands in a line of its own below."""
    kinds = " ".join(word for word, holds in (("own", row.designed), ("no", not row.fits)) if holds)
    cells = "".join(f"<td>{escape(cell)}</td>" for cell in row.cells)
    remark = safe(row.remark)
    said = f'<td class="say">{remark}</td>' if remarks else ""
    below = f'<tr class="also"><td></td><td colspan="{len(row.cells)}">{remark}</td></tr>' if remark else ""
    mark = "▶" if row.designed else ""
    return f'<tr class="{kinds}"><td class="mark">{mark}</td>{cells}{said}</tr>{below}'
