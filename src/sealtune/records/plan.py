"""What a design promises before anything is built: the result of `sealtune plan`. SI units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sealtune.records.design import Design, Prediction

Reals = NDArray[np.float64]

Expected = Literal[
    "tuning_hz",
    "compliance_ratio",
    "lower_peak_hz",
    "lower_peak_ohm",
    "saddle_hz",
    "saddle_ohm",
    "upper_peak_hz",
    "upper_peak_ohm",
]
"""The quantities that the tolerances are carried into."""

Cause = Literal[
    "volume",
    "vent length",
    "vent opening",
    "end corrections",
    "temperature",
    "box losses",
    "driver f_S",
    "driver Q_MS",
    "driver Q_ES",
    "driver V_AS",
    "driver R_E",
]
"""What may be off from its stated value."""

LimitWord = Literal["travel", "power", "vent air"]


@dataclass(frozen=True)
class Toleranced:
    """A predicted quantity and what the stated tolerances make of it.

    value: by the stated values, in the unit that its name ends in
    low, high: 95 % of the boxes built to the design lie between, by random draws
    linear_spread, drawn_spread: standard deviation of the logarithm, by first-order propagation [GUM] and by the draws
    shares: what each cause adds to the linear variance, as a share of 1, the largest first
    """

    value: float
    low: float
    high: float
    linear_spread: float
    drawn_spread: float
    shares: tuple[tuple[Cause, float], ...]


@dataclass(frozen=True)
class Behaviour:
    """What the driver does in one box against frequency, at small signals and at its limits; arrays of shape (n,).

    relative_db: half-space pressure at constant voltage, 0 in the passband, dB
    group_delay_s: of the same, s
    f3_hz: where it is 3 dB (half of the power) below the passband, None where it never is within the band
    level_db: at 1 m for 1 W, E^2/R_E, dB re 20 uPa
    travel_m: of the cone one way (peak), m per root of a watt; None where S_D is not known
    air_speed_m_s: of the air in the vent (peak), m/s per root of a watt; None for a closed box
    highest_db: the highest sine level at 1 m that keeps all known limits, dB re 20 uPa; None where none is known
    limited_by: what limits it at each frequency, shape (n,); empty where nothing is known
    """

    relative_db: Reals
    group_delay_s: Reals
    f3_hz: float | None
    level_db: Reals
    travel_m: Reals | None
    air_speed_m_s: Reals | None
    highest_db: Reals | None
    limited_by: tuple[LimitWord, ...]


@dataclass(frozen=True)
class PowerPoint:
    """A power E^2/R_E at the terminals, W, and the frequency it belongs to, Hz."""

    power_w: float
    hz: float


@dataclass(frozen=True)
class Limits:
    """What the driver and the vent can stand.

    power_w: rated power of all drivers, None where not given
    above, below: least power at which the cone reaches x_max from the tuning on upwards, and in the octave below it;
        None without S_D and x_max
    closed: least power at which it does in the closed box of the same volume, from an octave below the tuning on
    usable_w: the smaller of the rated power and `above`; None where neither is known
    air_speed_m_s, air_speed_hz: at usable_w, the fastest air in the vent from an octave below the tuning on, m/s
        peak, and where, Hz
    air_speed_share: the same over the speed of sound
    least_area_m2: of all vents together, by [Small1973, Part II], None without S_D and x_max
    """

    power_w: float | None
    above: PowerPoint | None
    below: PowerPoint | None
    closed: PowerPoint | None
    usable_w: float | None
    air_speed_m_s: float | None
    air_speed_hz: float | None
    air_speed_share: float | None
    least_area_m2: float | None


@dataclass(frozen=True)
class SweepLevel:
    """How loud a measuring sweep may be.

    volts: root mean square at the amplifier, with reference_ohm between it and the box
    from_hz, to_hz: band of the sweep
    reference_ohm: resistor of the jig
    travel_share, power_share: of x_max and of the rated power that this level reaches at most; None where not known
    because: which of the two set the level, or that nothing is known and a usual level is given
    """

    volts: float
    from_hz: float
    to_hz: float
    reference_ohm: float
    travel_share: float | None
    power_share: float | None
    because: Literal["travel", "power", "usual level"]


@dataclass(frozen=True)
class VentChoice:
    """Another vent for the same tuning and the same net volume.

    size_m: its diameter, or height of a slot, across flats of a polygon, diameter of equal area of a custom shape
    count: vents alike
    length_m: from mouth to mouth; None where no such vent reaches the tuning
    air_speed_m_s: peak, at the usable power; None where that is not known
    pipe_hz: first resonance of its duct, None without a length
    takes_m3: what all vents displace inside, walls left out, m3
    designed: whether this is the vent of the design
    against: what speaks against it, in words, empty where it fits
    """

    size_m: float
    count: int
    length_m: float | None
    air_speed_m_s: float | None
    pipe_hz: float | None
    takes_m3: float
    designed: bool
    against: tuple[str, ...]


@dataclass(frozen=True)
class VolumeChoice:
    """Another net volume with the same tuning and opening.

    volume_m3: net
    length_m: of the vent, None without one or where no length reaches the tuning; then nothing else is told
    compliance_ratio, f3_hz: None without the driver's data
    above: least power at which the cone reaches x_max from the tuning on upwards
    ripple_db: how far the response rises above the passband, dB, >= 0
    designed: whether this is the volume of the design
    against: what speaks against the vent that it needs, in words
    """

    volume_m3: float
    length_m: float | None
    compliance_ratio: float | None
    f3_hz: float | None
    above: PowerPoint | None
    ripple_db: float | None
    designed: bool
    against: tuple[str, ...] = ()


@dataclass(frozen=True)
class NearAlignment:
    """The published alignment nearest to the design, as orientation.

    family: its name, None where no published one lies near
    tuning_ratio, compliance_ratio: h and alpha that it has for this driver and these losses
    """

    family: str | None
    tuning_ratio: float
    compliance_ratio: float


@dataclass(frozen=True)
class Plan:
    """Everything that `sealtune plan` tells of one design.

    design: completed by the identities between driver data
    prediction: what `check` compares with
    notes: what was filled in, what contradicts itself and by how much, what to reconsider; whole sentences
    expected: the quantities that can be predicted, with their tolerances
    hz_per_mm: change of the tuning by one more millimetre of vent, Hz; None without a vent
    length_for_target_m: length of this vent that gives the target, m; None without a vent or where none does
    pipe_hz: first resonance of the vent's duct, Hz; None without a vent
    frequency_hz: of the curves, shape (n,)
    vented, closed: None without f_S, Q_MS, Q_ES and V_AS
    impedance_ohm: at the terminals with vent open and with it stopped, shape (n,); None without these and R_E
    """

    design: Design
    prediction: Prediction
    notes: tuple[str, ...]
    expected: Mapping[Expected, Toleranced]
    hz_per_mm: float | None
    length_for_target_m: float | None
    pipe_hz: float | None
    frequency_hz: Reals
    vented: Behaviour | None
    closed: Behaviour | None
    impedance_ohm: NDArray[np.complex128] | None
    plugged_ohm: NDArray[np.complex128] | None
    limits: Limits | None
    sweep: SweepLevel
    vents: tuple[VentChoice, ...]
    volumes: tuple[VolumeChoice, ...]
    alignment: NearAlignment | None
