"""What one cabinet measured when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sealtune.errors import VerdictWord
from sealtune.records.comparison import Comparison
from sealtune.records.interval import Interval


@dataclass(frozen=True)
class HistoryEntry:
    """One recording of the open vent, judged alone against the design as it stands now.

    file: its name
    recorded_at: None where neither metadata nor name tell
    verdict, reason: "remeasure" with the reason where it cannot be judged
    tuning_hz, box_q, leak_probability: None where it shows none
    """

    file: str
    recorded_at: datetime | None
    verdict: VerdictWord
    reason: str
    tuning_hz: Interval | None = None
    box_q: Interval | None = None
    leak_probability: float | None = None


@dataclass(frozen=True)
class History:
    """All recordings of the open vent, the oldest first; the recordings in the folder are the record.

    since_first: the newest that can be judged against the oldest that can; None where there are not two
    """

    entries: tuple[HistoryEntry, ...]
    since_first: Comparison | None = None
