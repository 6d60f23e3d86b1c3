"""A batch for the terminal: what needs work first, then the pairs, then whether the production drifts."""

from __future__ import annotations

from sealtune.judgement.batch import URGENCY
from sealtune.records.batch import Batch, BatchCabinet, ChartName, ControlChart
from sealtune.report.content import VERDICT_WORDS, clean, number, sentence, span
from sealtune.report.text import LEAST_WIDTH, aligned, wrapped

CHARTS: dict[ChartName, str] = {"tuning": "tuning", "box_q": "box Q", "fs": "driver f_S"}

LIKELY: dict[ChartName, str] = {
    "tuning": "a blunt cutter, a stop that creeps, boards of another thickness",
    "box_q": "another glue, joints left to set too short, another damping material",
    "fs": "drivers of another lot, or run in more or less",
}
"""What in a workshop changes little by little, by what it moves; common practice."""

PROVISIONAL = 20

_INDENT = 2


def batch_text(batch: Batch, *, width: int = 100) -> str:
    """Return the batch for a person at the bench.

    width: columns of the terminal, at least 40; the table is not wrapped
    """
    width = max(width, LEAST_WIDTH)
    lines = [f"{clean(batch.folder)}: {counts_words(batch)}", "", *table(batch)]
    if batch.to_do:
        lines += ["", "To do"]
        for one in batch.to_do:
            lines += [f"{' ' * _INDENT}{line}" for line in wrapped(to_do_words(one), width - _INDENT)]
    if batch.pairs:
        lines += ["", f"Pairs with the least total mismatch ({number(batch.total_mismatch_db, 2)} dB)"]
        lines += pair_lines(batch)
    elif batch.left_over:
        lines.append("")
    for name in batch.left_over:
        lines.append(f"{' ' * _INDENT}without a mate: {clean(name)}")
    words = [drift_words(chart) for chart in batch.charts] + [outside_words(chart) for chart in batch.charts]
    told = [each for each in words if each]
    if batch.charts:
        lines += ["", "Production"]
        told = told or ["No drift, and nothing beyond the control limits."]
        told.append(limits_words(batch.charts))
        for text in told:
            lines += [f"{' ' * _INDENT}{line}" for line in wrapped(text, width - _INDENT)]
    if batch.passed_over:
        names = ", ".join(clean(name) for name in batch.passed_over)
        lines += ["", *wrapped(f"Passed over, without a recording of the open vent: {names}.", width)]
    return "\n".join(lines)


def counts_words(batch: Batch) -> str:
    """Return how many cabinets there are and what they need."""
    verdicts = [one.verdict for one in batch.cabinets]
    total = len(verdicts)
    parts = [
        f"{verdicts.count(word)} {words}"
        for word, words in (("remeasure", "to measure again"), ("rework", "to rework"), ("good", "good"))
        if word in verdicts
    ]
    return f"{total} cabinet{'' if total == 1 else 's'}: {', '.join(parts)}"


def to_do_words(one: BatchCabinet) -> str:
    """Return a cabinet, what is wrong with it, and what to do."""
    return f"{clean(one.name)}: {clean(one.reason)}. {sentence(one.step)}"


def rows(batch: Batch) -> list[tuple[str, ...]]:
    """Return the cells of the table, its head first."""
    return [("cabinet", "verdict", "tuning, Hz", "off", "box Q", "leak"), *map(_row, batch.cabinets)]


def table(batch: Batch) -> list[str]:
    """Return the table of the cabinets, those that need most work first."""
    return aligned(rows(batch), left=(0, 1))


def pair_lines(batch: Batch) -> list[str]:
    """Return one line for each pair."""
    verdict = {one.name: one.verdict for one in batch.cabinets}
    lines = []
    for pair in batch.pairs:
        names = f"{clean(pair.first)} + {clean(pair.second)}"
        tuning = number(abs(pair.tuning_hz), 2)
        worst = min((verdict[name] for name in (pair.first, pair.second)), key=URGENCY.__getitem__)
        wait = (
            ""
            if pair.ready
            else "; after the rework measure and pair again"
            if worst != "good"
            else "; the tunings lie too far apart"
        )
        lines.append(
            f"{' ' * _INDENT}{names}: {number(pair.mismatch_db, 2)} dB, tunings {tuning} Hz apart{wait}"
        )
    return lines


def drift_words(chart: ControlChart) -> str:
    """Return the drift of a quantity in words, empty where none is certain."""
    if chart.trend is None or not chart.trend.certain:
        return ""
    change = chart.trend.change
    verb = "rises" if change.value > 0.0 else "falls"
    sizes = sorted((abs(change.low), abs(change.high)))
    unit = f" {chart.unit}" if chart.unit else ""
    order = "in the order of their recordings" if chart.by_date else "in the order of their names"
    return (
        f"Drift: the {CHARTS[chart.quantity]} {verb} by {number(abs(change.value), 2)}{unit} ({number(sizes[0], 2)} to "
        f"{number(sizes[1], 2)}) over the {len(chart.values)} cabinets{_of(chart)}, {order}. Look for what changes "
        f"little by little: {LIKELY[chart.quantity]}."
    )


def outside_words(chart: ControlChart) -> str:
    """Return which cabinets lie beyond the control limits, empty for none."""
    if not chart.outside:
        return ""
    names = ", ".join(clean(name) for name in chart.outside)
    low, high = (number(value, 2) for value in (chart.limits.low, chart.limits.high))
    unit = f" {chart.unit}" if chart.unit else ""
    return f"Beyond the control limits of the {CHARTS[chart.quantity]} ({low} to {high}{unit}){_of(chart)}: {names}."


def chart_words(chart: ControlChart) -> str:
    """Return drift and cabinets beyond the limits, empty for neither."""
    return " ".join(filter(None, (drift_words(chart), outside_words(chart))))


def limits_words(charts: tuple[ControlChart, ...]) -> str:
    """Return how the limits are meant."""
    few = any(len(chart.values) < PROVISIONAL for chart in charts)
    words = (
        "Limits are mean and 2.66 times the mean moving range of the good cabinets, of all where fewer than 8 are "
        "good: what chance alone keeps to in 997 of 1000."
    )
    return f"{words} Of fewer than {PROVISIONAL} cabinets they are provisional." if few else words


def _of(chart: ControlChart) -> str:
    return f" of {clean(chart.design)}" if chart.design else ""


def _row(one: BatchCabinet) -> tuple[str, ...]:
    tuning = "" if one.tuning_hz is None else f"{number(one.tuning_hz.value, 2)} ({span(one.tuning_hz, 2)})"
    off = "" if one.deviation is None else f"{100.0 * one.deviation:+.1f} %"
    q = "" if one.box_q is None else number(one.box_q.value, 1)
    leak = "" if one.leak_probability is None else f"{100.0 * one.leak_probability:.0f} %"
    return clean(one.name), VERDICT_WORDS[one.verdict], tuning, off, q, leak
