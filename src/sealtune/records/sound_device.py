"""A sound device that plays and records at the same time: what the program needs of it, whatever stands behind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]

StreamFlag = Literal["input_underflow", "input_overflow", "output_underflow", "output_overflow"]
"""What the device says of a block: samples were missing, lost, played late, or thrown away."""

Player = Callable[[int], Reals | None]
"""Asked for so many frames, returns those to play, shape (frames,), full scale 1.0, or None when it is done."""

Hearer = Callable[[Reals, frozenset[StreamFlag]], None]
"""Given each block that came in, shape (frames, 2), full scale 1.0, with the device's flags; never loses one."""


@dataclass(frozen=True)
class DeviceInfo:
    """A sound device as it introduces itself.

    name: unique on this machine; any command's --device takes it, or a part that fits no other device
    number: in the list of devices; None for the virtual one
    host: the interface of the operating system it is reached by
    inputs, outputs: channels it has
    rate_hz: its own sample rate
    rates_hz: the usual rates at which it can play and record at once
    """

    name: str
    number: int | None
    host: str
    inputs: int
    outputs: int
    rate_hz: float
    rates_hz: tuple[float, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether it can do the job: two inputs and an output at the same time."""
        return self.inputs >= 2 and self.outputs >= 1


class SoundDevice(Protocol):
    """Plays and records at once."""

    @property
    def info(self) -> DeviceInfo:
        """Return what it is."""
        ...

    def exchange(self, rate_hz: float, play: Player, hear: Hearer) -> None:
        """Play what `play` gives on every output, hand what comes in to `hear`, until `play` returns None.

        rate_hz: samples per second of both directions
        play: called from a thread of the device; quick, no input or output
        hear: called in the thread of the caller, in order, so that it may write to disk and draw; what it raises,
            KeyboardInterrupt too, stops the device and comes out here
        Frames are delivered from the stream's start; silence that `play` sends out first lets the device settle. As
        many come in as were played, late by the device's own delay, which the caller finds in the signal.
        Raises DeviceFault where the device cannot be opened, stalls or vanishes; what came before has been heard.
        """
        ...
