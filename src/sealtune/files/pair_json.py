"""Two cabinets held against each other as plain data, schema "sealtune.pair/1"."""

from __future__ import annotations

from sealtune.files.json_text import number, with_bounds
from sealtune.files.near_field_json import near_field_pair_json
from sealtune.files.result_json import result_json
from sealtune.records.interval import Interval
from sealtune.records.pair import MatchingStep, Pair

SCHEMA = "sealtune.pair/1"

_MM_PER_M = 1e3
_PERCENT = 100.0


def pair_json(pair: Pair) -> dict[str, object]:
    """Return the pair as plain data: all keys always there, numbers finite or None; left and right as check gives them.

    Differences are left less right.
    """
    impedance, worst, leaks = pair.impedance, pair.worst, pair.leak_probability
    return {
        "schema": SCHEMA,
        "verdict": pair.verdict,
        "matched": pair.matched,
        "summary": pair.summary,
        "left": result_json(pair.left),
        "right": result_json(pair.right),
        "differences": {
            one.name: {
                "left": number(one.left),
                "right": number(one.right),
                **_interval("difference", one.difference),
                "certain": one.certain,
            }
            for one in pair.differences
        },
        "tuning_percent": number(_tuning_share(pair), _PERCENT),
        "tolerance_percent": number(pair.tolerance, _PERCENT),
        "fitted_together": pair.joint,
        "impedance": None
        if impedance is None
        else {
            "low_hz": number(impedance.low_hz),
            "high_hz": number(impedance.high_hz),
            **_interval("rms_db", impedance.rms_db),
            **_interval("largest_db", impedance.largest_db),
            "largest_at_hz": number(impedance.at_hz),
        },
        "bands": [
            {
                "hz": number(band.hz),
                **_interval("difference_db", band.difference_db),
                "boxes_db": number(band.boxes_db.value),
                "heard": band.heard,
            }
            for band in pair.bands
        ],
        "worst_hz": number(None if worst is None else worst.hz),
        "worst_db": number(None if worst is None else worst.difference_db.value),
        "leak_probability": None if leaks is None else {"left": number(leaks[0]), "right": number(leaks[1])},
        "farther_from_design": pair.farther,
        "steps": [_step(step) for step in pair.steps],
        "near_field": None if pair.near_field is None else near_field_pair_json(pair.near_field),
        "notes": list(pair.notes),
    }


def _tuning_share(pair: Pair) -> float | None:
    tuning = pair.of("tuning_hz")
    return None if tuning is None else tuning.left / tuning.right - 1.0


def _step(step: MatchingStep) -> dict[str, object]:
    return {
        "side": step.side,
        "words": step.words,
        **with_bounds("change_mm", "change_low_mm", "change_high_mm", step.length_change_m, _MM_PER_M),
    }


def _interval(name: str, interval: Interval) -> dict[str, object]:
    return with_bounds(name, f"{name}_low", f"{name}_high", interval)
