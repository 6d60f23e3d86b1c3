"""What the faults of a box cost: its response and limits as measured against as designed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sealtune.records.interval import Interval

LossKind = Literal["leakage", "friction", "absorption"]


@dataclass(frozen=True)
class BandCost:
    """One third-octave band.

    hz: nominal midband frequency [IEC61260]
    designed_db, measured_db: level of pink noise in the band over that of the design's passband, dB
    difference_db: measured less designed, dB; below 0 where the box plays softer than designed
    heard: whether the band stands out of what the box plays anyway, as designed or as measured
    """

    hz: float
    designed_db: float
    measured_db: float
    difference_db: Interval
    heard: bool


@dataclass(frozen=True)
class Compared:
    """The same quantity of the box as measured and as designed; None where it is not known."""

    measured: float | None = None
    designed: float | None = None


@dataclass(frozen=True)
class Cost:
    """The measured driver in the box as measured against the same driver in the box as designed.

    against: "design", or "usual losses" where no design is known: the same tuning in a well-sealed box
    bands: the third octaves from 20 to 200 Hz
    f3_hz: half of the passband's power, Hz
    travel_w: least power E^2/R_E at which the cone reaches x_max from the tuning on upwards, W
    usable_w: the smaller of this and the rated power, W
    air_speed_m_s: fastest air in the vent at the power that is usable as designed, m/s peak
    excess: the kind of loss that whatever the curves do not tell apart was counted as
    excess_matters_db: how far any heard band would shift if it were another kind, dB
    """

    against: Literal["design", "usual losses"]
    bands: tuple[BandCost, ...]
    f3_hz: Compared
    travel_w: Compared
    usable_w: Compared
    air_speed_m_s: Compared
    excess: LossKind
    excess_matters_db: float

    @property
    def worst(self) -> BandCost | None:
        """The heard band that differs most, None where none is heard."""
        heard = [band for band in self.bands if band.heard]
        return max(heard, key=lambda band: abs(band.difference_db.value), default=None)

    @property
    def softest(self) -> BandCost | None:
        """The heard band that loses most, None where none loses."""
        losing = [band for band in self.bands if band.heard and band.difference_db.value < 0.0]
        return min(losing, key=lambda band: band.difference_db.value, default=None)

    @property
    def loudest(self) -> BandCost | None:
        """The heard band that gains most, None where none gains."""
        gaining = [band for band in self.bands if band.heard and band.difference_db.value > 0.0]
        return max(gaining, key=lambda band: band.difference_db.value, default=None)
