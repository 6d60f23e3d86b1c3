"""The machine-readable result, schema "sealtune.check/1"."""

from __future__ import annotations

import math

import numpy as np

from sealtune.files.json_text import number, with_bounds
from sealtune.files.near_field_json import near_field_json
from sealtune.files.since_json import history_json, since_json
from sealtune.records.interval import Interval
from sealtune.records.verdict import Result

SCHEMA = "sealtune.check/1"

_MM_PER_M = 1e3
_LITRES_PER_M3 = 1e3


def result_json(result: Result) -> dict[str, object]:
    """Return the result as plain data: all keys always there, numbers finite or None.

    result: what `check` found out about one cabinet
    Units are named in the keys: Hz, ohm, mm, mm2, litres, percent.
    """
    return {
        "schema": SCHEMA,
        "cabinet": result.cabinet,
        "verdict": result.verdict,
        "summary": result.summary,
        "tuning": _tuning(result),
        "curve": _curve(result),
        "box": _box(result),
        "driver": _driver(result),
        "leak": _leak(result),
        "vent": {
            "effective_length_mm": number(result.effective_length_m, _MM_PER_M),
            "change_mm": number(_value(result.length_change_m), _MM_PER_M),
        },
        "cost": _cost(result),
        "next": _next(result),
        "findings": [
            {
                "fault": finding.fault,
                "probability": number(finding.probability),
                "evidence": finding.evidence,
                "remedy": finding.remedy,
                "confirm": finding.confirm,
            }
            for finding in result.findings
        ],
        "quality": _quality(result),
        "since": None if result.comparison is None else since_json(result.comparison),
        "history": None if result.history is None else history_json(result.history),
        "near_field": None if result.near_field is None else near_field_json(result.near_field),
        "inputs": [
            {"role": source.role, "file": source.path.name, "sha256": source.sha256}
            for source in result.sources
        ],
    }


def _value(interval: Interval | None) -> float | None:
    return None if interval is None else interval.value


def _tuning(result: Result) -> dict[str, object]:
    measured = None if result.fit is None else result.fit.tuning_hz
    prediction = result.prediction
    deviation = within = None
    if measured is not None and prediction is not None and math.isfinite(measured.value):
        deviation = number(measured.value / prediction.target_hz - 1.0, 100.0)
        within = bool(prediction.low_hz <= measured.value <= prediction.high_hz)
    return {
        **with_bounds("hz", "low_hz", "high_hz", measured),
        "designed_hz": number(None if prediction is None else prediction.target_hz),
        "designed_low_hz": number(None if prediction is None else prediction.low_hz),
        "designed_high_hz": number(None if prediction is None else prediction.high_hz),
        "deviation_percent": deviation,
        "within_tolerance": within,
    }


def _curve(result: Result) -> dict[str, object]:
    marks = result.landmarks
    found: dict[str, object] = {"peaks": None if marks is None else len(marks.peaks)}
    for name in ("lower_peak", "saddle", "upper_peak"):
        mark = None if marks is None else getattr(marks, name.removesuffix("_peak"))
        found[f"{name}_hz"] = number(None if mark is None else mark.hz)
        found[f"{name}_ohm"] = number(None if mark is None else mark.ohm)
    return found


def _box(result: Result) -> dict[str, object]:
    fit = result.fit
    return {
        **with_bounds("q", "q_low", "q_high", None if fit is None else fit.box_q),
        "compliance_ratio": number(None if fit is None else fit.compliance_ratio.value),
        **with_bounds("volume_l", "volume_low_l", "volume_high_l", result.volume_m3, _LITRES_PER_M3),
        "leakage_q": number(None if fit is None else _value(fit.losses.leakage_q)),
        "vent_q": number(None if fit is None else _value(fit.losses.vent_q)),
        "absorption_q": number(None if fit is None else _value(fit.losses.absorption_q)),
        "split_needs": None if fit is None else fit.losses.next_role,
    }


def _driver(result: Result) -> dict[str, object]:
    fit = result.fit
    return {
        "fs_hz": number(None if fit is None else fit.fs_hz.value),
        "qms": number(None if fit is None else fit.qms),
        "qes": number(None if fit is None else fit.qes),
        "re_ohm": number(None if fit is None else fit.re_ohm),
        "res_ohm": number(None if fit is None else fit.res_ohm),
    }


def _leak(result: Result) -> dict[str, object]:
    leak = result.leak
    return {
        "probability": None if result.fit is None else number(leak.probability),
        **with_bounds("area_mm2", "area_low_mm2", "area_high_mm2", leak.area_mm2),
        "likeness": leak.likeness,
    }


def _next(result: Result) -> dict[str, object] | None:
    best = result.next_measurement
    if best is None:
        return None
    return {"role": best.role, "gain_bits": number(best.gain_bits), "words": best.words}


def _cost(result: Result) -> dict[str, object] | None:
    """Return the response in third octaves and the limits, as measured and as designed; None where not known."""
    cost = result.cost
    if cost is None:
        return None
    worst = cost.worst
    found: dict[str, object] = {
        "against": cost.against,
        "bands_hz": [number(band.hz) for band in cost.bands],
        "difference_db": [number(band.difference_db.value) for band in cost.bands],
        "difference_low_db": [number(band.difference_db.low) for band in cost.bands],
        "difference_high_db": [number(band.difference_db.high) for band in cost.bands],
        "measured_db": [number(band.measured_db) for band in cost.bands],
        "designed_db": [number(band.designed_db) for band in cost.bands],
        "worst_hz": number(None if worst is None else worst.hz),
        "worst_db": number(None if worst is None else worst.difference_db.value),
    }
    for name in ("f3_hz", "travel_w", "usable_w", "air_speed_m_s"):
        pair = getattr(cost, name)
        found[name] = number(pair.measured)
        found[f"designed_{name}"] = number(pair.designed)
    return found


def _quality(result: Result) -> dict[str, object]:
    noise = None if result.fit is None else result.fit.noise
    if noise is None and result.curve is not None:
        noise = float(np.median(result.curve.sigma_ohm / np.abs(result.curve.impedance_ohm)))
    return {
        "problems": [
            {"problem": problem.problem, "detail": problem.detail, "remedy": problem.remedy}
            for problem in result.problems
        ],
        "fit_residual_percent": number(None if result.fit is None else result.fit.residual, 100.0),
        "noise_percent": number(noise, 100.0),
        "skipped_lines": result.skipped_lines,
    }
