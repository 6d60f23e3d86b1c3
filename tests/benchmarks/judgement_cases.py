"""Virtual cabinets with a known fault each, for the benchmark of the judgement.

They come from the virtual cabinet's own physics and are built within half of the design's tolerances, with drivers that
scatter by 10 % in f_S and 15 % in V_AS (standard deviations, cut at two); the program is given the design alone. The
scatter is that of a real driver: the suspension's give moves V_AS in proportion and f_S by half as much the other way,
the moving mass does the rest of f_S. Drawn independently of each other, the two numbers would need masses that differ
by a quarter; that is the harder case and can be chosen.

Sealed means that pores, surround and dust cap leave a leakage Q of 15 to 45: a box that leaks more has a leak, whatever
its shape. Friction in the vent is one to two times that of smooth walls, the absorption Q 30 to 80 with lined walls and
80 to 200 without.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Design
from sealtune.records.recording import Role
from sealtune.virtual.cabinet import Losses, cabinet_from_design
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.faults import apply_fault, with_hole, with_slit
from sealtune.virtual.parts import Panel
from sealtune.virtual.population import draw_design

NOISE = 0.001
"""Noise of each point over |Z|, after smoothing to LINES points a decade."""

LINES = 150

KINDS = (
    "sealed", "leak halves Q", "hole tunes high", "leak costs 20 %", "vent 10 % off", "volume 25 % off", "blocked",
    "lined", "overstuffed", "series resistance",
)  # fmt: skip


MIXED: dict[str, float] = {
    "none": 0.69, "leak_slit": 0.07, "leak_hole": 0.06, "vent_long": 0.03, "vent_short": 0.035, "vent_restricted": 0.01,
    "vent_lined": 0.015, "overstuffed": 0.015, "volume_small": 0.015, "volume_large": 0.015, "driver_off": 0.015,
    "vent_blocked": 0.01, "series_resistance": 0.03,
}  # fmt: skip
"""Faults of the virtual cabinet at any severity, and how often each is met at the bench: our own judgement."""

SCATTER_FS, SCATTER_VAS = 0.10, 0.15


@dataclass(frozen=True)
class Case:
    """One cabinet: its design, the curves of its roles, the fault it has and its truth without and with it."""

    kind: str
    seed: int
    design: Design
    cabinet: VirtualCabinet
    sealed: VirtualCabinet
    curves: dict[Role, ImpedanceCurve]


def draw_case(kind: str, seed: int, *, independent: bool = False) -> Case | None:
    """Return the cabinet with this seed, None where the fault cannot be put into it.

    kind: one of KINDS or MIXED
    independent: whether f_S and V_AS scatter independently of each other
    """
    rng = np.random.default_rng([(*KINDS, *MIXED).index(kind), seed])
    design = draw_design(rng)
    driver = design.driver
    assert driver.fs_hz is not None
    assert driver.vas_m3 is not None
    scatter_fs, scatter_vas = np.exp(_scatter(rng, independent=independent))
    as_made = replace(
        design,
        driver=replace(
            driver, fs_hz=driver.fs_hz * scatter_fs, vas_m3=driver.vas_m3 * scatter_vas, fs_tolerance=0.0,
            vas_tolerance=0.0,
        ),
    )  # fmt: skip
    sealed = cabinet_from_design(as_made, rng, scatter=1.0, losses=sealed_losses(design, rng))
    cabinet = _with(kind, sealed, design, rng)
    if cabinet is None or sealed.truth().tuning_hz is None:
        return None
    roles: tuple[Role, ...] = ("open", "plugged", "free-air")
    curves = {role: measured(cabinet, role, rng) for role in roles}
    return Case(kind, seed, design, cabinet, sealed, curves)


def _scatter(rng: np.random.Generator, *, independent: bool) -> tuple[float, float]:
    """Return the deviations of ln f_S and ln V_AS from the data sheet."""
    first, second = np.clip(rng.normal(size=2), -2.0, 2.0).tolist()
    if independent:
        return first * SCATTER_FS, second * SCATTER_VAS
    by_mass = float(np.sqrt(SCATTER_FS**2 - 0.25 * SCATTER_VAS**2))
    return first * by_mass - 0.5 * second * SCATTER_VAS, second * SCATTER_VAS


def sealed_losses(design: Design, rng: np.random.Generator) -> Losses:
    """Return what a sealed cabinet loses."""

    def between(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    panel = None
    if rng.random() < 1.0 / 3.0:
        panel = Panel(between(150.0, 400.0), between(10.0, 40.0), between(0.001, 0.01))
    return Losses(
        vent_loss_factor=float(rng.uniform(1.0, 2.0)),
        creep=float(rng.uniform(0.03, 0.2)),
        coil_n=float(rng.uniform(0.55, 0.8)),
        coil_share=float(rng.uniform(0.3, 0.9)),
        panel=panel,
        leakage_q=between(15.0, 45.0),
        absorption_q=between(30.0, 80.0) if design.box.lining == "walls" else between(80.0, 200.0),
    )


def measured(cabinet: VirtualCabinet, role: Role, rng: np.random.Generator) -> ImpedanceCurve:
    """Return the curve of one role with noise."""
    low = 4.0 if role == "plugged" else 6.0
    hz = np.geomspace(low, 800.0, int(LINES * np.log10(800.0 / low)))
    z = cabinet.impedance(hz, role)
    sigma = NOISE * np.abs(z)
    noise = rng.normal(size=hz.size) + 1j * rng.normal(size=hz.size)
    return ImpedanceCurve(hz, z + sigma * noise, sigma)


def _with(
    kind: str, sealed: VirtualCabinet, design: Design, rng: np.random.Generator
) -> VirtualCabinet | None:
    simple = {
        "blocked": "vent_blocked", "lined": "vent_lined", "overstuffed": "overstuffed",
        "series resistance": "series_resistance",
    }  # fmt: skip
    if kind == "sealed":
        return sealed
    if kind in MIXED:
        return apply_fault(sealed, kind, float(rng.random()), rng)
    if kind in simple:
        return apply_fault(sealed, simple[kind], float(rng.random()), rng)
    if kind == "leak halves Q":
        return with_leak(sealed, 0.5, rng)
    if kind == "leak costs 20 %":
        return with_leak(sealed, 0.8, rng)
    if kind == "hole tunes high":
        return _hole(sealed, design, rng)
    if kind == "vent 10 % off":
        assert sealed.vent is not None
        vent = sealed.vent
        factor = 1.1 if rng.random() < 0.5 else 0.9
        length = vent.effective_length_m * factor - vent.outer_end_m - vent.inner_end_m
        return None if length < 0.005 else replace(sealed, vent=replace(vent, length_m=length))
    return replace(sealed, volume_m3=sealed.volume_m3 * (1.25 if rng.random() < 0.5 else 0.75))


def with_leak(sealed: VirtualCabinet, share: float, rng: np.random.Generator) -> VirtualCabinet | None:
    """Return the cabinet with a slit of random gap, as long as takes the box Q to `share` of the sealed one's."""
    gap_mm, depth_mm = float(rng.uniform(0.2, 0.6)), float(rng.uniform(9.0, 25.0))
    return _sized(
        lambda width_mm: with_slit(sealed, gap_mm, width_mm, depth_mm), 2.0, 2000.0,
        lambda box: (box.truth().box_q or 1e9) / (sealed.truth().box_q or 1e9) - share,
    )  # fmt: skip


def _hole(sealed: VirtualCabinet, design: Design, rng: np.random.Generator) -> VirtualCabinet | None:
    """Return the cabinet with a hole that raises the tuning 1 to 6 % beyond the design's tolerance."""
    target = design.tuning.target_hz
    assert target is not None
    wanted = target * (1.0 + design.tuning.tolerance) * float(rng.uniform(1.01, 1.06))
    depth_mm = float(rng.uniform(9.0, 25.0))
    return _sized(
        lambda across_mm: with_hole(sealed, across_mm, depth_mm), 2.0, 40.0,
        lambda box: (box.truth().tuning_hz or 1e9) / wanted - 1.0,
    )  # fmt: skip


def _sized(
    made: Callable[[float], VirtualCabinet], low: float, high: float, off: Callable[[VirtualCabinet], float]
) -> VirtualCabinet | None:
    if off(made(low)) * off(made(high)) > 0.0:
        return None
    return made(float(brentq(lambda size: off(made(size)), low, high, xtol=1e-3)))
