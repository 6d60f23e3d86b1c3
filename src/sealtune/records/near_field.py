"""What the microphone tells: cone, mouth, their sum, and what is heard beside the sweep."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sealtune.records.interval import Interval
from sealtune.records.recording import Role

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

PolarityWord = Literal["normal", "reversed", "contradictory", "unclear"]
NoiseKind = Literal["rattle", "blowing"]


@dataclass(frozen=True)
class Reading:
    """A near field over the amplifier's voltage, against frequency.

    role: "cone" or "mouth"
    frequency_hz: shape (n,), rising
    value: shape (n,) complex, channel 2 over channel 1, the microphone's own response taken off where it is known
    sigma: shape (n,), standard deviation of the noise of the real and of the imaginary part
    """

    role: Role
    frequency_hz: Reals
    value: Complexes
    sigma: Reals

    @property
    def coherence(self) -> Reals:
        """Share of channel 2's power that goes with channel 1, 0..1, shape (n,)."""
        power = np.abs(self.value) ** 2
        return np.asarray(power / (power + 2.0 * self.sigma**2))

    @property
    def bass_coherence(self) -> float | None:
        """Least coherence from 20 to 200 Hz, None where nothing was read there."""
        bass = (self.frequency_hz >= 20.0) & (self.frequency_hz <= 200.0)
        return float(self.coherence[bass].min()) if bass.any() else None

    @property
    def noise(self) -> float:
        """Median of the noise over the reading."""
        return float(np.median(self.sigma / np.abs(self.value)))


@dataclass(frozen=True)
class Polarity:
    """Which way the driver moves.

    word: "normal" where a positive voltage moves the cone outwards; "contradictory" where cone and mouth do not go
        together; "unclear" where the phase does not say
    sureness: how well the phase goes with one of the two ways, 0..1
    """

    word: PolarityWord
    sureness: float


@dataclass(frozen=True)
class SumBand:
    """One third octave of the acoustic sum.

    hz: nominal midband frequency [IEC61260]
    level_db: measured, over the common level of the upper bands
    designed_db: as the design has it, likewise; None without a design
    """

    hz: float
    level_db: float
    designed_db: float | None

    @property
    def difference_db(self) -> float | None:
        """Measured less designed, dB."""
        return None if self.designed_db is None else self.level_db - self.designed_db


@dataclass(frozen=True)
class AcousticSum:
    """What cone and mouth together send out, in half space.

    frequency_hz, level_db: shape (n,), over the common level of the upper bands; up to the limit
    designed_db: the same by the design, None without one
    bands: third octaves up to the limit
    limit_hz: ka = 1 of the cone
    cone_db, mouth_db: what either gives to it, shape (n,)
    by_model: whether crosstalk and the room's answer were taken off
    common_db: that common level over a reading of 1
    """

    frequency_hz: Reals
    level_db: Reals
    designed_db: Reals | None
    bands: tuple[SumBand, ...]
    limit_hz: float
    cone_db: Reals
    mouth_db: Reals
    by_model: bool
    common_db: float


@dataclass(frozen=True)
class SideNoise:
    """Noise that goes with the movement of cone or air.

    kind: "rattle": blows at one moment of each period; "blowing": noise that swells with the air's speed
    role: where the microphone stood; "open" where it is heard in the voltage across the box
    low_hz, high_hz: what was played while it was heard
    share: root mean square over that of the sound that was played, at its strongest
    level_dbfs: level of the sweep
    """

    kind: NoiseKind
    role: Role
    low_hz: float
    high_hz: float
    share: float
    level_dbfs: float | None


@dataclass(frozen=True)
class OtherLevel:
    """The same recording at another level.

    role, file: which recording
    level_db: of that sweep over that of the newest, dB
    noises: what rattles and blows then
    """

    role: Role
    file: str
    level_db: float
    noises: tuple[SideNoise, ...]


@dataclass(frozen=True)
class Missing:
    """What is missing in one band and why.

    hz: nominal midband frequency
    difference_db: measured less designed
    shares: what each cause explains of it, dB, the greatest first
    open_db: what no cause explains
    """

    hz: float
    difference_db: float
    shares: tuple[tuple[str, float], ...]
    open_db: float


@dataclass(frozen=True)
class NearField:
    """All that the microphone tells of one cabinet, and what rattles where its impedance was measured.

    cone, mouth: None where there is no such recording, or none that can be used
    tuning_hz: by both readings, with its 95 % interval; None where they do not tell
    null_hz: where the cone's reading is least, for comparison
    crosstalk: of the mouth at the cone's microphone, over the cone's own near field
    mouth_excess_db: how much louder the mouth was recorded against the cone than their areas say, dB; None where no
        model or no area tells
    agrees: whether that tuning goes with that of the impedance; None where one of them is missing
    calibrated: whether the microphone's response was known
    distortion: of each role the highest of second and third harmonic over the fundamental between half and twice the
        tuning
    notes: what is worth saying, each a sentence or two
    other_levels: older recordings at another level, at most one of each role
    not_searched: roles whose recordings do not say which sweep was played, so that no rattle can be told
    """

    cone: Reading | None
    mouth: Reading | None
    polarity: Polarity | None = None
    tuning_hz: Interval | None = None
    null_hz: float | None = None
    crosstalk: float | None = None
    mouth_excess_db: float | None = None
    agrees: bool | None = None
    sound: AcousticSum | None = None
    noises: tuple[SideNoise, ...] = ()
    missing: tuple[Missing, ...] = ()
    calibrated: bool = False
    distortion: tuple[tuple[Role, float], ...] = ()
    notes: tuple[str, ...] = ()
    other_levels: tuple[OtherLevel, ...] = ()
    not_searched: tuple[Role, ...] = ()


@dataclass(frozen=True)
class NearFieldPair:
    """Two cabinets side by side, as the microphone has them.

    polarity: "alike", "opposite", or "unclear" where one of them is not known
    bands: nominal midband frequency and level of the first less that of the second, dB, in third octaves; each over
        its own common level
    apart_db: common level of the first less that of the second, dB, if microphone and gain were the same; None
        where one of the sums is missing
    tuning_percent: tuning of the first over that of the second, less 1, percent, by the microphone
    within_db, within_percent: half the 95 % interval of each band's difference and of the tuning's; None as these are
    words: what is worth saying, each a sentence
    """

    polarity: Literal["alike", "opposite", "unclear"]
    bands: tuple[tuple[float, float], ...]
    apart_db: float | None
    tuning_percent: float | None
    words: tuple[str, ...]
    within_db: float | None = None
    within_percent: float | None = None
