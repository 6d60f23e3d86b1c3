"""The history of a cabinet for the terminal."""

from __future__ import annotations

from sealtune.records.history import History, HistoryEntry
from sealtune.report.content import VERDICT_WORDS, clean, hz_decimals, number, percent, sentence, span
from sealtune.report.text import LEAST_WIDTH, aligned, wrapped

HEAD = ("recorded", "file", "verdict", "tuning, Hz", "box Q", "leak")


def history_text(history: History, *, width: int = 100) -> str:
    """Return all recordings of the open vent, the oldest first, and what changed since the first of them."""
    width = max(width, LEAST_WIDTH)
    rows = aligned([HEAD, *map(_row, history.entries)], left=range(len(HEAD)))
    lines = ["History, each recording of the open vent judged alone", *(f"  {row}" for row in rows)]
    if history.since_first is not None and len(history.entries) > 2:
        words = f"Since {clean(history.since_first.file)}: {sentence(history.since_first.summary)}"
        lines += [f"  {line}" for line in wrapped(words, width - 2)]
    return "\n".join(lines)


def _row(entry: HistoryEntry) -> tuple[str, ...]:
    moment = "no date" if entry.recorded_at is None else f"{entry.recorded_at:%Y-%m-%d %H:%M}"
    verdict = VERDICT_WORDS[entry.verdict]
    if entry.tuning_hz is None or entry.box_q is None:
        return moment, clean(entry.file), verdict, clean(entry.reason), "", ""
    places = hz_decimals(entry.tuning_hz)
    return (
        moment,
        clean(entry.file),
        verdict,
        f"{number(entry.tuning_hz.value, places)} ({span(entry.tuning_hz, places)})",
        number(entry.box_q.value, 1),
        "" if entry.leak_probability is None else percent(entry.leak_probability),
    )
