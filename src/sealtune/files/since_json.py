"""What changed since older recordings, as plain data: the keys "since" and "history" of the result."""

from __future__ import annotations

from sealtune.files.json_text import number, with_bounds
from sealtune.records.comparison import Change, Comparison
from sealtune.records.history import History
from sealtune.records.interval import Interval

_PERCENT = 100.0


def since_json(comparison: Comparison) -> dict[str, object]:
    """Return the comparison as plain data: all keys always there, numbers finite or None."""
    leak = comparison.leak_probability
    return {
        "file": comparison.file,
        "outcome": comparison.outcome,
        "summary": comparison.summary,
        "passed_over": comparison.passed_over,
        "tuning_hz": _change(comparison.tuning_hz),
        "box_q": _change(comparison.box_q),
        "compliance_ratio": _change(comparison.compliance_ratio),
        "re_ohm": _change(comparison.re_ohm),
        "air_percent": _interval(comparison.air_share, _PERCENT),
        "leak_probability": None
        if leak is None
        else {"before": number(leak[0]), "now": number(leak[1]), "change": number(leak[1] - leak[0])},
        "leak_area_mm2": _change(comparison.leak_area_mm2),
    }


def history_json(history: History) -> dict[str, object]:
    """Return all recordings of the open vent as plain data, the oldest first."""
    return {
        "recordings": [
            {
                "file": one.file,
                "recorded_at": None if one.recorded_at is None else one.recorded_at.isoformat(),
                "verdict": one.verdict,
                "reason": one.reason,
                **with_bounds("tuning_hz", "tuning_low_hz", "tuning_high_hz", one.tuning_hz),
                **with_bounds("box_q", "box_q_low", "box_q_high", one.box_q),
                "leak_probability": number(one.leak_probability),
            }
            for one in history.entries
        ],
        "since_first": None if history.since_first is None else since_json(history.since_first),
    }


def _change(change: Change | None) -> dict[str, object] | None:
    if change is None:
        return None
    return {"before": number(change.before), "now": number(change.now), **_interval(change.difference)}


def _interval(interval: Interval | None, factor: float = 1.0) -> dict[str, object]:
    return with_bounds("change", "change_low", "change_high", interval, factor)
