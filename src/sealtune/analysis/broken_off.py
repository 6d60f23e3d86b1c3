"""Where nobody recorded any more though the file goes on: exact zeros in both channels while the sweep ran."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sealtune.records.recording import Recording
from sealtune.signals.runs import runs
from sealtune.signals.sweep import sweep_seconds, sweep_starts

Reals = NDArray[np.float64]

SILENT_S = 0.01
"""A stretch of exact zeros in both channels that is longer than a slow wave needs to pass zero in the steps of 16 bit
at -60 dB of full scale."""


def first_silence(channels: Reals, spans: Sequence[tuple[int, int]], rate_hz: float) -> int | None:
    """Return where exact zeros in both channels begin that last longer than SILENT_S, None if nowhere.

    spans: frames where a sweep sounds
    Channels without a single sample that is not zero are quiet, not broken off; zeros at the very begin of a span are
    a sweep that begins later than it is said to.
    """
    least = max(2, round(SILENT_S * rate_hz))
    for first, last in spans:
        still = np.all(channels[max(first, 0) : last] == 0.0, axis=1)
        if still.all():
            continue
        starts, stops = runs(still)
        long = np.flatnonzero((stops - starts >= least) & (starts > 0))
        if long.size:
            return max(first, 0) + int(starts[long[0]])
    return None


def broken_off_s(recording: Recording) -> float | None:
    """Return when both channels turn to exact zeros while a sweep of the metadata runs, s, None if never."""
    sweep, rate_hz = recording.origin.sweep, recording.rate_hz
    if sweep is None:
        return None
    fade, length = round(sweep.fade_s * rate_hz), int(sweep_seconds(sweep) * rate_hz)
    spans = [(start + fade, start + length - fade) for start in sweep_starts(sweep, rate_hz)]
    frame = first_silence(recording.channels, spans, rate_hz)
    return None if frame is None else frame / rate_hz
