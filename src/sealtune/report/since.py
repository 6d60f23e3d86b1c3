"""What changed since an older recording, as a line for the terminal and a table for the page."""

from __future__ import annotations

from sealtune.records.comparison import Change, Comparison
from sealtune.records.interval import Interval
from sealtune.report.content import clean, number, percent, sentence
from sealtune.report.numbers import Row

_PERCENT = 100.0


def since_words(comparison: Comparison) -> str:
    """The older recording's name and what changed since."""
    return f"{clean(comparison.file)}: {sentence(comparison.summary)}"


def since_rows(comparison: Comparison) -> tuple[Row, ...]:
    """One line for each quantity that both recordings tell; what changed beyond doubt stands out."""
    rows = []
    for name, change, unit, places in (
        ("Tuning", comparison.tuning_hz, " Hz", 1),
        ("Box Q", comparison.box_q, "", 1),
        ("Compliance ratio", comparison.compliance_ratio, "", 2),
        ("R_E", comparison.re_ohm, " \N{GREEK CAPITAL LETTER OMEGA}", 2),
        ("Leak, open area", comparison.leak_area_mm2, " mm\N{SUPERSCRIPT TWO}", 0),
    ):
        if change is not None:
            rows.append(_row(name, change, unit, places))
    if comparison.air_share is not None:
        share = comparison.air_share
        low, value, high = (_PERCENT * each for each in (share.low, share.value, share.high))
        rows.append(
            Row("Air in the box", f"{value:+.1f} %", f"{low:+.1f} to {high:+.1f} %", "", not share.holds(0.0))
        )
    if comparison.leak_probability is not None:
        before, now = (percent(each) for each in comparison.leak_probability)
        rows.append(Row("Leak, probability", f"{before}, now {now}"))
    return tuple(rows)


def since_note(comparison: Comparison) -> str:
    """What is held against what, and what the intervals hold."""
    note = (
        "Both recordings of the open vent were judged alone, against the design as it stands now. The intervals leave "
        "out what is wrong alike in both, and hold what differs from day to day: noise, room temperature, a warm coil."
    )
    if comparison.passed_over:
        one = comparison.passed_over == 1
        note += (
            f" {comparison.passed_over} newer recording{'' if one else 's'} that cannot be judged "
            f"{'was' if one else 'were'} passed over."
        )
    return note


def _row(name: str, change: Change, unit: str, places: int) -> Row:
    before, now = number(change.before, places), number(change.now, places)
    return Row(
        name, f"{before}{unit}, now {now}{unit}", _signed(change.difference, places), "", change.certain
    )


def _signed(change: Interval, places: int) -> str:
    return f"{change.low:+.{places}f} to {change.high:+.{places}f}"
