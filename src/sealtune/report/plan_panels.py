"""The panels of a plan on limits and choices: cone travel, vent air, highest level, vents for the same tuning."""

from __future__ import annotations

from collections.abc import Callable
from itertools import groupby
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from sealtune.records.plan import LimitWord, Plan, VentChoice
from sealtune.report.content import number
from sealtune.report.drawing import Format, legend_above
from sealtune.report.look import LIGHT
from sealtune.report.plan_axes import (
    EDGE,
    OPEN,
    SHUT,
    Drawing,
    both_boxes,
    highest,
    over_frequency,
    panels_of,
    shown_band,
    tuning_line,
)
from sealtune.report.plan_limit_words import USUAL_AIR_SPEED_M_S, watts
from sealtune.report.plan_tables import size_words
from sealtune.report.plan_words import MILLIMETRES, digits

_STYLES: dict[LimitWord, Any] = {"travel": "-", "power": (0, (5, 2)), "vent air": (0, (1, 1.4))}
_LIMITS: dict[LimitWord, str] = {"travel": "cone travel", "power": "rated power", "vent air": "vent air"}
_LEAST_TRAVEL_SHARE = 2.5


def _driven_w(plan: Plan) -> float:
    usable = plan.limits.usable_w if plan.limits is not None else None
    return 1.0 if usable is None else usable


def travel_caption(plan: Plan) -> str:
    """What the panel of travel shows, and with how much power."""
    return (
        f"Above: cone travel one way. Below: air in the vent. Both with {watts(_driven_w(plan))} W (E²/R_E)."
    )


def travel_panel(plan: Plan, size: Format) -> Drawing | None:
    """Cone travel with its limit above the speed of the air in the vent; None without S_D."""
    vented, closed, hz = plan.vented, plan.closed, plan.frequency_hz
    if vented is None or vented.travel_m is None:
        return None
    volts, xmax = np.sqrt(_driven_w(plan)), plan.design.driver.xmax_m
    speed = vented.air_speed_m_s
    figure, panels = panels_of(size, 1.4 if speed is not None else 0.0)
    upper = panels[0]
    for behaviour, name, style in both_boxes(vented, closed):
        if behaviour.travel_m is not None:
            upper.plot(hz, MILLIMETRES * volts * behaviour.travel_m, label=name, **style)
    low, high = shown_band(plan)
    top = MILLIMETRES * volts * highest(vented.travel_m, hz, low)
    if xmax is not None:
        upper.axhline(MILLIMETRES * xmax, label=f"x_max {digits(MILLIMETRES * xmax, 1, 1)} mm", **EDGE)
        top = min(top, _LEAST_TRAVEL_SHARE * MILLIMETRES * xmax)
    upper.set_ylim(0.0, 1.08 * top)
    upper.set_ylabel("cone travel, mm")
    if speed is not None:
        lower = panels[1]
        lower.plot(hz, volts * speed, **OPEN)
        edge = f"usual bound {number(USUAL_AIR_SPEED_M_S, 0)} m/s"
        lower.axhline(USUAL_AIR_SPEED_M_S, **{**EDGE, "dashes": (2, 2)})
        upper.plot([], [], label=edge, **{**EDGE, "dashes": (2, 2)})
        lower.set_ylim(0.0, 1.15 * max(float(volts) * highest(speed, hz, low), USUAL_AIR_SPEED_M_S))
        lower.set_ylabel("air, m/s")
    for axes in panels:
        tuning_line(axes, plan)
    over_frequency(figure, panels, size, low, high)
    return (
        figure,
        "Cone travel and vent air",
        f"Cone travel in mm and vent air in m/s. {travel_caption(plan)}",
    )


