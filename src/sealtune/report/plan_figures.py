"""The figures of a plan, as inline SVG for the page: what to expect, what it can stand, what else would do."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes

from sealtune.records.plan import Expected, Plan
from sealtune.report.content import clean, number
from sealtune.report.drawing import (
    Format,
    hatched_band,
    inline,
    settings,
    svg_of,
)
from sealtune.report.look import LIGHT
from sealtune.report.plan_axes import (
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
from sealtune.report.plan_limit_words import f3_words
from sealtune.report.plan_panels import level_panel, trade_panel, travel_caption, travel_panel
from sealtune.report.plan_words import expected_interval, headline, tuned_hz, tuning_told

_WIDE = Format(10.2, 3.9, 10.5, 4, narrow=False)
_NARROW = Format(5.0, 5.0, 11.5, 1, narrow=True)
_PANEL = Format(5.0, 4.6, 11.0, 2, narrow=True)


def plan_figures(plan: Plan, prefix: str = "p") -> tuple[tuple[str, str], ...]:
    """All figures that the plan has data for, as pairs of a caption and one or two `svg` elements.

    plan: any plan, however incomplete
    prefix: letters put before every id
    returns: in the page's order, the impedance first where there is one. Texts are texts, colours follow the
        page's palette; the same bytes for the same plan
    """
    found = []
    for name, draw, caption in (
        (
            "sound",
            _sound,
            "Above: sound pressure at constant voltage, 0 dB in the passband. Below: group delay.",
        ),
        ("travel", travel_panel, ""),
        (
            "level",
            level_panel,
            "Above: the highest sine level at 1 m. Below: what the vent gains (+) and costs (-).",
        ),
        (
            "trade",
            trade_panel,
            "Each vent gives the same tuning; a cross marks what something speaks against.",
        ),
    ):
        svg = _drawn(plan, draw, _PANEL, f"{prefix}{name}-", "")
        if svg:
            found.append((caption or travel_caption(plan), svg))
    return (*_impedances(plan, prefix), *found)


def _impedances(plan: Plan, prefix: str) -> tuple[tuple[str, str], ...]:
    wide = _drawn(plan, _impedance, _WIDE, f"{prefix}iw-", "wide")
    slim = _drawn(plan, _impedance, _NARROW, f"{prefix}in-", "narrow")
    caption = "The curve to expect at measuring; the bars show between what peaks and saddle lie (95 %)."
    return ((caption, wide + slim),) if wide else ()


def _drawn(
    plan: Plan, draw: Callable[[Plan, Format], Drawing | None], size: Format, prefix: str, css_class: str
) -> str:
    with rc_context(settings(size.letters_pt)):
        made = draw(plan, size)
        if made is None:
            return ""
        figure, name, description = made
        svg = svg_of(figure)
    title = f"{name} of {clean(plan.design.name)}"
    return inline(svg, prefix, title, description, css_class)


def _impedance(plan: Plan, size: Format) -> Drawing | None:
    if plan.impedance_ohm is None:
        return None
    figure, (axes,) = panels_of(size)
    hz, tuned = plan.frequency_hz, tuned_hz(plan)
    axes.plot(hz, np.abs(plan.impedance_ohm), label="vent open", **OPEN)
    if plan.plugged_ohm is not None:
        axes.plot(hz, np.abs(plan.plugged_ohm), label="vent stopped", **SHUT)
    meant = plan.prediction
    hatched_band(
        axes,
        meant.low_hz,
        meant.high_hz,
        f"wished tuning {number(meant.low_hz, 1)} to {number(meant.high_hz, 1)} Hz",
    )
    tuning_line(axes, plan, f"tuning {tuning_told(plan)}" if meant.tuning_hz is not None else "target")
    low, high = max(float(hz[0]), tuned / 5.0), min(float(hz[-1]), 8.0 * tuned)
    seen = (hz >= low) & (hz <= high)
    both = (plan.impedance_ohm, *([] if plan.plugged_ohm is None else [plan.plugged_ohm]))
    top = max(float(np.max(np.abs(curve[seen]))) for curve in both)
    axes.set_ylim(0.0, 1.08 * top)
    said = _landmarks(axes, plan, top, narrow=size.narrow)
    axes.set_ylabel("impedance, Ω")
    over_frequency(figure, [axes], size, low, high)
    words = f"Impedance in ohm against frequency, vent open and stopped. {'; '.join(said)}. {headline(plan).reason}."
    return figure, "Expected impedance", words


def _landmarks(axes: Axes, plan: Plan, top: float, *, narrow: bool) -> list[str]:
    """Marks with their intervals in Hz; returns what they say."""
    marks: tuple[tuple[str, Expected, Expected, str], ...] = (
        ("lower peak", "lower_peak_hz", "lower_peak_ohm", "^"),
        ("saddle", "saddle_hz", "saddle_ohm", "v"),
        ("upper peak", "upper_peak_hz", "upper_peak_ohm", "^"),
    )
    said = []
    for name, at_hz, of_ohm, shape in marks:
        hz, ohm = expected_interval(plan, at_hz), expected_interval(plan, of_ohm)
        if hz is None or ohm is None:
            continue
        axes.plot([hz.low, hz.high], [ohm.value] * 2, "-", color=LIGHT["ink"], linewidth=1.2, zorder=5)
        axes.plot([hz.low, hz.high], [ohm.value] * 2, "|", color=LIGHT["ink"], markersize=9, zorder=5)
        axes.plot([hz.value], [ohm.value], shape, color=LIGHT["ink"], markersize=7, zorder=6)
        told = f"{number(hz.value, 1)} Hz ({number(hz.low, 1)} to {number(hz.high, 1)})"
        said.append(f"{name} {told}, {number(ohm.value, 1)} ohm")
        words = f"{number(hz.value, 1)} Hz" if narrow else told
        if name == "saddle":
            axes.annotate(
                f"{name}\n{words}",
                (hz.value, ohm.value),
                xytext=(hz.value, ohm.value + 0.55 * top),
                ha="center",
                va="bottom",
                linespacing=1.25,
                bbox={"boxstyle": "square,pad=0.2", "facecolor": LIGHT["card"], "edgecolor": "none"},
                arrowprops={"arrowstyle": "-", "color": LIGHT["soft"], "linewidth": 0.9},
                zorder=5,
            )
            continue
        end, side, away = (hz.low, "right", -7) if name == "lower peak" else (hz.high, "left", 7)
        for line, up in (
            (name, 7),
            (words, -7),
        ):  # one by one: lines of one text are not aligned in a page's font
            axes.annotate(
                line,
                (end, ohm.value),
                xytext=(away, up),
                textcoords="offset points",
                ha=side,
                va="center",
                zorder=5,
            )
    return said


def _sound(plan: Plan, size: Format) -> Drawing | None:
    vented, closed, hz = plan.vented, plan.closed, plan.frequency_hz
    if vented is None:
        return None
    figure, (upper, lower) = panels_of(size, 1.7)
    for behaviour, name, style in both_boxes(vented, closed):
        upper.plot(hz, behaviour.relative_db, label=f"{name}, {f3_words(behaviour)}", **style)
        lower.plot(hz, 1000.0 * behaviour.group_delay_s, **style)
        if behaviour.f3_hz is not None:
            upper.plot(
                [behaviour.f3_hz], [10.0 * np.log10(0.5)], "o", color=style["color"], markersize=6, zorder=6
            )
    upper.axhline(10.0 * np.log10(0.5), color=LIGHT["soft"], linewidth=0.9, zorder=2)
    upper.set_ylim(-30.0, max(3.0, float(np.max(vented.relative_db)) + 2.0))
    lower.set_ylim(0.0, 1.15 * highest(1000.0 * vented.group_delay_s, hz, 12.0))
    upper.set_ylabel("level, dB")
    lower.set_ylabel("delay, ms")
    for axes in (upper, lower):
        tuning_line(axes, plan)
    over_frequency(figure, [upper, lower], size, *shown_band(plan))
    closed_words = "" if closed is None else f", closed box {f3_words(closed)}"
    return (
        figure,
        "Response",
        f"Response and group delay against frequency: with vent {f3_words(vented)}{closed_words}.",
    )
