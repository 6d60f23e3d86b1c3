"""What the samples alone tell: silence, dead channels, cut tops, lost samples, takes cut short."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.sample_faults import clipped_share, first_click, longest_gap, sample_problems, step_of
from sealtune.analysis.sweep_faults import answer, sweep_problems
from sealtune.records.recording import Jig, Origin, Recording, Sweep
from sealtune.signals.sweep import sweep_samples

RATE = 48000.0
SWEEP = Sweep(5.0, 1000.0, 4.0, begins_s=0.5, fade_s=0.05)
Reals = NDArray[np.float64]


def take(
    channels: Reals | None = None, rate_hz: float = RATE, step: float = 2.0**-23, metadata: bool = True
) -> Recording:
    """A sweep of height 0.5 and 0.2 between silences, with noise at -100 dB."""
    if channels is None:
        sweep = sweep_samples(SWEEP, RATE)
        silence = np.zeros(int(0.5 * RATE))
        played = np.concatenate([silence, sweep, silence])
        channels = played[:, None] * [0.5, 0.2]
        channels = channels + 1e-5 * np.random.default_rng(1).standard_normal(channels.shape)
        channels = np.round(channels / step) * step if step else channels
    origin = Origin(role="open", jig=Jig("divider", 10.0), sweep=SWEEP) if metadata else Origin()
    return Recording(channels, rate_hz, step, origin, channels.shape[0])


def names(recording: Recording) -> list[str]:
    return [problem.problem for problem in sample_problems(recording)]


@pytest.mark.parametrize("step", [0.0, 2.0**-23, 2.0**-15, 2.0**-7])
def test_a_clean_take_has_no_problem(step: float) -> None:
    recording = take(step=step)
    assert names(recording) == []
    assert sweep_problems(recording) == []


def test_quiet_but_fine_levels_pass_and_silence_does_not() -> None:
    clean = take().channels
    assert names(take(clean * 10 ** (-39 / 20))) == []  # peaks at -45 dB of full scale
    assert names(take(clean * 10 ** (-60 / 20))) == ["too_quiet"]
    assert names(take(0.0 * clean)) == ["too_quiet"]
    assert names(take(0.0 * clean + 0.3)) == ["too_quiet"]  # an offset is no sound


def test_dead_channels_are_named() -> None:
    clean = take().channels
    for dead in (0, 1):
        channels = clean.copy()
        channels[:, dead] = 0.1
        problems = sample_problems(take(channels))
        assert [problem.problem for problem in problems] == ["channel_missing"]
        assert f"channel {dead + 1}" in problems[0].detail
    assert names(take(clean[:, [0, 0]])) == ["channel_missing"]


@pytest.mark.parametrize("top", [0.9, 0.6, 0.3])
@pytest.mark.parametrize("step", [0.0, 2.0**-23, 2.0**-15])
def test_clipping_of_either_channel_is_found(top: float, step: float) -> None:
    clean = take(step=step).channels
    for index in (0, 1):
        channels = clean.copy()
        limit = top * np.abs(channels[:, index]).max()
        channels[:, index] = np.clip(channels[:, index], -limit, limit)
        assert names(take(channels, step=step)) == ["clipped"]
        # exact: a sine spends 1 - 2/pi arcsin(top) of its time above `top`; the sweep takes 4 of 5 s; in 16 bit
        # the slowest tops fall by too few steps to be told from a coarse wave
        share = clipped_share(channels[:, index], step)
        assert share == pytest.approx(0.8 * (1 - 2 / np.pi * np.arcsin(top)), rel=0.2)


def test_a_slow_coarse_wave_is_not_clipped() -> None:
    # a 5 Hz sine in 8 bit stays on its top step for hundreds of samples
    slow = np.round(0.7 * np.sin(2 * np.pi * 5.0 * np.arange(96000) / RATE) * 128) / 128
    assert clipped_share(slow, 2.0**-7) == 0.0
    assert longest_gap(slow, 2.0**-7) == (0, 0)
    assert first_click(slow, RATE, 2.0**-7) is None
    # a 16-bit converter's samples in a file of 24 bit: the step is the converter's
    assert step_of(np.round(slow * 2**15) / 2**15, 2.0**-23) >= 2.0**-15


@pytest.mark.parametrize("level", [0.0, None])
def test_gaps_are_found_in_either_channel(level: float | None) -> None:
    for index in (0, 1):
        channels = take().channels.copy()
        start, length = 130000, 480
        channels[start : start + length, index] = channels[start - 1, index] if level is None else level
        problems = sample_problems(take(channels))
        assert [problem.problem for problem in problems] == ["dropout"]
        assert "2.71 s" in problems[0].detail  # exact: 130000 / 48000


@pytest.mark.parametrize("missing", [20, 200, 2000])
def test_lost_samples_are_found_by_their_click(missing: int) -> None:
    clean = take().channels
    both = np.delete(clean, slice(120000, 120000 + missing), axis=0)
    found = sample_problems(take(both, metadata=False))
    assert [problem.problem for problem in found] == ["dropout"]
    assert "2.50 s" in found[0].detail  # exact: 120000 / 48000
    one = clean.copy()
    one[120000:, 1] = np.roll(clean[:, 1], missing)[120000:]
    assert names(take(one)) == ["dropout"]


@pytest.mark.parametrize("kind", ["white", "binary", "pink", "full sweep", "buzz"])
def test_other_stimuli_show_no_clicks(kind: str) -> None:
    rng = np.random.default_rng(8)
    frames = int(5 * RATE)
    time_s = np.arange(frames) / RATE
    signals = {
        "white": 0.1 * rng.standard_normal(frames),
        "binary": rng.choice([-0.3, 0.3], frames),
        "pink": 0.002 * np.cumsum(rng.standard_normal(frames)),
        "full sweep": 0.5 * np.sin(2 * np.pi * 5.0 * 0.6 * np.expm1(time_s / 0.6)),
        "buzz": take().channels[:frames, 0] + 0.01 * (np.arange(frames) % 480 == 0),  # a spike every 10 ms
    }
    signal = signals[kind]
    channels = np.stack([signal, 0.4 * signal + 1e-5 * rng.standard_normal(frames)], axis=1)
    assert names(Recording(channels, RATE)) == []


def test_takes_cut_short_are_named() -> None:
    clean = take()
    kept = clean.channels[:100000]
    for recording in (
        Recording(kept, RATE, expected_frames=216000),
        Recording(kept, RATE, origin=clean.origin, expected_frames=100000),
        Recording(clean.channels, RATE, origin=Origin(complete=False)),
    ):
        assert names(recording) == ["truncated"]


def test_the_answer_to_a_plain_sweep_is_compact() -> None:
    found = answer(take().channels[:, 0], RATE, SWEEP)
    # exact: a sweep divided by itself is one pulse; the band's edges and the noise spread some per cent
    assert found.compact > 0.95
    assert found.third < 0.002
    assert found.stray < 0.003


@pytest.mark.parametrize("share", [0.03, 0.1])
def test_the_third_harmonic_is_measured(share: float) -> None:
    # exact: sin 3a = 3 sin a - 4 sin^3 a, so adding `share` of it is a polynomial of the sweep
    clean = take().channels
    sine = clean[:, 0] / 0.5
    bent = clean.copy()
    bent[:, 0] = 0.5 * (sine + share * (3 * sine - 4 * sine**3))
    assert answer(bent[:, 0], RATE, SWEEP).third == pytest.approx(share, rel=0.1)
    problems = sweep_problems(take(bent))
    assert [problem.problem for problem in problems] == ["clipped"]
    assert "channel 1" in problems[0].detail


def test_a_misnamed_sample_rate_is_found() -> None:
    for named in (44100.0, 46000.0, 52000.0):
        assert [problem.problem for problem in sweep_problems(take(rate_hz=named))] == ["dropout"]


def test_a_knock_is_found() -> None:
    channels = take().channels.copy()
    time_s = np.arange(channels.shape[0] - 150000) / RATE
    channels[150000:, 1] += 0.1 * np.exp(-time_s / 0.15) * np.sin(2 * np.pi * 12.0 * time_s)
    problems = sweep_problems(take(channels))
    assert [problem.problem for problem in problems] == ["noisy"]
    assert "knock" in problems[0].detail


def test_a_sweep_of_few_steps_is_too_quiet_and_not_clipped() -> None:
    # exact: a sine rounded to a few steps is bent, and turning it down would bend it more
    sound = take()
    for steps, named in ((4.0, ["too_quiet"]), (2000.0, [])):
        peak = float(np.abs(sound.channels).max())
        rounded = np.round(sound.channels / peak * steps) / steps * peak
        coarse = Recording(rounded, sound.rate_hz, sound.step, sound.origin, sound.expected_frames)
        assert [problem.problem for problem in sweep_problems(coarse)] == named
