"""The tuning on a rule: the design's band and mark above it, the measured value below it."""

from __future__ import annotations

import math
from collections.abc import Callable
from html import escape

from sealtune.records.verdict import Result
from sealtune.report.content import clean, deviation_words, hz_decimals, number, span, tuning_words
from sealtune.report.look import LIGHT


def _colour(name: str) -> str:
    return f"var(--{name},{LIGHT[name]})"


def _step(width: float) -> float:
    """A round distance between the rule's numbers that gives 4 to 9 of them."""
    power = 10.0 ** math.floor(math.log10(width / 4.0))
    return next(
        power * factor for factor in (5.0, 2.0, 1.0) if width / (power * factor) >= 4.0 or factor == 1.0
    )


def round_places(low: float, high: float) -> list[float]:
    """Return the numbers that stand on a rule from low to high: round, and none at its very ends."""
    step, edge = _step(high - low), 0.04 * (high - low)
    counts = range(math.ceil((low + edge) / step), math.floor((high - edge) / step) + 1)
    return [count * step for count in counts]


def rule_ends(result: Result) -> tuple[float, float] | None:
    """Return from where to where a rule goes that shows tuning and design, Hz; None where neither is known."""
    prediction, fit = result.prediction, result.fit
    ends = [prediction.low_hz, prediction.target_hz, prediction.high_hz] if prediction is not None else []
    ends += [fit.tuning_hz.low, fit.tuning_hz.value, fit.tuning_hz.high] if fit is not None else []
    ends = [end for end in ends if math.isfinite(end)]
    if not ends:
        return None
    middle = (min(ends) + max(ends)) / 2.0
    half = max(0.62 * (max(ends) - min(ends)), 0.04 * abs(middle), 0.5)
    return middle - half, middle + half


def _anchor(place: float) -> str:
    return "start" if place < 36.0 else "end" if place > 64.0 else "middle"


def _written(place: float) -> float:
    """Where a text that leans to one side begins or ends: past its mark, so that it has room on a telephone."""
    return {"start": max(place - 12.0, 0.0), "middle": place, "end": min(place + 12.0, 100.0)}[_anchor(place)]


def tuning_scale_figure(result: Result, *, prefix: str = "") -> str:
    """A horizontal rule in Hz as inline SVG, as wide as its container; texts keep their size on a telephone.

    result: any result; without a prediction the rule carries only the measured tuning, without a fit only
        the design's
    prefix: put before every id, so that several may stand on one page
    returns: an `svg` element with title, or "" where neither tuning nor design is known
    """
    ends = rule_ends(result)
    if ends is None:
        return ""
    low, high = ends

    def at(hz: float) -> float:
        return min(max(100.0 * (hz - low) / (high - low), 0.0), 100.0)

    title = f"Tuning of {clean(result.cabinet)}: {tuning_words(result)}"
    parts = [
        f'<svg role="img" aria-labelledby="{prefix}rule" height="158" width="100%" font-size="14" '
        f'fill="{_colour("ink")}"><title id="{prefix}rule">{escape(title)}</title>',
        f'<defs><pattern id="{prefix}hatch" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="7" height="7" fill="{_colour("band")}" opacity=".25"/>'
        f'<rect width="2" height="7" fill="{_colour("band")}"/></pattern></defs>',
        f'<rect x="0" y="46" width="100%" height="44" rx="2" '
        f'fill="{_colour("wood")}" stroke="{_colour("rule")}"/>',
    ]
    parts += _ticks(low, high, at)
    if result.prediction is not None:
        parts += _meant(result, at, prefix)
    if result.fit is not None:
        parts += _measured(result, at)
    return "".join([*parts, "</svg>"])


def _ticks(low: float, high: float, at: Callable[[float], float]) -> list[str]:
    step = _step(high - low)
    small = step / 5.0
    parts = []
    for count in range(math.ceil(low / small), math.floor(high / small) + 1):
        hz = count * small
        if not 0.5 < at(hz) < 99.5:
            continue
        long = count % 5 == 0
        parts.append(
            f'<line x1="{at(hz):.2f}%" x2="{at(hz):.2f}%" y1="46" y2="{60 if long else 53}" '
            f'stroke="{_colour("ink")}" stroke-width="1"/>'
        )
        if long and 4.0 < at(hz) < 96.0:
            parts.append(
                f'<text x="{at(hz):.2f}%" y="77" text-anchor="middle" font-size="13">'
                f"{number(hz, 0 if step >= 1.0 else 1)}</text>"
            )
    parts.append('<text x="100%" dx="-4" y="87" text-anchor="end" font-size="11">Hz</text>')
    return parts


def _meant(result: Result, at: Callable[[float], float], prefix: str) -> list[str]:
    prediction = result.prediction
    if prediction is None or not all(
        math.isfinite(hz) for hz in (prediction.low_hz, prediction.target_hz, prediction.high_hz)
    ):
        return []
    left, right, target = at(prediction.low_hz), at(prediction.high_hz), at(prediction.target_hz)
    edge = {"start": min(left, _written(target)), "middle": target, "end": max(right, _written(target))}[
        _anchor(target)
    ]
    return [
        f'<rect x="{left:.2f}%" y="37" width="{max(right - left, 0.3):.2f}%" height="9" '
        f'fill="url(#{prefix}hatch)" stroke="{_colour("band")}"/>',
        f'<line x1="{target:.2f}%" x2="{target:.2f}%" y1="33" y2="62" '
        f'stroke="{_colour("band")}" stroke-width="3"/>',
        f'<text x="{edge:.2f}%" y="13" text-anchor="{_anchor(target)}" font-weight="700">'
        f"designed {number(prediction.target_hz, 1)} Hz</text>",
        f'<text x="{edge:.2f}%" y="29" text-anchor="{_anchor(target)}" font-size="13">'
        f"{number(prediction.low_hz, 1)} to {number(prediction.high_hz, 1)} Hz is within tolerance</text>",
    ]


def _measured(result: Result, at: Callable[[float], float]) -> list[str]:
    if result.fit is None or not math.isfinite(result.fit.tuning_hz.value):
        return []
    tuning = result.fit.tuning_hz
    place, tone = at(tuning.value), _colour(result.verdict)
    places = hz_decimals(tuning)
    judged = escape(deviation_words(result) or "no design to compare with")
    parts = [
        f'<svg x="{place:.2f}%" y="88" overflow="visible"><path d="M0 0 9 15 -9 15Z" fill="{tone}"/></svg>',
        f'<text x="{_written(place):.2f}%" y="121" text-anchor="{_anchor(place)}" font-weight="700" fill="{tone}">'
        f"measured {number(tuning.value, places)} Hz</text>",
        f'<text x="{_written(place):.2f}%" y="137" text-anchor="{_anchor(place)}" font-size="13">'
        f"{judged}</text>",
        f'<text x="{_written(place):.2f}%" y="153" text-anchor="{_anchor(place)}" font-size="13">'
        f"between {span(tuning, places).replace(' to ', ' and ')}</text>",
    ]
    if math.isfinite(tuning.low) and math.isfinite(tuning.high):
        left, right = at(tuning.low), at(tuning.high)
        parts.append(
            f'<line x1="{left:.2f}%" x2="{right:.2f}%" y1="96" y2="96" stroke="{tone}" stroke-width="4"/>'
            f'<line x1="{left:.2f}%" x2="{left:.2f}%" y1="91" y2="101" stroke="{tone}" stroke-width="2"/>'
            f'<line x1="{right:.2f}%" x2="{right:.2f}%" y1="91" y2="101" stroke="{tone}" stroke-width="2"/>'
        )
    return parts
