"""The machine-readable plan, schema "sealtune.plan/1"."""

from __future__ import annotations

from collections.abc import Iterable

from sealtune.files.json_text import number
from sealtune.records.plan import Behaviour, Plan, PowerPoint

SCHEMA = "sealtune.plan/1"

_MM_PER_M = 1e3
_LITRES_PER_M3 = 1e3
_MS_PER_S = 1e3
_CM2_PER_M2 = 1e4
_PERCENT = 100.0


def plan_json(plan: Plan) -> dict[str, object]:
    """Return the plan as plain data: all keys always there, numbers finite or None, units named in the keys."""
    prediction, vent = plan.prediction, plan.design.vent
    return {
        "schema": SCHEMA,
        "design": plan.design.name,
        "notes": list(plan.notes),
        "tuning": {
            "target_hz": number(prediction.target_hz),
            "target_low_hz": number(prediction.low_hz),
            "target_high_hz": number(prediction.high_hz),
            "predicted_hz": number(prediction.tuning_hz),
            "hz_per_mm": number(plan.hz_per_mm),
        },
        "vent": {
            "length_mm": number(None if vent is None else vent.length_m, _MM_PER_M),
            "effective_length_mm": number(prediction.effective_length_m, _MM_PER_M),
            "length_for_target_mm": number(plan.length_for_target_m, _MM_PER_M),
            "pipe_resonance_hz": number(plan.pipe_hz),
        },
        "box": {"q": number(prediction.box_q), "compliance_ratio": number(prediction.compliance_ratio)},
        "driver": {
            "fs_hz": number(plan.design.driver.fs_hz),
            "qms": number(plan.design.driver.qms),
            "qes": number(plan.design.driver.qes),
            "qts": number(plan.design.driver.qts),
            "vas_l": number(plan.design.driver.vas_m3, _LITRES_PER_M3),
            "re_ohm": number(plan.design.driver.re_ohm),
        },
        "expected": {
            name: {
                "value": number(one.value),
                "low": number(one.low),
                "high": number(one.high),
                "linear_spread_percent": number(one.linear_spread, _PERCENT),
                "drawn_spread_percent": number(one.drawn_spread, _PERCENT),
                "shares_percent": {cause: number(share, _PERCENT) for cause, share in one.shares},
            }
            for name, one in plan.expected.items()
        },
        "alignment": None
        if plan.alignment is None
        else {
            "family": plan.alignment.family,
            "tuning_ratio": number(plan.alignment.tuning_ratio),
            "compliance_ratio": number(plan.alignment.compliance_ratio),
        },
        "limits": _limits(plan),
        "sweep": {
            "volts": number(plan.sweep.volts),
            "from_hz": number(plan.sweep.from_hz),
            "to_hz": number(plan.sweep.to_hz),
            "reference_ohm": number(plan.sweep.reference_ohm),
            "travel_share_percent": number(plan.sweep.travel_share, _PERCENT),
            "power_share_percent": number(plan.sweep.power_share, _PERCENT),
            "because": plan.sweep.because,
        },
        "other_vents": [
            {
                "size_mm": number(one.size_m, _MM_PER_M),
                "count": one.count,
                "length_mm": number(one.length_m, _MM_PER_M),
                "air_speed_m_s": number(one.air_speed_m_s),
                "pipe_resonance_hz": number(one.pipe_hz),
                "takes_l": number(one.takes_m3, _LITRES_PER_M3),
                "designed": one.designed,
                "against": list(one.against),
            }
            for one in plan.vents
        ],
        "other_volumes": [
            {
                "volume_l": number(one.volume_m3, _LITRES_PER_M3),
                "length_mm": number(one.length_m, _MM_PER_M),
                "compliance_ratio": number(one.compliance_ratio),
                "f3_hz": number(one.f3_hz),
                "ripple_db": number(one.ripple_db),
                "xmax_power": _power(one.above),
                "designed": one.designed,
                "against": list(one.against),
            }
            for one in plan.volumes
        ],
        "curves": {
            "frequency_hz": _numbers(plan.frequency_hz),
            "vented": _behaviour(plan.vented),
            "closed": _behaviour(plan.closed),
            "impedance_ohm": None if plan.impedance_ohm is None else _numbers(abs(plan.impedance_ohm)),
            "plugged_ohm": None if plan.plugged_ohm is None else _numbers(abs(plan.plugged_ohm)),
        },
    }


def _limits(plan: Plan) -> dict[str, object] | None:
    limits = plan.limits
    if limits is None:
        return None
    return {
        "power_w": number(limits.power_w),
        "xmax_above_tuning": _power(limits.above),
        "xmax_below_tuning": _power(limits.below),
        "xmax_closed_box": _power(limits.closed),
        "usable_w": number(limits.usable_w),
        "air_speed_m_s": number(limits.air_speed_m_s),
        "air_speed_hz": number(limits.air_speed_hz),
        "air_speed_share_of_sound_percent": number(limits.air_speed_share, _PERCENT),
        "least_vent_area_cm2": number(limits.least_area_m2, _CM2_PER_M2),
    }


def _power(point: PowerPoint | None) -> dict[str, object]:
    return {
        "power_w": number(None if point is None else point.power_w),
        "hz": number(None if point is None else point.hz),
    }


def _behaviour(one: Behaviour | None) -> dict[str, object] | None:
    if one is None:
        return None
    return {
        "f3_hz": number(one.f3_hz),
        "relative_db": _numbers(one.relative_db),
        "group_delay_ms": _numbers(one.group_delay_s, _MS_PER_S),
        "level_db_1w_1m": _numbers(one.level_db),
        "travel_mm_per_root_watt": _numbers(one.travel_m, _MM_PER_M),
        "air_speed_m_s_per_root_watt": _numbers(one.air_speed_m_s),
        "highest_db_1m": _numbers(one.highest_db),
        "limited_by": list(one.limited_by),
    }


def _numbers(values: Iterable[float] | None, factor: float = 1.0) -> list[float | None] | None:
    return None if values is None else [number(float(value), factor) for value in values]
