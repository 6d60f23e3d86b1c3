"""A channel seen from the turns of a synchronised sweep: its harmonics, and what recurs at one moment of each turn.

The sweep x = sin(2 pi f1 L exp(t/L)) has made f1 L exp(t/L) turns at the time t [Novak2015]. A harmonic keeps to a
whole number of them. A rattling part is hit once in each turn, at one moment of it, and sounds far above; a blowing
vent is loudest twice in each; the noise of the room is the same at all moments, and a knock happens in one turn alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft

from sealtune.records.recording import Sweep
from sealtune.signals.sweep import sweep_rate, sweep_seconds

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

PHASES = 12
"""Moments of a turn that are told apart."""

ABOVE_ORDER = 8.0
"""Harmonics up to here belong to bent suspensions and weak magnets; beyond, those have died away."""

LOWEST_HZ, HIGHEST_HZ = 300.0, 6000.0
"""Where rattles and blowing are listened for."""

OVER_EDGE = 1.13
"""An edge a third of an octave wide reaches less far to either side of its middle."""

LEAST_RATE = 2.4
"""Samples a second over the highest frequency that is kept, its edge included."""

SHUFFLES = 60
FEWEST_TURNS = 6


@dataclass(frozen=True)
class Recurring:
    """What is heard far above the sweep while it passes a stretch of frequencies.

    low_hz, high_hz: what was played
    share: root mean square of what recurs in each turn over that of the channel; only what sounds between ABOVE_ORDER
        times the sweep and HIGHEST_HZ, so the least that it can be
    level: root mean square of the channel
    stands_out: how many standard deviations it lies above the same with every turn's begin shuffled
    twice: strength of the swelling twice a turn over that of once a turn
    """

    low_hz: float
    high_hz: float
    share: float
    level: float
    stands_out: float
    twice: float


def order_phasors(
    channel: Reals,
    rate_hz: float,
    sweep: Sweep,
    starts: Sequence[int],
    at_hz: Reals,
    orders: int = 5,
    turns: float = 8.0,
) -> Complexes:
    """Return H_k at frequencies of the sweep, shape (len(at_hz), orders), mean over the sweeps.

    channel: shape (frames,)
    starts: sample at which each sweep begins
    turns: how many turns around each frequency are taken together
    A sine k times as fast is a phasor of 1, a cosine one of 1j. Least squares in each stretch, amplitudes that go up
    or down evenly within it; what is not played there gives nan.
    """
    rate_s = sweep_rate(sweep)
    found = np.full((len(starts), at_hz.size, orders), np.nan, dtype=np.complex128)
    for index, start in enumerate(starts):
        for place, hz in enumerate(at_hz):
            middle_turn = rate_s * hz
            first, last = (
                float(_moment(np.asarray(middle_turn + sign * turns), sweep)) for sign in (-0.5, 0.5)
            )
            a, b = start + round(first * rate_hz), start + round(last * rate_hz)
            if not (
                first > sweep.fade_s and last < sweep_seconds(sweep) - sweep.fade_s and b <= channel.size
            ):
                continue
            turn = _turns(np.arange(a - start, b - start) / rate_hz, sweep)
            slope = (turn - middle_turn) / turns
            columns = [np.ones(turn.size)]
            for order in range(1, orders + 1):
                angle = 2.0 * np.pi * order * turn
                sine, cosine = np.sin(angle), np.cos(angle)
                columns += [sine, cosine, sine * slope, cosine * slope]
            parts, *_ = np.linalg.lstsq(np.stack(columns, axis=1), channel[a:b], rcond=None)
            found[index, place] = parts[1::4] + 1j * parts[2::4]
    return np.asarray(found.mean(axis=0))


def recurring(
    channel: Reals,
    rate_hz: float,
    sweep: Sweep,
    starts: Sequence[int],
    rng: np.random.Generator,
    *,
    lowest_hz: float = 14.0,
    highest_hz: float = 160.0,
    least_share: float = 0.0,
) -> tuple[Recurring, ...]:
    """Return what recurs in each turn, in overlapping stretches of half an octave.

    channel: shape (frames,)
    starts: sample at which each sweep begins
    rng: shuffles the turns
    lowest_hz, highest_hz: of the sweep, where it is listened
    least_share: a stretch with less than this is left out, before any turn is shuffled
    """
    top = min(HIGHEST_HZ, 0.42 * rate_hz)
    found = []
    low = max(lowest_hz, 1.1 * sweep.start_hz)
    heard: dict[float, Reals] = {}
    length = int(next_fast_len(channel.size + round(0.2 * rate_hz), real=True))
    spectrum = rfft(channel - channel.mean(), length)
    while low * np.sqrt(2.0) <= min(highest_hz, 0.9 * sweep.stop_hz):
        high = float(low * np.sqrt(2.0))
        edge = LOWEST_HZ
        while edge < ABOVE_ORDER * high:
            edge *= np.sqrt(2.0)
        if edge > 0.5 * top:
            break
        if edge not in heard:
            above = _between(spectrum, length, rate_hz, float(edge), top)
            heard[edge] = np.concatenate([[0.0], np.cumsum(above**2)])
        power_hz = rate_hz * (heard[edge].size - 1) / length
        one = _stretch(channel, rate_hz, heard[edge], power_hz, sweep, starts, (low, high), rng, least_share)
        if one is not None:
            found.append(one)
        low = float(low * 2.0**0.25)
    return tuple(found)


def _stretch(
    channel: Reals,
    rate_hz: float,
    power: Reals,
    power_hz: float,
    sweep: Sweep,
    starts: Sequence[int],
    band: tuple[float, float],
    rng: np.random.Generator,
    least_share: float,
) -> Recurring | None:
    """Return what recurs in one stretch, None where the turns are too few or too little recurs.

    power, power_hz: of what sounds above, summed up from the beginning, and how many sums there are in a second
    """
    rate_s = sweep_rate(sweep)
    turns = np.arange(np.ceil(rate_s * band[0]), np.floor(rate_s * band[1]))
    if turns.size * len(starts) < FEWEST_TURNS:
        return None
    edges = turns[:, None] + np.arange(PHASES + 1) / PHASES
    moments = _moment(edges, sweep)
    rows, played = [], 0.0
    for start in starts:
        at_s = start / rate_hz + moments
        at_s = at_s[(at_s[:, 0] >= 0.0) & (at_s[:, -1] * rate_hz < channel.size)]
        if at_s.size == 0:
            continue
        place = np.asarray(np.rint(at_s * power_hz), dtype=np.int64)
        length = np.maximum(np.diff(place, axis=1), 1)
        rows.append(np.diff(power[place], axis=1) / length)
        stretch = channel[round(at_s[0, 0] * rate_hz) : round(at_s[-1, -1] * rate_hz)]
        played += float(np.var(stretch)) / len(starts)
    if not rows or played <= 0.0:
        return None
    folded = np.concatenate(rows)
    if folded.shape[0] < FEWEST_TURNS:
        return None
    excess = _excess(folded)
    share = float(np.sqrt(max(excess[1], 0.0) / played))
    if share < least_share:
        return None
    shuffled = np.empty(SHUFFLES)
    for number in range(SHUFFLES):
        shift = np.asarray(rng.integers(PHASES, size=folded.shape[0]))
        column = (np.arange(PHASES) + shift[:, None]) % PHASES
        shuffled[number] = _excess(np.take_along_axis(folded, column, axis=1))[0]
    swell = np.abs(np.fft.rfft(np.median(folded, axis=0)))
    return Recurring(
        band[0],
        band[1],
        share,
        float(np.sqrt(played)),
        float((excess[0] - shuffled.mean()) / max(float(shuffled.std()), 1e-300)),
        float(swell[2] / max(swell[1], 1e-300)),
    )


def _excess(folded: Reals) -> Reals:
    """Return the power that some moments of a turn have over the quietest third of them, shape (2,).

    First by the middle of all turns, which a knock in one of them does not move; then by their mean, since blows
    differ and their middle would make too little of them.
    """
    profiles = np.stack([np.median(folded, axis=0), folded.mean(axis=0)])
    quiet = np.sort(profiles, axis=1)[:, : PHASES // 3].mean(axis=1)
    return np.asarray(profiles.mean(axis=1) - quiet)


def _between(spectrum: Complexes, length: int, rate_hz: float, low_hz: float, high_hz: float) -> Reals:
    """Return what a channel of that spectrum holds between two frequencies, edges a third of an octave wide.

    With only as many samples as that takes, the same stretch of time.
    """
    kept = min(int(next_fast_len(int(np.ceil(length * LEAST_RATE * high_hz / rate_hz)), real=True)), length)
    spectrum = spectrum[: kept // 2 + 1]
    hz = np.arange(spectrum.size) * rate_hz / length
    shape = np.zeros(spectrum.size)
    first, risen, falls, stop = np.searchsorted(
        hz, (low_hz / OVER_EDGE, low_hz * OVER_EDGE, high_hz / OVER_EDGE, high_hz * OVER_EDGE)
    )
    shape[first:stop] = 1.0
    for edge, octaves in (
        (slice(first, risen), np.log2(hz[first:risen]) - np.log2(low_hz)),
        (slice(falls, stop), np.log2(high_hz) - np.log2(hz[falls:stop])),
    ):
        shape[edge] *= np.sin(0.5 * np.pi * np.clip(octaves * 3.0 + 0.5, 0.0, 1.0)) ** 2
    return np.asarray(irfft(spectrum * shape, kept)) * (kept / length)


def _turns(time_s: Reals, sweep: Sweep) -> Reals:
    rate_s = sweep_rate(sweep)
    return np.asarray(sweep.start_hz * rate_s * np.exp(time_s / rate_s))


def _moment(turn: Reals, sweep: Sweep) -> Reals:
    """Return the time after the sweep's begin at which it has made so many turns, s."""
    rate_s = sweep_rate(sweep)
    return np.asarray(rate_s * np.log(np.maximum(turn, 1e-9) / (rate_s * sweep.start_hz)))
