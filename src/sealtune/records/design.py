"""What a box was meant to be. One design per model of box. SI units."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Lining = Literal["none", "walls", "filled"]
VentShape = Literal["round", "rectangular", "polygon", "custom"]
VentEnd = Literal["flanged", "free", "flared"]
WallPosition = Literal["beside", "facing"]
DriverWiring = Literal["single", "parallel", "series"]


@dataclass(frozen=True)
class Box:
    """The enclosure.

    volume_m3: net volume, m3, with its relative tolerance (0.03 means 3 %)
    lining: damping material
    width_m, height_m, depth_m: inside, m; the depth runs along the vent; None where not said
    """

    volume_m3: float
    volume_tolerance: float = 0.03
    lining: Lining = "none"
    width_m: float | None = None
    height_m: float | None = None
    depth_m: float | None = None


@dataclass(frozen=True)
class Vent:
    """The vent, or several alike.

    area_m2: cross-section of one vent, m2, whatever its shape
    length_m: from mouth to mouth, flanges and wall included, m
    diameter_m, width_m, height_m, sides, across_flats_m: of the shape concerned, else None
    outer_end, inner_end: how the air leaves at either mouth
    flare_radius_m: radius of a flared end's rounding, m
    wall_distance_m: inner mouth to the nearest wall, m
    wall_position: that wall stands beside the mouth, or the mouth faces it
    shared_walls: how many of the duct's walls are walls of the cabinet that go on beyond the inner mouth: 0 none,
        1 one of the longer sides (a slot on the floor), 2 that and a side wall (in a corner), 3 that and both side
        walls (a slot across the whole width)
    spacing_m: between the centres of neighbouring vents, m; None counts as far apart
    length_tolerance_m: how far the length may be off, m
    size_tolerance_m: how far each dimension of the opening may be off, m; of a custom shape, the diameter of the
        circle of equal area
    length_is_computed: the design left the length out, and length_m is what reaches its target
    """

    shape: VentShape
    area_m2: float
    length_m: float
    count: int = 1
    diameter_m: float | None = None
    width_m: float | None = None
    height_m: float | None = None
    sides: int | None = None
    across_flats_m: float | None = None
    outer_end: VentEnd = "flanged"
    inner_end: VentEnd = "free"
    flare_radius_m: float | None = None
    wall_distance_m: float | None = None
    wall_position: WallPosition = "beside"
    shared_walls: int = 0
    spacing_m: float | None = None
    length_tolerance_m: float = 0.001
    size_tolerance_m: float = 0.0003
    length_is_computed: bool = False


@dataclass(frozen=True)
class Tuning:
    """The tuning aimed at, Hz (None: what box and vent predict), and its relative tolerance."""

    target_hz: float | None = None
    tolerance: float = 0.04


@dataclass(frozen=True)
class Driver:
    """The driver's data sheet; None where the design does not say.

    fs_hz, qms, qes: free-air resonance and its mechanical and electrical Q
    vas_m3: volume of air as springy as the suspension, m3
    qts: total Q in free air
    mms_kg, cms_m_n, bl_t_m, rms_kg_s: moving mass with its air load, give of the suspension, force factor, mechanical
        resistance
    re_ohm: resistance at direct current of one driver, ohm
    sd_m2, xmax_m: effective area, m2, and linear travel one way, m
    power_w: rated power, W
    count, wiring: drivers sharing the box
    fs_tolerance .. sd_tolerance: relative scatter of the data (one standard deviation)
    """

    fs_hz: float | None = None
    qms: float | None = None
    qes: float | None = None
    vas_m3: float | None = None
    re_ohm: float | None = None
    sd_m2: float | None = None
    xmax_m: float | None = None
    power_w: float | None = None
    count: int = 1
    wiring: DriverWiring = "single"
    fs_tolerance: float = 0.10
    qms_tolerance: float = 0.25
    qes_tolerance: float = 0.15
    vas_tolerance: float = 0.15
    re_tolerance: float = 0.05
    sd_tolerance: float = 0.03
    qts: float | None = None
    mms_kg: float | None = None
    cms_m_n: float | None = None
    bl_t_m: float | None = None
    rms_kg_s: float | None = None


@dataclass(frozen=True)
class Crossover:
    """What sits between terminals and driver, if measured through it.

    series_h, series_ohm: coil and resistance in series with the driver, H and ohm
    shunt_f, shunt_ohm: a branch across the driver, capacitor and resistor in series, F and ohm;
        shunt_f None with shunt_ohm given: a resistor alone; both None: no branch
    """

    series_h: float = 0.0
    series_ohm: float = 0.0
    shunt_f: float | None = None
    shunt_ohm: float | None = None


@dataclass(frozen=True)
class Climate:
    """The air where the box is measured: degrees Celsius, relative humidity 0..1, Pa, and 95 % bound in kelvin."""

    temperature_c: float = 20.0
    humidity: float = 0.5
    pressure_pa: float = 101325.0
    temperature_tolerance_k: float = 3.0


@dataclass(frozen=True)
class Design:
    """The whole design. `vent` or `tuning.target_hz` is always there."""

    name: str
    box: Box
    vent: Vent | None = None
    tuning: Tuning = field(default_factory=Tuning)
    driver: Driver = field(default_factory=Driver)
    crossover: Crossover | None = None
    climate: Climate = field(default_factory=Climate)


@dataclass(frozen=True)
class Prediction:
    """What the design predicts, each pair (value, relative standard deviation); None where it cannot say.

    tuning_hz: by box and vent; None without a vent
    target_hz, low_hz, high_hz: what the verdict is held against, and the band that counts as met
    effective_length_m: vent length with its end corrections, m
    box_q: median of what a sealed box like this has; box_q_spread is the standard deviation of its logarithm
    """

    target_hz: float
    low_hz: float
    high_hz: float
    tuning_hz: float | None
    tuning_spread: float
    compliance_ratio: float | None
    compliance_spread: float
    effective_length_m: float | None
    box_q: float
    box_q_spread: float
