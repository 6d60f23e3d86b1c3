"""The jig correction against the one-port calibration of scikit-rf, with open, short and load as reflections."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import skrf
from numpy.typing import NDArray

from sealtune.analysis.jig_correction import impedance_curve
from sealtune.records.recording import Jig, JigStandards, KnownResistor, Standard, Wiring
from sealtune.signals.transfer_function import Ratio

Complexes = NDArray[np.complex128]
HZ = np.geomspace(5.0, 1000.0, 40)
Z0 = 50.0
KNOWN_OHM = 8.2
REFERENCE_OHM = 12.0
LOAD: Complexes = np.asarray(
    6.0 + 40.0 / (1.0 + 5j * (HZ / 60.0 - 60.0 / HZ)) + 0.02 * (2j * np.pi * HZ) ** 0.7
)


def reads(matrix: NDArray[np.complex128], load: Complexes | None) -> tuple[Complexes, Complexes]:
    """Channel 2 and channel 1 of any linear jig: a matrix times (Z, 1), or times (1, 0) with nothing connected."""
    above, below = (np.ones(HZ.size), np.zeros(HZ.size)) if load is None else (load, np.ones(HZ.size))
    return matrix[0, 0] * above + matrix[0, 1] * below, matrix[1, 0] * above + matrix[1, 1] * below


def reflection(pair: tuple[Complexes, Complexes]) -> Complexes:
    """A pair of channels as a wave coming back over a wave going out; any linear mixture would do."""
    second, first = pair
    return np.asarray((first - second) / (first + second), dtype=np.complex128)


def by_scikit_rf(
    readings: dict[str, tuple[Complexes, Complexes]], load: tuple[Complexes, Complexes]
) -> Complexes:
    frequency = skrf.Frequency.from_f(HZ, unit="hz")

    def network(values: Complexes) -> skrf.Network:
        return skrf.Network(frequency=frequency, s=values.reshape(-1, 1, 1), z0=Z0)

    one = np.ones(HZ.size, dtype=complex)
    ideal = {"open": one, "short": -one, "resistor": one * (KNOWN_OHM - Z0) / (KNOWN_OHM + Z0)}
    calibration = skrf.calibration.OnePort(
        ideals=[network(ideal[name]) for name in ideal],
        measured=[network(reflection(readings[name])) for name in ideal],
    )
    calibration.run()
    return np.asarray(calibration.apply_cal(network(reflection(load))).z[:, 0, 0])


def stored(values: Complexes) -> Standard:
    return Standard(tuple(HZ.tolist()), tuple(values.tolist()), (0.0,) * HZ.size)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("wiring", ["divider", "sense"])
@pytest.mark.parametrize(
    "subset",
    [
        *((*more, "resistor") for k in range(4) for more in combinations(("balance", "open", "short"), k)),
        ("balance",),
        (),
    ],
    ids=lambda subset: "+".join(subset) or "none",
)  # fmt: skip
def test_every_subset_agrees_with_the_one_port_calibration(
    wiring: Wiring, subset: tuple[str, ...], seed: int
) -> None:
    """What was not measured is, for scikit-rf, the reading of an ideal jig."""
    rng = np.random.default_rng(seed)

    def off(size: float) -> Complexes:
        return np.asarray(1.0 + size * (rng.standard_normal(HZ.size) + 1j * rng.standard_normal(HZ.size)))

    ideal = [[1.0, 0.0], [1.0, REFERENCE_OHM]] if wiring == "divider" else [[0.0, REFERENCE_OHM], [1.0, 0.0]]
    matrix = np.array(ideal)[:, :, None] * np.array([[off(0.1) for _ in "ab"] for _ in "ab"])
    matrix = matrix + 0.01 * np.array([[off(1.0), 10.0 * off(1.0)], [0.01 * off(1.0), 10.0 * off(1.0)]])
    gain = off(0.05)
    known: Complexes = np.full(HZ.size, KNOWN_OHM, dtype=np.complex128)
    loads: dict[str, Complexes | None] = {"open": None, "short": 0.0 * known, "resistor": known}
    measured = {name: reads(matrix, what) for name, what in loads.items()}
    assumed = np.array(ideal)[:, :, None] * np.ones(HZ.size, dtype=complex)
    if "balance" in subset:
        assumed[0] = assumed[0] * gain
    readings = {
        name: pair if name in subset else
        reads(assumed, loads[name])
        for name, pair in measured.items()
    }  # fmt: skip
    load = reads(matrix, LOAD)

    opened = stored(measured["open"][0] / measured["open"][1]) if "open" in subset else None
    short, resistor = None, None
    if "short" in subset:
        second, first = measured["short"]
        short = stored(first / second if wiring == "sense" else second / first)
    if "resistor" in subset:
        resistor = KnownResistor(KNOWN_OHM, stored(measured["resistor"][0] / measured["resistor"][1]))
    balance = stored(gain) if "balance" in subset else None
    jig = Jig(wiring, REFERENCE_OHM, standards=JigStandards(balance, opened, short, resistor))
    found = impedance_curve(Ratio(HZ, load[0] / load[1], np.zeros(HZ.size), np.ones(HZ.size)), jig)

    # independent: scikit-rf solves for three error terms by least squares
    np.testing.assert_allclose(found.impedance_ohm, by_scikit_rf(readings, load), rtol=1e-9)
    if {"open", "short", "resistor"} <= set(subset):
        # exact: three known loads undo any linear jig
        np.testing.assert_allclose(found.impedance_ohm, LOAD, rtol=1e-9)
    elif "resistor" in subset or not subset:
        assert np.abs(found.impedance_ohm / LOAD - 1.0).max() > 0.01
