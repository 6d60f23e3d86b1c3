"""The machine-readable result: all keys, the right units, and never a NaN."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sealtune.files.json_text import dumps
from sealtune.files.result_json import result_json
from sealtune.records.comparison import Change, Comparison
from sealtune.records.curve import ImpedanceCurve, Landmark, Landmarks
from sealtune.records.design import Prediction
from sealtune.records.fit import BoxFit, Losses
from sealtune.records.interval import Interval
from sealtune.records.recording import Source
from sealtune.records.verdict import Finding, Leak, Problem, Result

HZ = np.array([20.0, 40.0, 80.0])
CURVE = ImpedanceCurve(HZ, np.array([10 + 0j, 20j, 30 + 0j]), np.array([0.01, 0.02, 0.03]), 2)
FIT = BoxFit(
    tuning_hz=Interval(45.0, 44.5, 45.5),
    box_q=Interval(11.0, 9.0, 13.0),
    compliance_ratio=Interval(1.2, 1.1, 1.3),
    fs_hz=Interval(47.0, 46.0, 48.0),
    qms=4.0,
    qes=0.43,
    re_ohm=5.8,
    res_ohm=54.0,
    creep=0.1,
    residual=0.008,
    noise=0.001,
    log_covariance=np.eye(4),
    band_hz=(10.0, 200.0),
    frequency_hz=HZ,
    model_ohm=CURVE.impedance_ohm,
    closed_box_misfit=50.0,
    converged=True,
    losses=Losses(Interval(18.0, 15.0, 22.0), Interval(60.0, 40.0, 90.0), None, next_role="free-air"),
)
PREDICTION = Prediction(44.0, 42.0, 46.0, 44.2, 0.02, 1.17, 0.1, 0.16, 11.0, 0.3)
LOWER, SADDLE, UPPER = Landmark(24.9, 33.0), Landmark(43.6, 6.9), Landmark(73.2, 38.1)
FULL = Result(
    cabinet="left",
    verdict="rework",
    summary="One sentence.",
    design=None,
    prediction=PREDICTION,
    curve=CURVE,
    landmarks=Landmarks((LOWER, UPPER), LOWER, SADDLE, UPPER),
    fit=FIT,
    leak=Leak(0.97, Interval(14.0, 10.0, 20.0), "like a 3 mm hole"),
    volume_m3=Interval(0.0178, 0.0171, 0.0186),
    effective_length_m=0.16,
    length_change_m=Interval(-0.005, -0.006, -0.004),
    findings=(Finding("leak", 0.97, "evidence", "remedy", "confirm"),),
    problems=(Problem("hum", "detail", "remedy", spoils=False),),
    sources=(Source("open", Path("cabinets/left/open.wav"), "ab" * 32),),
    skipped_lines=2,
)
EMPTY = Result(
    "right",
    "remeasure",
    "Again.",
    None,
    None,
    None,
    None,
    None,
    Leak(0.0, None, None),
    None,
    None,
    None,
    (),
    (),
    (),
)

# the documented schema sealtune.check/1; skipped_lines and split_needs are added to it
KEYS = {
    "": {
        "schema",
        "cabinet",
        "verdict",
        "summary",
        "tuning",
        "curve",
        "box",
        "driver",
        "leak",
        "vent",
        "cost",
        "next",
        "since",
        "history",
        "near_field",
        "findings",
        "quality",
        "inputs",
    },
    "tuning": {
        "hz",
        "low_hz",
        "high_hz",
        "designed_hz",
        "designed_low_hz",
        "designed_high_hz",
        "deviation_percent",
        "within_tolerance",
    },
    "curve": {
        "peaks",
        "lower_peak_hz",
        "lower_peak_ohm",
        "saddle_hz",
        "saddle_ohm",
        "upper_peak_hz",
        "upper_peak_ohm",
    },
    "box": {
        "q",
        "q_low",
        "q_high",
        "compliance_ratio",
        "volume_l",
        "volume_low_l",
        "volume_high_l",
        "leakage_q",
        "vent_q",
        "absorption_q",
        "split_needs",
    },
    "driver": {"fs_hz", "qms", "qes", "re_ohm", "res_ohm"},
    "leak": {"probability", "area_mm2", "area_low_mm2", "area_high_mm2", "likeness"},
    "vent": {"effective_length_mm", "change_mm"},
    "quality": {"problems", "fit_residual_percent", "noise_percent", "skipped_lines"},
}


@pytest.mark.parametrize("result", [FULL, EMPTY])
def test_all_keys_are_always_there(result: Result) -> None:
    payload = json.loads(dumps(result_json(result)))
    for part, keys in KEYS.items():
        assert set(payload[part] if part else payload) == keys


def test_values_and_units() -> None:
    # exact: the record's own numbers in the units that the keys name; 45 / 44 - 1 = 2.2727 %
    assert json.loads(dumps(result_json(FULL))) == {
        "schema": "sealtune.check/1",
        "cabinet": "left",
        "verdict": "rework",
        "summary": "One sentence.",
        "tuning": {
            "hz": 45.0,
            "low_hz": 44.5,
            "high_hz": 45.5,
            "designed_hz": 44.0,
            "designed_low_hz": 42.0,
            "designed_high_hz": 46.0,
            "deviation_percent": 2.2727273,
            "within_tolerance": True,
        },
        "curve": {
            "peaks": 2,
            "lower_peak_hz": 24.9,
            "lower_peak_ohm": 33.0,
            "saddle_hz": 43.6,
            "saddle_ohm": 6.9,
            "upper_peak_hz": 73.2,
            "upper_peak_ohm": 38.1,
        },
        "box": {
            "q": 11.0,
            "q_low": 9.0,
            "q_high": 13.0,
            "compliance_ratio": 1.2,
            "volume_l": 17.8,
            "volume_low_l": 17.1,
            "volume_high_l": 18.6,
            "leakage_q": 18.0,
            "vent_q": 60.0,
            "absorption_q": None,
            "split_needs": "free-air",
        },
        "driver": {"fs_hz": 47.0, "qms": 4.0, "qes": 0.43, "re_ohm": 5.8, "res_ohm": 54.0},
        "leak": {
            "probability": 0.97,
            "area_mm2": 14.0,
            "area_low_mm2": 10.0,
            "area_high_mm2": 20.0,
            "likeness": "like a 3 mm hole",
        },
        "vent": {"effective_length_mm": 160.0, "change_mm": -5.0},
        "cost": None,
        "next": None,
        "since": None,
        "history": None,
        "near_field": None,
        "findings": [
            {
                "fault": "leak",
                "probability": 0.97,
                "evidence": "evidence",
                "remedy": "remedy",
                "confirm": "confirm",
            }
        ],
        "quality": {
            "problems": [{"problem": "hum", "detail": "detail", "remedy": "remedy"}],
            "fit_residual_percent": 0.8,
            "noise_percent": 0.1,
            "skipped_lines": 2,
        },
        "inputs": [{"role": "open", "file": "open.wav", "sha256": "ab" * 32}],
    }


def test_what_is_not_known_is_null() -> None:
    payload = json.loads(dumps(result_json(EMPTY)))
    for part in ("tuning", "curve", "box", "driver", "vent"):
        assert set(payload[part].values()) == {None}
    assert payload["leak"]["area_mm2"] is None
    assert payload["findings"] == payload["inputs"] == payload["quality"]["problems"] == []


def test_noise_is_told_without_a_fit() -> None:
    payload = json.loads(dumps(result_json(replace(EMPTY, curve=CURVE))))
    assert payload["quality"]["noise_percent"] == 0.1  # exact: sigma / |Z| is 0.001 in all three rows


@pytest.mark.parametrize(("hz", "within"), [(41.99, False), (42.0, True), (46.0, True), (46.01, False)])
def test_within_tolerance(hz: float, within: bool) -> None:
    result = replace(FULL, fit=replace(FIT, tuning_hz=Interval(hz, hz, hz)))
    assert json.loads(dumps(result_json(result)))["tuning"]["within_tolerance"] is within


def test_a_number_that_is_none_is_never_written() -> None:
    odd = replace(FIT, qms=math.nan, tuning_hz=Interval(math.nan, -math.inf, math.inf), residual=math.inf)
    text = dumps(result_json(replace(FULL, fit=odd, effective_length_m=math.inf)))
    payload = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} in JSON"))
    assert payload["driver"]["qms"] is None
    assert payload["tuning"]["hz"] is payload["tuning"]["within_tolerance"] is None
    with pytest.raises(ValueError, match="JSON compliant"):
        dumps({"x": math.nan})


def test_one_line_whatever_the_texts_hold() -> None:
    text = dumps(result_json(replace(FULL, cabinet="Höhle\n2 \udc80", summary="a\u2028b")))
    assert len(text.splitlines()) == 1
    assert text.isascii()
    assert json.loads(text)["cabinet"] == "Höhle\n2 \udc80"


def test_changes_since_an_older_recording_keep_their_units() -> None:
    """Exact: shares in percent, all else as measured."""
    comparison = Comparison(
        "open-1.wav",
        "fixed",
        "Sealed.",
        tuning_hz=Change(46.0, 44.0, Interval(-2.0, -2.4, -1.6)),
        air_share=Interval(-0.1, -0.12, -0.08),
        leak_probability=(0.9, 0.1),
        passed_over=1,
    )
    since = json.loads(dumps(result_json(replace(FULL, comparison=comparison))))["since"]
    assert since == {
        "file": "open-1.wav",
        "outcome": "fixed",
        "summary": "Sealed.",
        "passed_over": 1,
        "tuning_hz": {"before": 46.0, "now": 44.0, "change": -2.0, "change_low": -2.4, "change_high": -1.6},
        "box_q": None,
        "compliance_ratio": None,
        "re_ohm": None,
        "air_percent": {"change": -10.0, "change_low": -12.0, "change_high": -8.0},
        "leak_probability": {"before": 0.9, "now": 0.1, "change": -0.8},
        "leak_area_mm2": None,
    }
