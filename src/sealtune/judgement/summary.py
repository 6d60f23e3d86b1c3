"""The verdict's reason in one sentence."""

from __future__ import annotations

from collections.abc import Sequence

from sealtune.judgement.evidence import PROBABLE, lower_first
from sealtune.judgement.unknown import without_design
from sealtune.records.design import Prediction
from sealtune.records.verdict import FaultName, Finding

REASONS: dict[FaultName, str] = {
    "leak": "the box leaks",
    "vent_long": "the vent is too long",
    "vent_short": "the vent is too short",
    "vent_restricted": "the vent is narrowed",
    "vent_lined": "damping material sits in or over the vent",
    "overstuffed": "there is too much damping material",
    "volume_small": "there is less air in the box than designed",
    "volume_large": "there is more air in the box than designed",
    "series_resistance": "there is extra resistance in the wiring",
    "driver_off": "the driver differs from its data",
    "driver_wiring": "the drivers are not wired as designed",
}

WIRING: tuple[FaultName, ...] = ("series_resistance", "driver_wiring")
"""Faults that come apart from those of the box."""


def rework_summary(findings: Sequence[Finding], *, likelier: bool = False) -> str:
    """Return the likeliest finding in a sentence, and what is probable beside it: resistance and box fail apart.

    likelier: whether the box as designed is more probable than the likeliest finding
    """
    first = findings[0]
    sure = round(first.probability, 2)
    how_sure = (
        "almost certainly"
        if sure >= 0.95
        else "very likely"
        if sure >= 0.8
        else "probably"
        if sure >= PROBABLE
        else "possibly, though it is likelier that nothing is wrong"
        if likelier
        else "the likeliest of several causes"
    )
    summary = f"Rework: {_reason(first)}, {how_sure}: {lower_first(first.evidence)}"
    apart = [one for one in findings[1:] if (one.fault in WIRING) != (first.fault in WIRING)]
    if apart and apart[0].probability > PROBABLE:
        summary += f" Besides, {_reason(apart[0])}."
    return summary


def _reason(of: Finding) -> str:
    return REASONS.get(of.fault, "the box differs from its design")


def good_summary(prediction: Prediction | None, tuning_hz: float) -> str:
    """Return that the box is good, in a sentence; prediction: None without a design."""
    if prediction is None:
        return (
            f"Good as far as its losses tell: tuned to {tuning_hz:.1f} Hz, with no design to compare with; "
            f"{without_design()}."
        )
    return f"Good: sealed, and tuned to {tuning_hz:.1f} Hz where {prediction.target_hz:.1f} Hz was designed."
