"""Several sweeps in one recording: taken together, and what is wrong with one of them named and left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.channel_faults import channel_problems
from sealtune.analysis.impedance import Spectra, measure_ratio
from sealtune.analysis.repeats import combine, parts_of
from sealtune.analysis.sample_faults import sample_problems
from sealtune.records.recording import Jig, Recording, Sweep
from sealtune.records.verdict import Problem
from sealtune.signals.sweep import sweep_starts
from sealtune.signals.transfer_function import Ratio
from sealtune.virtual.measurement_faults import spoil
from sealtune.virtual.sound_card import IDEAL, SoundCard, record

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

RATE = 8000.0
JIG = Jig("divider", 10.0)
CARD = SoundCard(mismatch_db=0.0, delay_samples=0.0, hum_dbfs=None)


def load(hz: Reals) -> Complexes:
    """Two peaks at 25 and 70 Hz in closed form."""
    z = 6.0 + 0.02 * (2j * np.pi * hz) ** 0.6
    for peak_hz in (25.0, 70.0):
        z = z + 30.0 / (1 + 5j * (hz / peak_hz - peak_hz / hz))
    return np.asarray(z, dtype=np.complex128)


def take(repeats: int, seed: int = 1, card: SoundCard = CARD, pause_s: float = 1.0) -> Recording:
    sweep = Sweep(6.0, 1000.0, 4.0, begins_s=0.5, fade_s=0.05, repeats=repeats, pause_s=pause_s)
    return record(load, JIG, sweep, "open", np.random.default_rng(seed), card=card, rate_hz=RATE)


def starts(recording: Recording) -> list[int]:
    assert recording.origin.sweep is not None
    return sweep_starts(recording.origin.sweep, RATE)


def judged(recording: Recording) -> tuple[Spectra, list[Problem]]:
    problems = sample_problems(recording)
    spectra = measure_ratio(recording)
    if not any(problem.spoils for problem in problems):
        problems += channel_problems(spectra, recording, JIG)
    return spectra, problems


def error(spectra: Spectra) -> Reals:
    """Relative error of the ratio from 10 to 400 Hz against Ohm's law."""
    hz = spectra.ratio.frequency_hz
    inside = (hz > 10.0) & (hz < 400.0)
    truth = load(hz) / (10.0 + load(hz))
    return np.abs(spectra.ratio.value / truth - 1.0)[inside]


@pytest.mark.parametrize("repeats", [1, 2, 3, 5])
@pytest.mark.parametrize("pause_s", [0.3, 1.0])
def test_clean_repeats_have_no_problem(repeats: int, pause_s: float) -> None:
    recording = take(repeats, pause_s=pause_s)
    spectra, problems = judged(recording)
    assert problems == []
    assert len(parts_of(recording)) == repeats
    assert error(spectra).size > 150
    assert np.sqrt(np.mean(error(spectra) ** 2)) < 5e-4


def test_noise_falls_with_the_root_of_the_number() -> None:
    card = replace(CARD, noise_dbfs=-60.0)
    one, four = (judged(take(repeats, card=card))[0].ratio for repeats in (1, 4))
    common = one.frequency_hz > 20.0
    stated = np.median(one.sigma[common]) / np.median(four.sigma[four.frequency_hz > 20.0])
    assert stated == pytest.approx(2.0, rel=0.15)  # exact: the root of four
    # and it is the noise that is really there: both parts' errors, over 200 points of one take
    for spectra, ratio in ((judged(take(4, 7, card))[0], four),):
        hz = spectra.ratio.frequency_hz
        inside = (hz > 10.0) & (hz < 400.0)
        sigma = ratio.sigma[inside] / np.abs(ratio.value[inside])
        assert np.sqrt(np.mean((error(spectra) / sigma) ** 2 / 2.0)) == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize("repeats", [2, 3])
@pytest.mark.parametrize("strength", [0.0, 0.3, 0.6])
def test_a_bump_in_one_is_named_and_left_out(repeats: int, strength: float) -> None:
    clean = take(repeats)
    for seed in (1, 2):
        spoilt = spoil(clean, "bump_in_one_repeat", strength, np.random.default_rng(seed))
        spectra, problems = judged(spoilt)
        assert [(problem.problem, problem.spoils) for problem in problems] == [("noisy", False)]
        first = np.flatnonzero(np.abs(spoilt.channels - clean.channels).max(axis=1) > 1e-4)[0]
        number = int(np.searchsorted(starts(clean), first, side="right"))
        assert f"sweep {number} of {repeats}" in problems[0].detail
        assert "left out" in problems[0].detail
        assert np.sqrt(np.mean(error(spectra) ** 2)) < 1e-3


