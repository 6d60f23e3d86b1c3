"""What the panels of a plan share: line styles, axes over frequency, the band shown."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from sealtune.records.plan import Behaviour, Plan
from sealtune.report.drawing import Format, frequency_axis, legend_above, plain_axes
from sealtune.report.look import LIGHT
from sealtune.report.plan_words import tuned_hz

Reals = NDArray[np.float64]

Drawing = tuple[Figure, str, str]
"""A figure, its name, and what it shows in words."""


OPEN: dict[str, Any] = {"color": LIGHT["fit"], "linewidth": 2.6, "zorder": 4}
SHUT: dict[str, Any] = {"color": LIGHT["dot"], "linewidth": 1.7, "dashes": (5, 2), "zorder": 3}
EDGE: dict[str, Any] = {"color": LIGHT["mark"], "linewidth": 1.6, "dashes": (8, 2, 1.5, 2), "zorder": 2}


def panels_of(size: Format, ratio: float = 0.0, *, sharex: bool = True) -> tuple[Figure, list[Axes]]:
    """One panel, or two of which the upper is `ratio` times as high as the lower."""
    figure = size.figure()
    return figure, panels_in(figure, ratio, sharex=sharex)


def panels_in(figure: Figure | SubFigure, ratio: float = 0.0, *, sharex: bool = True) -> list[Axes]:
    """The same in a figure, or in a part of one, that is there already."""
    if ratio > 0.0:
        panels = list(figure.subplots(2, 1, sharex=sharex, height_ratios=(ratio, 1.0)))
    else:
        panels = [figure.subplots(1, 1)]
    for axes in panels:
        plain_axes(axes)
        axes.yaxis.set_major_locator(MaxNLocator(6 if axes is panels[0] else 4, steps=[1, 2, 2.5, 5, 10]))
    return panels


def over_frequency(
    figure: Figure | SubFigure,
    panels: list[Axes],
    size: Format,
    low_hz: float,
    high_hz: float,
    legend: tuple[list[Any], list[str]] | None = None,
) -> None:
    """Logarithmic axes with round frequencies under the lowest panel, margins and the legend.

    legend: handles and labels; None for those of the upper panel
    """
    for axes in panels:
        axes.set_xscale("log")
    frequency_axis(panels[-1], low_hz, high_hz)
    handles, labels = legend or panels[0].get_legend_handles_labels()
    legend_above(figure, size, handles, labels, hspace=0.12)
    figure.align_ylabels(panels)


def tuning_line(axes: Axes, plan: Plan, label: str = "") -> None:
    """A dotted line where the box is tuned."""
    axes.axvline(
        tuned_hz(plan), color=LIGHT["band"], linewidth=1.4, linestyle=":", label=label or None, zorder=2
    )


def both_boxes(vented: Behaviour, closed: Behaviour | None) -> list[tuple[Behaviour, str, dict[str, Any]]]:
    """The vented and, where there is one, the closed box: behaviour, name and line style."""
    return [(vented, "vent", OPEN), *([(closed, "closed", SHUT)] if closed is not None else [])]


def shown_band(plan: Plan) -> tuple[float, float]:
    """The frequencies worth showing, from two octaves below the tuning up, Hz."""
    hz, tuned = plan.frequency_hz, tuned_hz(plan)
    return max(float(hz[0]), 0.25 * tuned), min(float(hz[-1]), 6.0 * tuned)


def highest(values: Reals, hz: Reals, from_hz: float) -> float:
    """The largest of the values from a frequency upwards, above zero."""
    seen = values[hz >= from_hz]
    return max(float(np.max(seen)), 1e-9) if seen.size else 1.0
