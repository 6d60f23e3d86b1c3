"""A virtual cabinet built to a design."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sealtune.errors import UsageFault
from sealtune.records.design import Design, Driver, Vent, VentEnd
from sealtune.virtual.duct import FLANGED, FREE, Air, rectangle_end_m
from sealtune.virtual.enclosure import Truth, VirtualCabinet
from sealtune.virtual.parts import Panel, VirtualDriver, VirtualVent

__all__ = ["Losses", "Truth", "VirtualCabinet", "cabinet_from_design"]

_SPRING_FACTOR = {"none": 1.0, "walls": 1.02, "filled": 1.10}  # assumed; filling makes the air less adiabatic
# Q_A 100 and more unlined, 30 to 80 lined [Small1973, from memory]; filled is assumed
_ABSORPTION_Q = {"none": 100.0, "walls": 50.0, "filled": 20.0}


@dataclass(frozen=True)
class Losses:
    """How well a cabinet was made, and what its suspension and coil are like.

    leakage_q: Q of the seams and pores at the tuning; 25 is a well sealed box
    absorption_q: Q of the lining at the tuning; None: 100 without lining, 50 on the walls, 20 filled
    vent_loss_factor: drag of the vent's walls over that of smooth ones, >= 1
    creep: lambda of the suspension, 0.05 to 0.2 on real drivers [Knudsen1993, from memory]
    coil_n: exponent of the semi-inductor, 0.5 to 0.8 [Leach2002]
    coil_share: semi-inductor's magnitude at 1 kHz over R_E
    panel: a wall that resonates; None for stiff walls
    """

    leakage_q: float = 25.0
    absorption_q: float | None = None
    vent_loss_factor: float = 1.5
    creep: float = 0.08
    coil_n: float = 0.7
    coil_share: float = 0.55
    panel: Panel | None = None


def cabinet_from_design(
    design: Design,
    rng: np.random.Generator,
    *,
    scatter: float = 0.0,
    losses: Losses | None = None,
    air: Air | None = None,
) -> VirtualCabinet:
    """Return a cabinet built to a design.

    scatter: 0 builds exactly to the design; up to 1, volume, vent length and driver data are off by at most
        scatter times half their tolerance, drawn evenly from `rng`
    losses, air: as delivered if None
    Driver data that the design lacks are filled in: f_S = the tuning, V_AS = 1.2 box volumes, Q_MS 4,
    Q_ES 0.4, R_E 6 ohm, S_D so that the moving parts weigh 1 kg per m2 of cone. The vent is built as
    dimensioned; if only a tuning is given, a round one that reaches it.
    Raises UsageFault for a design with neither vent nor target.
    """
    losses = losses or Losses()
    air = air or Air()

    def off(tolerance: float) -> float:
        return 1.0 + (0.5 * scatter * tolerance * float(rng.uniform(-1.0, 1.0)) if scatter > 0.0 else 0.0)

    driver = design.driver
    box = replace(design.box, volume_m3=design.box.volume_m3 * off(design.box.volume_tolerance))
    complete = _completed(driver, design, air)
    scattered = replace(
        complete,
        fs_hz=complete.fs_hz * off(driver.fs_tolerance),
        vas_m3=complete.vas_m3 * off(driver.vas_tolerance),
        qms=complete.qms * off(driver.qms_tolerance),
        qes=complete.qes * off(driver.qes_tolerance),
        re_ohm=complete.re_ohm * off(driver.re_tolerance),
    )
    moving = _driver(scattered, design, losses, air)
    spring_factor = _SPRING_FACTOR[box.lining]
    bare = VirtualCabinet(
        driver=moving,
        volume_m3=box.volume_m3,
        vent=None,
        air_spring_factor=spring_factor,
        crossover=design.crossover,
        panel=losses.panel,
        air=air,
    )
    if design.vent is not None:
        vent = _vent(design.vent, losses.vent_loss_factor)
        wrong_m = design.vent.length_tolerance_m * (off(1.0) - 1.0)
        cabinet = replace(bare, vent=replace(vent, length_m=max(vent.length_m + wrong_m, 0.002)))
    else:
        cabinet = _tuned(bare, design, losses)
    tuning_hz = cabinet.truth().tuning_hz or design.tuning.target_hz or 40.0
    absorption_q = losses.absorption_q if losses.absorption_q is not None else _ABSORPTION_Q[box.lining]
    reactance = 1.0 / (2.0 * np.pi * tuning_hz * cabinet.air_compliance)
    return replace(
        cabinet,
        leakage_pa_s_m3=losses.leakage_q * reactance,
        absorption_pa_s_m3=reactance / absorption_q,
    )


def _rough_tuning_hz(design: Design, air: Air) -> float:
    if design.vent is None:
        if design.tuning.target_hz is None:
            raise UsageFault(
                "design",
                "a vent or a target tuning",
                "neither",
                "Add [vent] or [tuning] target_hz to the design.",
            )
        return design.tuning.target_hz
    vent = _vent(design.vent, 1.0)
    inverse_square = design.box.volume_m3 * vent.effective_length_m / (vent.area_m2 * vent.count)
    return float(air.sound_speed_m_s / (2.0 * np.pi * np.sqrt(inverse_square)))


@dataclass(frozen=True)
class _Sheet:
    """The driver's data with nothing missing."""

    fs_hz: float
    vas_m3: float
    sd_m2: float
    qms: float
    qes: float
    re_ohm: float


