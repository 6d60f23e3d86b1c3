"""An invented 18 L box with a 6.5 inch driver."""

import numpy as np
import pytest

from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.virtual.cabinet import VirtualCabinet, cabinet_from_design


@pytest.fixture
def design() -> Design:
    return Design(
        name="invented",
        box=Box(0.018),
        vent=Vent("round", float(np.pi * 0.025**2), 0.13, diameter_m=0.05),
        tuning=Tuning(43.5),
        driver=Driver(fs_hz=48.0, qms=4.2, qes=0.42, vas_m3=0.0175, re_ohm=5.7, sd_m2=0.0132),
    )


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(20260301)


@pytest.fixture
def cabinet(design: Design, rng: np.random.Generator) -> VirtualCabinet:
    return cabinet_from_design(design, rng)
