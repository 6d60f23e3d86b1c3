"""Alignments: which driver, volume and tuning give which classic response of a vented box."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, inf, isinf, pi, sin, sqrt
from typing import Literal

import numpy as np
from scipy.optimize import brentq

Family = Literal["B4", "Bessel", "QB3", "C4"]
Coefficients = tuple[float, float, float]

_BUTTERWORTH = sqrt(4.0 + 2.0 * sqrt(2.0))


@dataclass(frozen=True)
class Alignment:
    """One alignment of a vented box.

    tuning_ratio: h = f_B / f_S
    qt: total Q of the driver, source resistance included
    compliance_ratio: alpha = V_AS / V_AB
    cutoff_ratio: f_3 / f_S, where the response is down by half of its power
    """

    tuning_ratio: float
    qt: float
    compliance_ratio: float
    cutoff_ratio: float


def from_coefficients(coefficients: Coefficients, ql: float = inf) -> Alignment:
    """The box whose response has these coefficients [Small1973, Part I].

    coefficients: a1, a2, a3 of the response s^4/(s^4 + a1 s^3 + a2 s^2 + a3 s + 1), s in units of w_S sqrt(h), all > 0
    ql: leakage Q, > 0, which stands for all losses of the box; inf for none
    Of the roots of r^4 - a1 QL r^3 + a3 QL r - 1 the one next to the lossless sqrt(a3/a1) is the box.
    """
    a1, a2, a3 = coefficients
    r = sqrt(a3 / a1)
    if not isinf(ql):
        roots = np.roots([1.0, -a1 * ql, 0.0, a3 * ql, -1.0])
        real = roots.real[(np.abs(roots.imag) < 1e-9 * np.abs(roots)) & (roots.real > 0.0)]
        r = float(real[np.argmin(np.abs(real - r))])
    h = r**2
    qt = 1.0 / (r * (a1 - r / ql))
    alpha = a2 * h - h**2 - 1.0 - h / (ql * qt)
    return Alignment(h, qt, alpha, r * _half_power(coefficients))


def butterworth() -> Coefficients:
    """Coefficients of the fourth-order maximally flat response, B4 [Thiele1971]."""
    return _BUTTERWORTH, 2.0 + sqrt(2.0), _BUTTERWORTH


def bessel() -> Coefficients:
    """Coefficients of the fourth-order response made from Bessel's polynomial s^4+10s^3+45s^2+105s+105."""
    unit = 105.0**0.25
    return 105.0 / unit**3, 45.0 / unit**2, 10.0 / unit


def quasi_butterworth(a1: float) -> Coefficients:
    """Coefficients of a quasi-third-order response, QB3 [Small1973, Part I].

    a1: above sqrt(4 + 2 sqrt 2), where it meets B4
    """
    a2 = a1**2 / 2.0
    return a1, a2, (a2**2 + 2.0) / (2.0 * a1)


def chebyshev(k: float) -> Coefficients:
    """Coefficients of an equal-ripple response, C4 [Small1973, Part I].

    The poles of the low-pass it comes from are Butterworth's with their real parts times k.
    k: 0 (ripple without bounds) to 1 (B4)
    """
    low_pass = np.poly1d([1.0])
    for angle in (pi / 8.0, 3.0 * pi / 8.0):
        low_pass *= np.poly1d([1.0, 2.0 * k * sin(angle), (k * sin(angle)) ** 2 + cos(angle) ** 2])
    _, b3, b2, b1, b0 = (float(b) for b in low_pass.coeffs)
    unit = b0**0.25
    return b1 / unit**3, b2 / unit**2, b3 / unit


def align(family: Family, qt: float | None = None, ql: float = inf) -> Alignment:
    """The alignment of a family, for a driver's total Q where the family has one for each.

    family: "B4" and "Bessel" are single alignments and take no qt; "QB3" and "C4" need it
    qt: total driver Q, > 0; QB3 reaches from about 0.08 up to B4's, C4 from there to about 1
    ql: leakage Q, > 0
    Raises ValueError where the family does not reach that qt, or qt is missing.
    """
    if family == "B4":
        return from_coefficients(butterworth(), ql)
    if family == "Bessel":
        return from_coefficients(bessel(), ql)
    if qt is None:
        raise ValueError(f"alignment {family}: expected the driver's total Q, got none; give qt")
    shape, low, high = (quasi_butterworth, _BUTTERWORTH, 8.0) if family == "QB3" else (chebyshev, 0.2, 1.0)

    def excess(parameter: float) -> float:
        return from_coefficients(shape(parameter), ql).qt - qt

    at_low, at_high = excess(low), excess(high)
    if at_low * at_high > 0.0:
        ends = sorted((at_low + qt, at_high + qt))
        raise ValueError(
            f"alignment {family}: expected a total driver Q from {ends[0]:.3f} to {ends[1]:.3f}, got {qt:g}; "
            "take another family"
        )
    return from_coefficients(shape(float(brentq(excess, low, high, xtol=1e-13))), ql)


def _half_power(coefficients: Coefficients) -> float:
    """Frequency over the polynomial's own at which the response is down by half of its power."""
    a1, a2, a3 = coefficients
    # |H|^2 = x^4/(x^4 + A x^3 + B x^2 + C x + 1), x = (w/w0)^2: 1/2 where x^4 = A x^3 + B x^2 + C x + 1
    cubic, square, linear = a1**2 - 2.0 * a2, a2**2 + 2.0 - 2.0 * a1 * a3, a3**2 - 2.0 * a2
    roots = np.roots([1.0, -cubic, -square, -linear, -1.0])
    real = roots.real[(np.abs(roots.imag) < 1e-9 * np.abs(roots)) & (roots.real > 0.0)]
    return float(sqrt(real.max()))
