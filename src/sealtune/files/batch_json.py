"""A batch as plain data, schema "sealtune.batch/1", and as a table of comma-separated values."""

from __future__ import annotations

import csv
import io

from sealtune.files.json_text import number, with_bounds
from sealtune.records.batch import Batch, BatchCabinet, BatchPair, ControlChart
from sealtune.records.interval import Interval

SCHEMA = "sealtune.batch/1"

COLUMNS = (
    "cabinet", "verdict", "reason", "tuning_hz", "tuning_low_hz", "tuning_high_hz", "designed_hz",
    "deviation_percent", "box_q", "box_q_low", "box_q_high", "compliance_ratio", "fs_hz", "leak_probability",
    "mate", "mismatch_db", "recorded_at",
)  # fmt: skip

_PERCENT = 100.0
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def batch_json(batch: Batch) -> dict[str, object]:
    """Return the batch as plain data: all keys always there, numbers finite or None; checks as `check` gives them."""
    verdicts = [cabinet.verdict for cabinet in batch.cabinets]
    return {
        "schema": SCHEMA,
        "folder": batch.folder,
        "counts": {word: verdicts.count(word) for word in ("good", "rework", "remeasure")},
        "cabinets": [_cabinet(cabinet) for cabinet in batch.cabinets],
        "pairs": [_pair(pair) for pair in batch.pairs],
        "odd_one_out": list(batch.left_over),
        "total_mismatch_db": number(batch.total_mismatch_db),
        "limits": [_chart(chart) for chart in batch.charts],
        "passed_over": list(batch.passed_over),
    }


def batch_csv(batch: Batch) -> str:
    """Return one line for each cabinet under a line of names; what a spreadsheet would take for a formula is quoted."""
    mates: dict[str, tuple[str, float]] = {}
    for pair in batch.pairs:
        mates[pair.first] = (pair.second, pair.mismatch_db)
        mates[pair.second] = (pair.first, pair.mismatch_db)
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow(COLUMNS)
    for one in batch.cabinets:
        mate, mismatch = mates.get(one.name, ("", None))
        q, tuning = one.box_q, one.tuning_hz
        writer.writerow(
            (
                _plain(one.name), one.verdict, _plain(one.reason), *_three(tuning), _cell(one.target_hz),
                _cell(None if one.deviation is None else _PERCENT * one.deviation), *_three(q),
                _three(one.compliance_ratio)[0], _three(one.fs_hz)[0],
                _cell(one.leak_probability), _plain(mate), _cell(mismatch),
                one.recorded_at.isoformat() if one.recorded_at else "",
            )
        )  # fmt: skip
    return target.getvalue()


def _plain(text: str) -> str:
    text = " ".join(text.split())
    return f"'{text}" if text.startswith(_FORMULA) else text


def _cell(value: float | None) -> str:
    found = number(value)
    return "" if found is None else f"{found:.6g}"


def _three(interval: Interval | None) -> tuple[str, str, str]:
    if interval is None:
        return "", "", ""
    return _cell(interval.value), _cell(interval.low), _cell(interval.high)


def _cabinet(one: BatchCabinet) -> dict[str, object]:
    return {
        "cabinet": one.name,
        "verdict": one.verdict,
        "exit_code": one.exit_code,
        "reason": one.reason,
        "step": one.step,
        "recorded_at": None if one.recorded_at is None else one.recorded_at.isoformat(),
        "deviation_percent": number(one.deviation, _PERCENT),
        "check": None if one.check is None else dict(one.check),
    }


def _pair(pair: BatchPair) -> dict[str, object]:
    return {
        "cabinets": [pair.first, pair.second],
        "mismatch_db": number(pair.mismatch_db),
        "tuning_difference_hz": number(pair.tuning_hz),
        "ready": pair.ready,
    }


def _chart(chart: ControlChart) -> dict[str, object]:
    limits, trend = chart.limits, chart.trend
    return {
        "design": chart.design,
        "quantity": chart.quantity,
        "unit": chart.unit,
        "by_date": chart.by_date,
        "cabinets": list(chart.names),
        "values": [number(value) for value in chart.values],
        "centre": number(limits.centre),
        "low": number(limits.low),
        "high": number(limits.high),
        "moving_range": number(limits.range_centre),
        "moving_range_high": number(limits.range_high),
        "outside": list(chart.outside),
        "drift": None
        if trend is None
        else {
            **with_bounds("change", "change_low", "change_high", trend.change),
            "certain": trend.certain,
        },
    }