def _completed(driver: Driver, design: Design, air: Air) -> _Sheet:
    tuning_hz = _rough_tuning_hz(design, air)
    fs_hz = driver.fs_hz or tuning_hz
    vas_m3 = driver.vas_m3 or 1.2 * design.box.volume_m3 / driver.count
    sd_m2 = driver.sd_m2 or (2.0 * np.pi * fs_hz) ** 2 * vas_m3 / air.stiffness_pa
    return _Sheet(
        fs_hz=fs_hz,
        vas_m3=vas_m3,
        sd_m2=sd_m2,
        qms=driver.qms or 4.0,
        qes=driver.qes or 0.4,
        re_ohm=driver.re_ohm or 6.0,
    )


def _driver(data: _Sheet, design: Design, losses: Losses, air: Air) -> VirtualDriver:
    omega = 2.0 * np.pi * data.fs_hz
    compliance = data.vas_m3 / (air.stiffness_pa * data.sd_m2**2)
    mass = 1.0 / (omega**2 * compliance)
    made = VirtualDriver(
        re_ohm=data.re_ohm,
        coil_k=losses.coil_share * data.re_ohm / (2000.0 * np.pi) ** losses.coil_n,
        coil_n=losses.coil_n,
        coil_h=1e-5 * data.re_ohm,
        bl_tm=float(np.sqrt(omega * mass * data.re_ohm / data.qes)),
        mass_kg=mass,
        damping_kg_s=omega * mass / data.qms,
        compliance_m_n=compliance,
        creep=losses.creep,
        creep_reference_hz=data.fs_hz,
        area_m2=data.sd_m2,
        count=design.driver.count,
        wiring=design.driver.wiring,
    )
    # the data sheet's mass includes the air that moves with a free cone
    made = replace(made, mass_kg=max(mass - made.air_mass_kg(air, mounted=False), 0.2 * mass))
    mounted_kg = made.mass_kg + made.air_mass_kg(air, mounted=True)
    return replace(made, creep_reference_hz=float(1.0 / (2.0 * np.pi * np.sqrt(compliance * mounted_kg))))


def _vent(vent: Vent, loss_factor: float) -> VirtualVent:
    """Return the vent as built; walls that it shares with the box and the nearness of other vents are left out."""
    radius = float(np.sqrt(vent.area_m2 / np.pi))
    hydraulic, shape_factor, sides = radius, 1.0, None
    if vent.width_m is not None and vent.height_m is not None:
        sides = (vent.width_m, vent.height_m)
        hydraulic = vent.area_m2 / (vent.width_m + vent.height_m)
        shape_factor = rectangle_end_m(vent.width_m, vent.height_m) / (8.0 * radius / (3.0 * np.pi))
    elif vent.sides is not None and vent.across_flats_m is not None:
        hydraulic = vent.across_flats_m / 2.0
    inner = _end_m(vent.inner_end, radius, vent.flare_radius_m) * shape_factor
    if vent.wall_distance_m is not None:  # image source, far from the wall; a free mouth sounds all round
        far = vent.wall_distance_m + (radius if vent.wall_position == "beside" else 0.0)
        inner += radius**2 / ((8.0 if vent.inner_end == "free" else 4.0) * max(far, radius))
    return VirtualVent(
        area_m2=vent.area_m2,
        hydraulic_radius_m=hydraulic,
        length_m=vent.length_m,
        outer_end_m=_end_m(vent.outer_end, radius, vent.flare_radius_m) * shape_factor,
        inner_end_m=inner,
        outer_flanged=vent.outer_end != "free",
        count=vent.count,
        loss_factor=loss_factor,
        sides_m=sides,
    )


def _end_m(end: VentEnd, radius_m: float, flare_m: float | None) -> float:
    """End correction, m.

    A flare's air is summed slice by slice over its rounding, which is part of the vent's length; its wide
    mouth then has a flanged end. Negative where the flare takes away more than the end adds.
    """
    if end == "free":
        return FREE * radius_m
    if end == "flanged" or flare_m is None:
        return FLANGED * radius_m
    depth = (np.arange(400) + 0.5) / 400.0 * flare_m
    widened = radius_m + flare_m - np.sqrt(flare_m**2 - depth**2)
    slices = float(np.mean((radius_m / widened) ** 2)) * flare_m
    return slices - flare_m + FLANGED * radius_m**2 / (radius_m + flare_m)


def _tuned(bare: VirtualCabinet, design: Design, losses: Losses) -> VirtualCabinet:
    """Give the cabinet a round vent that reaches the target: a fifth of the cone's area if it fits."""
    target_hz = _rough_tuning_hz(design, bare.air)
    area = 0.2 * bare.driver.area_m2 * bare.driver.count
    per_area = bare.air.sound_speed_m_s**2 / (
        (2.0 * np.pi * target_hz) ** 2 * bare.volume_m3 * bare.air_spring_factor
    )
    longest = 0.8 * bare.volume_m3 ** (1.0 / 3.0)
    area = min(area, longest / per_area)
    # an area whose ends alone are longer than the air plug needed cannot be tuned so high: make it wider
    while per_area * area < 1.8 * float(np.sqrt(area / np.pi)):
        area *= 1.3
    radius = float(np.sqrt(area / np.pi))
    ends = (FLANGED + FREE) * radius
    shape = Vent("round", area, max(per_area * area - ends, 0.005), diameter_m=2.0 * radius)
    vent = _vent(shape, losses.vent_loss_factor)
    for _ in range(6):
        reached = replace(bare, vent=vent).truth().tuning_hz
        if reached is None:
            break
        wanted = vent.effective_length_m * (reached / target_hz) ** 2 - ends
        vent = replace(vent, length_m=max(wanted, 0.005))
    return replace(bare, vent=vent)
