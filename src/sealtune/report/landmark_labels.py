"""The marks of peaks and saddle on an impedance curve, and where their texts have room."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.axes import Axes

from sealtune.records.verdict import Result
from sealtune.report.content import number
from sealtune.report.drawing import Format
from sealtune.report.look import LIGHT

PEAK_LIFT_PT = 9.0
"""How far a peak's label stands above its mark."""

SADDLE_LIFT = 0.36
"""The same of the saddle's label where nothing is in its way, over the height of the panel."""

Label = tuple[float, float, str]
"""Frequency, Hz, impedance, ohm, and text of a mark."""


def _along(axes: Axes, across: float, hz: float) -> float:
    """Return where a frequency lies in a panel that is so wide."""
    low, high = axes.get_xlim()
    return across * math.log(hz / low) / math.log(high / low)


def _reach(text: str, size: Format) -> float:
    """Return half the width of a label, points."""
    return 0.31 * size.letters_pt * max(map(len, text.split("\n")))


def _sideways(axes: Axes, labels: list[tuple[float, str]], size: Format) -> list[float]:
    """Return how far to move labels from above their frequencies so that they stay in the panel and clear each other.

    labels: frequency, Hz, and text, rising in frequency
    returns: by label, points of 1/72 inch
    """
    across = axes.get_position().width * 72.0 * size.width_in
    wanted = [_along(axes, across, hz) for hz, _ in labels]
    half = [_reach(text, size) for _, text in labels]

    def inside(place: float, reach: float) -> float:
        return min(max(place, reach), max(across - reach, reach))

    places = [inside(place, reach) for place, reach in zip(wanted, half, strict=True)]
    for one in range(len(places) - 1):
        short = half[one] + half[one + 1] - (places[one + 1] - places[one])
        if short > 0.0:
            places[one] = inside(places[one] - short / 2.0, half[one])
            places[one + 1] = inside(places[one] + half[one] + half[one + 1], half[one + 1])
    return [place - want for place, want in zip(places, wanted, strict=True)]


def _cleared(
    axes: Axes, saddle: Label, peaks: list[Label], shifts: list[float], size: Format
) -> tuple[float, list[float]]:
    """Return at how many ohm the saddle's label stands, and the shifts of the peaks' labels so that all are clear.

    shifts: of the peaks' labels to the side, points
    The saddle's label moves up or down; where there is no room for it, the peaks' labels move away from it.
    """
    panel, top = axes.get_position(), axes.get_ylim()[1]
    across, up = 72.0 * size.width_in * panel.width, 72.0 * size.height_in * panel.height
    tall = 3.0 * size.letters_pt

    def place(label: Label) -> float:
        return _along(axes, across, label[0])

    reach = _reach(saddle[2], size)
    short = [  # how far each overlaps the saddle's label sideways, and at what height it stands
        (
            reach + _reach(one[2], size) - abs(place(one) + shift - place(saddle)),
            up * one[1] / top + PEAK_LIFT_PT,
        )
        for one, shift in zip(peaks, shifts, strict=True)
    ]

    def clear(rise: float) -> bool:
        bottom = up * (saddle[1] / top + rise)
        return bottom + tall <= up and all(by <= 0.0 or abs(bottom - at) >= tall for by, at in short)

    rises = sorted(np.arange(0.12, 0.7, 0.02).tolist(), key=lambda rise: abs(rise - SADDLE_LIFT))
    rise = next(filter(clear, rises), None)
    if rise is not None:
        return saddle[1] + rise * top, shifts
    moved = [
        shift + math.copysign(max(by, 0.0), one[0] - saddle[0])
        for one, shift, (by, _) in zip(peaks, shifts, short, strict=True)
    ]
    return saddle[1] + SADDLE_LIFT * top, moved


def draw_landmarks(axes: Axes, result: Result, size: Format) -> None:
    """Mark peaks and saddle with frequency and ohms, so that no text lies over another."""
    marks = result.landmarks
    if marks is None:
        return
    named = [
        ("lower peak", marks.lower, "^"),
        ("saddle", marks.saddle, "v"),
        ("upper peak", marks.upper, "^"),
    ]
    if marks.lower is None or marks.saddle is None or marks.upper is None:
        named = [(f"peak {place}", peak, "^") for place, peak in enumerate(marks.peaks[:4], start=1)]
    shown = [
        (name, mark, shape, "" if size.narrow and name == "saddle" else f", {number(mark.ohm, 1)} Ω")
        for name, mark, shape in named
        if mark is not None and math.isfinite(mark.hz) and math.isfinite(mark.ohm)
    ]
    texts = {name: f"{name}\n{number(mark.hz, 1)} Hz{ohm}" for name, mark, _, ohm in shown}
    peaks = [(name, (mark.hz, texts[name])) for name, mark, _, _ in shown if name != "saddle"]
    moved = _sideways(axes, [label for _, label in peaks], size)
    labels = {name: (mark.hz, mark.ohm, texts[name]) for name, mark, _, _ in shown}
    low = labels.pop("saddle", None)
    lifted = 0.0
    if low is not None:
        lifted, moved = _cleared(axes, low, list(labels.values()), moved, size)
    shifts = dict(zip([name for name, _ in peaks], moved, strict=True))
    for name, mark, shape, _ in shown:
        axes.plot([mark.hz], [mark.ohm], shape, color=LIGHT["ink"], markersize=8, zorder=6)
        saddle = name == "saddle"
        axes.annotate(
            texts[name],
            (mark.hz, mark.ohm),
            xytext=(mark.hz, lifted) if saddle else (shifts[name], PEAK_LIFT_PT),
            textcoords="data" if saddle else "offset points",
            ha="center",
            va="bottom",
            linespacing=1.25,
            bbox={"boxstyle": "square,pad=0.25", "facecolor": LIGHT["card"], "edgecolor": "none"},
            arrowprops={"arrowstyle": "-", "color": LIGHT["soft"], "linewidth": 0.9} if saddle else None,
            zorder=5,
        )
