"""The two tables of a plan as data: other vents for the same tuning, other volumes."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sealtune.records.plan import Plan, VentChoice, VolumeChoice
from sealtune.report.content import capital, clean, number
from sealtune.report.plan_limit_words import watts
from sealtune.report.plan_words import LITRES, MILLIMETRES, digits, millimetres

UNKNOWN = "-"


@dataclass(frozen=True)
class PlanRow:
    """One line of a table.

    designed, fits: whether it is the design's own; whether nothing speaks against it
    remark: what does
    group: rows of one group differ in size alone
    """

    cells: tuple[str, ...]
    designed: bool
    fits: bool = True
    remark: str = ""
    group: int = 1


@dataclass(frozen=True)
class PlanTable:
    """A table: heads are pairs of a word and a unit; the remark's head is empty where no row has one."""

    title: str
    heads: tuple[tuple[str, str], ...]
    rows: tuple[PlanRow, ...]
    remark_head: str = ""
    foot: str = ""


def _or_unknown(value: float | None, decimals: int) -> str:
    return UNKNOWN if value is None else number(value, decimals)


def _length(length_m: float | None) -> str:
    return UNKNOWN if length_m is None or not length_m > 0.0 else millimetres(length_m)


def size_words(plan: Plan) -> str:
    """What a vent's size in the table is: diameter, height, across flats."""
    vent = plan.design.vent
    if vent is None:
        return "size"
    return {"round": "bore", "rectangular": "height", "polygon": "flats", "custom": "size"}[vent.shape]


def vent_table(plan: Plan) -> PlanTable | None:
    """Other vents for the same tuning, the columns with values; None where the plan has none."""
    if not plan.vents:
        return None
    power = plan.limits.usable_w if plan.limits is not None else None
    drilled = {
        "rectangular": "height of a slot as wide as the design's",
        "custom": "diameter of the circle of equal area",
    }.get(plan.design.vent.shape if plan.design.vent is not None else "", "")
    heads = (
        (size_words(plan), "mm", drilled),
        ("count", "", ""),
        ("length", "mm", ""),
        ("air", "m/s", "" if power is None else f"air: fastest with {watts(power)} W"),
        ("pipe", "Hz", ""),
        ("takes", "litres", "the box must be larger by what a vent takes"),
    )
    rows = tuple(_vent_row(choice) for choice in plan.vents)
    title = f"Other vents for {_target(plan)} at the same net volume"
    return _with_values(title, heads, rows, "speaks against it")


def _target(plan: Plan) -> str:
    return f"{number(plan.prediction.target_hz, 1)} Hz"


def _with_values(
    title: str, heads: tuple[tuple[str, str, str], ...], rows: tuple[PlanRow, ...], remark_head: str
) -> PlanTable:
    """The table without the columns that have no value in any row.

    heads: word, unit, and what the foot says of the column
    """
    kept = [place for place in range(len(heads)) if any(row.cells[place] != UNKNOWN for row in rows)]
    foot = "; ".join(heads[place][2] for place in kept if heads[place][2])
    return PlanTable(
        title=title,
        heads=tuple(heads[place][:2] for place in kept),
        rows=tuple(replace(row, cells=tuple(row.cells[place] for place in kept)) for row in rows),
        remark_head=remark_head,
        foot=f"{capital(foot)}." if foot else "",
    )


def _vent_row(choice: VentChoice) -> PlanRow:
    buildable = choice.length_m is not None and choice.length_m > 0.0
    return PlanRow(
        cells=(
            f"{MILLIMETRES * choice.size_m:.1f}".removesuffix(".0"),
            str(choice.count),
            _length(choice.length_m),
            UNKNOWN if choice.air_speed_m_s is None else digits(choice.air_speed_m_s, 0, 1),
            number(choice.pipe_hz, 0) if buildable else UNKNOWN,
            digits(LITRES * choice.takes_m3, 2, 1) if buildable else UNKNOWN,
        ),
        designed=choice.designed,
        fits=not choice.against,
        remark="; ".join(clean(word) for word in choice.against),
        group=choice.count,
    )


def volume_table(plan: Plan) -> PlanTable | None:
    """Other net volumes with the same tuning, the columns with values; None where nothing is known of any."""
    heads = (
        ("volume", "litres", ""),
        ("length", "mm", ""),
        ("alpha", "", "alpha: V_AS over volume"),
        ("f3", "Hz", ""),
        ("x_max at", "W", "x_max at: power for it above the tuning"),
        ("hump", "dB", ""),
    )
    opening = "" if plan.design.vent is None else " with the same opening"
    title = f"Other volumes for {_target(plan)}{opening}"
    table = _with_values(
        title, heads, tuple(_volume_row(choice) for choice in plan.volumes), "speaks against it"
    )
    return table if len(table.heads) > 1 else None


def _volume_row(choice: VolumeChoice) -> PlanRow:
    return PlanRow(
        cells=(
            digits(LITRES * choice.volume_m3, 1, 3),
            _length(choice.length_m),
            UNKNOWN if choice.compliance_ratio is None else digits(choice.compliance_ratio, 2),
            _or_unknown(choice.f3_hz, 1),
            UNKNOWN if choice.above is None else watts(choice.above.power_w),
            _or_unknown(choice.ripple_db, 1),
        ),
        designed=choice.designed,
        fits=not choice.against,
        remark="; ".join(clean(word) for word in choice.against),
    )
