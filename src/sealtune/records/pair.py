"""Two cabinets of one design held against each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sealtune.records.interval import Interval
from sealtune.records.near_field import NearFieldPair
from sealtune.records.verdict import Result, VerdictWord

Side = Literal["left", "right"]

QuantityName = Literal["tuning_hz", "box_q", "compliance_ratio", "fs_hz", "qms", "qes", "re_ohm", "res_ohm"]

SIDES: tuple[Side, Side] = ("left", "right")


@dataclass(frozen=True)
class Difference:
    """A quantity of both cabinets, and the left one's less the right one's with its 95 % interval.

    The interval leaves out what is wrong alike in both, such as the clock, the reference resistor and the lumped vent.
    """

    name: QuantityName
    left: float
    right: float
    difference: Interval

    @property
    def certain(self) -> bool:
        """Whether the two differ at all, with 95 % confidence."""
        return not self.difference.holds(0.0)


@dataclass(frozen=True)
class ImpedanceDifference:
    """How far the magnitudes of the two curves lie apart, left less right, in a band.

    low_hz, high_hz: the band
    rms_db, largest_db: root mean square over the logarithm of frequency, and where it is largest, dB
    at_hz: where that is
    """

    low_hz: float
    high_hz: float
    rms_db: Interval
    largest_db: Interval
    at_hz: float


@dataclass(frozen=True)
class BandDifference:
    """One third-octave band: level of the left cabinet less that of the right, each over its own passband, dB.

    hz: nominal midband frequency [IEC61260]
    boxes_db: the part of tuning and box Q; the rest is the drivers' and the volumes'
    heard: whether the band stands out of what either box plays
    """

    hz: float
    difference_db: Interval
    boxes_db: Interval
    heard: bool


@dataclass(frozen=True)
class MatchingStep:
    """One thing to do so that the two match.

    side: on which cabinet
    words: what to do
    length_change_m: of each of its vents, + lengthen, - shorten; None where the vent stays
    """

    side: Side
    words: str
    length_change_m: Interval | None = None


@dataclass(frozen=True)
class Pair:
    """Everything `pair` knows; text, page and JSON are drawn from it.

    verdict: "good": both cabinets are good and match; "remeasure": one of them cannot be judged
    matched: None where the two could not be held against each other
    summary: one or two sentences
    differences: empty where one of the two could not be fitted
    joint: True where both curves were fitted together, so that what both share drops out
    tolerance: largest relative difference of the tuning that still counts as matched, 0.04 means 4 %
    impedance: None without two curves that overlap
    bands: third octaves from 20 to 200 Hz; empty without differences
    leak_probability: of left and right, weighed together; None without a design or a fit
    farther: the cabinet whose tuning lies farther from the design's; None without a design, or where the
        difference is not certain
    steps: what to do so that they match, in this order
    notes: what the comparison rests on
    near_field: as the microphone has them; None where one of the two has no recording of it
    """

    left: Result
    right: Result
    verdict: VerdictWord
    matched: bool | None
    summary: str
    tolerance: float
    differences: tuple[Difference, ...] = ()
    joint: bool = False
    impedance: ImpedanceDifference | None = None
    bands: tuple[BandDifference, ...] = ()
    leak_probability: tuple[float, float] | None = None
    farther: Side | None = None
    steps: tuple[MatchingStep, ...] = ()
    notes: tuple[str, ...] = ()
    near_field: NearFieldPair | None = None

    def of(self, name: QuantityName) -> Difference | None:
        """Return the difference of a quantity, None where it is not known."""
        return next((one for one in self.differences if one.name == name), None)

    @property
    def worst(self) -> BandDifference | None:
        """The heard band that differs most, None where none is heard."""
        heard = [band for band in self.bands if band.heard]
        return max(heard, key=lambda band: abs(band.difference_db.value), default=None)
