"""Several sweeps in one recording: each on its own, and all of them together, without what contradicts the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sealtune.records.recording import Recording, Sweep
from sealtune.records.verdict import Problem
from sealtune.signals.sweep import sweep_rate, sweep_seconds, sweep_starts
from sealtune.signals.transfer_function import Ratio

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

LONGEST_LEAD_S = 0.5
"""Silence before a sweep that belongs to its part, if the pause has so much to give."""

SLACK_S = 0.005
"""A sweep whose last few milliseconds are missing is whole: its fade is over."""

CONTRADICTS = 4.0
"""Root mean square of a stretch's deviation over its noise; of 20 points of mere noise none comes to 2."""

MATTERS = 1e-3
"""A deviation of less than this share of the ratio is left to the noise that is told."""

STRETCHES_PER_OCTAVE = 3

STANDS = "The result stands by the other sweeps; record again where their noise is too much."

GAIN_CHANGE = 0.01
"""Gain of one channel against the other that differs by more from one sweep to the next."""

OF_ONE_PIECE = 0.2
"""A change of gain explains the deviation but for this share of its power."""


@dataclass(frozen=True)
class Part:
    """One of the sweeps of a recording.

    number: counted from 1
    begins_s: when its sweep begins in the file, s
    recording: its samples, with a metadata sweep that is played once
    offset_s: where its samples begin in the file, s
    """

    number: int
    begins_s: float
    recording: Recording
    offset_s: float


@dataclass(frozen=True)
class Combined:
    """The ratio of all parts together, and what is to be said of it."""

    ratio: Ratio
    problems: tuple[Problem, ...]


def parts_of(recording: Recording) -> list[Part]:
    """Return the sweeps of a recording that are whole, the recording itself where it holds but one or none."""
    sweep = recording.origin.sweep
    if sweep is None or sweep.repeats == 1:
        return [Part(1, 0.0 if sweep is None else sweep.begins_s, recording, 0.0)]
    rate, frames = recording.rate_hz, recording.channels.shape[0]
    starts = sweep_starts(sweep, rate)
    length = int(sweep_seconds(sweep) * rate)
    lead = round(min(sweep.begins_s, sweep.pause_s / 2.0, LONGEST_LEAD_S) * rate)
    behind = max(0, min(starts[1] - starts[0] - length - lead, frames - starts[-1] - length))
    parts = []
    for index, start in enumerate(starts):
        if start + length - round(SLACK_S * rate) > frames:
            break
        first, last = start - lead, min(start + length + behind, frames)
        once = replace(sweep, begins_s=lead / rate, repeats=1, pause_s=0.0)
        part = replace(
            recording,
            channels=recording.channels[first:last],
            origin=replace(recording.origin, sweep=once),
            expected_frames=None,
        )
        parts.append(Part(index + 1, start / rate, part, first / rate))
    return parts


def left_out(part: Part, problem: Problem, total: int) -> Problem:
    """Return the problem of one sweep of several, which does not spoil the others."""
    detail = f"In sweep {part.number} of {total}, which begins at {part.begins_s:.1f} s: {problem.detail}"
    return replace(problem, detail=f"{detail} This sweep was left out.", remedy=STANDS, spoils=False)


def combine(parts: Sequence[Part], ratios: Sequence[Ratio], total: int, strays: Sequence[float]) -> Combined:
    """Return the mean of the sweeps' ratios, each weighted by its own noise, without what contradicts the rest.

    parts, ratios: of the sweeps that are used; the ratios share their frequencies
    total: how many sweeps the recording has
    strays: of each sweep, how much of it is foreign sound; of two sweeps the one with more gives way
    """
    hz = ratios[0].frequency_hz
    value = np.stack([ratio.value for ratio in ratios])
    sigma = np.stack([ratio.sigma for ratio in ratios])
    gains, one_piece = _gains(value, sigma)
    spread = float(gains.max() - gains.min())
    if spread > GAIN_CHANGE and one_piece:
        low, high = parts[int(np.argmin(gains))], parts[int(np.argmax(gains))]
        changed = Problem(
            "dropout",
            f"Between sweep {low.number} (at {low.begins_s:.1f} s) and sweep {high.number} (at {high.begins_s:.1f} s) "
            f"the level of channel 2 against channel 1 changed by {100 * spread:.1f} %: a clip or plug sits loosely.",
            "Clean and tighten the clips and plugs, switch automatic gain off, and record again.",
        )
        return Combined(_mean(ratios, value, np.ones(value.shape, dtype=np.bool_)), (changed,))
    if one_piece:  # less than that is what is unknown of the gain in any case
        value = value / (1.0 + gains[:, None])
    used, stretches = _agreeing(hz, value, sigma, np.asarray(strays, dtype=np.float64))
    sweep = parts[0].recording.origin.sweep
    problems = tuple(
        _foreign(parts[index], sweep, total, low_hz, high_hz) for index, low_hz, high_hz in stretches
    )
    return Combined(_mean(ratios, value, used), problems)


