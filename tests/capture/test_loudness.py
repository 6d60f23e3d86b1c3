"""The level is found on the virtual bench, and on devices that hear nothing or too much."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.capture.loop_device import LoopDevice

from sealtune.capture.loudness import HIGHEST_PEAK, Loudness, Probe, find_loudness
from sealtune.virtual.device_name import virtual_device

Reals = NDArray[np.float64]
RATE_HZ = 48000.0


def found(device: LoopDevice, most_dbfs: float = -20.0) -> tuple[Loudness, list[Probe]]:
    probes: list[Probe] = []
    return find_loudness(device, RATE_HZ, most_dbfs, told=probes.append, clock=device.now_s), probes


def noisy(level: float, gain: float = 1.0, seed: int = 1) -> LoopDevice:
    rng = np.random.default_rng(seed)
    return LoopDevice(
        spoil=lambda _, block: np.clip(gain * block + level * rng.standard_normal(block.shape), -1.0, 1.0)
    )


def test_it_begins_quiet_and_never_rises_by_more_than_ten_decibels() -> None:
    loudness, probes = found(noisy(1e-3))
    levels = [probe.level_dbfs for probe in probes]
    assert levels[0] == -50.0
    assert max(np.diff(levels)) <= 10.0
    assert loudness.level_dbfs <= -20.0


def test_it_stops_as_soon_as_the_sweep_stands_out_of_the_noise() -> None:
    # Independent: white noise of 1e-4 has 1e-4 * sqrt(992 / 24000) = 2.0e-5 from 8 Hz to 1 kHz; 46 dB above that
    # is 4.1e-3, root mean square, in channel 2, which hears half: a peak of 1.15e-2, -38.8 dB of full scale
    loudness, probes = found(noisy(1e-5))
    assert loudness.because == "enough"
    assert loudness.level_dbfs == -50.0
    assert len(probes) == 1
    louder, _ = found(noisy(1e-4))
    assert louder.because == "enough"
    assert -41.5 < louder.level_dbfs < -37.5
    assert louder.last.over_noise_db == pytest.approx(46.0, abs=2.5)


def test_no_louder_than_allowed() -> None:
    loudness, probes = found(noisy(1e-2), most_dbfs=-33.0)
    assert loudness.because == "limit"
    assert loudness.level_dbfs == -33.0
    assert max(probe.level_dbfs for probe in probes) <= -33.0
    quiet, probes = found(noisy(1e-2), most_dbfs=-60.0)
    assert max(probe.level_dbfs for probe in probes) == quiet.level_dbfs == -60.0


def test_the_inputs_are_not_driven_beyond_half_their_range() -> None:
    loudness, probes = found(noisy(3e-2, gain=30.0))
    assert loudness.because == "peak"
    assert max(probe.peak for probe in probes) <= 1.3 * HIGHEST_PEAK  # noise rises beside it
    loud, probes = found(noisy(0.0, gain=400.0))
    assert loud.because == "peak"
    assert loud.level_dbfs < -50.0
    assert probes[0].peak > HIGHEST_PEAK


def test_where_nothing_arrives_nothing_louder_is_played() -> None:
    for device in (
        LoopDevice(spoil=lambda _, block: np.zeros_like(block)),
        noisy(1e-3, gain=0.0),
    ):
        loudness, probes = found(device)
        assert loudness.because == "unheard"
        assert loudness.last.unheard == (1, 2)
        assert max(probe.level_dbfs for probe in probes) == -30.0


def test_one_dead_channel_is_named() -> None:
    rng = np.random.default_rng(4)

    def second_dead(_frame: int, block: Reals) -> Reals:
        return np.column_stack([block[:, 0], 1e-4 * rng.standard_normal(block.shape[0])])

    loudness, _ = found(LoopDevice(spoil=second_dead))
    assert loudness.because == "unheard"
    assert loudness.last.unheard == (2,)


def test_noise_that_fills_the_inputs_does_not_go_on_for_ever() -> None:
    loudness, probes = found(noisy(1.0))
    assert len(probes) < 30
    assert loudness.because in ("peak", "unheard")


def test_the_virtual_bench() -> None:
    device = virtual_device({})
    loudness = find_loudness(device, RATE_HZ, -20.0, clock=device.now_s)
    assert loudness.because == "enough"
    assert -30.0 < loudness.level_dbfs <= -20.0
