"""Faults of samples and of the two channels on signals made by hand, at either side of what each limit means."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.broken_off import first_silence
from sealtune.analysis.channel_faults import channel_problems, hum_problems
from sealtune.analysis.impedance import Spectra
from sealtune.analysis.sample_faults import (
    clipped_share,
    first_click,
    longest_gap,
    lost_samples,
    sample_problems,
    step_of,
)
from sealtune.analysis.sweep_faults import sweep_problems
from sealtune.records.recording import Jig, Origin, Recording, Sweep
from sealtune.records.verdict import Problem
from sealtune.signals.hum import Hum
from sealtune.signals.sweep import played_seconds
from sealtune.signals.transfer_function import Ratio

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
RATE = 8000.0
HZ = np.geomspace(5.0, 900.0, 300)
JIG = Jig("divider", 10.0)


def tops(*runs: tuple[int, int], height: float = 0.5, count: int = 200) -> Reals:
    """Zeros with runs (start, length) of one height."""
    samples = np.zeros(count)
    for start, length in runs:
        samples[start : start + length] = height
    return samples


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_samples_on_cut_tops_are_counted(sign: float) -> None:
    # Exact, by counting: runs of three and more between lower samples; two may be chance, ends of the file may go on
    assert clipped_share(sign * tops((10, 3), (50, 5)), 1e-4) == 8 / 200
    assert clipped_share(sign * tops((10, 2), (50, 2), (90, 2)), 1e-4) == 0.0
    assert clipped_share(sign * tops((0, 9), (191, 9)), 1e-4) == 0.0
    assert clipped_share(sign * tops((1, 4), (195, 4)), 1e-4) == 8 / 200
    assert clipped_share(sign * tops((10, 3)), 1e-4) == 0.0, "one such top is no limit"
    assert clipped_share(sign * tops((10, 6)), 1e-4) == 6 / 200


def test_a_top_is_cut_where_neighbours_share_one_value() -> None:
    # Exact: between the two equal samples lies one that is one step lower, so that no three are alike
    step = 1e-3
    samples = tops((10, 3), (50, 3), (90, 3))
    samples[[11, 51, 91]] -= step
    assert clipped_share(samples, step) == 0.0
    # less than half a step apart no converter tells them apart
    samples[[11, 51, 91]] += 0.6 * step
    assert clipped_share(samples, step) == 9 / 200


def test_both_sides_count_and_a_low_one_does_not() -> None:
    # Exact, by counting: a channel that is cut below alone, and one whose lesser side lies far below its peak
    both = tops((10, 3)) - tops((50, 3))
    assert clipped_share(both, 1e-4) == 6 / 200
    low = tops((10, 3), (50, 3)) - tops((100, 20), height=0.1)
    assert clipped_share(low, 1e-4) == 6 / 200


@pytest.mark.parametrize("period", [25.0, 80.0, 333.0, 1000.0])
@pytest.mark.parametrize("turn", [0.0, 0.4, 1.1])
def test_a_wave_in_steps_is_not_cut(period: float, turn: float) -> None:
    # Exact: a rounded sine, however long it stays on its highest step
    wave = 0.5 * np.cos(2.0 * np.pi * np.arange(2000) / period + turn)
    for step in (1e-3, 1.0 / 128.0):
        assert clipped_share(np.round(wave / step) * step, step) == 0.0


def test_the_step_is_the_least_difference() -> None:
    assert step_of(np.array([0.0, 0.5, 0.25, 0.25, 0.75]), 0.01) == 0.25
    assert step_of(np.array([0.0, 0.5, 0.25]), 0.3) == 0.3
    assert step_of(np.array([0.1, 0.1]), 0.01) == 0.01


def test_a_gap_needs_a_jump_at_one_of_its_ends() -> None:
    # Exact, by counting; a ramp that rests for a while has none
    ramp = np.linspace(-0.5, 0.5, 400)
    held = ramp.copy()
    held[100:130] = held[100]
    assert longest_gap(held, 1e-4) == (100, 29)
    rests = np.concatenate([ramp[:100], np.full(30, ramp[100]), ramp[100:]])
    assert longest_gap(rests, 1e-3) == (0, 0)
    zeros = ramp.copy()
    zeros[50:80] = 0.0
    zeros[300:312] = 0.0
    assert longest_gap(zeros, 1e-4) == (50, 29)


def test_a_jump_is_found_where_it_is_and_a_small_one_does_no_harm() -> None:
    # Exact: the place is the sample's own number; a jump of 1/2000 of the peak is less than the share that does harm
    time_s = np.arange(int(2.0 * RATE)) / RATE
    wave = 0.5 * np.sin(2.0 * np.pi * 20.0 * time_s)
    jumps = wave + np.where(np.arange(wave.size) >= 7000, 0.05, 0.0)
    found = first_click(jumps, RATE, 1e-7)
    assert found is not None
    assert abs(found - 7000) <= 2
    assert first_click(wave, RATE, 1e-7) is None
    assert first_click(wave + np.where(np.arange(wave.size) >= 7000, 2.5e-4, 0.0), RATE, 1e-7) is None
    assert first_click(jumps[:2000], RATE, 1e-7) is None


@pytest.mark.parametrize(("every", "found"), [(4, False), (10, True)])
def test_what_is_rough_in_more_than_a_fifth_of_all_moments_is_no_click(every: int, found: bool) -> None:
    # Exact: single samples off by 0.05 in one of so many blocks of 25 ms, and the last but a few of them by 0.09
    wave = 0.5 * np.sin(2.0 * np.pi * 20.0 * np.arange(int(2.0 * RATE)) / RATE)
    block = round(0.025 * RATE)
    for number in range(2, 78, every):
        wave[number * block + 50] += 0.05
    last = range(2, 70, every)[-1]
    wave[last * block + 50] += 0.04
    assert (first_click(wave, RATE, 1e-7) is not None) == found


def test_silence_of_both_channels_while_the_sweep_runs() -> None:
    # Exact: 10 ms at 8 kHz are 80 samples; one channel alone, or zeros at the very begin, are something else
    sounding = np.ones((4000, 2))
    spans = [(500, 3500)]
    for count, found in ((80, 1000), (79, None)):
        channels = sounding.copy()
        channels[1000 : 1000 + count] = 0.0
        assert first_silence(channels, spans, RATE) == found
    one = sounding.copy()
    one[1000:2000, 0] = 0.0
    assert first_silence(one, spans, RATE) is None
    late = sounding.copy()
    late[:900] = 0.0
    assert first_silence(late, spans, RATE) is None
    assert first_silence(np.zeros((4000, 2)), spans, RATE) is None
    outside = sounding.copy()
    outside[3600:] = 0.0
    assert first_silence(outside, spans, RATE) is None


def two(first: Reals, second: Reals, origin: Origin | None = None, expected: int | None = None) -> Recording:
    channels = np.stack([first, second], axis=1)
    return Recording(channels, RATE, 2.0**-23, origin or Origin(), expected)


def named(problems: list[Problem]) -> list[str]:
    return [problem.problem for problem in problems]


def test_level_and_dead_channels_at_their_limits() -> None:
    # Exact: -60 dB of full scale is 1e-3, -80 dB against the other channel 1e-4
    wave = np.sin(2.0 * np.pi * 20.0 * np.arange(16000) / RATE)
    assert named(sample_problems(two(0.9e-3 * wave, 0.5e-3 * wave))) == ["too_quiet"]
    assert "at -61 dB" in sample_problems(two(0.9e-3 * wave, 0.5e-3 * wave))[0].detail
    assert named(sample_problems(two(1.2e-3 * wave, 0.5e-3 * wave))) == []
    (problem,) = sample_problems(two(0.5 * wave, 0.4e-4 * wave))
    assert (problem.problem, "channel 2" in problem.detail) == ("channel_missing", True)
    (problem,) = sample_problems(two(0.4e-4 * wave, 0.5 * wave))
    assert "channel 1" in problem.detail
    assert named(sample_problems(two(0.5 * wave, 0.6e-4 * wave))) == []


def test_a_sweep_whose_last_milliseconds_are_missing_is_whole() -> None:
    # Exact: at 8 kHz 5 ms are 40 samples
    sweep = Sweep(5.0, 1000.0, 4.0, begins_s=0.5, fade_s=0.05)
    count = int(np.ceil((0.5 + played_seconds(sweep)) * RATE))
    wave = 0.5 * np.sin(2.0 * np.pi * 20.0 * np.arange(count) / RATE)
    for missing, names in ((0, []), (38, []), (60, ["truncated"])):
        take = two(wave[: count - missing], 0.2 * wave[: count - missing], Origin(sweep=sweep))
        problems = sample_problems(take)
        assert named(problems) == names
    assert f"its sweep needs {0.5 + played_seconds(sweep):.1f} s" in problems[0].detail
    (promised,) = sample_problems(two(wave, 0.2 * wave, expected=count + 1))
    assert promised.detail == f"The file holds {count} of the {count + 1} samples that its header promises."
    assert sample_problems(two(wave, 0.2 * wave, expected=count)) == []


@pytest.mark.parametrize(
    ("amplitude", "told", "spoils"), [(0.005, False, False), (0.02, True, False), (0.25, True, True)]
)
def test_hum_is_told_by_its_height_over_the_sweeps(amplitude: float, told: bool, spoils: bool) -> None:
    # Exact: a channel whose peak is sweep and hum together; 1 and 4 % of the sweep lie either side of -34 dB
    wave = np.sin(2.0 * np.pi * 20.0 * np.arange(16000) / RATE)
    take = two(wave, (0.5 if amplitude < 0.2 else 0.25) * wave + amplitude)
    peak = float(np.abs(take.channels[:, 1] - take.channels[:, 1].mean()).max())
    problems = hum_problems(Hum(50.0, amplitude, (50.0,)), take)
    assert len(problems) == told
    if told:
        share = amplitude / max(peak - amplitude, 0.1 * peak)
        assert f"at {20.0 * np.log10(share):.0f} dB" in problems[0].detail
        assert problems[0].spoils == spoils
        assert ("taken out" in problems[0].detail) != spoils
    assert hum_problems(None, take) == []


def spectra(value: Complexes | complex, sigma: float = 1e-5) -> Spectra:
    whole = np.asarray(value * np.ones(HZ.size), dtype=np.complex128)
    return Spectra(Ratio(HZ, whole, sigma * np.abs(whole), 1.0 / HZ), None, tapered=False)


def loudspeaker() -> Complexes:
    """Two peaks at 25 and 70 Hz in closed form, behind 10 ohm."""
    z = 6.0 + 0.02 * (2j * np.pi * HZ) ** 0.6
    for peak_hz in (25.0, 70.0):
        z = z + 30.0 / (1 + 5j * (HZ / peak_hz - peak_hz / HZ))
    return np.asarray(z / (10.0 + z), dtype=np.complex128)


@pytest.mark.parametrize(
    ("value", "sigma", "heights", "name", "words"),
    [
        (loudspeaker(), 1e-4, (0.5, 0.2), "", ""),
        (1.0, 1e-4, (0.5, 0.5), "channel_missing", "the same voltage"),
        (0.002, 1e-4, (0.5, 0.1), "channel_missing", "Channel 2 hears only a faint copy"),
        (500.0, 1e-4, (0.1, 0.5), "channel_missing", "Channel 1 hears only a faint copy"),
        (0.5, 1e-4, (0.5, 0.25), "", ""),  # a resistor for a load is no fault of the channels
        (loudspeaker(), 0.5, (0.5, 0.002), "channel_missing", "Channel 2 holds noise only"),
        (loudspeaker(), 0.5, (0.002, 0.5), "channel_missing", "Channel 1 holds noise only"),
        (loudspeaker(), 0.5, (0.002, 0.001), "too_quiet", "-54 dB of full scale"),
        (loudspeaker(), 0.5, (0.5, 0.2), "noisy", "little but noise in common"),
    ],
)
def test_two_channels_that_do_not_go_together(
    value: Complexes | complex, sigma: float, heights: tuple[float, float], name: str, words: str
) -> None:
    # Exact: the ratio of the channels is given; 0.002 of full scale is -54 dB
    wave = np.sin(2.0 * np.pi * 20.0 * np.arange(16000) / RATE)
    problems = channel_problems(spectra(value, sigma), two(heights[0] * wave, heights[1] * wave), JIG)
    assert named(problems) == ([name] if name else [])
    assert words in "".join(problem.detail for problem in problems)


def test_upside_down_and_exchanged_channels_are_told_apart() -> None:
    # Exact: the sign, or the reciprocal, of a ratio that is right
    wave = 0.5 * np.sin(2.0 * np.pi * 20.0 * np.arange(16000) / RATE)
    take, right = two(wave, 0.4 * wave), spectra(loudspeaker())
    turned = replace(right, ratio=replace(right.ratio, value=-right.ratio.value))
    assert named(channel_problems(turned, take, JIG)) == ["wrong_wiring"]
    assert "upside down" in channel_problems(turned, take, JIG)[0].detail
    size = np.abs(right.ratio.value)
    exchanged = Ratio(HZ, 1.0 / right.ratio.value, right.ratio.sigma / size**2, right.ratio.power * size**2)
    (problem,) = channel_problems(replace(right, ratio=exchanged), take, JIG)
    assert problem.problem == "channels_swapped"
    assert "channel 1 sits on the amplifier's side of the resistor" in problem.remedy


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(("height", "names"), [(0.015, []), (0.04, ["dropout"])])
def test_what_is_less_than_a_twentieth_of_the_peak_is_no_sweep(
    sign: float, height: float, names: list[str]
) -> None:
    # Exact: a peak of 0.5 to one side alone, and later a softer wave of both signs that holds still for 5 ms
    time_s = np.arange(int(2.0 * RATE)) / RATE
    peak = 0.5 * np.sin(20.0 * np.pi * time_s) ** 2 * (time_s < 0.05)
    soft = height * np.sin(40.0 * np.pi * time_s) * (time_s >= 1.4) * (time_s < 1.9)
    held = int(1.65 * RATE)
    soft[held : held + 40] = soft[held]
    channel = sign * peak + soft
    assert named(lost_samples(two(channel, channel))) == names


def test_channels_that_are_no_loudspeakers_either_way() -> None:
    # Exact: of v = -0.5 + 2j neither R v/(1 - v) nor R/v, nor those of 1/v and of -v, has a resistance above zero
    value = np.asarray((-0.5 + 2j) * (1.0 + 0.2 * np.sin(np.log(HZ))))
    wave = 0.5 * np.sin(2.0 * np.pi * 20.0 * np.arange(16000) / RATE)
    (problem,) = channel_problems(spectra(value), two(wave, wave), JIG)
    assert (problem.problem, problem.detail, problem.remedy) == (
        "not_impedance",
        "The two channels together give a resistance below zero, which no loudspeaker has.",
        "Check that channel 1 sits on the amplifier's side of the resistor and channel 2 across the box and that "
        "nothing else is connected, and record again.",
    )


def test_a_sweep_beyond_half_the_rate_is_not_looked_for() -> None:
    # Exact: 8 kHz hold no 5 kHz; noise is no sweep
    wave = 0.1 * np.random.default_rng(1).standard_normal(16000)
    assert sweep_problems(two(wave, wave, Origin(sweep=Sweep(5.0, 5000.0, 1.0)))) == []
    assert sweep_problems(two(wave, wave)) == []
    assert named(sweep_problems(two(wave, wave, Origin(sweep=Sweep(5.0, 1000.0, 1.0))))) == ["dropout"]
