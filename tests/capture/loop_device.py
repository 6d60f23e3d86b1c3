"""A sound device for tests: what it plays comes in again, late, after blocks that are empty and flagged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sealtune.errors import DeviceFault
from sealtune.records.sound_device import DeviceInfo, Hearer, Player, StreamFlag

Reals = NDArray[np.float64]


@dataclass
class LoopDevice:
    """Channel 1 hears what is played, channel 2 half of it.

    delay: frames that it comes in later
    block: frames of one block
    time_s: of the clock, which the blocks move on
    spoil: changes a block that came in, given the frame it begins at and the block
    flags: of the block that begins at a frame
    dies_after: frames after which it vanishes
    """

    delay: int = 700
    block: int = 256
    time_s: float = 0.0
    spoil: Callable[[int, Reals], Reals] | None = None
    flags: Callable[[int], frozenset[StreamFlag]] | None = None
    dies_after: int | None = None
    played: list[Reals] = field(default_factory=list)

    @property
    def info(self) -> DeviceInfo:
        return DeviceInfo("loop", None, "test", 2, 2, 48000.0, (48000.0,))

    def now_s(self) -> float:
        return self.time_s

    def exchange(self, rate_hz: float, play: Player, hear: Hearer) -> None:
        line = np.zeros(self.delay)
        frame = 0
        while (out := play(self.block)) is not None:
            if self.dies_after is not None and frame >= self.dies_after:
                raise DeviceFault("loop", "samples", "none any more", "Plug it in again.")
            self.played.append(out)
            line = np.concatenate([line, out])
            came, line = line[: self.block], line[self.block :]
            block = np.column_stack([came, 0.5 * came])
            if self.spoil is not None:
                block = self.spoil(frame, block)
            self.time_s += self.block / rate_hz
            hear(block, self.flags(frame) if self.flags is not None else frozenset())
            frame += self.block
