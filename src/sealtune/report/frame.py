"""What every page has around its contents: head, policy, masthead, the label with its icon, cautions, foot."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from html import escape

from sealtune.report.cautions import Caution
from sealtune.report.content import bound, clean
from sealtune.report.look import style_sheet
from sealtune.report.reading import SCRIPT, script_hash

_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"

_ICONS = {
    "good": '<circle cx="32" cy="32" r="28"/><path d="M18 33 28 43 47 22"/>',
    "rework": '<path d="M32 5 61 58 3 58Z"/><path d="M32 24V41M32 47V51"/>',
    "remeasure": '<rect x="5" y="5" width="54" height="54"/><path d="M46 33A14 14 0 1 1 41 21M42 11V22H31"/>',
    "consider": '<rect x="5" y="5" width="54" height="54"/><path d="M23 25A9 9 0 1 1 32 35V41M32 47V51"/>',
}


def safe(text: str) -> str:
    """Any text as text of a page: cleaned and escaped."""
    return escape(clean(text))


def icon(name: str) -> str:
    """The icon of a label: "good", "rework", "remeasure" or "consider"."""
    return (
        '<svg viewBox="0 0 64 64" aria-hidden="true" fill="none" stroke="currentColor" stroke-width="5" '
        f'stroke-linejoin="round" stroke-linecap="round">{_ICONS[name]}</svg>'
    )


def frame(
    body: str,
    *,
    title: str,
    kind: str,
    subject: str,
    made_at: datetime,
    program: str,
    notes: Sequence[str],
    cautions: Sequence[Caution],
    cautions_title: str,
    foot: str,
    more_style: str = "",
    reads_curves: bool = False,
) -> str:
    """The whole page around its contents; it needs nothing else: no font, no address, no script but its own.

    body: HTML that is safe already
    title, kind, subject: of the window; what the page is ("Box check"); whose it is, "" for nobody's; any text
    program: name and version for the foot
    notes: remarks shown at the top; any text
    foot: HTML behind the program's name, safe already
    more_style: rules of this page alone
    reads_curves: with the script by which curves can be read
    """
    listed = "".join(f"<div><dt>{one.title}</dt><dd>{one.text}</dd></div>" for one in cautions)
    policy = f"{_POLICY}; script-src '{script_hash()}'" if reads_curves else _POLICY
    script = f"<script>{SCRIPT}</script>" if reads_curves else ""
    when = made_at.strftime("%Y-%m-%d %H:%M")
    return bound(
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{safe(title)}</title>\n<style>{style_sheet()}{more_style}</style></head>\n<body><main>"
        f'<header class="masthead"><span><b>{kind}</b>{f" of {safe(subject)}" if clean(subject) else ""}</span>'
        f"<span>{when}</span></header>"
        + "".join(f'<p class="note" role="note">{safe(note)}</p>' for note in dict.fromkeys(notes))
        + body
        + f'\n<section class="cautions"><h2>{cautions_title}</h2><dl>{listed}</dl></section>'
        + f"<footer>Made by {safe(program)} on {when}. {foot}</footer>"
        + f"</main>{script}</body></html>\n",
        "\N{NO-BREAK SPACE}",
    )
