"""The synchronised exponential sweep [Novak2015]."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.records.recording import Sweep


def sweep_rate(sweep: Sweep) -> float:
    """Return L of x(t) = sin(2 pi f1 L exp(t/L)), s, rounded so that f1 L is a whole number [Novak2015]."""
    octaves_e = np.log(sweep.stop_hz / sweep.start_hz)
    return max(1.0, float(np.round(sweep.seconds * sweep.start_hz / octaves_e))) / sweep.start_hz


def sweep_seconds(sweep: Sweep) -> float:
    """Return the sweep's real length, s: L ln(f2/f1)."""
    return sweep_rate(sweep) * float(np.log(sweep.stop_hz / sweep.start_hz))


def played_seconds(sweep: Sweep) -> float:
    """Return the time from the first sweep's begin to the last one's end, s."""
    return sweep.repeats * sweep_seconds(sweep) + (sweep.repeats - 1) * sweep.pause_s


def sweep_starts(sweep: Sweep, rate_hz: float) -> list[int]:
    """Return the sample at which each repeat begins in a recording."""
    period = int(sweep_seconds(sweep) * rate_hz) + round(sweep.pause_s * rate_hz)
    first = round(sweep.begins_s * rate_hz)
    return [first + index * period for index in range(sweep.repeats)]


def sweep_samples(sweep: Sweep, rate_hz: float) -> NDArray[np.float64]:
    """Return the samples of one sweep, shape (frames,), amplitude 1, without the silence around it.

    rate_hz: samples per second, > 2 f2
    """
    if sweep.stop_hz * 2.0 > rate_hz:
        raise ValueError(
            f"a sweep up to {sweep.stop_hz} Hz needs more than {2 * sweep.stop_hz} samples per second"
        )
    rate = sweep_rate(sweep)
    frames = int(sweep_seconds(sweep) * rate_hz)
    samples = np.arange(frames, dtype=np.float64)
    samples /= rate_hz * rate
    np.exp(samples, out=samples)  # in place: a long sweep is large
    samples *= 2.0 * np.pi * sweep.start_hz * rate
    np.sin(samples, out=samples)
    fade = min(int(sweep.fade_s * rate_hz), frames // 2)
    if fade > 0:
        ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / fade)
        samples[:fade] *= ramp
        samples[frames - fade :] *= ramp[::-1]
    return samples
