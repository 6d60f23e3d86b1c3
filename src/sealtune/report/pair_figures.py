"""The figures of two cabinets: both curves in one drawing, and by how much their levels differ."""

from __future__ import annotations

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure, SubFigure

from sealtune.records.pair import Pair
from sealtune.records.verdict import Result
from sealtune.report.content import clean
from sealtune.report.cost_figure import difference_bars, over_third_octaves
from sealtune.report.drawing import Format, hatched_band, inline, legend_above, settings, svg_of, thinned
from sealtune.report.pair_text import impedance_words, level_words
from sealtune.report.plan_axes import OPEN, SHUT, over_frequency, panels_in

_TRACES = Format(5.0, 4.3, 10.5, 2, narrow=True)
_LEVELS = Format(5.0, 2.5, 10.5, 2, narrow=True)
_MOST_POINTS = 500


def draw_traces(figure: Figure | SubFigure, pair: Pair, size: Format) -> bool:
    """Draw magnitude above phase of both cabinets; False without both curves."""
    bands = [_band(result) for result in (pair.left, pair.right)]
    if bands[0] is None or bands[1] is None:
        return False
    low_hz, high_hz = max(bands[0][0], bands[1][0]), min(bands[0][1], bands[1][1])
    if high_hz <= 1.5 * low_hz:
        return False
    upper, lower = panels_in(figure, 2.4)
    for side, result, style in (("left", pair.left, OPEN), ("right", pair.right, SHUT)):
        assert result.curve is not None
        inside = (result.curve.frequency_hz >= low_hz) & (result.curve.frequency_hz <= high_hz)
        hz, ohm = result.curve.frequency_hz[inside], result.curve.impedance_ohm[inside]
        shown = thinned(hz, _MOST_POINTS)
        name = clean(result.cabinet)[:24]
        label = name if name.lower() == side else f"{side}: {name}"
        upper.plot(hz[shown], np.abs(ohm[shown]), label=label.replace("$", r"\$"), **style)
        lower.plot(hz[shown], np.degrees(np.angle(ohm[shown])), **style)
    prediction = pair.left.prediction
    if prediction is not None:
        for place, axes in enumerate((upper, lower)):
            hatched_band(axes, prediction.low_hz, prediction.high_hz, "" if place else "designed tuning")
    upper.set_ylim(bottom=0.0)
    upper.set_ylabel("impedance, Ω")
    lower.set_ylabel("phase, degrees")
    over_frequency(figure, [upper, lower], size, low_hz, high_hz)
    return True


def traces_figure(pair: Pair, *, prefix: str) -> str:
    """Both curves as an `svg` element, "" without both."""
    with rc_context(settings(_TRACES.letters_pt)):
        figure = _TRACES.figure()
        if not draw_traces(figure, pair, _TRACES):
            return ""
        svg = svg_of(figure)
    names = f"{clean(pair.left.cabinet)} and {clean(pair.right.cabinet)}"
    words = f"Both curves in one drawing: {impedance_words(pair) or 'not compared'}."
    return inline(svg, prefix, f"Impedance of {names}", words, "trace")


def draw_levels(figure: Figure | SubFigure, pair: Pair, size: Format) -> None:
    """Draw the level of the left cabinet less that of the right in third octaves."""
    (axes,) = panels_in(figure)
    difference_bars(axes, pair.bands)
    over_third_octaves([axes], np.array([band.hz for band in pair.bands])[::2])
    axes.set_ylabel("left less right, dB")
    legend_above(figure, size, *axes.get_legend_handles_labels())


def levels_figure(pair: Pair, *, prefix: str) -> str:
    """Level of the left cabinet less that of the right in third octaves as an `svg` element, "" without any."""
    if not pair.bands:
        return ""
    with rc_context(settings(_LEVELS.letters_pt)):
        figure = _LEVELS.figure()
        draw_levels(figure, pair, _LEVELS)
        svg = svg_of(figure)
    return inline(svg, prefix, "Difference of the levels", f"{level_words(pair)}.", "levels")


def _band(result: Result) -> tuple[float, float] | None:
    """The part of a curve worth showing, as in the figure of one cabinet: from 4 Hz to well above the upper peak."""
    curve, marks = result.curve, result.landmarks
    if curve is None or curve.frequency_hz.size < 2:
        return None
    highest = max((peak.hz for peak in marks.peaks), default=100.0) if marks is not None else 100.0
    last = float(curve.frequency_hz[-1])
    return max(float(curve.frequency_hz[0]), min(4.0, last / 4.0)), min(last, max(400.0, 6.0 * highest))
