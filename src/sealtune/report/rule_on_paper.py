"""The tuning on a rule, on paper: the design's band and mark, the measured value below it."""

from __future__ import annotations

from matplotlib.figure import SubFigure
from matplotlib.ticker import FixedLocator

from sealtune.records.verdict import Result
from sealtune.report.content import deviation_words, hz_decimals, number, span
from sealtune.report.drawing import Format
from sealtune.report.look import LIGHT
from sealtune.report.paper import MARGIN_PT, Paper
from sealtune.report.scale import round_places, rule_ends


def rule_on_paper(paper: Paper, result: Result, y: float, width: float) -> float:
    """Put the tuning rule from that height on into the left margin's column and return where it ends."""
    prediction, fit = result.prediction, result.fit
    ends = rule_ends(result)
    if ends is None:
        return y

    def draw(part: SubFigure, _size: Format) -> None:
        axes = part.add_axes((0.02, 0.38, 0.96, 0.3))
        axes.set_facecolor(LIGHT["wood"])
        axes.set_xlim(*ends)
        axes.set_ylim(0.0, 1.0)
        axes.set_yticks([])
        axes.xaxis.set_major_locator(FixedLocator(round_places(*ends)))
        axes.xaxis.set_major_formatter("{x:g}")
        axes.tick_params(axis="x", direction="in", pad=-11, length=4)
        across = axes.get_xaxis_transform()
        if prediction is not None:
            axes.axvspan(
                prediction.low_hz,
                prediction.high_hz,
                ymin=0.8,
                facecolor="none",
                edgecolor=LIGHT["band"],
                hatch="////",
            )
            axes.axvline(prediction.target_hz, color=LIGHT["band"], linewidth=1.8)
            words = (
                f"designed {number(prediction.target_hz, 1)} Hz ({number(prediction.low_hz, 1)} to "
                f"{number(prediction.high_hz, 1)} is within tolerance)"
            )
            axes.text(0.0, 1.12, words, transform=axes.transAxes, va="bottom", parse_math=False)
        if fit is not None:
            tuning, tone = fit.tuning_hz, LIGHT[result.verdict]
            axes.plot([tuning.value], [-0.02], "^", color=tone, markersize=9, clip_on=False, transform=across)
            axes.plot(
                [tuning.low, tuning.high],
                [-0.02, -0.02],
                color=tone,
                linewidth=2.5,
                clip_on=False,
                transform=across,
            )
            places = hz_decimals(tuning)
            words = f"measured {number(tuning.value, places)} Hz ({span(tuning, places)})"
            axes.text(
                0.0,
                -0.42,
                words,
                transform=axes.transAxes,
                va="top",
                color=tone,
                weight="bold",
                parse_math=False,
            )
            judged = deviation_words(result) or "no design to compare with"
            axes.text(0.0, -0.92, judged, transform=axes.transAxes, va="top", parse_math=False)

    height = 74.0
    paper.figure(draw, MARGIN_PT, y, width, height, letters_pt=7.2)
    return y + height
