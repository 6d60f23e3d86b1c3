"""The measurement that would decide most between the causes that are left.

Each further curve shows whether there is a cause of each group; what it is expected to tell is the entropy of that
[MacKay2003, ch. 2]. That a curve tells its groups apart without fail is a simplification;
on virtual cabinets it does so in nine cases of ten and more. The same recording once more tells of no other cause; it
halves the noise power, where noise is what leaves tuning or box Q open.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log, log2, sqrt

import numpy as np

from sealtune.analysis.intervals import COVERAGE
from sealtune.records.interval import Interval
from sealtune.records.next_measurement import NextMeasurement
from sealtune.records.recording import Role
from sealtune.records.verdict import FaultName

TELLS: dict[Role, tuple[tuple[FaultName, ...], ...]] = {
    # with the vent plugged a leak is the only opening, friction in the vent is gone, absorption is not
    "plugged": (("leak",), ("vent_lined",), ("overstuffed",)),
    # the driver alone, without any box
    "free-air": (("driver_off",), ("series_resistance",)),
    # in the mouth of a vent that is blocked hardly anything sounds
    "mouth": (("vent_blocked",),),
    # cones that are driven against each other sound with opposite signs
    "cone": (("driver_wiring",),),
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
    "vent_blocked": "a blocked vent",
    "driver_wiring": "drivers that work against each other",
    "not_a_vented_box": "another kind of load",
}

HOW: dict[Role, str] = {
    "plugged": "Record once more with the vent stopped airtight (role plugged)",
    "free-air": "Record the driver alone, out of the box (role free-air)",
    "mouth": "Record with the microphone in the middle of the vent's mouth (role mouth)",
    "cone": "Record with the microphone close to each cone (role cone)",
}


@dataclass(frozen=True)
class Doubt:
    """A quantity that noise leaves open.

    spread: standard deviation of its logarithm among boxes of this design
    """

    name: str
    unit: str
    interval: Interval
    spread: float

    @property
    def halved(self) -> Interval:
        """Return the interval with half the noise power."""
        now, root = self.interval, sqrt(0.5)
        return Interval(
            now.value, now.value * (now.low / now.value) ** root, now.value * (now.high / now.value) ** root
        )

    @property
    def gain_bits(self) -> float:
        """Return how much halving the noise power is expected to tell of it."""
        own, measured = self.spread**2, (log(self.interval.high / self.interval.low) / 2.0 / COVERAGE) ** 2
        return 0.5 * log2((own + measured) / (own + measured / 2.0))


def next_measurement(
    together: Mapping[frozenset[FaultName], float], roles: Sequence[Role]
) -> NextMeasurement | None:
    """Return the measurement that is expected to tell most, None where none is worth making.

    together: probability of these faults and no others, the empty set for the box as designed; need not sum to 1
    roles: whose curves there are already
    """
    best = max(
        ((gain(together, groups), role) for role, groups in TELLS.items() if role not in roles),
        default=None,
        key=lambda pair: pair[0],
    )
    if best is None or best[0] < WORTH:
        return None
    told, role = best
    return NextMeasurement(role, told, f"{HOW[role]}: it tells {_apart(together, TELLS[role])}.")


def repeat(doubts: Sequence[Doubt], least_bits: float = WORTH) -> NextMeasurement | None:
    """Return what the same recording with half the noise power is expected to tell, None where too little.

    Of a quantity that spreads by k among boxes and is measured with a deviation m, both in its logarithm, the second
    take tells ld((k^2 + m^2)/(k^2 + m^2/2))/2 bits [MacKay2003, ch. 11].
    doubts: the quantities that noise alone leaves open
    least_bits: what it must tell to be worth it
    """
    told, most = max(((one.gain_bits, one) for one in doubts), key=lambda pair: pair[0])
    if told < least_bits:
        return None
    now, then = most.interval, most.halved
    words = (
        f"Record the open vent once more, twice as long or 3 dB louder (role open): {most.name} is then known to about "
        f"{then.low:.1f} to {then.high:.1f} instead of {now.low:.1f} to {now.high:.1f}{most.unit}."
    )
    return NextMeasurement("open", told, words)


def gain(together: Mapping[frozenset[FaultName], float], groups: tuple[tuple[FaultName, ...], ...]) -> float:
    """Return the entropy of what the groups show, bits; faults in no group show nothing.

    Faults that are there at once count as such: a curve that tells one of two that both are there tells nothing.
    """
    shown: dict[tuple[bool, ...], float] = {}
    for faults, share in together.items():
        signs = tuple(not faults.isdisjoint(group) for group in groups)
        shown[signs] = shown.get(signs, 0.0) + share
    each = np.array(list(shown.values())) / max(sum(shown.values()), 1e-300)
    each = each[each > 0.0]
    return float(-(each * np.log2(each)).sum())


def _apart(together: Mapping[frozenset[FaultName], float], groups: tuple[tuple[FaultName, ...], ...]) -> str:
    """Return in words what is told from what: the most doubtful cause of a group, and what is likeliest without it."""
    total = sum(together.values())

    def doubt(fault: FaultName) -> float:
        share = sum(each for faults, each in together.items() if fault in faults) / total
        return share * (1.0 - share)

    inside = max((fault for group in groups for fault in group), key=doubt)
    without = max(
        (faults for faults in together if inside not in faults), key=lambda faults: together[faults]
    )
    with_it = max((faults for faults in together if inside in faults), key=lambda faults: together[faults])
    if with_it - {inside} == without:
        return f"whether there is {WORDS[inside]}{' as well' if without else ''}"
    if not without:
        return f"whether there is {WORDS[inside]} at all"
    return f"{WORDS[inside]} from {' with '.join(WORDS[fault] for fault in sorted(without))}"
