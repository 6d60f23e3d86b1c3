"""A value with its 95 % interval."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Interval:
    """A value with the bounds of its 95 % interval, which include what is known of systematic error."""

    value: float
    low: float
    high: float

    def holds(self, truth: float) -> bool:
        """Whether `truth` lies in the interval."""
        return self.low <= truth <= self.high
