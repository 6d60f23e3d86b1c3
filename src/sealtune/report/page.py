"""The report: one self-contained page, verdict first."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sealtune.records.verdict import Result
from sealtune.report.cabinet_article import article, tag
from sealtune.report.cautions import CAUTIONS
from sealtune.report.content import INTERVALS, VERDICT_WORDS, clean, number
from sealtune.report.frame import frame


def _overview(results: Sequence[Result]) -> str:
    counts = {word: sum(result.verdict == word for result in results) for word in VERDICT_WORDS}
    tally = ", ".join(f"{count} {VERDICT_WORDS[word].lower()}" for word, count in counts.items() if count)
    tags = "".join(tag(result, "h2", link=f"c{place}") for place, result in enumerate(results))
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
    """The whole report as one HTML page that needs nothing else: no font, no address, no script but its own few lines.

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
        + "\n".join(article(result, place, alone=alone) for place, result in enumerate(results)),
        title=f"{title} - box check",
        kind="Box check",
        subject=next((clean(result.design.name) for result in results if result.design is not None), ""),
        made_at=made_at,
        program=program,
        notes=notes,
        cautions=CAUTIONS,
        cautions_title="Before you work on it",
        foot=INTERVALS,
        reads_curves=True,
    )
