"""The figure of what a box costs: level in third octaves as measured and as designed, and their difference."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator
from numpy.typing import NDArray

from sealtune.records.cost import BandCost, Cost
from sealtune.records.pair import BandDifference
from sealtune.records.verdict import Result
from sealtune.report.content import clean
from sealtune.report.cost_words import figure_words
from sealtune.report.drawing import Format, hertz, inline, legend_above, settings, svg_of
from sealtune.report.look import LIGHT
from sealtune.report.plan_axes import OPEN, SHUT, panels_in

_WIDE = Format(10.2, 3.4, 10.5, 4, narrow=False)
_NARROW = Format(5.0, 4.6, 11.5, 2, narrow=True)
_HALF_BAR = 10.0**0.035
_LOWEST_DB = -30.0
_LEAST_SPAN_DB = 1.5


def cost_figure(result: Result, *, prefix: str, narrow: bool = False, css_class: str = "") -> str:
    """The figure as an `svg` element, "" where the result tells no cost.

    prefix: letters put before every id, so that several figures may stand on one page
    narrow: drawn for a screen as wide as a telephone's
    """
    if result.cost is None:
        return ""
    size = _NARROW if narrow else _WIDE
    with rc_context(settings(size.letters_pt)):
        figure = size.figure()
        draw_cost(figure, result.cost, size)
        svg = svg_of(figure)
    return inline(svg, prefix, f"Cost of {clean(result.cabinet)}", figure_words(result.cost), css_class)


def draw_cost(figure: Figure | SubFigure, cost: Cost, size: Format) -> None:
    """Draw level as measured and as designed, and below it their difference."""
    upper, lower = panels_in(figure, 1.1)
    hz = np.array([band.hz for band in cost.bands])
    meant = "as designed" if cost.against == "design" else "with usual losses"
    found = np.array([band.measured_db for band in cost.bands])
    designed = np.array([band.designed_db for band in cost.bands])
    upper.plot(hz, found, marker="o", markersize=5, label="as measured", **OPEN)
    upper.plot(hz, designed, marker="s", markersize=4, label=meant, **SHUT)
    highest = float(max(found.max(), designed.max()))
    lowest = float(min(found.min(), designed.min()))
    upper.set_ylim(max(lowest, _LOWEST_DB) - 1.0, max(highest, 0.0) + 2.0)
    upper.set_ylabel("level, dB")
    difference_bars(lower, cost.bands)
    over_third_octaves([upper, lower], hz[::2] if size.narrow else hz)
    handles, labels = upper.get_legend_handles_labels()
    more, words = lower.get_legend_handles_labels()
    legend_above(figure, size, [*handles, *more], [*labels, *words], hspace=0.12)
    figure.align_ylabels([upper, lower])


def over_third_octaves(panels: Sequence[Axes], ticks_hz: NDArray[np.float64]) -> None:
    """Logarithmic axes over the third octaves from 20 to 200 Hz, these frequencies told under the lowest panel."""
    for axes in panels:
        axes.set_xscale("log")
        axes.set_xlim(17.5, 228.0)
        axes.xaxis.set_minor_locator(NullLocator())
    lowest = panels[-1]
    lowest.xaxis.set_major_locator(FixedLocator(ticks_hz.tolist()))
    lowest.xaxis.set_major_formatter(FuncFormatter(hertz))
    lowest.set_xlabel("third octave, Hz")


def difference_bars(axes: Axes, bands: Sequence[BandCost] | Sequence[BandDifference]) -> None:
    """One bar for each band from 0 to the difference, with its interval; open where nothing is heard."""
    for heard, face in ((True, LIGHT["fit"]), (False, "none")):
        shown = [band for band in bands if band.heard is heard]
        if not shown:
            continue
        hz = np.array([band.hz for band in shown])
        value = np.array([band.difference_db.value for band in shown])
        axes.bar(
            hz / _HALF_BAR,
            value,
            width=hz * (_HALF_BAR - 1.0 / _HALF_BAR),
            align="edge",
            facecolor=face,
            edgecolor=LIGHT["fit"],
            linewidth=1.2,
            label="difference" if heard else "too soft to be heard",
            zorder=3,
        )
        ends = np.array([[band.difference_db.low, band.difference_db.high] for band in shown])
        axes.vlines(hz, ends[:, 0], ends[:, 1], color=LIGHT["ink"], linewidth=1.4, zorder=5)
    axes.axhline(0.0, color=LIGHT["soft"], linewidth=1.0, zorder=4)
    low = min(min(band.difference_db.low for band in bands), -_LEAST_SPAN_DB)
    high = max(max(band.difference_db.high for band in bands), _LEAST_SPAN_DB)
    axes.set_ylim(max(low, -15.0) - 0.4, min(high, 15.0) + 0.4)
    axes.set_ylabel("difference, dB")
