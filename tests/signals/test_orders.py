"""Harmonics by the turns of a sweep, and what recurs in each turn."""

import numpy as np
import pytest

from sealtune.records.recording import Sweep
from sealtune.signals.orders import order_phasors, recurring
from sealtune.signals.sweep import sweep_samples, sweep_starts

RATE_HZ = 24000.0
SWEEP = Sweep(10.0, 800.0, 6.0, begins_s=0.2, fade_s=0.02)


def test_harmonics_of_a_known_curve() -> None:
    # Exact (trigonometric identities): y = x + 0.1 x^2 + 0.05 x^3 has H1 = 1.0375, H2 = -0.05j, H3 = -0.0125
    sweep = Sweep(20.0, 8000.0, 10.0)
    x = sweep_samples(sweep, 96000.0)
    y = x + 0.1 * x**2 + 0.05 * x**3
    found = order_phasors(y, 96000.0, sweep, [0], np.array([300.0, 1000.0, 3000.0]), 3)
    assert found == pytest.approx(np.tile([1.0375, -0.05j, -0.0125], (3, 1)), abs=3e-5)


def test_what_is_not_played_gives_nothing() -> None:
    samples = sweep_samples(SWEEP, RATE_HZ)
    found = order_phasors(samples, RATE_HZ, SWEEP, [0], np.array([5.0, 100.0, 2000.0]), 1)
    assert np.isnan(found[[0, 2]]).all()
    assert found[1, 0] == pytest.approx(1.0, abs=1e-6)  # Exact


def played(rng: np.random.Generator, noise: float) -> tuple[np.ndarray, list[int]]:
    starts = sweep_starts(SWEEP, RATE_HZ)
    samples = sweep_samples(SWEEP, RATE_HZ)
    channel = noise * rng.standard_normal(starts[0] + samples.size + 12000)
    channel[starts[0] : starts[0] + samples.size] += samples
    return channel, starts


def clicks(channel: np.ndarray, start: int, low_hz: float, high_hz: float, size: float) -> np.ndarray:
    rate_s = 6.0 / np.log(80.0)
    rate_s = round(rate_s * SWEEP.start_hz) / SWEEP.start_hz
    time_s = np.arange(400) / RATE_HZ
    ring = size * np.exp(-time_s / 0.002) * np.sin(2 * np.pi * 1500.0 * time_s)
    out = channel.copy()
    for turn in np.arange(np.ceil(low_hz * rate_s), high_hz * rate_s):
        at = start + round(rate_s * np.log((turn + 0.25) / (rate_s * SWEEP.start_hz)) * RATE_HZ)
        out[at : at + ring.size] += ring
    return out


def test_clicks_in_each_turn_stand_out() -> None:
    rng = np.random.default_rng(3)
    channel, starts = played(rng, 1e-3)
    rattling = clicks(channel, starts[0], 30.0, 60.0, 0.03)
    found = recurring(rattling, RATE_HZ, SWEEP, starts, np.random.default_rng(0))
    best = max(found, key=lambda one: one.stands_out)
    assert best.stands_out > 20.0
    assert 24.0 < best.low_hz < best.high_hz < 75.0
    assert best.twice < 1.3
    # nothing where it does not rattle
    assert all(one.stands_out < 5.0 for one in found if one.low_hz > 65.0)


def test_share_of_the_clicks() -> None:
    # Exact: a ring of the height h and the decay time t has the energy h^2 t/4; so many per second over 1/2
    rng = np.random.default_rng(3)
    channel, starts = played(rng, 1e-5)
    rattling = clicks(channel, starts[0], 20.0, 100.0, 0.03)
    found = recurring(rattling, RATE_HZ, SWEEP, starts, np.random.default_rng(0))
    near = min(found, key=lambda one: abs(np.sqrt(one.low_hz * one.high_hz) - 50.0))
    at_hz = np.sqrt(near.low_hz * near.high_hz)
    assert near.share == pytest.approx(np.sqrt(0.03**2 * 0.002 / 4.0 * at_hz / 0.5), rel=0.15)


@pytest.mark.parametrize("kind", ["noise", "loud noise", "tone", "knock", "distortion"])
def test_other_sounds_do_not(kind: str) -> None:
    rng = np.random.default_rng(8)
    channel, starts = played(rng, 0.2 if kind == "loud noise" else 2e-3)
    time_s = np.arange(channel.size) / RATE_HZ
    if kind == "tone":
        channel += 0.05 * np.sin(2 * np.pi * 1000.0 * time_s) + 0.02 * np.sin(2 * np.pi * 450.0 * time_s)
    if kind == "knock":
        at = round(2.0 * RATE_HZ)
        channel[at : at + 4000] += np.exp(-time_s[:4000] / 0.02) * np.sin(2 * np.pi * 700.0 * time_s[:4000])
    if kind == "distortion":
        clean, _ = played(rng, 0.0)
        channel = channel + 0.05 * clean**2 - 0.1 * clean**3
    found = recurring(channel, RATE_HZ, SWEEP, starts, np.random.default_rng(0))
    assert len(found) > 8
    assert max(one.stands_out for one in found) < 8.0
