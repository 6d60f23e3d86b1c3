"""The labelled lines of a plan: vent, sureness, curve to expect, sound, limits, closed box, sweep, notes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sealtune.records.plan import Expected, Plan
from sealtune.report.content import capital, number
from sealtune.report.plan_limit_words import (
    air_words,
    closed_words,
    f3_words,
    limits_words,
    loudest_words,
    sweep_words,
)
from sealtune.report.plan_words import (
    LITRES,
    RESPONSE_KEYS,
    digits,
    expected_interval,
    keys_words,
    length_told,
    missing_keys,
    notes,
    opening_words,
    sureness_words,
    with_span,
)

_FAMILIES = {
    "B4": "B4, flat far down",
    "QB3": "QB3, flat with a soft knee",
    "C4": "C4, lower with a slight ripple",
    "Bessel": "Bessel, a gentle slope",
}


@dataclass(frozen=True)
class Fact:
    """A label of one or two words and the sentences that belong to it."""

    label: str
    text: str


def facts(plan: Plan) -> tuple[Fact, ...]:
    """All that is known of the design, and for what is not known the keys that would tell; no empty line.

    plan: any plan, however incomplete
    """
    found = (
        ("Vent", _vent(plan)),
        ("Sure to", sureness_words(plan)),
        ("Expect", _expect(plan)),
        ("Sound", _sound(plan)),
        ("Limits", limits_words(plan)),
        ("Vent air", air_words(plan)),
        ("Loudest", loudest_words(plan)),
        ("Closed", closed_words(plan)),
        ("Sweep", sweep_words(plan)),
        *(("Note", note) for note in notes(plan)),
    )
    return tuple(Fact(label, text) for label, text in found if text)


def _vent(plan: Plan) -> str:
    vent, length = plan.design.vent, plan.prediction.effective_length_m
    if vent is None:
        return "Not described yet; give [vent] shape and size to see how long it must be."
    told = [capital(opening_words(vent))]
    given = "by the target" if vent.length_is_computed else "as given"
    ends = f", {length_told(length)} with the air at its ends" if length else ""
    told.append(f"{length_told(vent.length_m)} from mouth to mouth {given}{ends}")
    if plan.hz_per_mm is not None:
        way = "lowers" if plan.hz_per_mm <= 0.0 else "raises"
        told.append(f"1 mm more {way} the tuning by {digits(abs(plan.hz_per_mm), 2, 1)} Hz")
    if plan.pipe_hz is not None:
        told.append(f"its own note as a pipe: {number(plan.pipe_hz, 0)} Hz")
    return "; ".join(told) + "."


def _expect(plan: Plan) -> str:
    """The two peaks and the saddle of the impedance, with their intervals."""
    marks: tuple[tuple[str, Expected, Expected], ...] = (
        ("lower peak", "lower_peak_hz", "lower_peak_ohm"),
        ("saddle", "saddle_hz", "saddle_ohm"),
        ("upper peak", "upper_peak_hz", "upper_peak_ohm"),
    )
    told = []
    for name, at_hz, of_ohm in marks:
        hz, ohm = expected_interval(plan, at_hz), expected_interval(plan, of_ohm)
        if hz is not None:
            size = f", {number(ohm.value, 0 if ohm.value >= 20.0 else 1)} ohm" if ohm is not None else ""
            told.append(f"{name} {with_span(hz, 'Hz', 1)}{size}")
    keys = missing_keys(plan.design.driver, (*RESPONSE_KEYS, "re_ohm"))
    hint = keys_words(keys, "the whole impedance curve") if keys else ""
    if not told:
        return hint
    return f"Impedance with the vent open: {'; '.join(told)}. {hint}".strip()


def _sound(plan: Plan) -> str:
    vented = plan.vented
    if vented is None:
        keys = missing_keys(plan.design.driver, RESPONSE_KEYS)
        return keys_words(keys, "response and group delay") if keys else ""
    passband_db = float(np.median(vented.level_db - vented.relative_db))
    told = [f"{f3_words(vented)}, {number(passband_db, 1)} dB at 1 m for 1 W (half space)"]
    place = int(np.argmax(vented.group_delay_s))
    delay, hz = 1000.0 * float(vented.group_delay_s[place]), float(plan.frequency_hz[place])
    told.append(f"group delay at most {number(delay, 0)} ms ({number(hz, 0)} Hz)")
    ripple = max(float(np.max(vented.relative_db)), 0.0)
    told.append("no hump" if ripple < 0.05 else f"highest hump {number(ripple, 1)} dB above the passband")
    return f"{'; '.join(told)}. {_alignment(plan)}".strip()


def _alignment(plan: Plan) -> str:
    near, driver = plan.alignment, plan.design.driver
    if near is None:
        return ""
    if near.family is None:
        return "No published alignment lies near; that is no fault."
    wish = ""
    if driver.fs_hz is not None and driver.vas_m3 is not None and near.compliance_ratio > 0.0:
        litres = LITRES * driver.count * driver.vas_m3 / near.compliance_ratio
        hz = near.tuning_ratio * driver.fs_hz
        wish = f" ({number(hz, 1)} Hz, {number(litres, 1)} litres)"
    return f"Nearest published alignment (orientation): {_FAMILIES.get(near.family, near.family)}{wish}."
