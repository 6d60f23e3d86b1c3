"""Many cabinets side by side: who needs work, who goes with whom, and whether the production drifts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from sealtune.records.design import Design
from sealtune.records.interval import Interval
from sealtune.records.verdict import VerdictWord

ChartName = Literal["tuning", "box_q", "fs"]


@dataclass(frozen=True)
class BatchCabinet:
    """What a batch keeps of one cabinet; its curve is let go.

    name: the folder's path below the batch's
    verdict: "remeasure" too where the folder could not be read, or used wrongly
    exit_code: of `check` on this cabinet alone
    reason: in half a dozen words; step: what to do
    recorded_at: the newest recording of the open vent, None where not known
    design: None where none was found
    target_hz: designed tuning; tuning_hz .. fs_hz: None without a fit
    levels_db: in third octaves over the passband, see `pair_cost`; None without a fit
    check: the whole result as `check --json` gives it, None where there is none
    """

    name: str
    verdict: VerdictWord
    exit_code: int
    reason: str
    step: str
    recorded_at: datetime | None = None
    design: Design | None = None
    target_hz: float | None = None
    tuning_hz: Interval | None = None
    box_q: Interval | None = None
    compliance_ratio: Interval | None = None
    fs_hz: Interval | None = None
    leak_probability: float | None = None
    levels_db: tuple[float, ...] | None = None
    check: Mapping[str, object] | None = None

    @property
    def deviation(self) -> float | None:
        """How far the tuning lies above the designed one, relative; None where either is not known."""
        if self.tuning_hz is None or self.target_hz is None:
            return None
        return self.tuning_hz.value / self.target_hz - 1.0


@dataclass(frozen=True)
class BatchPair:
    """Two cabinets that are to be mates.

    first, second: names
    mismatch_db: root mean square of what they differ by in the third octaves that are heard
    tuning_hz: first less second, Hz
    ready: both are good and their tunings lie within the design's tolerance of each other
    """

    first: str
    second: str
    mismatch_db: float
    tuning_hz: float
    ready: bool


@dataclass(frozen=True)
class ControlLimits:
    """Individuals and moving-range chart of some values in their order.

    centre, low, high: mean and limits of single values
    range_centre, range_high: mean moving range and its limit
    """

    centre: float
    low: float
    high: float
    range_centre: float
    range_high: float


@dataclass(frozen=True)
class Trend:
    """How a quantity changes over the batch, first to last.

    change: with its 95 % interval, in the chart's unit
    certain: whether a straight line through chance alone would run so steeply in less than 1 of 100 batches
    """

    change: Interval
    certain: bool


@dataclass(frozen=True)
class ControlChart:
    """One quantity of one design over the batch.

    design: its name; None where it has none
    quantity: "tuning" in percent off the design, or in Hz where there is none; "box_q"; "fs" in Hz
    unit: "%", "Hz" or ""
    names: of the cabinets, in the order of their recordings
    values: shape of `names`
    outside: names of those beyond the limits
    by_date: whether that order is that of the recordings' dates, else that of the names
    trend: None with too few cabinets
    """

    design: str | None
    quantity: ChartName
    unit: str
    names: tuple[str, ...]
    values: tuple[float, ...]
    limits: ControlLimits
    outside: tuple[str, ...]
    by_date: bool
    trend: Trend | None


@dataclass(frozen=True)
class Batch:
    """Everything `batch` knows.

    folder: its name
    cabinets: those that need most work first
    pairs: best mates first
    left_over: names of cabinets that could have a mate and got none, one for each design with an odd number
    passed_over: folders with recordings, none of them of the open vent
    """

    folder: str
    cabinets: tuple[BatchCabinet, ...]
    pairs: tuple[BatchPair, ...]
    left_over: tuple[str, ...]
    charts: tuple[ControlChart, ...]
    passed_over: tuple[str, ...] = ()

    @property
    def worst(self) -> VerdictWord:
        """The verdict of the cabinet that needs most work."""
        return self.cabinets[0].verdict if self.cabinets else "good"

    @property
    def to_do(self) -> list[BatchCabinet]:
        """The cabinets that are not good, those that need most work first."""
        return [one for one in self.cabinets if one.verdict != "good"]

    @property
    def total_mismatch_db(self) -> float:
        """The mismatch of all pairs together."""
        return sum(pair.mismatch_db for pair in self.pairs)
