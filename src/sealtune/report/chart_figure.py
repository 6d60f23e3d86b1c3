"""A quantity over a batch, in the order in which the cabinets were recorded, with control limits and trend."""

from __future__ import annotations

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure, SubFigure
from matplotlib.ticker import MaxNLocator

from sealtune.records.batch import ChartName, ControlChart
from sealtune.report.batch_text import chart_words
from sealtune.report.content import capital, clean, number
from sealtune.report.drawing import Format, inline, legend_above, settings, svg_of
from sealtune.report.look import LIGHT
from sealtune.report.plan_axes import panels_in

_SIZE = Format(5.0, 3.0, 10.5, 2, narrow=True)
_MOST_NAMED = 5

LABELS: dict[ChartName, str] = {"tuning": "tuning", "box_q": "box Q", "fs": "driver's resonance"}


def draw_chart(figure: Figure | SubFigure, size: Format, chart: ControlChart) -> None:
    """Draw the values in their order, the control limits, and the drift where one is certain."""
    values, limits = np.asarray(chart.values), chart.limits
    place = np.arange(1, values.size + 1)
    out = np.array([name in chart.outside for name in chart.names])
    (axes,) = panels_in(figure)
    axes.axhspan(limits.low, limits.high, facecolor=LIGHT["wood"], alpha=0.5, zorder=0)
    for level in (limits.low, limits.high):
        axes.axhline(level, color=LIGHT["band"], linewidth=1.4, dashes=(6, 3), zorder=2,
                     label="control limits" if level == limits.low else None)  # fmt: skip
    axes.axhline(limits.centre, color=LIGHT["soft"], linewidth=1.0, zorder=1)
    axes.plot(place[~out], values[~out], "o", color=LIGHT["dot"], markersize=4, label="within", zorder=4)
    if out.any():
        axes.plot(place[out], values[out], "D", color=LIGHT["rework"], markersize=7, label="beyond", zorder=5)
    if chart.trend is not None and chart.trend.certain:
        change = chart.trend.change.value
        middle = float(values.mean())
        ends = (middle - 0.5 * change, middle + 0.5 * change)
        axes.plot((1, values.size), ends, color=LIGHT["fit"], linewidth=2.4, label="drift", zorder=3)
    named: list[int] = []
    for one in np.flatnonzero(out).tolist():
        if len(named) == _MOST_NAMED or any(abs(one - other) < values.size / 4 for other in named):
            continue  # the words below the figure name them all
        named.append(one)
        side = "left" if one < values.size / 2 else "right"
        axes.annotate(
            clean(chart.names[one])[:18].replace("$", r"\$"), (place[one], values[one]), textcoords="offset points",
            xytext=(7 if side == "left" else -7, 0), ha=side, va="center", zorder=6,
        )  # fmt: skip
    axes.set_xlim(0.3, values.size + 0.7)
    axes.xaxis.set_major_locator(MaxNLocator(8, integer=True))
    axes.set_xlabel("cabinets, first to last recorded" if chart.by_date else "cabinets, by name")
    unit = f", {chart.unit}" if chart.unit else ""
    off = " off the design" if chart.quantity == "tuning" and chart.unit == "%" else ""
    axes.set_ylabel(f"{LABELS[chart.quantity]}{off}{unit}")
    legend_above(figure, size, *axes.get_legend_handles_labels())


def chart_figure(chart: ControlChart, *, prefix: str) -> str:
    """The chart as an `svg` element; prefix: letters put before every id."""
    with rc_context(settings(_SIZE.letters_pt)):
        figure = _SIZE.figure()
        draw_chart(figure, _SIZE, chart)
        svg = svg_of(figure)
    title = f"{LABELS[chart.quantity]} of {len(chart.values)} cabinets"
    unit = f" {chart.unit}" if chart.unit else ""
    text = (
        f"From {number(min(chart.values), 2)} to {number(max(chart.values), 2)}{unit}. "
        f"{chart_words(chart) or 'No drift.'}"
    )
    return inline(svg, prefix, capital(title), text, "chart")
