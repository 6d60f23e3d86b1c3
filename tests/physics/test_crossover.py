"""What lies before a driver, by Ohm's law and Thévenin's theorem (exact)."""

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.physics.crossover import impedance_behind, shunt_admittance, source
from sealtune.records.design import Crossover

S = np.asarray(2j * np.pi * np.array([20.0, 100.0, 700.0]))
DRIVER = np.array([6.0 + 1j, 30.0 - 4j, 7.0 + 9j])


@pytest.mark.parametrize(
    ("crossover", "branch"),
    [
        (Crossover(shunt_f=20e-6), 1.0 / (S * 20e-6)),
        (Crossover(shunt_f=20e-6, shunt_ohm=4.7), 4.7 + 1.0 / (S * 20e-6)),
        (Crossover(shunt_ohm=4.7), np.full(3, 4.7 + 0j)),
        (Crossover(series_h=1e-3), np.full(3, np.inf + 0j)),
    ],
    ids=["capacitor", "both", "resistor", "none"],
)
@pytest.mark.parametrize("behind_ohm", [0.0, 1.5])
def test_a_branch_beside_the_driver_and_parts_before_it(
    crossover: Crossover, branch: NDArray[np.complex128], behind_ohm: float
) -> None:
    with_coil = Crossover(2e-3, 0.4, crossover.shunt_f, crossover.shunt_ohm)
    open_branch = np.isinf(branch.real)
    admittance = np.where(open_branch, 0.0, 1.0 / np.where(open_branch, 1.0, branch))
    assert shunt_admittance(S, crossover) == pytest.approx(admittance)
    parallel = 1.0 / (1.0 / DRIVER + admittance)
    series = 0.4 + S * 2e-3
    assert impedance_behind(S, with_coil, DRIVER) == pytest.approx(series + parallel)
    # the driver's voltage is divided between what lies before it and the two side by side
    gain, before = source(S, with_coil, behind_ohm)
    divided = parallel / (parallel + series + behind_ohm)
    assert gain * DRIVER / (DRIVER + before) == pytest.approx(divided)


def test_without_a_crossover_the_amplifier_is_at_the_driver() -> None:
    assert impedance_behind(S, None, DRIVER) is DRIVER
    gain, before = source(S, None, 1.5)
    assert gain == pytest.approx(np.ones(3))
    assert before == pytest.approx(np.full(3, 1.5))
