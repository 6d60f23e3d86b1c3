"""What changed since an older recording, in words, and whether the remedy worked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sealtune.judgement.remedy import JOINTS
from sealtune.records.comparison import Change, Outcome
from sealtune.records.interval import Interval
from sealtune.records.verdict import FaultName, Finding, Result

Quantity = Literal["tuning", "box Q", "R_E", "air", "driver"]

SHOULD: dict[FaultName, tuple[tuple[Quantity, int], ...]] = {
    "leak": (("tuning", -1), ("box Q", 1)),
    "vent_short": (("tuning", -1),),
    "vent_long": (("tuning", 1),),
    "vent_restricted": (("tuning", 1),),
    "volume_small": (("tuning", -1), ("air", 1)),
    "volume_large": (("tuning", 1), ("air", -1)),
    "vent_lined": (("box Q", 1),),
    "overstuffed": (("box Q", 1),),
    "series_resistance": (("R_E", -1),),
    "driver_off": (("driver", 1),),
}
"""What moves, and which way, when the remedy of a fault works; the first that moved decides.

A gap that is half closed may cost more box Q than before: its tuning tells, not its Q."""

CURED: dict[FaultName, str] = {
    "leak": "the leak is sealed",
    "vent_short": "the vent is long enough",
    "vent_long": "the vent is right",
    "vent_restricted": "the vent is clear",
    "vent_blocked": "the vent is open",
    "volume_small": "the box is tuned right",
    "volume_large": "the box is tuned right",
    "vent_lined": "the vent is free of damping material",
    "overstuffed": "the damping material is right",
    "series_resistance": "the extra resistance is gone",
    "driver_off": "the driver goes with its data",
}


OPPOSITE = (
    ("vent_long", "vent_short"),
    ("vent_short", "vent_long"),
    ("volume_small", "volume_large"),
    ("volume_large", "volume_small"),
)
"""What is wrong now where the remedy of the other went too far."""

LOSSY: tuple[FaultName, ...] = ("vent_lined", "overstuffed")
"""Faults beside a leak that cost box Q."""

SURE = 0.8
"""Probability from which a cause is stated as the one."""


@dataclass(frozen=True)
class Moved:
    """The changes, and which way each quantity moved beyond doubt: 1 up, -1 down, 0 not.

    fs_hz: resonance of the driver, before and now; its way is 1 where it came nearer to its data, -1 where it did not
    """

    tuning: Change
    box_q: Change
    compliance_ratio: Change
    re_ohm: Change
    air: Interval
    fs_hz: tuple[float, float]
    way: dict[Quantity, int]


def without_numbers(
    before: Result, now: Result, verdict: Result, fault: FaultName | None
) -> tuple[Outcome, str]:
    """Return outcome and words where one of the two curves does not show the two peaks of a vented box."""
    if now.fit is None and before.fit is None:
        return (
            "unchanged",
            "As before, the curve does not show the two peaks of a vented box: look elsewhere.",
        )
    if now.fit is None:
        return (
            "worse",
            "The curve showed the two peaks of a vented box before, now it does not: see what closes the vent.",
        )
    done = CURED["vent_blocked"] if fault == "vent_blocked" else "this is a vented box"
    good = verdict.verdict == "good"
    rest = "" if good else "; what is left has another cause"
    return "fixed" if good else "better", f"The curve now shows the two peaks of a vented box: {done}{rest}."


def conclusion(moved: Moved, before: Result, verdict: Result) -> tuple[Outcome, str]:
    """Return whether the remedy worked, and the words for it, where something moved.

    Of several faults named before, the one that was remedied is the one whose quantities moved the right way.
    """
    good = verdict.verdict == "good"
    if before.verdict != "rework" or not before.findings:
        if good:
            return "changed", "good before and now"
        return "worse", "it was good before, so look at what was done since"
    fitting = [one for one in before.findings if _direction(moved, one.fault) == 1]
    if good:
        return "fixed", _cured(moved, fitting)
    if fitting:
        left = verdict.findings[0].fault if verdict.findings else None
        if (left, fitting[0].fault) in OPPOSITE:
            return "changed", "the right way, but too far"
        if left not in [one.fault for one in before.findings] and _direction(moved, left, last=True) == -1:
            return "changed", "that helped, but there is something new; look at what was done since"
        if left in [one.fault for one in fitting]:
            return "better", "the right way, but not far enough"
        return "better", "that helped; what is left has another cause"
    if _direction(moved, before.findings[0].fault) == -1:
        return "worse", "the wrong way; undo it, or look elsewhere"
    return "changed", "the remedy should show otherwise; look elsewhere"


def _direction(moved: Moved, fault: FaultName | None, *, last: bool = False) -> int:
    """Return 1 where the fault's remedy shows, -1 where the opposite does, 0 where nothing of it moved.

    last: whether the last quantity decides, and not the first: the one that is the fault's own
    """
    should = () if fault is None else SHOULD.get(fault, ())
    for quantity, sign in reversed(should) if last else should:
        if moved.way[quantity]:
            return moved.way[quantity] * sign
    return 0


def _cured(moved: Moved, fitting: list[Finding]) -> str:
    """Return what the rework has cured, where several causes were named and the changes tell which it was.

    More or less air than before is a volume put right. A lower tuning with a higher box Q is a sealed leak: a longer
    vent has more friction, not less.
    """
    faults = [one.fault for one in fitting]
    volume = [fault for fault in faults if fault in ("volume_small", "volume_large")]
    if volume and moved.way["air"] == dict(SHOULD[volume[0]])["air"]:
        return CURED[volume[0]]
    if "leak" in faults and faults[0] not in LOSSY and moved.way["box Q"] == 1:
        return CURED["leak"]
    if len(fitting) == 1 or (fitting and fitting[0].probability > SURE):
        return CURED[faults[0]]
    return "what was done has worked"


def unmoved_words(before: Result, verdict: Result, fault: FaultName | None, attempts: int) -> str:
    """Return what to do where nothing moved."""
    if before.verdict != verdict.verdict:
        more = verdict.fit is not None and len(verdict.fit.roles) > 1
        return (
            "the verdict now rests on more recordings"
            if more
            else "the box lies at the edge, and the verdict turned on little"
        )
    if verdict.verdict == "good":
        return "good before and now"
    if fault == "leak":
        return f"look elsewhere; the next joint in the order is {JOINTS[min(attempts, len(JOINTS) - 1)]}"
    return "the remedy did not reach the cause; look elsewhere"


def told_words(moved: Moved, now: Result) -> str:
    """Return the quantities that moved, in words."""
    told = []
    if moved.way["tuning"]:
        change = moved.tuning.difference
        low, high = sorted((abs(change.low), abs(change.high)))
        verb = "rose" if change.value > 0.0 else "fell"
        told.append(
            f"the tuning {verb} by {abs(change.value):.1f} Hz ({low:.1f} to {high:.1f}){_held(moved.tuning, now)}"
        )
    if moved.way["box Q"]:
        told.append(f"box Q {_from_to(moved.box_q, '')}")
    if moved.way["R_E"]:
        told.append(f"R_E {_from_to(moved.re_ohm, ' ohm')}")
    if moved.way["air"]:
        verb = "grew" if moved.air.value > 0.0 else "shrank"
        told.append(f"the air in the box {verb} by {100.0 * abs(moved.air.value):.0f} %")
    if moved.way["driver"]:
        before, after = moved.fs_hz
        verb = "rose" if after > before else "fell"
        told.append(f"the driver's resonance {verb} from {before:.1f} to {after:.1f} Hz")
    words = "; ".join(told)
    return words[:1].upper() + words[1:]


def _from_to(change: Change, unit: str) -> str:
    verb = "rose" if change.difference.value > 0.0 else "fell"
    return f"{verb} from {change.before:.1f} to {change.now:.1f}{unit}"


def _held(tuning: Change, now: Result) -> str:
    """Return how the tuning lies against the design's tolerance, now and before."""
    prediction = now.prediction
    if prediction is None:
        return f" to {tuning.now:.1f} Hz"
    inside, was_inside = (prediction.low_hz <= hz <= prediction.high_hz for hz in (tuning.now, tuning.before))
    if inside:
        return " within tolerance" if was_inside else " and now lies within tolerance"
    high = tuning.now > prediction.target_hz
    still = not was_inside and high == (tuning.before > prediction.target_hz)
    return f" and is {'still' if still else 'now'} too {'high' if high else 'low'}"


def reach_words(moved: Moved) -> str:
    """Return how small a change would have shown."""
    hz = moved.tuning.difference.high - moved.tuning.difference.value
    q = moved.box_q.difference.high - moved.box_q.difference.value
    return f"{hz:.1f} Hz of tuning, {100.0 * q / moved.box_q.before:.0f} % of box Q"
