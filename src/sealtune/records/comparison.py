"""What changed between two recordings of one cabinet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sealtune.records.interval import Interval

Outcome = Literal["fixed", "better", "unchanged", "worse", "changed"]


@dataclass(frozen=True)
class Change:
    """A quantity before and now, and now less before with its 95 % interval.

    The interval holds what differs from one recording to the next; what is wrong alike in both is left out.
    """

    before: float
    now: float
    difference: Interval

    @property
    def certain(self) -> bool:
        """Whether it changed at all, with 95 % confidence."""
        return not self.difference.holds(0.0)


@dataclass(frozen=True)
class Comparison:
    """The newest recording of the open vent against an older one, each judged alone.

    file: name of the older recording's file
    outcome: "fixed": the verdict is good now; "better", "worse": towards or away from it; "unchanged": nothing moved
        beyond what the measurement can tell; "changed": moved, but not as the remedy should
    summary: one or two sentences for the person at the bench
    tuning_hz, box_q, compliance_ratio, re_ohm: None where one of the two recordings could not be fitted
    air_share: relative change of the volume of air by its springiness, which a suspension that ages does not touch
    leak_probability: before and now, 0..1; None where one of the two could not be fitted
    leak_area_mm2: None where one of the two tells no area
    passed_over: older recordings that were newer than this one and could not be judged
    """

    file: str
    outcome: Outcome
    summary: str
    tuning_hz: Change | None = None
    box_q: Change | None = None
    compliance_ratio: Change | None = None
    re_ohm: Change | None = None
    air_share: Interval | None = None
    leak_probability: tuple[float, float] | None = None
    leak_area_mm2: Change | None = None
    passed_over: int = 0
