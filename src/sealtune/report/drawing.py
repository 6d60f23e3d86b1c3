"""What all figures share: size, letters, axes, and the way from matplotlib's file to an element of a page."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator
from numpy.typing import NDArray

from sealtune.report.look import LIGHT

_FAMILY = '"Gill Sans","Seravek","Carlito","Liberation Sans",Arial,sans-serif'
_TICKS_HZ = (2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)


@dataclass(frozen=True)
class Format:
    """Size of the drawing in inches of 72 units, and of its letters in points."""

    width_in: float
    height_in: float
    letters_pt: float
    legend_columns: int
    narrow: bool

    def figure(self) -> Figure:
        """Return an empty figure of this size."""
        return Figure(figsize=(self.width_in, self.height_in), facecolor="none")


def settings(letters_pt: float) -> dict[Any, Any]:
    """Matplotlib's settings for a figure in the light palette with letters of that size."""
    return {
        "svg.fonttype": "none",
        "svg.hashsalt": "sealtune",
        "font.family": ["DejaVu Sans"],
        "font.size": letters_pt,
        "text.color": LIGHT["ink"],
        "axes.edgecolor": LIGHT["soft"],
        "axes.labelcolor": LIGHT["ink"],
        "axes.unicode_minus": True,
        "xtick.color": LIGHT["ink"],
        "ytick.color": LIGHT["ink"],
        "grid.color": LIGHT["rule"],
        "grid.linewidth": 0.6,
        "hatch.color": LIGHT["band"],
        "hatch.linewidth": 0.7,
        "path.simplify": True,
    }


def thinned(frequency_hz: NDArray[np.float64], most: int) -> NDArray[np.intp]:
    """Indices of at most `most` points, evenly spread over the logarithm of frequency, none averaged."""
    if frequency_hz.size <= most:
        return np.arange(frequency_hz.size)
    wanted = np.geomspace(frequency_hz[0], frequency_hz[-1], most)
    return np.unique(np.clip(np.searchsorted(frequency_hz, wanted), 0, frequency_hz.size - 1))


def plain_axes(axes: Axes) -> None:
    """A grid behind the curves, no frame at the top and on the right."""
    axes.set_facecolor("none")
    axes.grid(visible=True, which="major")
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def frequency_axis(axes: Axes, low_hz: float, high_hz: float) -> None:
    """Round frequencies under the lowest panel; its x axis must be logarithmic already."""
    axes.set_xlim(low_hz, high_hz)
    axes.xaxis.set_major_locator(FixedLocator([tick for tick in _TICKS_HZ if low_hz <= tick <= high_hz]))
    axes.xaxis.set_major_formatter(FuncFormatter(hertz))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xlabel("frequency, Hz")


def hatched_band(axes: Axes, low_hz: float, high_hz: float, label: str) -> None:
    """The band of frequencies that the design allows, hatched."""
    axes.axvspan(
        low_hz,
        high_hz,
        facecolor="none",
        edgecolor=LIGHT["band"],
        hatch="////",
        linewidth=0.8,
        label=label,
        zorder=1,
    )


def legend_above(
    figure: Figure | SubFigure,
    size: Format,
    handles: list[Any],
    labels: list[str],
    *,
    left_letters: float = 5.2,
    hspace: float = 0.09,
) -> None:
    """Margins that fit the letters, and the legend above the panels."""
    rows = math.ceil(len(labels) / size.legend_columns)
    letters_in = size.letters_pt / 72.0
    figure.subplots_adjust(
        left=left_letters * letters_in / size.width_in,
        right=1.0 - 0.9 * letters_in / size.width_in,
        bottom=3.3 * letters_in / size.height_in,
        top=1.0 - (0.6 + 1.75 * rows) * letters_in / size.height_in,
        hspace=hspace,
    )
    figure.legend(
        handles,
        labels,
        loc="upper left",
        bbox_to_anchor=(0.0, 1.0),
        ncols=size.legend_columns,
        frameon=False,
        borderaxespad=0.1,
        columnspacing=1.4,
        handlelength=2.3,
    )


def svg_of(figure: Figure) -> str:
    """The figure as matplotlib's SVG file, without a date."""
    target = io.StringIO()
    figure.savefig(target, format="svg", metadata={"Date": None})
    return target.getvalue()


def inline(
    svg: str, prefix: str, name: str, description: str, css_class: str, data: Mapping[str, str] | None = None
) -> str:
    """Matplotlib's file as an element of a page: own ids, colours that follow the page, no addresses.

    svg: the file
    prefix: letters put before every id, so that several figures may stand on one page
    name, description: what it is and what it shows, for whoever cannot see it; escaped here
    css_class: class of the element, "" for none
    data: values for the page's script, by name; no quotes in them
    """
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<style\b.*?</style>", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<!--.*?-->", "", svg, flags=re.DOTALL)
    svg = svg.replace("xlink:href=", "href=")
    svg = re.sub(r'\bid="', f'id="{prefix}', svg)
    svg = svg.replace('href="#', f'href="#{prefix}').replace("url(#", f"url(#{prefix}")
    svg = re.sub(r"(?<=\d\.)(\d\d)\d+", r"\1", svg)
    svg = re.sub(r"\s*\n\s*", "\n", svg)
    for colour, value in LIGHT.items():
        svg = svg.replace(value, f"var(--{colour},{value})")
    svg = svg.replace("'DejaVu Sans'", _FAMILY.replace('"', "'"))
    more = "".join(f' data-{key}="{value}"' for key, value in (data or {}).items())
    box = re.search(r'viewBox="[^"]*"', svg)
    opening = (
        f'<svg {box.group(0) if box else ""} role="img" aria-labelledby="{prefix}title {prefix}desc" '
        f'style="stroke-linejoin:round;stroke-linecap:butt"{f" class={css_class!r}" if css_class else ""}{more}>'
        f'<title id="{prefix}title">{escape(name)}</title>'
        f'<desc id="{prefix}desc">{escape(description)}</desc>'
    ).replace("'", '"')
    return opening + svg[svg.index(">") + 1 :].strip()


def hertz(value: float, _place: int | None) -> str:
    """A frequency as a tick's label."""
    return f"{value:g}"
