"""Plain data as JSON: finite numbers of 8 digits, or null."""

from __future__ import annotations

import json
import math

from sealtune.records.interval import Interval

_DIGITS = 8


def dumps(payload: dict[str, object]) -> str:
    """Return the data as one line of ASCII JSON.

    payload: plain data without NaN and infinity
    Raises ValueError where a number is not finite: such a number is never written.
    """
    return json.dumps(payload, allow_nan=False)


def number(value: float | None, factor: float = 1.0) -> float | None:
    """Return a plain float of 8 digits, None for what is absent or not finite."""
    if value is None or not math.isfinite(value * factor):
        return None
    return float(f"{value * factor:.{_DIGITS}g}")


def with_bounds(
    name: str, low: str, high: str, interval: Interval | None, factor: float = 1.0
) -> dict[str, object]:
    """Return a value and its bounds under these keys, each as `number` has it."""
    return {
        name: number(None if interval is None else interval.value, factor),
        low: number(None if interval is None else interval.low, factor),
        high: number(None if interval is None else interval.high, factor),
    }
