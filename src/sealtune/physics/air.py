"""The air in and around the box: density, speed of sound, viscosity."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import exp, sqrt

from sealtune.errors import UsageFault
from sealtune.records.design import Climate

_ZERO_CELSIUS_K = 273.15
_CO2_FRACTION = 400e-6


@dataclass(frozen=True)
class Air:
    """The air of the day.

    density_kg_m3: density, kg/m3
    speed_m_s: speed of sound, m/s
    viscosity_pa_s: dynamic viscosity, Pa s
    """

    density_kg_m3: float
    speed_m_s: float
    viscosity_pa_s: float

    @property
    def bulk_modulus_pa(self) -> float:
        """Stiffness of the air when it is squeezed quickly, rho c^2, Pa."""
        return self.density_kg_m3 * self.speed_m_s**2


@cache
def standard_air() -> Air:
    """The air taken where nobody says otherwise: 20 degrees, half saturated, 101325 Pa."""
    return moist_air()


def climate_air(climate: Climate) -> Air:
    """The air of a design's climate; temperature, humidity and pressure as in moist_air."""
    return moist_air(climate.temperature_c, climate.humidity, climate.pressure_pa)


def moist_air(
    temperature_c: float = 20.0,
    relative_humidity: float = 0.5,
    pressure_pa: float = 101325.0,
    co2_fraction: float = _CO2_FRACTION,
) -> Air:
    """The air at a given temperature, humidity and pressure.

    temperature_c: degrees Celsius, 0 to 30 for the stated accuracy, -20 to 50 accepted
    relative_humidity: 0 (dry) to 1 (saturated), not per cent
    pressure_pa: Pa, 75000 to 102000 for the stated accuracy, 50000 to 110000 accepted
    co2_fraction: carbon dioxide, molar fraction, 0 to 0.01
    Raises UsageFault outside those ranges.
    """
    for name, value, low, high in (
        ("air temperature, degrees Celsius", temperature_c, -20.0, 50.0),
        ("relative humidity", relative_humidity, 0.0, 1.0),
        ("air pressure, Pa", pressure_pa, 5e4, 1.1e5),
        ("carbon dioxide fraction", co2_fraction, 0.0, 0.01),
    ):
        if not low <= value <= high:
            raise UsageFault(name, f"a number from {low:g} to {high:g}", f"{value:g}", "Check the unit.")
    return Air(
        density_kg_m3=air_density_kg_m3(temperature_c, relative_humidity, pressure_pa, co2_fraction),
        speed_m_s=sound_speed_m_s(temperature_c, relative_humidity, pressure_pa, co2_fraction),
        viscosity_pa_s=air_viscosity_pa_s(temperature_c),
    )


def sound_speed_m_s(
    temperature_c: float, relative_humidity: float, pressure_pa: float, co2_fraction: float = _CO2_FRACTION
) -> float:
    """Speed of sound in moist air at zero frequency, m/s, to within 300 ppm [Cramer1993, eq. 15].

    temperature_c: 0 to 30 degrees Celsius
    relative_humidity: 0 to 1
    pressure_pa: 75000 to 102000 Pa
    co2_fraction: molar fraction, 0 to 0.01
    Outside those ranges the polynomial is an extrapolation. Water vapour follows the older constants that
    belong to this equation, not those of the density equation.
    """
    t, p, xc = temperature_c, pressure_pa, co2_fraction
    kelvin = t + _ZERO_CELSIUS_K
    saturation_pa = exp(1.2811805e-5 * kelvin**2 - 1.9509874e-2 * kelvin + 34.04926034 - 6.3536311e3 / kelvin)
    xw = relative_humidity * _enhancement(t, p) * saturation_pa / p
    return (
        331.5024
        + 0.603055 * t
        - 0.000528 * t**2
        + (51.471935 + 0.1495874 * t - 0.000782 * t**2) * xw
        + (-1.82e-7 + 3.73e-8 * t - 2.93e-10 * t**2) * p
        + (-85.20931 - 0.228525 * t + 5.91e-5 * t**2) * xc
        - 2.835149 * xw**2
        - 2.15e-13 * p**2
        + 29.179762 * xc**2
        + 0.000486 * xw * p * xc
    )


def air_density_kg_m3(
    temperature_c: float, relative_humidity: float, pressure_pa: float, co2_fraction: float = _CO2_FRACTION
) -> float:
    """Density of moist air, kg/m3, to within about 22 ppm [Picard2008].

    temperature_c: 15 to 27 degrees Celsius
    relative_humidity: 0 to 1
    pressure_pa: 60000 to 110000 Pa
    co2_fraction: molar fraction
    Outside those ranges the error grows, but stays far below what matters for a box from 0 to 40 degrees.
    """
    t, p = temperature_c, pressure_pa
    kelvin = t + _ZERO_CELSIUS_K
    saturation_pa = exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)
    xv = relative_humidity * _enhancement(t, p) * saturation_pa / p
    compressibility = (
        1.0
        - p
        / kelvin
        * (
            1.58123e-6
            - 2.9331e-8 * t
            + 1.1043e-10 * t**2
            + (5.707e-6 - 2.051e-8 * t) * xv
            + (1.9898e-4 - 2.376e-6 * t) * xv**2
        )
        + (p / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * xv**2)
    )
    molar_mass = 28.96546e-3 + 12.011e-3 * (co2_fraction - 400e-6)
    return p * molar_mass / (compressibility * 8.314472 * kelvin) * (1.0 - 0.3780 * xv)


def air_viscosity_pa_s(temperature_c: float) -> float:
    """Dynamic viscosity of air by Sutherland's law, Pa s [USStandardAtmosphere1976, eq. 51].

    temperature_c: -70 to 100 degrees Celsius. Dry air; full saturation at 20 degrees takes off under 1 %.
    """
    kelvin = temperature_c + _ZERO_CELSIUS_K
    return 1.458e-6 * kelvin * sqrt(kelvin) / (kelvin + 110.4)


def _enhancement(temperature_c: float, pressure_pa: float) -> float:
    """How much more vapour saturated air holds than saturated vapour alone [Picard2008], [Cramer1993]."""
    return 1.00062 + 3.14e-8 * pressure_pa + 5.6e-7 * temperature_c**2
