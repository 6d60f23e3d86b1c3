"""The plan for the terminal: how it stands and what to cut first, then the labelled lines, then the tables."""

from __future__ import annotations

from sealtune.records.plan import Plan
from sealtune.report.content import bound
from sealtune.report.plan_facts import facts
from sealtune.report.plan_tables import PlanRow, PlanTable, vent_table, volume_table
from sealtune.report.plan_words import headline
from sealtune.report.text import LEAST_WIDTH, columns, wrapped

_LABEL_COLUMNS = 10
_LEAST_REMARK = 22
_MARK = "> "
_JOINT = "\N{WORD JOINER}"
_MOST_VENTS, _MOST_VOLUMES = 7, 5


def plan_text(plan: Plan, *, width: int = 100) -> str:
    """The plan for a person at the bench.

    plan: any plan, however incomplete
    width: columns of the terminal, at least 40 (less is taken as 40)
    returns: lines joined by line feeds, none wider than `width`, about 45 of them at 100 columns. Narrow
        screens and notes make it longer; of long tables the rows nearest to the design's own are shown, which
        begins with ">".
    """
    width = max(width, LEAST_WIDTH)
    top = headline(plan)
    lines = _wrapped(f"{top.name}: {top.word} - {top.step}", width)
    lines += _labelled("Tuning", f"{top.reason.removeprefix('Tuning ')}.", width)
    for fact in facts(plan):
        lines += _labelled(fact.label, fact.text, width)
    for table, most in ((vent_table(plan), _MOST_VENTS), (volume_table(plan), _MOST_VOLUMES)):
        if table is not None:
            lines += ["", *_table(table, most, width)]
    return "\n".join(lines)


def _wrapped(text: str, width: int) -> list[str]:
    """Lines that do not part a number from its unit."""
    return [line.replace(_JOINT, " ") for line in wrapped(bound(text, _JOINT), width)]


def _labelled(label: str, text: str, width: int) -> list[str]:
    told = _wrapped(text, width - _LABEL_COLUMNS)
    return [f"{(label if place == 0 else '').ljust(_LABEL_COLUMNS)}{line}" for place, line in enumerate(told)]


def _nearest(rows: tuple[PlanRow, ...], most: int) -> tuple[PlanRow, ...]:
    """At most so many rows: the design's own and its neighbours, among them the middle ones with another count."""
    own = next((place for place, row in enumerate(rows) if row.designed), 0)

    def distance(place: int) -> float:
        if rows[place].group == rows[own].group:
            return abs(place - own)
        alike = [other for other, row in enumerate(rows) if row.group == rows[place].group]
        return 1.5 + abs(place - alike[len(alike) // 2])

    ranked = sorted(range(len(rows)), key=lambda place: (distance(place), not rows[place].fits))
    return tuple(rows[place] for place in sorted(ranked[:most]))


def _table(table: PlanTable, most: int, width: int) -> list[str]:
    """Title, heads with their units below, and the rows; a remark beside its row, or below it where it is narrow."""
    rows = _nearest(table.rows, most)
    widths = [
        max(columns(word), columns(unit), *(columns(row.cells[place]) for row in rows))
        for place, (word, unit) in enumerate(table.heads)
    ]
    gap = 2 if len(_MARK) + sum(widths) + 2 * len(widths) <= width else 1
    taken = len(_MARK) + sum(widths) + gap * (len(widths) - 1)
    beside = width - taken - 2 >= _LEAST_REMARK

    def line(mark: str, cells: tuple[str, ...]) -> str:
        told = (" " * gap).join(cell.rjust(room) for cell, room in zip(cells, widths, strict=True))
        return f"{mark}{told}"

    words, units = (tuple(head[place] for head in table.heads) for place in (0, 1))
    head = line("  ", words)
    if table.remark_head and beside and any(row.remark for row in rows):
        head += f"  {table.remark_head}"
    lines = [*_wrapped(table.title, width), head, line("  ", units).rstrip()]
    for row in rows:
        told = line(_MARK if row.designed else "  ", row.cells).rstrip()
        if not row.remark:
            lines.append(told)
        elif beside:
            remark = wrapped(row.remark, width - taken - 2)
            lines += [f"{told}  {remark[0]}", *(f"{' ' * (taken + 2)}{more}" for more in remark[1:])]
        else:
            lines += [told, *(f"    {more}" for more in wrapped(row.remark, width - 4))]
    left_out = len(table.rows) - len(rows)
    more = f" {left_out} more on the page." if left_out else ""
    own = "> this design." if any(row.designed for row in rows) else ""
    return [*lines, *_wrapped(f"{own} {table.foot}{more}".strip(), width)]