def _foreign(part: Part, sweep: Sweep | None, total: int, low_hz: float, high_hz: float) -> Problem:
    at_s = part.begins_s
    if sweep is not None:
        at_s += sweep_rate(sweep) * float(np.log(max(low_hz / sweep.start_hz, 1.0)))
    return Problem(
        "noisy",
        f"At about {at_s:.1f} s, in sweep {part.number} of {total}, a sound that is not the sweep's, such as a knock, "
        f"a door or hum, falls on {low_hz:.0f} to {high_hz:.0f} Hz, where the other sweeps agree. This stretch was "
        "left out.",
        STANDS,
        spoils=False,
    )


def _mean(ratios: Sequence[Ratio], value: Complexes, used: NDArray[np.bool_]) -> Ratio:
    """Return the mean of the values where they are used, weighted by the noise of their ratios."""
    sigma = np.stack([ratio.sigma for ratio in ratios])
    weight = np.where(used, 1.0 / np.maximum(sigma, 1e-300) ** 2, 0.0)
    total = weight.sum(axis=0)
    mean = np.asarray(np.sum(weight * value, axis=0) / total, dtype=np.complex128)
    power = np.asarray(np.mean(np.stack([ratio.power for ratio in ratios]), axis=0))
    return Ratio(ratios[0].frequency_hz, mean, 1.0 / np.sqrt(total), power, ratios[0].played)


def _middle(value: Complexes) -> Complexes:
    """Return the median over the sweeps of either part; of two their mean."""
    return np.asarray(np.median(value.real, axis=0) + 1j * np.median(value.imag, axis=0))


def _gains(value: Complexes, sigma: Reals) -> tuple[Reals, bool]:
    """Return each sweep's gain against the median of all, less 1, and whether it explains the deviations."""
    middle = _middle(value)
    weight = 1.0 / np.mean(sigma**2, axis=0)
    size = np.sum(weight * np.abs(middle) ** 2)
    gains = np.real(np.sum(weight * value * np.conj(middle), axis=1)) / size - 1.0
    away = np.sum(weight * np.abs(value - middle) ** 2)
    rest = np.sum(weight * np.abs(value - (1.0 + gains[:, None]) * middle) ** 2)
    return np.asarray(gains), bool(rest < OF_ONE_PIECE * away)


def _agreeing(
    hz: Reals, value: Complexes, sigma: Reals, strays: Reals
) -> tuple[NDArray[np.bool_], list[tuple[int, float, float]]]:
    """Return which sweeps are used at each frequency, and (index, lowest, highest frequency) of what is not.

    A third of an octave of one sweep is left out where it deviates from the others by more than its noise; the
    worst one first, until the rest agrees. Of two sweeps the one with more foreign sound gives way.
    """
    used = np.ones(value.shape, dtype=np.bool_)
    stretch = np.floor(STRETCHES_PER_OCTAVE * np.log2(hz / hz[0])).astype(np.int64)
    found: list[tuple[int, float, float]] = []
    for number in np.unique(stretch):
        here = stretch == number
        inside = list(range(len(value)))
        while len(inside) > 1:
            part, noise = value[inside][:, here], sigma[inside][:, here]
            middle = _middle(part)
            allowed = np.maximum(noise**2 + np.median(noise, axis=0) ** 2 / len(inside), 1e-300)
            deviation = np.sqrt(np.mean(0.5 * np.abs(part - middle) ** 2 / allowed, axis=1))
            size = np.sqrt(np.mean(np.abs(part - middle) ** 2, axis=1) / np.mean(np.abs(middle) ** 2))
            worst = int(np.argmax(deviation)) if len(inside) > 2 else int(np.argmax(strays[inside]))
            if deviation[worst] < CONTRADICTS or size[worst] < MATTERS:
                break
            index = inside.pop(worst)
            used[index, here] = False
            found.append((index, float(hz[here][0]), float(hz[here][-1])))
    return used, _joined(found)


def _joined(stretches: list[tuple[int, float, float]]) -> list[tuple[int, float, float]]:
    """Return one entry for each sweep that loses stretches, from its lowest to its highest frequency."""
    joined = []
    for index in sorted({index for index, _, _ in stretches}):
        own = [entry for entry in stretches if entry[0] == index]
        joined.append((index, min(entry[1] for entry in own), max(entry[2] for entry in own)))
    return joined
