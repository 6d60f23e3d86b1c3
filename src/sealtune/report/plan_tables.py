"""The two tables of a plan as data: other vents for the same tuning, other volumes."""

from __future__ import annotations

from dataclasses import dataclass

from sealtune.records.plan import Plan, VentChoice
from sealtune.report.content import capital, clean, number
from sealtune.report.plan_limit_words import watts
from sealtune.report.plan_words import LITRES, MILLIMETRES

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


def size_words(plan: Plan) -> str:
    """What a vent's size in the table is: diameter, height, across flats."""
    vent = plan.design.vent
    if vent is None:
        return "size"
    return {"round": "bore", "rectangular": "height", "polygon": "flats", "custom": "size"}[vent.shape]


def vent_table(plan: Plan) -> PlanTable | None:
    """Other vents for the same tuning; None where the plan has none."""
    if not plan.vents:
        return None
    power = plan.limits.usable_w if plan.limits is not None else None
    with_power = f"air: fastest with {watts(power)} W" if power is not None else "air speed not known"
    drilled = {
        "rectangular": "height of a slot as wide as the design's",
        "custom": "diameter of the circle of equal area",
    }.get(plan.design.vent.shape if plan.design.vent is not None else "", "")
    foot = "; ".join(
        part for part in (drilled, with_power, "lengths allow for the air that vents take") if part
    )
    return PlanTable(
        title=f"Other vents for {number(plan.prediction.target_hz, 1)} Hz in the same outer box",
        heads=(
            (size_words(plan), "mm"),
            ("count", ""),
            ("length", "mm"),
            ("air", "m/s"),
            ("pipe", "Hz"),
            ("takes", "litres"),
        ),
        rows=tuple(_vent_row(choice) for choice in plan.vents),
        remark_head="speaks against it",
        foot=f"{capital(foot)}.",
    )


def _vent_row(choice: VentChoice) -> PlanRow:
    buildable = choice.length_m > 0.0
    return PlanRow(
        cells=(
            f"{MILLIMETRES * choice.size_m:.1f}".removesuffix(".0"),
            str(choice.count),
            number(MILLIMETRES * choice.length_m, 0) if buildable else UNKNOWN,
            _or_unknown(choice.air_speed_m_s, 0),
            number(choice.pipe_hz, 0) if buildable else UNKNOWN,
            number(LITRES * choice.takes_m3, 2) if buildable else UNKNOWN,
        ),
        designed=choice.designed,
        fits=not choice.against,
        remark="; ".join(clean(word) for word in choice.against),
        group=choice.count,
    )


def volume_table(plan: Plan) -> PlanTable | None:
    """Other net volumes with the same tuning and opening; None where the plan has none."""
    if not plan.volumes:
        return None
    rows = tuple(
        PlanRow(
            cells=(
                number(LITRES * choice.volume_m3, 1),
                UNKNOWN
                if choice.length_m is None or not choice.length_m > 0.0
                else number(MILLIMETRES * choice.length_m, 0),
                _or_unknown(choice.compliance_ratio, 2),
                _or_unknown(choice.f3_hz, 1),
                UNKNOWN if choice.above is None else watts(choice.above.power_w),
                _or_unknown(choice.ripple_db, 1),
            ),
            designed=choice.designed,
            fits=choice.length_m is None or choice.length_m > 0.0,
        )
        for choice in plan.volumes
    )
    return PlanTable(
        title=f"Other volumes for {number(plan.prediction.target_hz, 1)} Hz with the same opening",
        heads=(
            ("volume", "litres"),
            ("length", "mm"),
            ("alpha", ""),
            ("f3", "Hz"),
            ("x_max at", "W"),
            ("hump", "dB"),
        ),
        rows=rows,
        foot="Alpha: V_AS over volume; x_max at: power for it above the tuning.",
    )
