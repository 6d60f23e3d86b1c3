"""The air against published equations and figures."""

import pytest

from sealtune.errors import UsageFault
from sealtune.physics.air import (
    air_density_kg_m3,
    air_viscosity_pa_s,
    moist_air,
    sound_speed_m_s,
    standard_air,
)

PRESSURE_PA = 101325.0


# Independent: a second evaluation of the published equation [Cramer1993], to six digits, with 314 ppm of
# carbon dioxide. Its coefficients and its uncertainty, "less than 300 ppm", are the publication's.
@pytest.mark.parametrize(
    ("temperature_c", "humidity", "speed_m_s"),
    [(0, 0, 331.455), (20, 0, 343.367), (20, 0.5, 343.994), (20, 1, 344.621), (25, 0.5, 347.134)],
)
def test_speed_of_sound(temperature_c: float, humidity: float, speed_m_s: float) -> None:
    assert sound_speed_m_s(temperature_c, humidity, PRESSURE_PA, 314e-6) == pytest.approx(speed_m_s, abs=6e-4)


def test_speed_with_todays_carbon_dioxide() -> None:
    # Independent, same evaluation: at 400 ppm 0.007 to 0.008 m/s less than at 314 ppm.
    for temperature_c, humidity in ((0.0, 0.0), (20.0, 0.5), (25.0, 0.5)):
        drop = sound_speed_m_s(temperature_c, humidity, PRESSURE_PA, 314e-6) - sound_speed_m_s(
            temperature_c, humidity, PRESSURE_PA, 400e-6
        )
        assert 0.0065 < drop < 0.0085


def test_speed_beside_the_standard_without_humidity() -> None:
    # From memory: ISO 9613-1:1993 c = 343.2 sqrt(T/293.15), which leaves humidity out. Independent: it lies
    # 0.05 % below [Cramer1993] in dry air and 0.23 % below at 20 degrees and 50 %.
    assert sound_speed_m_s(20, 0, PRESSURE_PA) / 343.2 - 1 == pytest.approx(0.0005, abs=1e-4)
    assert sound_speed_m_s(20, 0.5, PRESSURE_PA) / 343.2 - 1 == pytest.approx(0.0023, abs=1e-4)


# Independent: a second evaluation of the published equation and constants [Picard2008].
@pytest.mark.parametrize(
    ("temperature_c", "humidity", "density_kg_m3"),
    [(20, 0, 1.20456), (20, 0.5, 1.19931), (25, 0.5, 1.17732), (0, 0, 1.29305)],
)
def test_density(temperature_c: float, humidity: float, density_kg_m3: float) -> None:
    assert air_density_kg_m3(temperature_c, humidity, PRESSURE_PA) == pytest.approx(density_kg_m3, abs=6e-6)


# Independent: Sutherland's law with the constants of [USStandardAtmosphere1976]; "1.813" published for 20.
@pytest.mark.parametrize(("temperature_c", "viscosity"), [(15, 1.7894e-5), (20, 1.8134e-5), (25, 1.8372e-5)])
def test_viscosity(temperature_c: float, viscosity: float) -> None:
    assert air_viscosity_pa_s(temperature_c) == pytest.approx(viscosity, abs=6e-10)


def test_stiffness_follows_pressure_not_temperature() -> None:
    # Exact: rho c^2 = gamma p. Independent: 1.4199e5 to 1.4201e5 Pa in dry air at 101325 Pa.
    for temperature_c in (0.0, 10.0, 20.0, 30.0):
        assert moist_air(temperature_c, 0.0).bulk_modulus_pa == pytest.approx(1.4200e5, rel=5e-4)
    high_up = moist_air(20.0, 0.5, 80000.0).bulk_modulus_pa / moist_air(20.0, 0.5).bulk_modulus_pa
    assert high_up == pytest.approx(80000.0 / PRESSURE_PA, rel=1e-3)


def test_speed_grows_with_temperature() -> None:
    # Independent: +0.171 % per kelvin at 20 degrees, from c alone (exact for an ideal gas: 1/(2 T)).
    below, at, above = (moist_air(t, 0.0).speed_m_s for t in (19.0, 20.0, 21.0))
    assert (above - below) / 2.0 / at == pytest.approx(1 / (2 * 293.15), rel=0.02)


def test_standard_air() -> None:
    # Exact: by definition.
    assert standard_air() == moist_air(20.0, 0.5, 101325.0)
    assert standard_air() is standard_air()


@pytest.mark.parametrize(
    "wrong", [{"relative_humidity": 50.0}, {"temperature_c": 293.0}, {"pressure_pa": 1013.0}]
)
def test_wrong_unit_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(UsageFault, match="expected a number from"):
        moist_air(**wrong)
