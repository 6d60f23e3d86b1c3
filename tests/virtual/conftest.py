"""An invented 18 L box with a 6.5 inch driver."""

import numpy as np
import pytest
from tests.invented_box import INVENTED, SEED

from sealtune.records.design import Design
from sealtune.virtual.cabinet import VirtualCabinet, cabinet_from_design


@pytest.fixture
def design() -> Design:
    return INVENTED


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(SEED)


@pytest.fixture
def cabinet(design: Design, rng: np.random.Generator) -> VirtualCabinet:
    return cabinet_from_design(design, rng)