@pytest.mark.parametrize(
    ("repeats", "sigmas", "named"), [(3, 5.0, False), (3, 9.0, True), (2, 9.0, False), (2, 18.0, True)]
)
def test_what_contradicts_begins_a_few_sigma_away(repeats: int, sigmas: float, named: bool) -> None:
    # independent (20 000 draws): a stretch of one of three sweeps that is off by 5 or 9 sigma deviates from their
    # median by 2.9 or 5.3 times the noise; of one of two, by 9 or 18 sigma, from their mean by 2.7 or 5.2 times
    rng = np.random.default_rng(3)
    hz = 40.0 * 2.0 ** (np.arange(300) / 100.0)
    sigma = np.full(hz.size, 2e-3)
    ratios = []
    for number in range(repeats):
        value = 1.0 + sigma * (rng.standard_normal(hz.size) + 1j * rng.standard_normal(hz.size))
        if number == 1:
            value[(hz > 40.0 * 2.0 ** (4.0 / 3.0)) & (hz < 40.0 * 2.0 ** (5.0 / 3.0))] += sigmas * sigma[0]
        ratios.append(Ratio(hz, np.asarray(value, dtype=np.complex128), sigma, np.ones(hz.size)))
    both = combine(parts_of(take(repeats)), ratios, repeats, [0.0, 1.0, 0.0][:repeats])
    told = [(problem.problem, problem.spoils) for problem in both.problems]
    assert told == ([("noisy", False)] if named else [])
    if named:
        assert f"sweep 2 of {repeats}" in both.problems[0].detail


@pytest.mark.parametrize("lost", ["gap", "slip"])
def test_lost_samples_in_one_leave_the_others(lost: str) -> None:
    clean = take(3)
    place = starts(clean)[1] + int(1.5 * RATE)
    if lost == "gap":
        channels = clean.channels.copy()
        channels[place : place + 200] = 0.0
    else:
        channels = np.delete(clean.channels, slice(place, place + 50), axis=0)
    spectra, problems = judged(replace(clean, channels=channels, expected_frames=channels.shape[0]))
    assert [(problem.problem, problem.spoils) for problem in problems] == [("dropout", False)]
    assert "sweep 2 of 3" in problems[0].detail
    assert f"At {place / RATE:.2f} s" in problems[0].detail  # exact: where it was put
    assert np.sqrt(np.mean(error(spectra) ** 2)) < 5e-4


def test_where_none_is_left_the_recording_is_spoilt() -> None:
    clean = take(2)
    channels = clean.channels.copy()
    for start in starts(clean):
        channels[start + 12000 : start + 12200] = 0.0
    _, problems = judged(replace(clean, channels=channels))
    assert [(problem.problem, problem.spoils) for problem in problems] == [("dropout", True)]


def test_a_file_cut_short_keeps_its_whole_sweeps() -> None:
    clean = take(3)
    kept = clean.channels[: starts(clean)[2] + 8000]
    spectra, problems = judged(replace(clean, channels=kept))
    assert [(problem.problem, problem.spoils) for problem in problems] == [("truncated", False)]
    assert "first 2" in problems[0].detail
    assert np.sqrt(np.mean(error(spectra) ** 2)) < 5e-4
    _, problems = judged(replace(clean, channels=clean.channels[: starts(clean)[0] + 8000]))
    assert [(problem.problem, problem.spoils) for problem in problems] == [("truncated", True)]


@pytest.mark.parametrize("repeats", [2, 3])
@pytest.mark.parametrize("decibels", [0.02, 0.15, -0.5])
def test_a_gain_that_changes_between_sweeps_is_told(repeats: int, decibels: float) -> None:
    clean = take(repeats)
    channels = clean.channels.copy()
    channels[starts(clean)[-1] - 2000 :, 1] *= 10.0 ** (decibels / 20.0)
    _, problems = judged(replace(clean, channels=channels))
    # exact: 0.02 dB are 0.2 %, less than is known of the gain; 0.15 dB are 1.7 % and 0.5 dB 5.6 %
    assert [(problem.problem, problem.spoils) for problem in problems] == (
        [] if decibels == 0.02 else [("dropout", True)]
    )
    if problems:
        told = float(problems[0].detail.split("changed by ")[1].split(" %")[0])
        assert told == pytest.approx(100 * abs(10 ** (decibels / 20) - 1), rel=0.05)


def test_gain_that_drifts_in_both_channels_cancels() -> None:
    ideal = replace(IDEAL, silence_after_s=1.0)
    drifting = spoil(take(3, card=ideal), "gain_drift_both", 1.0, np.random.default_rng(1))
    spectra, problems = judged(drifting)
    assert problems == []
    assert np.sqrt(np.mean(error(spectra) ** 2)) < 5e-4
