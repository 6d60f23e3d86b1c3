"""When in a take each frequency was played."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.records.recording import Sweep
from sealtune.signals.sweep import sweep_rate
from sealtune.signals.transfer_function import Played

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

CELLS_PER_OCTAVE = 6
AT_ONE_TIME = 0.9
"""Of 1, how far the moments at which the frequencies of a cell were played are one moment. A sweep of 7 octaves passes
a sixth of one in a fortieth of its time, which makes 0.997; noise makes 0.2 and less."""


def played_by_sweep(frequency_hz: Reals, sweep: Sweep, sample_s: float) -> Played:
    """Return when an exponential sweep passes each frequency."""
    passed = np.log(frequency_hz / sweep.start_hz) / np.log(sweep.stop_hz / sweep.start_hz)
    return Played(np.asarray(passed - 0.5), sweep_rate(sweep), sample_s)


def played_by_phase(frequency_hz: Reals, spectrum: Complexes, at_hz: Reals, sample_s: float) -> Played | None:
    """Return when each frequency sounds, where what sounds is a sweep of any kind.

    frequency_hz: shape (n,), evenly spaced bins of the transform of the whole take
    spectrum: shape (n,)
    at_hz: shape (m,), rising, where it is asked for
    returns: None where the frequencies sound not one after the other, as those of noise and of multitones do
    From one bin to the next the phase of what sounds at the moment t turns by -2 pi t over the take.
    """
    turn = spectrum[:-1] * np.conj(spectrum[1:])
    inside = (frequency_hz[:-1] >= at_hz[0]) & (frequency_hz[1:] <= at_hz[-1])
    turn, hz = turn[inside], frequency_hz[:-1][inside]
    if hz.size < 2:
        return None
    cell = np.floor(CELLS_PER_OCTAVE * np.log2(hz / hz[0])).astype(np.int64)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(cell)) + 1])
    total = np.add.reduceat(turn, starts)
    size = np.add.reduceat(np.abs(turn), starts)
    if starts.size < 2 or np.any(np.abs(total) < AT_ONE_TIME * size):
        return None
    position = np.add.reduceat(np.abs(turn) * np.log(hz), starts) / size
    take_s = 1.0 / float(frequency_hz[1] - frequency_hz[0])
    moment_s = np.unwrap(np.angle(total)) * (take_s / (2.0 * np.pi))
    rate_s = float(np.polyfit(position, moment_s, 1)[0])
    heard_s = np.interp(np.log(at_hz), position, moment_s)
    length_s = float(np.ptp(heard_s))
    if rate_s <= 0.0 or length_s <= 0.0:
        return None
    middle_s = 0.5 * float(heard_s.max() + heard_s.min())
    return Played(np.asarray((heard_s - middle_s) / length_s), rate_s, sample_s)
