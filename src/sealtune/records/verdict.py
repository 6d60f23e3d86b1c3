"""What the program concludes about one cabinet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sealtune.errors import ProblemName as ProblemName
from sealtune.errors import VerdictWord as VerdictWord
from sealtune.records.comparison import Comparison
from sealtune.records.cost import Cost
from sealtune.records.curve import ImpedanceCurve, Landmarks
from sealtune.records.design import Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.history import History
from sealtune.records.interval import Interval
from sealtune.records.near_field import NearField
from sealtune.records.next_measurement import NextMeasurement
from sealtune.records.recording import Source

FaultName = Literal[
    "leak",
    "vent_long",
    "vent_short",
    "vent_blocked",
    "vent_restricted",
    "volume_small",
    "volume_large",
    "vent_lined",
    "overstuffed",
    "driver_off",
    "driver_wiring",
    "series_resistance",
    "polarity",
    "not_a_vented_box",
]


@dataclass(frozen=True)
class Problem:
    """Something wrong with a recording.

    spoils: True where the recording must be made again, False where the result stands all the same
    """

    problem: ProblemName
    detail: str
    remedy: str
    spoils: bool = True


@dataclass(frozen=True)
class Finding:
    """A fault of the cabinet, how probable it is (0..1), what shows it, what to do, what would confirm it."""

    fault: FaultName
    probability: float
    evidence: str
    remedy: str
    confirm: str


@dataclass(frozen=True)
class Leak:
    """How probable a leak is (0..1), its area in mm2 and what it is like, in words."""

    probability: float
    area_mm2: Interval | None
    likeness: str | None


@dataclass(frozen=True)
class Result:
    """Everything `check` knows about one cabinet; the text, the page and the JSON are drawn from it.

    cabinet: its name, from the folder or file
    summary: one sentence
    design, prediction, curve, landmarks, fit: None as far as the chain did not come
    volume_m3: net volume by the compliance ratio, None without the driver's V_AS
    effective_length_m: vent length with end corrections that explains the tuning, None without a vent's area
    length_change_m: + lengthen, - shorten, to reach the target; None where the vent needs no change
    jig_words: the jig of the open vent's recording and what corrects it; None for a table
    design_notes: sentences on what contradicts itself in the design
    unknowns: half sentences on what the design leaves out, and how much wider the answer is for it
    comparison: with an older recording of the open vent, None where there is none to compare with
    history: all recordings of the open vent; None where nobody asked for it
    next_measurement: the recording that would decide most between what is left; None where none would
    cost: what the box as measured loses against the box as designed; None without a fit that stands
    near_field: what the microphone tells; None without a recording of it
    """

    cabinet: str
    verdict: VerdictWord
    summary: str
    design: Design | None
    prediction: Prediction | None
    curve: ImpedanceCurve | None
    landmarks: Landmarks | None
    fit: BoxFit | None
    leak: Leak
    volume_m3: Interval | None
    effective_length_m: float | None
    length_change_m: Interval | None
    findings: tuple[Finding, ...]
    problems: tuple[Problem, ...]
    sources: tuple[Source, ...]
    skipped_lines: int = 0
    jig_words: str | None = None
    design_notes: tuple[str, ...] = ()
    unknowns: tuple[str, ...] = ()
    cost: Cost | None = None
    next_measurement: NextMeasurement | None = None
    comparison: Comparison | None = None
    history: History | None = None
    near_field: NearField | None = None
