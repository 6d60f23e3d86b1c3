"""The figure of the near field: cone, mouth and their sum beside the design, and the difference in third octaves."""

from __future__ import annotations

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure

from sealtune.records.near_field import AcousticSum
from sealtune.records.verdict import Result
from sealtune.report.content import clean, number
from sealtune.report.drawing import Format, inline, settings, svg_of, thinned
from sealtune.report.look import LIGHT
from sealtune.report.plan_axes import OPEN, SHUT, over_frequency, panels_in

_WIDE = Format(10.2, 4.9, 10.5, 3, narrow=False)
_NARROW = Format(5.0, 5.8, 11.5, 2, narrow=True)
_MOST_POINTS = 500
_LOWEST_DB = -36.0
_HALF_BAR = 10.0**0.035
_LOWEST_HZ = 16.0


def near_field_figure(result: Result, *, prefix: str, narrow: bool = False, css_class: str = "") -> str:
    """The figure as an `svg` element, "" where there is no acoustic sum.

    prefix: letters put before every id, so that several figures may stand on one page
    narrow: drawn for a screen as wide as a telephone's
    """
    if result.near_field is None or result.near_field.sound is None:
        return ""
    sound = result.near_field.sound
    size = _NARROW if narrow else _WIDE
    with rc_context(settings(size.letters_pt)):
        figure = size.figure()
        draw_near_field(figure, sound, size)
        svg = svg_of(figure)
    return inline(svg, prefix, f"Near field of {clean(result.cabinet)}", figure_words(sound), css_class)


def draw_near_field(figure: Figure | SubFigure, sound: AcousticSum, size: Format) -> None:
    """Draw cone, mouth, their sum and, where there is a design, the difference from it."""
    compared = sound.designed_db is not None
    panels = panels_in(figure, 2.2 if compared else 0.0)
    upper = panels[0]
    hz = sound.frequency_hz
    line = thinned(hz, _MOST_POINTS)
    upper.plot(hz[line], sound.level_db[line], label="cone and mouth together", **OPEN)
    if sound.designed_db is not None:
        upper.plot(hz[line], sound.designed_db[line], label="as designed", **SHUT)
    upper.plot(hz[line], sound.cone_db[line], color=LIGHT["band"], linewidth=1.5, label="cone", zorder=2)
    upper.plot(
        hz[line], sound.mouth_db[line], color=LIGHT["mark"], linewidth=1.5, linestyle=(0, (1.2, 1.4)),
        label="mouth", zorder=2,
    )  # fmt: skip
    seen = hz >= _LOWEST_HZ
    highest = max(float(sound.level_db[seen].max()), float(sound.cone_db[seen].max()), 0.0)
    upper.set_ylim(_LOWEST_DB, highest + 3.0)
    upper.set_ylabel("level, dB")
    limit = f"near field up to {number(sound.limit_hz, 0)} Hz"
    for place, axes in enumerate(panels):
        axes.axvline(
            sound.limit_hz, color=LIGHT["soft"], linewidth=1.6, dashes=(8, 2, 1.5, 2),
            label=None if place else limit, zorder=2,
        )  # fmt: skip
    if compared:
        _bars(panels[1], sound)
    over_frequency(figure, panels, size, _LOWEST_HZ, 1.12 * sound.limit_hz)


def _bars(axes: Axes, sound: AcousticSum) -> None:
    told = [(band.hz, band.difference_db) for band in sound.bands if band.difference_db is not None]
    hz = np.array([at for at, _ in told])
    value = np.array([difference for _, difference in told])
    axes.bar(
        hz / _HALF_BAR, value, width=hz * (_HALF_BAR - 1.0 / _HALF_BAR), align="edge", facecolor=LIGHT["fit"],
        edgecolor=LIGHT["fit"], linewidth=1.0, zorder=3,
    )  # fmt: skip
    axes.axhline(0.0, color=LIGHT["soft"], linewidth=1.0, zorder=4)
    reach = float(np.clip(np.abs(value).max(initial=0.0), 1.5, 15.0))
    axes.set_ylim(-reach - 0.4, reach + 0.4)
    axes.set_ylabel("difference, dB")


def figure_words(sound: AcousticSum) -> str:
    """Every band in words, for whoever cannot see the figure."""
    bands = []
    for band in sound.bands:
        difference = band.difference_db
        than = "" if difference is None else f" ({difference:+.1f} against the design)"
        bands.append(f"{band.hz:g} Hz {band.level_db:.1f} dB{than}")
    return (
        f"Level of cone and mouth together in third octaves up to {number(sound.limit_hz, 0)} Hz, where the near field "
        f"stops telling the far one: {', '.join(bands)}."
    )
