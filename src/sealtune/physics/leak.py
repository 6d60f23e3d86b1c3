"""Leaks: a gap or a hole is a small duct with friction and with a mass of air of its own."""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.polynomial.polynomial import polyval
from numpy.typing import ArrayLike, NDArray
from scipy.special import ive

from sealtune.physics.air import Air

Reals = float | NDArray[np.float64]
Complexes = NDArray[np.complex128]

# Below SMALL the exact expressions lose digits to cancellation and their power series take over;
# above LARGE the Bessel ratio is replaced by its asymptotic series (both good to 1e-11).
_SMALL = 0.1
_LARGE = 200.0
_SLIT_SERIES = (1.0 / 3.0, -2.0 / 15.0, 17.0 / 315.0, -62.0 / 2835.0, 1382.0 / 155925.0)
_HOLE_SERIES = (1.0 / 8.0, -1.0 / 48.0, 11.0 / 3072.0, -19.0 / 30720.0, 473.0 / 4423680.0)


def slit_impedance(
    s: ArrayLike, length_m: Reals, width_m: Reals, gap_m: Reals, air: Air, end_correction_m: Reals = 0.0
) -> Complexes:
    """Acoustic impedance of a narrow slit, exact for viscous flow, Pa s/m3 [Crandall1926].

    s: complex frequency j w, 1/s, any shape, real part >= 0; 0 is allowed
    length_m: through the wall, m
    width_m: the long side of the opening, m, much larger than gap_m
    gap_m: the short side, m
    end_correction_m: both ends together, as length of freely moving air, m
    The dimensions are numbers or arrays that broadcast with s.
    Holds for small sound pressures (no turbulence) and for walls much thinner than the wavelength.
    """
    s = np.asarray(s, dtype=np.complex128)
    k2 = np.asarray(s * (gap_m**2 * air.density_kg_m3 / (4.0 * air.viscosity_pa_s)), dtype=np.complex128)
    duct = 4.0 * air.viscosity_pa_s * length_m / (width_m * gap_m**3) / slit_flow(k2)
    return _with_ends(duct, s, end_correction_m, width_m * gap_m, air)


def hole_impedance(
    s: ArrayLike, length_m: Reals, radius_m: Reals, air: Air, end_correction_m: Reals = 0.0
) -> Complexes:
    """Acoustic impedance of a round hole, exact for viscous flow, Pa s/m3 [Crandall1926].

    s: complex frequency j w, 1/s, any shape, real part >= 0; 0 is allowed
    length_m, radius_m: of the hole, m
    end_correction_m: both ends together, as length of freely moving air, m
    The dimensions are numbers or arrays that broadcast with s.
    Holds for small sound pressures (no turbulence) and for walls much thinner than the wavelength.
    """
    s = np.asarray(s, dtype=np.complex128)
    q2 = np.asarray(s * (radius_m**2 * air.density_kg_m3 / air.viscosity_pa_s), dtype=np.complex128)
    duct = air.viscosity_pa_s * length_m / (pi * radius_m**4) / hole_flow(q2)
    return _with_ends(duct, s, end_correction_m, pi * radius_m**2, air)


def _with_ends(duct: Complexes, s: Complexes, end_m: Reals, area_m2: Reals, air: Air) -> Complexes:
    return np.asarray(duct + s * air.density_kg_m3 * end_m / area_m2, dtype=np.complex128)


def slit_flow(k2: Complexes) -> Complexes:
    """Return the flow through a slit, (1 - tanh(k)/k) / k^2, for k^2 of any size [Crandall1926].

    k2: s h^2 rho / (4 mu), real part >= 0, any shape
    returns: shape of k2; 1/3 for slow flow, where friction rules, 1/k^2 for fast, where the air's mass does
    """
    series = polyval(k2, _SLIT_SERIES)
    safe = np.where(np.abs(k2) < _SMALL**2, 1.0, k2)
    k = np.sqrt(safe)
    decay = np.exp(-2.0 * k)
    exact = (1.0 - (1.0 - decay) / (1.0 + decay) / k) / safe
    return np.where(np.abs(k2) < _SMALL**2, series, exact)


def hole_flow(q2: Complexes) -> Complexes:
    """Return the flow through a round hole, (1 - 2 I1(q)/(q I0(q))) / q^2, for q^2 of any size [Crandall1926].

    q2: s r^2 rho / mu, real part >= 0, any shape; with J0, J1 of x = j q the formula reads the same
    returns: shape of q2; 1/8 for slow flow, 1/q^2 for fast
    """
    size = np.abs(q2)
    series = polyval(q2, _HOLE_SERIES)
    safe = np.where(size < _SMALL**2, 1.0, q2)
    q = np.sqrt(safe)
    medium = np.where(size > _LARGE**2, 1.0, q)
    u = 1.0 / q
    asymptotic = 1.0 - u * (0.5 + u * (0.125 + u * (0.125 + u * (25.0 / 128.0 + u * 13.0 / 32.0))))
    ratio = np.where(size > _LARGE**2, asymptotic, ive(1, medium) / ive(0, medium))
    return np.where(size < _SMALL**2, series, (1.0 - 2.0 * ratio * u) / safe)
