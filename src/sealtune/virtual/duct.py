"""Air in narrow and wide ducts: exact viscous and thermal impedances, mouths, orifices.

Own formulation of the virtual cabinet; it shares no code with the model that is fitted to measurements.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Complex = NDArray[np.complex128]
Real = NDArray[np.float64]

FLANGED = 0.8216  # end correction over radius, infinite flange [Dalmont2001]
FREE = 0.6127  # end correction over radius, no flange [Levine1948], re-evaluated


@dataclass(frozen=True)
class Air:
    """The air in and around the cabinet; as delivered 20 degrees C, 50 % humidity, 101325 Pa.

    density_kg_m3: [Picard2008]
    sound_speed_m_s: [Cramer1993]
    viscosity_pa_s: Sutherland's formula [USStandardAtmosphere1976]
    heat_ratio, prandtl: ratio of specific heats and Prandtl number, no unit
    """

    density_kg_m3: float = 1.19931
    sound_speed_m_s: float = 343.994
    viscosity_pa_s: float = 1.8134e-5
    heat_ratio: float = 1.4
    prandtl: float = 0.71

    @property
    def stiffness_pa(self) -> float:
        """Adiabatic bulk modulus rho c^2, Pa."""
        return self.density_kg_m3 * self.sound_speed_m_s**2


def round_profile(argument: Complex) -> Complex:
    """2 I1(z) / (z I0(z)): the share of a round duct's air that its wall holds back.

    argument: z, shape (n,), complex with positive real part
    A continued fraction up to |z| = 40, the asymptotic series beyond: relative error below 1e-8.
    """
    result = np.empty_like(argument)
    wide = np.abs(argument) > 40.0
    z = argument[wide]
    result[wide] = 2.0 / z * (1.0 - 1.0 / (2 * z) - 1.0 / (8 * z**2) - 1.0 / (8 * z**3) - 25.0 / (128 * z**4))
    square = argument[~wide] ** 2
    fraction = np.full_like(square, 2.0 * 80)
    for term in range(79, 0, -1):
        fraction = 2.0 * term + square / fraction
    result[~wide] = 2.0 / fraction
    return result


def hole_impedance(frequency_hz: Real, radius_m: float, length_m: float, air: Air) -> Complex:
    """Series impedance of a round hole's air without its mouths, Pa s/m3, shape (n,) [Crandall1926].

    frequency_hz: shape (n,), > 0
    Holds while the hole is short against the wavelength.
    """
    omega = 2.0 * np.pi * frequency_hz
    z = radius_m * np.sqrt(1j * omega * air.density_kg_m3 / air.viscosity_pa_s)
    free = 1j * omega * air.density_kg_m3 * length_m / (np.pi * radius_m**2)
    return np.asarray(free / (1.0 - round_profile(z)))


def slit_impedance(frequency_hz: Real, gap_m: float, width_m: float, length_m: float, air: Air) -> Complex:
    """Series impedance of a slit's air without its mouths, Pa s/m3, shape (n,) [Crandall1926].

    frequency_hz: shape (n,), > 0
    gap_m, width_m, length_m: height, long side and depth through the wall; holds for gap << width
    """
    omega = 2.0 * np.pi * frequency_hz
    k = 0.5 * gap_m * np.sqrt(1j * omega * air.density_kg_m3 / air.viscosity_pa_s)
    free = 1j * omega * air.density_kg_m3 * length_m / (gap_m * width_m)
    return np.asarray(free / (1.0 - np.tanh(k) / k))


def rectangle_end_m(side_m: float, other_side_m: float) -> float:
    """End correction of a rectangular mouth in an infinite wall at uniform velocity, m [Rayleigh1896].

    Closed form of Rayleigh's double integral; right for slits too.
    """
    a, b = side_m, other_side_m
    integral = 2.0 * (a**2 * b * np.arcsinh(b / a) + a * b**2 * np.arcsinh(a / b)) + 2.0 / 3.0 * (
        a**3 + b**3 - (a**2 + b**2) ** 1.5
    )
    return float(integral / (2.0 * np.pi * a * b))


def mass_impedance(frequency_hz: Real, end_m: float, area_m2: float, air: Air) -> Complex:
    """Impedance of a plug of air end_m long and area_m2 wide, Pa s/m3, shape (n,)."""
    return np.asarray(2j * np.pi * frequency_hz * air.density_kg_m3 * end_m / area_m2)


def radiation_resistance(frequency_hz: Real, area_m2: float, flanged: bool, air: Air) -> Real:
    """Real part of a mouth's radiation impedance, Pa s/m3, shape (n,).

    (ka)^2/2 of rho c/S with a flange, half of it without [Levine1948]; levels off at rho c/S above ka = 1,
    where it is only a bound.
    """
    square = (2.0 * np.pi * frequency_hz / air.sound_speed_m_s) ** 2 * area_m2 / np.pi
    share = square / (2.0 if flanged else 4.0)
    return np.asarray(air.density_kg_m3 * air.sound_speed_m_s / area_m2 * share / (1.0 + share))


def orifice_impedance(
    frequency_hz: Real, radius_m: float, duct_radius_m: float, plate_m: float, air: Air
) -> Complex:
    """Impedance that a plate with a round hole adds inside a duct, Pa s/m3, shape (n,).

    Rayleigh's conductance 2a, lessened by the duct around it [Fok1941, from memory; series is 0 at equal
    radii within 0.012], and the exact viscous hole through the plate.
    """
    x = radius_m / duct_radius_m
    share = 1.0 - 1.4092 * x + 0.33818 * x**3 + 0.06793 * x**5
    share += -0.02287 * x**6 + 0.03015 * x**7 - 0.01641 * x**8
    mouth = 2j * np.pi * frequency_hz * air.density_kg_m3 / (2.0 * radius_m) * max(share, 0.0)
    return np.asarray(mouth + hole_impedance(frequency_hz, radius_m, plate_m, air))


def line_parameters(
    frequency_hz: Real,
    area_m2: float,
    hydraulic_radius_m: float,
    length_m: float,
    loss_factor: float,
    air: Air,
) -> tuple[Complex, Complex]:
    """Admittance parameters (y11, y12) of a straight duct as a transmission line, m3/(Pa s) [Zwikker1949].

    frequency_hz: shape (n,), > 0
    hydraulic_radius_m: 2 area / perimeter; a duct that is not round is taken as round with this radius
        in what concerns its walls
    loss_factor: multiplies the walls' effect, drag and mass together; 1 for smooth walls
    """
    omega = 2.0 * np.pi * frequency_hz
    z = hydraulic_radius_m * np.sqrt(1j * omega * air.density_kg_m3 / air.viscosity_pa_s)
    held_back = 1.0 / (1.0 - round_profile(z)) - 1.0
    series = 1j * omega * air.density_kg_m3 / area_m2 * (1.0 + loss_factor * held_back)
    warmed = (air.heat_ratio - 1.0) * round_profile(z * np.sqrt(air.prandtl))
    shunt = 1j * omega * area_m2 / air.stiffness_pa * (1.0 + warmed)
    angle = np.sqrt(series * shunt) * length_m
    characteristic = angle / (series * length_m)  # so that the sign of the root does not matter
    return np.asarray(characteristic / np.tanh(angle)), np.asarray(-characteristic / np.sinh(angle))
