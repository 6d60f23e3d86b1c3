"""The sweep's samples: where they begin and end, and how fast they swing."""

import numpy as np
import pytest

from sealtune.records.recording import Sweep
from sealtune.signals.sweep import played_seconds, sweep_rate, sweep_samples, sweep_seconds, sweep_starts


def test_sweep_swings_as_often_as_it_should() -> None:
    # exact: the phase grows from 2 pi f1 L to 2 pi f2 L, so sin changes its sign 2 L (f2 - f1) times
    sweep = Sweep(6.0, 1000.0, 8.0)
    samples = sweep_samples(sweep, 48000.0)
    turns = np.count_nonzero(np.diff(np.signbit(samples[1:])))
    assert turns == pytest.approx(2.0 * sweep_rate(sweep) * (1000.0 - 6.0), abs=2)


def test_sweep_begins_at_rest_and_is_full_scale() -> None:
    samples = sweep_samples(Sweep(10.0, 1000.0, 4.0), 48000.0)
    assert samples[0] == pytest.approx(0.0, abs=1e-9)  # exact: f1 L is whole
    assert samples[1] > 0.0
    assert np.abs(samples).max() == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("fraction", [0.25, 0.5, 0.75])
def test_frequency_grows_exponentially(fraction: float) -> None:
    # exact: f(t) = f1 exp(t/L), counted over a twentieth of a second around t
    sweep = Sweep(10.0, 8000.0, 5.0)
    samples = sweep_samples(sweep, 192000.0)
    middle, half = int(fraction * samples.size), 4800
    part = samples[middle - half : middle + half]
    crossings = np.flatnonzero(np.diff(np.signbit(part)))
    counted_hz = 0.5 * (crossings.size - 1) / (crossings[-1] - crossings[0]) * 192000.0
    assert counted_hz == pytest.approx(
        10.0 * np.exp(fraction * sweep_seconds(sweep) / sweep_rate(sweep)), rel=0.01
    )


def test_fade_is_a_raised_cosine_at_both_ends() -> None:
    plain, faded = (sweep_samples(Sweep(10.0, 1000.0, 4.0, fade_s=fade_s), 48000.0) for fade_s in (0.0, 0.05))
    frames = int(0.05 * 48000.0)
    np.testing.assert_array_equal(faded[frames:-frames], plain[frames:-frames])
    # exact: half a cosine, 0 at the end, a half in the middle of the fade
    assert faded[0] == 0.0
    assert faded[frames // 2] == pytest.approx(0.5 * plain[frames // 2], rel=1e-9)
    np.testing.assert_allclose(
        faded[:frames], plain[:frames] * np.sin(0.5 * np.pi * np.arange(frames) / frames) ** 2, atol=1e-12
    )
    assert faded[-1] == 0.0


def test_very_short_sweep_still_has_one_turn() -> None:
    # exact: f1 L is a whole number, at least 1
    sweep = Sweep(5.0, 1000.0, 0.1)
    assert sweep_rate(sweep) * 5.0 == pytest.approx(1.0)
    assert sweep_samples(sweep, 8000.0).size == int(sweep_seconds(sweep) * 8000.0)


def test_sweep_beyond_half_the_rate_is_refused() -> None:
    with pytest.raises(ValueError, match="samples per second"):
        sweep_samples(Sweep(10.0, 5000.0, 1.0), 8000.0)


def test_repeats_follow_each_other_by_sweep_and_pause() -> None:
    sweep = Sweep(10.0, 1000.0, 3.0, begins_s=0.5, repeats=3, pause_s=0.25)
    starts = sweep_starts(sweep, 8000.0)
    assert starts[0] == 4000  # exact: 0.5 s
    period = sweep_samples(sweep, 8000.0).size + 2000  # exact: the samples of one sweep and 0.25 s
    assert np.diff(starts).tolist() == [period, period]
    assert played_seconds(sweep) == pytest.approx(3 * sweep_seconds(sweep) + 0.5, rel=1e-12)
    assert sweep_starts(Sweep(10.0, 1000.0, 3.0, begins_s=0.5), 8000.0) == [4000]
