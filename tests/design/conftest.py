from math import pi

import pytest

from sealtune.physics.air import Air, standard_air
from sealtune.records.design import Box, Design, Driver, Tuning, Vent

DRIVER = Driver(
    fs_hz=46.0, qms=4.6, qes=0.41, vas_m3=0.020, re_ohm=5.6, sd_m2=0.0136, xmax_m=0.0055, power_w=60.0
)


@pytest.fixture
def bookshelf() -> Design:
    """An invented box of 18 L with one driver."""
    vent = Vent("round", pi * 0.026**2, 0.147, diameter_m=0.052)
    return Design("Invented", Box(0.018, 0.03, "walls"), vent, Tuning(43.5, 0.04), DRIVER)


@pytest.fixture
def air() -> Air:
    return standard_air()
