"""The gaps and holes a finished box may have, and what each does to tuning and box Q."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.physics.air import Air
from sealtune.physics.end_correction import FLANGED, rectangle_factor
from sealtune.physics.leak import hole_impedance, slit_impedance

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

DEPTH_M = 0.018
"""How deep a gap runs through wall, flange or glue line: a board's thickness (common practice: 12 to 25 mm)."""

DEPTH_SPREAD = 0.2
"""Standard deviation of the logarithm of a leak's area for what its depth leaves open: a deeper one of the same effect
is larger, less so for the air before its mouths."""

GAPS_M = np.geomspace(0.2e-3, 1.6e-3, 14)
WIDTHS_M = np.geomspace(15e-3, 1.5, 14)
DIAMETERS_M = np.geomspace(2.0e-3, 16e-3, 16)

HOLES = 0.2
"""Share of leaks that are holes: of screws, cables, a terminal; the others are gaps (common practice)."""


@dataclass(frozen=True)
class LeakFamily:
    """Leaks and their effect on one box, one entry per leak.

    area_m2: opening
    gap_m, width_m: of a slit; a hole has its diameter as gap and width 0
    log_tuning, log_q: change of the logarithm of tuning and total box Q
    by_mass: share of the loss that grows with falling frequency as friction in the vent does, 0..1: the air in the
        leak has mass, and x = its reactance over its resistance gives x^2/(1 + x^2) (exact slope of Re 1/Z)
    often: how often a leak is this one, summing to 1
    felt: whether it raises the tuning by 1 % or lowers the box Q by 14 % at least; what does less is no fault
    """

    area_m2: Reals
    gap_m: Reals
    width_m: Reals
    log_tuning: Reals
    log_q: Reals
    by_mass: Reals
    often: Reals
    felt: NDArray[np.bool_]

    def likeness(self, index: int) -> str:
        """Return the leak in a person's words."""
        gap_mm, width_mm = 1e3 * self.gap_m[index], 1e3 * self.width_m[index]
        if width_mm == 0.0:
            return f"like a hole of {gap_mm:.0f} mm across"
        return f"like a gap of {gap_mm:.1f} mm along {width_mm:.0f} mm of a joint"


def leak_family(tuning_hz: float, box_q: float, volume_m3: float, air: Air) -> LeakFamily:
    """Return the family of leaks of a box that, sealed, has that tuning and total Q.

    tuning_hz, box_q, volume_m3: of the sealed box, each > 0
    Each leak's exact viscous impedance [Crandall1926] is put beside vent and air spring, and the frequency
    where the imaginary part of their admittance is zero is found by iteration.
    """
    gap, width = (grid.ravel() for grid in np.meshgrid(GAPS_M, WIDTHS_M, indexing="ij"))
    slit_ends = np.array([_slit_ends_m(float(g), float(w)) for g, w in zip(gap, width, strict=True)])
    hole_ends = FLANGED * DIAMETERS_M
    compliance = volume_m3 / air.bulk_modulus_pa

    def leakage(w: Reals) -> Complexes:
        slits = 1.0 / slit_impedance(1j * w[: gap.size], DEPTH_M, width, gap, air, slit_ends)
        holes = 1.0 / hole_impedance(1j * w[gap.size :], DEPTH_M, 0.5 * DIAMETERS_M, air, hole_ends)
        return np.asarray(np.concatenate([slits, holes]) / compliance, dtype=np.complex128)

    w0 = 2.0 * np.pi * tuning_hz
    w = np.full(gap.size + DIAMETERS_M.size, w0)
    for _ in range(8):
        # w - w0^2/w + Im(extra) = 0, where Im(extra) falls as 1/w or slower
        w = np.sqrt(w0**2 + np.maximum(-leakage(w).imag * w, 0.0))
    flow, narrow = leakage(w), 1.0 / DIAMETERS_M  # twice as wide, half as often
    log_tuning, log_q = np.log(w / w0), np.log(w / (w0 / box_q + flow.real) / box_q)
    return LeakFamily(
        area_m2=np.concatenate([gap * width, np.pi / 4.0 * DIAMETERS_M**2]),
        gap_m=np.concatenate([gap, DIAMETERS_M]),
        width_m=np.concatenate([width, np.zeros(DIAMETERS_M.size)]),
        log_tuning=log_tuning,
        log_q=log_q,
        by_mass=flow.imag**2 / np.abs(flow) ** 2,
        often=np.concatenate([np.full(gap.size, (1.0 - HOLES) / gap.size), HOLES * narrow / narrow.sum()]),
        felt=(log_tuning > 0.01) | (log_q < -0.15),
    )


def _slit_ends_m(gap_m: float, width_m: float) -> float:
    """Return what both mouths of a slit in thick walls add to its depth, m [Rayleigh1896]."""
    return 2.0 * FLANGED * rectangle_factor(width_m, gap_m) * float(np.sqrt(gap_m * width_m / np.pi))