def level_panel(plan: Plan, size: Format) -> Drawing | None:
    """The highest sine level with what limits it, above what the vent gains; None where no limit is known."""
    vented, closed, hz = plan.vented, plan.closed, plan.frequency_hz
    if vented is None or vented.highest_db is None:
        return None
    both = closed is not None and closed.highest_db is not None
    figure, panels = panels_of(size, 1.7 if both else 0.0)
    upper, used = panels[0], list[LimitWord]()
    low, high = shown_band(plan)
    seen = (hz >= low) & (hz <= high)
    floor, ceiling = np.inf, -np.inf
    for behaviour, _, style in both_boxes(vented, closed):
        if behaviour.highest_db is None:
            continue
        for word, places in stretches(behaviour.limited_by):
            if seen[places].any():
                used += [word] if word not in used else []
            plain = {name: value for name, value in style.items() if name != "dashes"}
            upper.plot(hz[places], behaviour.highest_db[places], linestyle=_STYLES[word], **plain)
        floor = min(floor, float(np.min(behaviour.highest_db[seen])))
        ceiling = max(ceiling, float(np.max(behaviour.highest_db[seen])))
    upper.set_ylim(max(floor, ceiling - 45.0) - 2.0, ceiling + 3.0)
    upper.set_ylabel("dB at 1 m")
    if closed is not None and closed.highest_db is not None:
        gain = vented.highest_db - closed.highest_db
        panels[1].plot(hz, gain, **OPEN)
        panels[1].axhline(0.0, color=LIGHT["soft"], linewidth=0.9)
        panels[1].set_ylim(max(float(np.min(gain[seen])), -24.0) - 1.5, float(np.max(gain[seen])) + 1.5)
        panels[1].set_ylabel("gain, dB")
    for axes in panels:
        tuning_line(axes, plan)
    handles = [
        Line2D([], [], color=LIGHT["fit"], linewidth=2.6),
        Line2D([], [], color=LIGHT["dot"], linewidth=1.7),
    ]
    labels = ["vent", "closed"]
    if not both:
        handles, labels = handles[:1], labels[:1]
    for word in used:
        handles.append(Line2D([], [], color=LIGHT["soft"], linewidth=1.8, linestyle=_STYLES[word]))
        labels.append(f"{_LIMITS[word]} limits")
    over_frequency(figure, panels, size, low, high, (handles, labels))
    limits = ", ".join(_LIMITS[word] for word in used)
    return (
        figure,
        "Highest sine level",
        f"Highest sine level at 1 m against frequency. What limits it: {limits}.",
    )


def stretches(limited_by: tuple[LimitWord, ...]) -> list[tuple[LimitWord, NDArray[np.intp]]]:
    """Stretches of the curve with one limit, each reaching to the first point of the next, so that no gap shows."""
    found, start = [], 0
    for word, group in groupby(limited_by):
        stop = start + len(list(group))
        found.append((word, np.arange(start, min(stop + 1, len(limited_by)))))
        start = stop
    return found


def trade_panel(plan: Plan, size: Format) -> Drawing | None:
    """Length and air speed of vents for the same tuning over their opening; None with fewer than two vents."""
    choices = [choice for choice in plan.vents if _length_m(choice) > 0.0]
    if len(choices) < 2:
        return None
    windy = all(choice.air_speed_m_s is not None for choice in choices)
    figure, panels = panels_of(size, 1.2 if windy else 0.0)
    _points(panels[0], choices, lambda choice: MILLIMETRES * _length_m(choice), named=True)
    panels[0].set_ylim(bottom=0.0)
    panels[0].set_ylabel("vent length, mm")
    if windy:
        _points(panels[1], choices, lambda choice: choice.air_speed_m_s or 0.0, named=False)
        panels[1].axhline(USUAL_AIR_SPEED_M_S, **{**EDGE, "dashes": (2, 2)})
        panels[0].plot([], [], label="usual bound of air", **{**EDGE, "dashes": (2, 2)})
        panels[1].set_ylim(0.0)
        panels[1].set_ylabel("air, m/s")
    panels[-1].set_xlabel(f"{size_words(plan)} of one vent, mm")
    panels[-1].xaxis.set_major_locator(MaxNLocator(7, steps=[1, 2, 5, 10]))
    handles, labels = panels[0].get_legend_handles_labels()
    legend_above(figure, size, handles, labels, hspace=0.12)
    figure.align_ylabels(panels)
    own = next((choice for choice in choices if choice.designed), None)
    mine = "" if own is None else f" The design: {number(MILLIMETRES * own.size_m, 0)} mm."
    return (
        figure,
        "Vents for the same tuning",
        f"Vent length and air speed over the opening of each vent.{mine}",
    )


def _length_m(choice: VentChoice) -> float:
    return 0.0 if choice.length_m is None else choice.length_m


def _points(
    axes: Axes, choices: list[VentChoice], height: Callable[[VentChoice], float], *, named: bool
) -> None:
    for count, shape, style in zip(
        sorted({one.count for one in choices}), "os^", (OPEN, SHUT, EDGE), strict=False
    ):
        alike = sorted((one for one in choices if one.count == count), key=lambda one: one.size_m)
        x = [MILLIMETRES * one.size_m for one in alike]
        label = f"{count} vent{'s' if count > 1 else ''}" if named else None
        axes.plot(
            x,
            [height(one) for one in alike],
            marker=shape,
            markersize=6,
            label=label,
            **{**style, "linewidth": 1.4},
        )
    doubtful = [one for one in choices if one.against]
    if doubtful:
        axes.plot(
            [MILLIMETRES * one.size_m for one in doubtful],
            [height(one) for one in doubtful],
            "x",
            color=LIGHT["ink"],
            markersize=10,
            markeredgewidth=1.6,
            label="something against it" if named else None,
            zorder=6,
        )
    own = [one for one in choices if one.designed]
    if own:
        axes.plot(
            [MILLIMETRES * own[0].size_m],
            [height(own[0])],
            "D",
            markerfacecolor="none",
            markeredgecolor=LIGHT["mark"],
            markeredgewidth=2.2,
            markersize=14,
            label="this design" if named else None,
            zorder=7,
        )
