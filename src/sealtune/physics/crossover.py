"""What sits between the terminals and the driver."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.records.design import Crossover

Complexes = NDArray[np.complex128]


def shunt_admittance(s: Complexes, crossover: Crossover) -> Complexes:
    """Return the admittance of the branch across the driver, 1/ohm, shape of s, rad/s."""
    if crossover.shunt_f is not None:
        return np.asarray(
            s * crossover.shunt_f / (1.0 + s * crossover.shunt_f * (crossover.shunt_ohm or 0.0))
        )
    if crossover.shunt_ohm:
        return np.full(s.shape, 1.0 / crossover.shunt_ohm, dtype=np.complex128)
    return np.zeros(s.shape, dtype=np.complex128)


def impedance_behind(s: Complexes, crossover: Crossover | None, driver_ohm: Complexes) -> Complexes:
    """Return the impedance at the crossover's terminals, ohm, shape of driver_ohm.

    s: complex frequencies, rad/s, of a shape that broadcasts with driver_ohm
    """
    if crossover is None:
        return driver_ohm
    loading = 1.0 / (1.0 + driver_ohm * shunt_admittance(s, crossover))
    return np.asarray(crossover.series_ohm + s * crossover.series_h + driver_ohm * loading)


def source(s: Complexes, crossover: Crossover | None, behind_ohm: float = 0.0) -> tuple[Complexes, Complexes]:
    """Return what the driver is fed by: open-circuit voltage over that of the amplifier, and impedance, ohm.

    behind_ohm: resistance between the amplifier and the crossover's terminals, ohm
    Thévenin's equivalent of an amplifier without impedance, both of the shape of s.
    """
    parts = crossover or Crossover()
    series = behind_ohm + parts.series_ohm + s * parts.series_h
    gain = 1.0 / (1.0 + series * shunt_admittance(s, parts))
    return np.asarray(gain), np.asarray(series * gain)
