"""What the simulated box must have made of a sweep, computed in one piece, and how far a recording is from it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.signal import fftconvolve
from tests.live.box_simulator import LATE, bench_taps

from sealtune.records.recording import Sweep
from sealtune.signals.sweep import sweep_samples, sweep_starts

Reals = NDArray[np.float64]


def error_db(channels: Reals, sweep: Sweep, level_dbfs: float, rate_hz: float) -> tuple[float, int]:
    """Return the largest error of any sample over the largest sample, dB, and by how many samples it came later.

    sweep: with the begin that the recording's metadata give
    All of the recording but some hundredths of a second at its ends counts, silence too; the delay is a whole number of
    samples near the one given.
    """
    once = replace(sweep, repeats=1)
    tone = 10.0 ** (level_dbfs / 20.0) * sweep_samples(once, rate_hz)
    start = sweep_starts(once, rate_hz)[0]
    stimulus = np.zeros(channels.shape[0])
    stimulus[start : start + tone.size] = tone[: max(0, channels.shape[0] - start)]
    expected = np.stack(
        [fftconvolve(stimulus, taps)[: stimulus.size] for taps in bench_taps(rate_hz)], axis=1
    )
    margin = 2 * LATE  # the delay that is heard holds that of the filter

    def worst(shift: int, stride: int) -> float:
        inner = expected[margin - shift : len(expected) - margin - shift : stride]
        return float(np.abs(channels[margin : len(channels) - margin : stride] - inner).max())

    best = min(range(-margin, 64), key=lambda shift: worst(shift, 97))
    return float(20.0 * np.log10(max(worst(best, 1), 1e-12) / np.abs(expected).max())), best
