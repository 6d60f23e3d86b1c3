"""The measurement that would decide most between the causes that are left.

Each further curve sorts the causes into groups that it can tell apart; what it is expected to tell is the entropy of
the groups' probabilities [MacKay2003, ch. 2]. That a curve tells its groups apart without fail is a simplification;
on virtual cabinets it does so in nine cases of ten and more.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from sealtune.records.next_measurement import NextMeasurement
from sealtune.records.recording import Role
from sealtune.records.verdict import FaultName

TELLS: dict[Role, tuple[tuple[FaultName, ...], ...]] = {
    # with the vent plugged a leak is the only opening, friction in the vent is gone, absorption is not
    "plugged": (("leak",), ("vent_lined",), ("overstuffed",)),
    # the driver alone, without any box
    "free-air": (("driver_off",), ("series_resistance",)),
}
"""Groups of causes that the curve of a role tells from one another and from all others."""

WORTH = 0.35
"""A measurement that is expected to tell less than so many bits is not worth the walk to the bench."""

WORDS: dict[FaultName, str] = {
    "leak": "a leak",
    "vent_long": "a vent that is too long",
    "vent_short": "a vent that is too short",
    "vent_restricted": "a narrowed vent",
    "vent_lined": "material in the vent",
    "overstuffed": "too much damping material",
    "volume_small": "too little air in the box",
    "volume_large": "too much air in the box",
    "driver_off": "a driver off its data",
    "series_resistance": "resistance in the wiring",
}

HOW: dict[Role, str] = {
    "plugged": "Record once more with the vent stopped airtight (role plugged)",
    "free-air": "Record the driver alone, out of the box (role free-air)",
}


def next_measurement(
    probability: Mapping[FaultName | None, float], roles: Sequence[Role]
) -> NextMeasurement | None:
    """Return the measurement that is expected to tell most, None where none is worth making.

    probability: of each cause, None for the box as designed; need not sum to 1
    roles: whose curves there are already
    """
    best = max(
        ((gain(probability, groups), role) for role, groups in TELLS.items() if role not in roles),
        default=None,
        key=lambda pair: pair[0],
    )
    if best is None or best[0] < WORTH:
        return None
    told, role = best
    return NextMeasurement(role, told, f"{HOW[role]}: {_apart(probability, TELLS[role])}.")


def gain(probability: Mapping[FaultName | None, float], groups: tuple[tuple[FaultName, ...], ...]) -> float:
    """Return the entropy of the groups' probabilities, bits; all causes in no group make one more."""
    shares = [sum(probability.get(fault, 0.0) for fault in group) for group in groups]
    shares.append(max(sum(probability.values()) - sum(shares), 0.0))
    share = np.array(shares) / max(sum(shares), 1e-300)
    share = share[share > 0.0]
    return float(-(share * np.log2(share)).sum())


def _apart(probability: Mapping[FaultName | None, float], groups: tuple[tuple[FaultName, ...], ...]) -> str:
    """Return in words what is told from what: the likeliest cause of a group, and the likeliest of all others."""
    grouped = {fault for group in groups for fault in group}
    inside = max(grouped, key=lambda fault: probability.get(fault, 0.0))
    own = next(group for group in groups if inside in group)
    others: list[FaultName | None] = [fault for fault in probability if fault not in own]
    outside = max(others, key=lambda fault: probability.get(fault, 0.0), default=None)
    beside = "nothing at all" if outside is None else WORDS.get(outside, outside)
    return f"it tells {WORDS[inside]} from {beside}"
