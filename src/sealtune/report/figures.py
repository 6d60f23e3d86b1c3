"""The impedance figure of a report, as inline SVG for the page."""

from __future__ import annotations

import math

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure, SubFigure
from matplotlib.ticker import FixedLocator, FuncFormatter
from numpy.typing import NDArray

from sealtune.records.verdict import Result
from sealtune.report.content import clean, curve_words, hz_decimals, number, tuning_words
from sealtune.report.drawing import (
    Format,
    frequency_axis,
    hatched_band,
    inline,
    legend_above,
    plain_axes,
    settings,
    svg_of,
    thinned,
)
from sealtune.report.landmark_labels import draw_landmarks
from sealtune.report.look import LIGHT
from sealtune.report.reading import curve_data

_MOST_DOTS = 100
_MOST_LINE_POINTS = 700

_PAGE = Format(5.0, 4.3, 10.5, 2, narrow=True)


def _sound(
    frequency_hz: NDArray[np.float64], impedance_ohm: NDArray[np.complex128], low_hz: float, high_hz: float
) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    inside = np.isfinite(frequency_hz) & np.isfinite(impedance_ohm.real) & np.isfinite(impedance_ohm.imag)
    inside &= (frequency_hz >= low_hz) & (frequency_hz <= high_hz)
    return frequency_hz[inside], impedance_ohm[inside]


def _drawn_band(result: Result, frequency_hz: NDArray[np.float64]) -> tuple[float, float]:
    """The part of the curve worth showing: from 4 Hz to well above the upper peak."""
    marks = result.landmarks
    highest = max((peak.hz for peak in marks.peaks), default=100.0) if marks is not None else 100.0
    low = max(float(frequency_hz[0]), min(4.0, float(frequency_hz[-1]) / 4.0))
    high = min(float(frequency_hz[-1]), max(400.0, 6.0 * highest))
    return (low, high) if high > 1.5 * low else (float(frequency_hz[0]), float(frequency_hz[-1]))


def _degrees(value: float, _place: int | None) -> str:
    return f"{value:.0f}°".replace("-", "\N{MINUS SIGN}")


def _draw_designed_and_tuning(axes: Axes, result: Result) -> None:
    prediction, fit = result.prediction, result.fit
    if prediction is not None and 0.0 < prediction.low_hz < prediction.high_hz < math.inf:
        label = f"designed tuning {number(prediction.low_hz, 1)} to {number(prediction.high_hz, 1)} Hz"
        hatched_band(axes, prediction.low_hz, prediction.high_hz, label)
    if fit is not None and math.isfinite(fit.tuning_hz.value) and fit.tuning_hz.value > 0.0:
        value = number(fit.tuning_hz.value, hz_decimals(fit.tuning_hz))
        axes.axvline(
            fit.tuning_hz.value,
            color=LIGHT["mark"],
            linewidth=1.8,
            dashes=(6, 3),
            label=f"measured tuning {value} Hz",
            zorder=3,
        )


def draw_impedance(figure: Figure | SubFigure, result: Result, size: Format) -> bool:
    """Draw the two panels in the light palette; False without a curve of at least two usable points."""
    if result.curve is None or result.curve.frequency_hz.size < 2:
        return False
    band = _drawn_band(result, result.curve.frequency_hz)
    hz, ohm = _sound(result.curve.frequency_hz, result.curve.impedance_ohm, *band)
    if hz.size < 2:
        return False
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(2.4, 1.0))
    dots = thinned(hz, _MOST_DOTS)
    dot = {
        "linestyle": "none",
        "marker": "o",
        "markersize": 3.2,
        "color": LIGHT["dot"],
        "markeredgewidth": 0.0,
    }
    upper.plot(hz[dots], np.abs(ohm[dots]), label="measured", zorder=4, **dot)
    lower.plot(hz[dots], np.degrees(np.angle(ohm[dots])), zorder=4, **dot)
    top = float(np.max(np.abs(ohm)))
    if result.fit is not None:
        fit_hz, model = _sound(result.fit.frequency_hz, result.fit.model_ohm, *band)
        if fit_hz.size >= 2:
            line = thinned(fit_hz, _MOST_LINE_POINTS)
            upper.plot(
                fit_hz[line],
                np.abs(model[line]),
                color=LIGHT["fit"],
                linewidth=2.6,
                label="fitted circuit",
                zorder=3,
            )
            lower.plot(
                fit_hz[line], np.degrees(np.angle(model[line])), color=LIGHT["fit"], linewidth=2.6, zorder=3
            )
    upper.set_ylim(0.0, 1.28 * top if top > 0.0 else 1.0)
    for axes in (upper, lower):
        _draw_designed_and_tuning(axes, result)
        axes.set_xscale("log")
        plain_axes(axes)
    lower.axhline(0.0, color=LIGHT["soft"], linewidth=0.9, zorder=2)
    lower.set_ylim(-95.0, 95.0)
    lower.yaxis.set_major_locator(FixedLocator((-90.0, -45.0, 0.0, 45.0, 90.0)))
    lower.yaxis.set_major_formatter(FuncFormatter(_degrees))
    upper.set_ylabel("impedance, Ω")
    lower.set_ylabel("phase")
    frequency_axis(lower, *band)
    legend_above(figure, size, *upper.get_legend_handles_labels())
    draw_landmarks(upper, result, size)
    return True


def _readable(result: Result, figure: Figure) -> dict[str, str]:
    """What the page's script needs to read the curve: its points, and where the panels lie in the drawing."""
    upper, lower = figure.axes
    width, height = (72.0 * float(inches) for inches in figure.get_size_inches())
    above, below = upper.get_position(), lower.get_position()
    low_hz, high_hz = upper.get_xlim()
    places = (
        above.x0 * width, above.x1 * width, low_hz, high_hz,
        (1.0 - above.y1) * height, (1.0 - above.y0) * height, (1.0 - below.y0) * height, upper.get_ylim()[1],
    )  # fmt: skip
    if result.curve is None:
        return {}
    points = _sound(result.curve.frequency_hz, result.curve.impedance_ohm, low_hz, high_hz)
    return {"curve": curve_data(*points), "plot": " ".join(f"{place:.5g}" for place in places)}


def figure_words(result: Result) -> str:
    """What the impedance figure shows, in one or two sentences, for whoever cannot see it."""
    text = f"Impedance in ohm and phase in degrees against frequency. {curve_words(result)}. "
    return f"{text[0].upper()}{text[1:]}Tuning: {tuning_words(result)}."


def impedance_figure(result: Result, *, prefix: str = "z", css_class: str = "") -> str:
    """Magnitude above phase, measured and fitted, with landmarks, designed band and measured tuning, as SVG.

    result: any result
    prefix: letters put before every id, so that several figures may stand on one page
    css_class: class of the element
    returns: an `svg` element whose texts are texts and whose colours follow the page's palette; the same
        bytes for the same result. "" where there is no curve of at least two usable points.
    """
    with rc_context(settings(_PAGE.letters_pt)):
        figure = _PAGE.figure()
        if not draw_impedance(figure, result, _PAGE):
            return ""
        svg, data = svg_of(figure), _readable(result, figure)
    name = f"Impedance of {clean(result.cabinet)}"
    return inline(svg, prefix, name, figure_words(result), css_class, data)
