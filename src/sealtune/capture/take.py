"""One take: let the device settle, play a sweep with silence around it, and keep all that comes in meanwhile."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.broken_off import first_silence
from sealtune.capture.heard_delay import heard_delay_s
from sealtune.errors import DeviceFault
from sealtune.records.recording import Sweep
from sealtune.records.sound_device import SoundDevice, StreamFlag
from sealtune.signals.sweep import sweep_samples, sweep_seconds, sweep_starts

Reals = NDArray[np.float64]

Keeper = Callable[[Reals], None]
"""Given the samples of the take as they come, shape (frames, 2); may write them to disk."""

Watcher = Callable[[float, float], None]
"""Told how many seconds of the take are in, and how many it has."""

CLEAN_S = 1.0 / 3.0
"""So much has to come in without a flag before the take begins: the first blocks of some devices are empty."""

SETTLE_S = 0.2
"""Time by the clock that silence is played at least: the device plans its work anew when a stream starts, and loses
or doubles a block meanwhile (tried: none of 507 takes afterwards)."""

PATIENCE_S = 5.0
"""After so long the take begins though flags still come; they are told with it."""

AFTER_S = 1.5
"""Silence after the sweep: a box has died away within a second, the rest leaves room for the device's own delay."""


@dataclass(frozen=True)
class Flagged:
    """A flag of the device: what it said, how far into the take, s, and whether a sweep was running."""

    flag: StreamFlag
    at_s: float
    in_sweep: bool


@dataclass(frozen=True)
class Taken:
    """What came in.

    channels: shape (frames, 2), full scale 1.0, from the silence before the sweep to the silence after it
    rate_hz: samples per second
    sweep: what was played; its begins_s counts in the device's delay, so that it is right for these channels
    level_dbfs: peak of the sweep as it was played, dB of full scale
    delay_s: how much later than it was played the sweep came in, None where it cannot be heard
    flags: what the device said meanwhile
    silent_from_s: where both channels turned to exact zeros while a sweep ran, None if nowhere: samples were lost
    """

    channels: Reals
    rate_hz: float
    sweep: Sweep
    level_dbfs: float
    delay_s: float | None
    flags: tuple[Flagged, ...]
    silent_from_s: float | None

    @property
    def seconds(self) -> float:
        """Return how long it is."""
        return float(self.channels.shape[0] / self.rate_hz)

    @property
    def frames_of_sweep(self) -> int:
        """Return how many samples one of its sweeps has."""
        return int(sweep_seconds(self.sweep) * self.rate_hz)


def take(
    device: SoundDevice,
    sweep: Sweep,
    rate_hz: float,
    level_dbfs: float,
    *,
    keep: Keeper | None = None,
    watch: Watcher | None = None,
    after_s: float = AFTER_S,
    clock: Callable[[], float] = time.monotonic,
) -> Taken:
    """Play a sweep and return what comes in.

    device: where it is played
    sweep: what is played; its begins_s is the silence before it, which shows noise and hum
    rate_hz: samples per second, above twice the sweep's highest frequency
    level_dbfs: peak of the sweep, dB of full scale, at most 0
    keep: given all samples of the take while they come, none twice and none left out
    watch: told of the progress
    after_s: silence after the sweep, s
    clock: the time, s, from any moment on
    What `keep` and `watch` raise, KeyboardInterrupt too, ends the take and comes out here.
    Raises DeviceFault where the device cannot do it, stalls or vanishes.
    """
    played = _Played(sweep, rate_hz, level_dbfs, after_s)
    heard = _Heard(played, rate_hz, keep, watch, clock)
    device.exchange(rate_hz, played.next, heard.block)
    channels = heard.channels()
    if channels.shape[0] < played.total:
        raise DeviceFault(
            device.info.name,
            f"{played.total / rate_hz:.1f} s of samples",
            f"{channels.shape[0] / rate_hz:.1f} s of them",
            "Close other programs that use the device, and try again.",
        )
    delay_s = heard_delay_s(channels, played.tone, played.starts[0], played.room, rate_hz, sweep)
    begins_s = played.starts[0] / rate_hz + (delay_s or 0.0)
    late = round((delay_s or 0.0) * rate_hz)
    spans = [(start + late, start + late + played.tone.size) for start in played.starts]
    flags = tuple(
        Flagged(flag, at / rate_hz, any(first <= at + size and at < last for first, last in spans))
        for at, size, flag in heard.flags
    )
    fade = round(sweep.fade_s * rate_hz)
    silent = first_silence(channels, [(first + fade, last - fade) for first, last in spans], rate_hz)
    return Taken(
        channels, rate_hz, replace(sweep, begins_s=begins_s), level_dbfs, delay_s, flags,
        None if silent is None else silent / rate_hz,
    )  # fmt: skip


