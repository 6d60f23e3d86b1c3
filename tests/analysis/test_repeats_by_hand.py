"""Several sweeps put together, on ratios made by hand.

Exact: means weighed by variances, and deviations either side of what each limit means.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.repeats import Combined, Part, combine, left_out, parts_of
from sealtune.records.recording import Origin, Recording, Sweep
from sealtune.records.verdict import Problem
from sealtune.signals.transfer_function import Ratio

Complexes = NDArray[np.complex128]
Reals = NDArray[np.float64]
HZ = np.geomspace(10.0, 640.0, 18 * 12 + 1)  # six octaves, of each third 12 points
VALUE = np.asarray(0.5 + 0.2j * np.sin(np.log(HZ)))


def together(
    *values: Complexes, noise: tuple[float, ...] | None = None, strays: tuple[float, ...] = ()
) -> Combined:
    sigmas = noise or (1e-5,) * len(values)
    whole = Recording(np.zeros((10, 2)), 8000.0, origin=Origin(sweep=None))
    parts = [Part(n + 1, 10.0 * n, whole, 0.0) for n in range(len(values))]
    ratios = [
        Ratio(HZ, np.asarray(value), np.full(HZ.size, sigma), np.full(HZ.size, n + 1.0))
        for n, (value, sigma) in enumerate(zip(values, sigmas, strict=True))
    ]
    return combine(parts, ratios, len(values), strays or (0.0,) * len(values))


def test_the_mean_is_weighed_by_the_noise() -> None:
    # 1 and 3e-5 of noise are weighed 9 to 1; a deviation that noise explains is none
    up = np.asarray(VALUE + 2e-5 * np.exp(1j * HZ))
    found = together(VALUE, up, noise=(1e-5, 3e-5))
    assert found.problems == ()
    assert found.ratio.sigma == pytest.approx(np.full(HZ.size, 1e-5 / np.sqrt(1.0 + 1.0 / 9.0)))
    assert found.ratio.power == pytest.approx(np.full(HZ.size, 1.5))
    assert np.abs(found.ratio.value - (0.9 * VALUE + 0.1 * up)).max() < 1e-6


@pytest.mark.parametrize(
    ("gain", "rest", "told"), [(1.012, 0.0, True), (0.988, 0.0, True), (1.008, 0.0, False), (1.012, 0.01, False)]
)  # fmt: skip
def test_a_gain_that_explains_the_deviation_and_is_more_than_a_hundredth(
    gain: float, rest: float, told: bool
) -> None:
    # what is left beside the gain is less than a fifth of the deviation's power, or it is something else
    other = np.asarray(gain * VALUE + rest * np.exp(20j * np.log(HZ)))
    found = together(VALUE, other)
    changed = [problem for problem in found.problems if problem.problem == "dropout"]
    assert bool(changed) == told
    if told:
        low, high = (1, 2) if gain > 1.0 else (2, 1)
        share = 100.0 * abs(gain - 1.0) / (0.5 * (gain + 1.0))
        assert changed[0].detail == (
            f"Between sweep {low} (at {10.0 * (low - 1):.1f} s) and sweep {high} (at {10.0 * (high - 1):.1f} s) the "
            f"level of channel 2 against channel 1 changed by {share:.1f} %: a clip or plug sits loosely."
        )
        assert changed[0].spoils


def test_a_small_change_of_gain_is_taken_off() -> None:
    found = together(VALUE, np.asarray(1.006 * VALUE))
    assert found.problems == ()
    assert found.ratio.value == pytest.approx(1.003 * VALUE, rel=1e-9)


def bump(height: float) -> Complexes:
    """A deviation over the third of an octave from 80 Hz on."""
    inside = (HZ >= 80.0 * 0.999) & (HZ < 80.0 * 2.0 ** (1.0 / 3.0) * 0.999)
    return np.asarray(height * inside * np.exp(7j * HZ))


@pytest.mark.parametrize(("height", "left"), [(0.0067, True), (0.0063, False)])
def test_a_stretch_that_contradicts_the_others_is_left_out(height: float, left: bool) -> None:
    # of three the middle is that of the two others, and noisy too: 4 x 1e-3 x sqrt(2 (1 + 1/3)) are 0.00653
    found = together(VALUE, np.asarray(VALUE + bump(height)), VALUE, noise=(1e-3,) * 3)
    assert bool(found.problems) == left
    inside = np.abs(bump(1.0)) > 0.0
    if left:
        (problem,) = found.problems
        assert (problem.problem, problem.spoils) == ("noisy", False)
        low, high = HZ[inside][0], HZ[inside][-1]
        assert problem.detail == (
            "At about 10.0 s, in sweep 2 of 3, a sound that is not the sweep's, such as a knock, a door or hum, falls "
            f"on {low:.0f} to {high:.0f} Hz, where the other sweeps agree. This stretch was left out."
        )
        assert found.ratio.value == pytest.approx(VALUE, rel=1e-12)
        assert found.ratio.sigma[inside] == pytest.approx(np.full(12, 1e-3 / np.sqrt(2.0)))
    assert found.ratio.sigma[~inside] == pytest.approx(np.full(HZ.size - 12, 1e-3 / np.sqrt(3.0)))


def test_of_two_the_one_with_more_foreign_sound_gives_way() -> None:
    for strays, number in (((0.0, 0.01), 2), ((0.01, 0.0), 1)):
        found = together(VALUE, np.asarray(VALUE + bump(0.05)), strays=strays)
        (problem,) = found.problems
        assert f"in sweep {number} of 2," in problem.detail


def test_a_deviation_of_less_than_a_thousandth_is_left_to_the_noise() -> None:
    for height, left in ((4e-4, False), (8e-4, True)):  # of 0.5, seen from the other two
        found = together(VALUE, np.asarray(VALUE + bump(height)), VALUE, noise=(1e-6,) * 3)
        assert bool(found.problems) == left


def test_sweeps_are_cut_out_with_half_their_pause() -> None:
    # three sweeps of 1 s with pauses of 0.4 s after a lead of 0.5 s, at 1 kHz
    sweep = Sweep(5.0, 400.0, 1.0, begins_s=0.5, repeats=3, pause_s=0.4)
    frames = 500 + 3 * 1000 + 2 * 400 + 300
    whole = Recording(np.arange(2.0 * frames).reshape(frames, 2), 1000.0, origin=Origin(sweep=sweep))
    parts = parts_of(whole)
    length = parts[0].recording.channels.shape[0]
    assert [part.number for part in parts] == [1, 2, 3]
    begins = [part.begins_s for part in parts]
    assert np.diff(begins) == pytest.approx([begins[1] - begins[0]] * 2)
    assert begins[0] == 0.5
    for part in parts:
        assert part.recording.channels[0, 0] == 2.0 * (1000.0 * part.begins_s - 200.0)
        assert part.offset_s == pytest.approx(part.begins_s - 0.2)
        assert part.recording.channels.shape[0] == length
        once = part.recording.origin.sweep
        assert once is not None
        assert (once.begins_s, once.repeats, once.pause_s) == (0.2, 1, 0.0)
    # a file that ends before the last sweep does, by more than its last 5 ms
    end = round(1000.0 * begins[2]) + length - 400
    for missing, count in ((3, 3), (20, 2)):
        cut = Recording(whole.channels[: end - missing], 1000.0, origin=Origin(sweep=sweep))
        assert len(parts_of(cut)) == count


def test_what_is_said_of_a_sweep_that_is_left_out() -> None:
    part = Part(2, 10.0, Recording(np.zeros((10, 2)), 8000.0), 9.5)
    told = left_out(part, Problem("clipped", "The tops are cut off.", "R."), 3)
    assert told == Problem(
        "clipped", "In sweep 2 of 3, which begins at 10.0 s: The tops are cut off. This sweep was left out.",
        "The result stands by the other sweeps; record again where their noise is too much.", spoils=False,
    )  # fmt: skip
