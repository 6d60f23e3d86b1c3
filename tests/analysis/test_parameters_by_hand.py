"""What is known of the fitted quantities beforehand, and how they make a vector."""

from dataclasses import replace
from math import log

import numpy as np
import pytest

from sealtune.analysis.parameters import Packing, coordinate, quantity
from sealtune.physics.vented_box import VentedBox
from sealtune.records.design import Crossover

BOX = VentedBox(
    6.0, 0.5, 0.7, 50.0, 230.0, 4.0, 0.1, 1.2, 250.0, leakage=0.06, leak_ratio=0.2, volume_m3=0.024, duct_share=0.02
)  # fmt: skip


@pytest.mark.parametrize(
    ("name", "value", "place"),
    [("re_ohm", 6.0, log(6.0)), ("creep", 0.1, 2.0), ("creep", -0.05, -1.0), ("coil_exponent", 0.75, log(3.0)),
     ("plain_share", 0.2, -log(4.0))],
)  # fmt: skip
def test_coordinates_and_back(name: str, value: float, place: float) -> None:
    # Exact: a logarithm, that of n/(1 - n) of a share, and creep in units of 0.05
    assert coordinate(name, value) == pytest.approx(place)
    assert quantity(name, place) == pytest.approx(value)


@pytest.mark.parametrize(
    ("shape", "name", "median", "spread"),
    [
        # a gap of 0.3 to 1.2 mm and a hole of 4 to 10 mm: h^2 rho/(4 mu) and r^2 rho/mu
        ("slit", "leak_time_s", 6e-3, 1.2), ("hole", "leak_time_s", 0.6, 1.0), ("hole", "leak_ratio", 0.1, 1.5),
        ("slit", "qms", 5.0, 0.8), ("slit", "friction", 1.0 / 60.0, 0.7), ("slit", "leakage", 1.0 / 14.0, 1.0),
        # the design's own volume and duct, known to a factor
        ("slit", "volume_m3", 0.024, 0.7), ("slit", "duct_share", 0.02, 0.4),
    ],
)  # fmt: skip
def test_what_is_known_beforehand(shape: str, name: str, median: float, spread: float) -> None:
    packing = Packing(("re_ohm", name), replace(BOX, leak_shape=shape))  # type: ignore[arg-type]
    mean, weight = packing.prior()
    assert (mean[0], weight[0]) == (0.0, 0.0)  # of a resistance nothing
    assert mean[1] == pytest.approx(log(median))
    assert weight[1] == pytest.approx(1.0 / spread)


@pytest.mark.parametrize(
    ("given", "spreads"),
    [
        # parts that are told keep to 5 %, leads and joints do not; a coil nobody told of has 0.1 to 1 ohm
        (True, {"series_h": 0.05, "shunt_f": 0.05, "shunt_ohm": 0.8, "series_ohm": 1.5}),
        (False, {"series_h": 1.0, "shunt_f": 1.0, "shunt_ohm": 0.8, "series_ohm": 0.7}),
    ],
)  # fmt: skip
def test_parts_of_a_crossover(given: bool, spreads: dict[str, float]) -> None:
    crossover = Crossover(series_h=2e-3, series_ohm=0.3, shunt_f=3e-5)
    packing = Packing(tuple(spreads), BOX, crossover, given=given)
    mean, weight = packing.prior()
    assert 1.0 / weight == pytest.approx(list(spreads.values()))
    assert mean == pytest.approx(np.log([2e-3, 3e-5, 1.0, 0.3]))
    doubled = packing.unpack_crossover(mean + log(2.0))
    assert doubled is not None
    parts = [doubled.series_h, doubled.shunt_f, doubled.shunt_ohm, doubled.series_ohm]
    assert parts == pytest.approx([4e-3, 6e-5, 2.0, 0.6])
    assert Packing(("re_ohm",), BOX, crossover).unpack_crossover(np.zeros(1)) is crossover


def test_quantities_in_proportion_move_evenly_and_shrink_by_four_fifths_at_most() -> None:
    # Exact: a step of -0.5 halves such a quantity, of others it is e^-0.5
    packing = Packing(("re_ohm", "qms", "alpha"), BOX)
    start = packing.pack(BOX)
    ahead = packing.moved(start, np.array([-0.5, -0.5, -3.0]))
    moved = packing.unpack(ahead)
    assert moved.re_ohm == pytest.approx(0.5 * BOX.re_ohm)
    assert moved.qms == pytest.approx(BOX.qms * np.exp(-0.5))
    assert moved.alpha == pytest.approx(0.2 * BOX.alpha)
    assert packing.unpack(start) == BOX