class _Played:
    """What goes out: silence for as long as the device settles, then the take, then nothing more."""

    def __init__(self, sweep: Sweep, rate_hz: float, level_dbfs: float, after_s: float) -> None:
        self.tone = 10.0 ** (min(level_dbfs, 0.0) / 20.0) * sweep_samples(sweep, rate_hz)
        self.starts = sweep_starts(sweep, rate_hz)
        self.room = round(after_s * rate_hz)
        self.total = self.starts[-1] + self.tone.size + self.room
        self.settled = False  # set in the thread of the caller
        self.began_at: int | None = None  # frames of silence that went out before the take
        self._out = 0

    def next(self, frames: int) -> Reals | None:
        """Return the next frames; called in a thread of the device."""
        if self.began_at is None and self.settled:
            self.began_at = self._out
        first = self._out
        self._out += frames
        block = np.zeros(frames)
        if self.began_at is None:
            return block
        first -= self.began_at
        if first >= self.total:
            return None
        for start in self.starts:
            low, high = max(first, start), min(first + frames, start + self.tone.size)
            if low < high:
                block[low - first : high - first] = self.tone[low - start : high - start]
        return block


class _Heard:
    """What comes in: judged until it is clean, then kept."""

    def __init__(
        self,
        played: _Played,
        rate_hz: float,
        keep: Keeper | None,
        watch: Watcher | None,
        clock: Callable[[], float],
    ) -> None:
        self.flags: list[tuple[int, int, StreamFlag]] = []  # frame of the take, frames of the block, flag
        self._played, self._rate_hz = played, rate_hz
        self._keep, self._watch, self._clock = keep, watch, clock
        self._blocks: list[Reals] = []
        self._in = 0
        self._clean = 0
        self._since: float | None = None

    def block(self, samples: Reals, flags: frozenset[StreamFlag]) -> None:
        """Take one block; called in the thread of the caller."""
        frames = samples.shape[0]
        first = self._in
        self._in += frames
        if self._since is None:
            self._since = self._clock()
        if not self._played.settled:
            self._settle(frames, flags)
        began_at = self._played.began_at
        if began_at is None or first + frames <= began_at:
            return
        first -= began_at
        part = samples[max(0, -first) : self._played.total - first]
        if part.shape[0] == 0:
            return
        for flag in sorted(flags):
            self.flags.append((max(first, 0), part.shape[0], flag))
        self._blocks.append(part)
        if self._keep is not None:
            self._keep(part)
        if self._watch is not None:
            done = max(first, 0) + part.shape[0]
            self._watch(done / self._rate_hz, self._played.total / self._rate_hz)

    def channels(self) -> Reals:
        """Return all that was kept, shape (frames, 2)."""
        return np.concatenate(self._blocks) if self._blocks else np.zeros((0, 2))

    def _settle(self, frames: int, flags: frozenset[StreamFlag]) -> None:
        assert self._since is not None
        self._clean = 0 if flags else self._clean + frames
        waited_s = self._clock() - self._since
        clean = self._clean >= CLEAN_S * self._rate_hz and waited_s >= SETTLE_S
        if clean or waited_s >= PATIENCE_S:
            self._played.settled = True
