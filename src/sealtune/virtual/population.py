"""Random designs and cabinets, for benchmarks: mixed in size, losses, crossover and leak."""

from __future__ import annotations

import numpy as np

from sealtune.records.design import Box, Crossover, Design, Driver, Tuning, Vent
from sealtune.virtual.cabinet import Losses, cabinet_from_design
from sealtune.virtual.duct import FLANGED, FREE, Air
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.faults import apply_fault
from sealtune.virtual.parts import Panel

# cone area in cm2, moving mass in g (low, high), free-air resonance in Hz (low, high): common practice
_DRIVERS: tuple[tuple[str, float, tuple[float, float], tuple[float, float]], ...] = (
    ("4 inch", 50.0, (3.5, 7.0), (55.0, 90.0)),
    ("5 inch", 85.0, (6.0, 12.0), (45.0, 75.0)),
    ("6.5 inch", 132.0, (10.0, 20.0), (35.0, 60.0)),
    ("8 inch", 220.0, (18.0, 35.0), (26.0, 50.0)),
    ("10 inch", 340.0, (30.0, 60.0), (22.0, 42.0)),
    ("12 inch", 520.0, (45.0, 110.0), (20.0, 45.0)),
    ("15 inch", 850.0, (80.0, 160.0), (20.0, 42.0)),
)


def draw_design(rng: np.random.Generator) -> Design:
    """Return a random design with all driver data.

    5 to 150 L, a 4 to 15 inch driver, h = 0.7 to 1.4, alpha = 0.4 to 3, a vent 40 to 450 mm long, one in
    five rectangular, one in four boxes with a crossover.
    The target is what box and vent predict with the plain resonator formula, less 0.8 % for the air that
    clings to the vent's walls.
    """
    air = Air()
    while True:
        name, area_cm2, mass_g, fs_range = _DRIVERS[int(rng.integers(len(_DRIVERS)))]
        sd_m2 = area_cm2 * 1e-4
        fs_hz = float(rng.uniform(*fs_range))
        mass_kg = 1e-3 * float(np.exp(rng.uniform(np.log(mass_g[0]), np.log(mass_g[1]))))
        vas_m3 = air.stiffness_pa * sd_m2**2 / ((2.0 * np.pi * fs_hz) ** 2 * mass_kg)
        volume_m3 = vas_m3 / float(np.exp(rng.uniform(np.log(0.4), np.log(3.0))))
        tuning_hz = fs_hz * float(np.exp(rng.uniform(np.log(0.7), np.log(1.4))))
        radius_m = float(np.sqrt(sd_m2 * rng.uniform(0.08, 0.3) / np.pi))
        area_m2 = np.pi * radius_m**2
        ends_m = (FLANGED + FREE) * radius_m
        length_m = air.sound_speed_m_s**2 * area_m2 / ((2.0 * np.pi * tuning_hz) ** 2 * volume_m3) - ends_m
        if 0.005 <= volume_m3 <= 0.150 and 0.04 <= length_m <= 0.45:
            break
    vent = Vent("round", float(area_m2), float(length_m), diameter_m=2.0 * radius_m)
    if rng.random() < 0.2:
        aspect = float(rng.uniform(1.0, 4.0))
        width_m, height_m = float(np.sqrt(area_m2 * aspect)), float(np.sqrt(area_m2 / aspect))
        vent = Vent("rectangular", float(area_m2), float(length_m), width_m=width_m, height_m=height_m)
    re_ohm = float(rng.uniform(3.2, 7.0))
    crossover = None
    if rng.random() < 0.25:
        crossover = Crossover(
            series_h=1e-3 * float(rng.uniform(0.5, 3.0)),
            series_ohm=float(rng.uniform(0.1, 0.6)),
            shunt_f=1e-6 * float(rng.uniform(8.0, 60.0)) if rng.random() < 0.6 else None,
        )
    return Design(
        name=f"{name}, {1e3 * volume_m3:.0f} L",
        box=Box(float(volume_m3), lining="walls" if rng.random() < 0.5 else "none"),
        vent=vent,
        tuning=Tuning(target_hz=tuning_hz * 0.992),
        driver=Driver(
            fs_hz=fs_hz,
            qms=float(rng.uniform(2.5, 9.0)),
            qes=float(rng.uniform(0.25, 0.6)),
            vas_m3=float(vas_m3),
            re_ohm=re_ohm,
            sd_m2=sd_m2,
            xmax_m=1e-3 * float(rng.uniform(3.0, 9.0)),
            power_w=float(rng.uniform(30.0, 250.0)),
        ),
        crossover=crossover,
    )


def draw_crossover(rng: np.random.Generator) -> Crossover:
    """Return a random crossover: a coil, and in three of four a capacitor with a resistor across the driver.

    0.5 to 3 mH, 8 to 60 uF, and 0.05 to 6 ohm beside the capacitor: from a low-pass to what evens out the coil.
    """
    shunted = rng.random() < 0.75
    return Crossover(
        series_h=1e-3 * float(rng.uniform(0.5, 3.0)),
        series_ohm=float(rng.uniform(0.1, 0.6)),
        shunt_f=1e-6 * float(rng.uniform(8.0, 60.0)) if shunted else None,
        shunt_ohm=float(np.exp(rng.uniform(np.log(0.05), np.log(6.0)))) if shunted else None,
    )


def draw_cabinet(
    design: Design, rng: np.random.Generator, leak_chance: float = 0.0, *, scatter: float = 1.0
) -> VirtualCabinet:
    """Return a random cabinet of a design, with the chance given a slit or a hole of random size in it.

    Sealed, its box Q is 6 to 20 (less where the vent alone loses more); creep is 0.03 to 0.2, and one in
    three has a wall that resonates.

    leak_chance: 0 to 1
    scatter: of the dimensions and driver data, see `cabinet_from_design`
    """
    panel = None
    if rng.random() < 1.0 / 3.0:
        panel = Panel(
            float(rng.uniform(150.0, 400.0)), float(rng.uniform(10.0, 40.0)), float(rng.uniform(0.001, 0.01))
        )
    total_q = float(np.exp(rng.uniform(np.log(6.0), np.log(20.0))))
    losses = Losses(
        vent_loss_factor=float(rng.uniform(1.0, 2.0)),
        creep=float(rng.uniform(0.03, 0.2)),
        coil_n=float(rng.uniform(0.55, 0.8)),
        coil_share=float(rng.uniform(0.3, 0.9)),
        panel=panel,
        leakage_q=1e9,
        absorption_q=1e9,
    )
    state = rng.integers(2**63)
    tight = cabinet_from_design(design, np.random.default_rng(state), scatter=scatter, losses=losses)
    vent_q = tight.truth().vent_q or 1e9
    remaining = max(1.0 / total_q - 1.0 / vent_q, 0.1 / total_q)
    leaking = float(rng.uniform(0.4, 0.9))
    losses = Losses(
        vent_loss_factor=losses.vent_loss_factor,
        creep=losses.creep,
        coil_n=losses.coil_n,
        coil_share=losses.coil_share,
        panel=panel,
        leakage_q=1.0 / (leaking * remaining),
        absorption_q=1.0 / ((1.0 - leaking) * remaining),
    )
    cabinet = cabinet_from_design(design, np.random.default_rng(state), scatter=scatter, losses=losses)
    if rng.random() < leak_chance:
        cabinet = apply_fault(cabinet, "leak", float(rng.random()), rng)
    return cabinet
