"""Harmonics and rattles as the program tells them from a recording, by ear and by the voltage across the box."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from tests.invented_box import INVENTED

from sealtune.analysis.side_noises import distortion, side_noises
from sealtune.records.recording import Jig, Origin, Recording, Sweep, Wiring
from sealtune.signals.sweep import sweep_samples, sweep_starts
from sealtune.virtual.cabinet import VirtualCabinet, cabinet_from_design
from sealtune.virtual.side_noise import Rattle, rattling
from sealtune.virtual.sound_card import record

SWEEP = Sweep(8.0, 1000.0, 5.0, begins_s=0.3, fade_s=0.05)
RATE_HZ = 24000.0


@pytest.mark.parametrize(("amplifier_second", "found"), [(0.0, 0.05 / 1.0375), (0.1, 0.0125 / 1.0375)])
def test_distortion_of_a_known_curve(amplifier_second: float, found: float) -> None:
    # Exact (trigonometric identities): y = x + 0.1 x^2 + 0.05 x^3 has |H1|, |H2|, |H3| of 1.0375, 0.05 and 0.0125;
    # where the amplifier has a second harmonic of 0.05 too, the third is left
    sweep = Sweep(20.0, 8000.0, 10.0)
    x = sweep_samples(sweep, 96000.0)
    channels = np.stack([x + amplifier_second * x**2, x + 0.1 * x**2 + 0.05 * x**3], axis=1)
    take = Recording(channels, 96000.0, origin=Origin(role="cone", sweep=sweep))
    assert distortion(take, 300.0) == pytest.approx(found, rel=1e-3)


@pytest.fixture(scope="module")
def cabinet() -> VirtualCabinet:
    return cabinet_from_design(INVENTED, np.random.default_rng(1))


def opened(cabinet: VirtualCabinet, wiring: Wiring, seed: int) -> Recording:
    rng = np.random.default_rng(seed)
    load = partial(cabinet.impedance, role="open")
    return record(load, Jig(wiring, 10.0), SWEEP, "open", rng, rate_hz=RATE_HZ)


@pytest.mark.parametrize("wiring", ["divider", "sense"])
def test_a_rattle_in_the_voltage_across_the_box(cabinet: VirtualCabinet, wiring: Wiring) -> None:
    # Independent: the virtual rattle's own share; what it adds to the coil's current comes off the box where the
    # resistor has it, and the amplifier stays as it is
    take = opened(cabinet, wiring, 4)
    assert side_noises(take) == ()
    blows = rattling(
        Rattle(0.01, 30.0, 80.0), take.channels[:, 1], SWEEP, sweep_starts(SWEEP, RATE_HZ), RATE_HZ,
        np.random.default_rng(5),
    )  # fmt: skip
    channels = take.channels.copy()
    channels[:, 1] += blows
    if wiring == "sense":
        channels[:, 0] -= blows
    (found,) = side_noises(replace(take, channels=channels))
    assert (found.kind, found.role) == ("rattle", "open")
    assert found.share == pytest.approx(0.01, rel=0.3)
    assert found.low_hz < 45.0 < found.high_hz


def test_what_the_amplifier_does_is_not_the_boxs(cabinet: VirtualCabinet) -> None:
    take = opened(cabinet, "divider", 4)
    blows = rattling(
        Rattle(0.01, 30.0, 80.0), take.channels[:, 0], SWEEP, sweep_starts(SWEEP, RATE_HZ), RATE_HZ,
        np.random.default_rng(5),
    )  # fmt: skip
    assert side_noises(replace(take, channels=take.channels + blows[:, None] * [1.0, 0.5])) == ()


def test_without_a_sweep_nothing_is_told(cabinet: VirtualCabinet) -> None:
    take = opened(cabinet, "divider", 4)
    unknown = replace(take, origin=replace(take.origin, sweep=None))
    assert side_noises(unknown) == ()
    assert distortion(unknown, 40.0) is None


def test_coarse_steps_are_no_rattle(cabinet: VirtualCabinet) -> None:
    take = opened(cabinet, "divider", 4)
    step = float(np.abs(take.channels).max()) / 40.0
    assert side_noises(replace(take, channels=np.round(take.channels / step) * step)) == ()
