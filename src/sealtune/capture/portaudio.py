"""A sound device through PortAudio."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, get_args

import numpy as np
from numpy.typing import NDArray

from sealtune.capture.device_list import Listed, rates_of
from sealtune.capture.sound_library import load_library, opening_fault, within
from sealtune.errors import DeviceFault
from sealtune.records.sound_device import DeviceInfo, Hearer, Player, StreamFlag

Reals = NDArray[np.float64]

FLAGS: tuple[StreamFlag, ...] = get_args(StreamFlag)

OPEN_S = 10.0
STALL_S = 1.5
"""No block for so long means that none will come: blocks are tenths of a second at most."""

CLOSE_S, CLOSE_FAILED_S = 3.0, 0.5
"""A stream that works is closed in milliseconds, some more on a busy machine; one that failed may never be."""

POLL_S = 0.1


@dataclass(frozen=True)
class PortAudioDevice:
    """Plays and records over one stream of PortAudio; see records.sound_device.SoundDevice.

    listed: which device
    clock: the time, s, from any moment on
    """

    listed: Listed
    clock: Callable[[], float] = time.monotonic

    @property
    def info(self) -> DeviceInfo:
        """Return what it is."""
        return self.listed.info

    def exchange(self, rate_hz: float, play: Player, hear: Hearer) -> None:
        """Play and record until `play` returns None; see SoundDevice.exchange.

        Raises DeviceFault where the stream cannot be opened, where no block comes for STALL_S, and where the stream
        ends by itself.
        """
        came: queue.SimpleQueue[_Block | BaseException | None] = queue.SimpleQueue()
        library = load_library()
        stream = self._open(library, rate_hz, _callback(library, play, came))
        try:
            within(OPEN_S, self.info.name, stream.start)
            self._listen(stream, came, hear)
        except DeviceFault:
            _close(stream, CLOSE_FAILED_S)
            raise
        except BaseException:
            _close(stream, CLOSE_S)
            raise
        _close(stream, CLOSE_S)

    def _open(self, library: Any, rate_hz: float, callback: Callable[..., None]) -> Any:
        def opened() -> Any:
            return library.Stream(
                samplerate=rate_hz,
                device=(self.listed.input_number, self.listed.output_number),
                channels=(2, min(self.info.outputs, 2)),
                dtype="float32",
                latency="high",
                callback=callback,
            )

        try:
            return within(OPEN_S, self.info.name, opened)
        except DeviceFault:
            raise
        except Exception as error:
            raise opening_fault(error, self.info.name, rate_hz, rates_of(self.listed)) from error

    def _listen(
        self, stream: Any, came: queue.SimpleQueue[_Block | BaseException | None], hear: Hearer
    ) -> None:
        """Hand on what comes until the end of it."""
        last_s = self.clock()
        while True:
            try:
                item = came.get(timeout=POLL_S)
            except queue.Empty:
                silent_s = self.clock() - last_s
                if silent_s > STALL_S or not within(STALL_S, self.info.name, lambda: stream.active):
                    raise DeviceFault(
                        self.info.name, "samples without a break", "none any more: the device vanished or stands still",
                        "Plug it in again or restart the sound server, and see `sealtune devices`.",
                    ) from None  # fmt: skip
                continue
            if item is None:
                return
            if isinstance(item, BaseException):
                raise item
            hear(item.samples, item.flags)
            last_s = self.clock()


@dataclass(frozen=True)
class _Block:
    samples: Reals
    flags: frozenset[StreamFlag]


def _callback(
    library: Any, play: Player, came: queue.SimpleQueue[_Block | BaseException | None]
) -> Callable[..., None]:
    """Return what PortAudio calls for each block, from a thread of its own."""

    def exchange_block(indata: Any, outdata: Any, frames: int, _when: Any, status: Any) -> None:
        try:
            out = play(frames)
        except BaseException as error:  # anything that escapes from here would be printed and lost
            outdata.fill(0.0)
            came.put(error)
            raise library.CallbackAbort from None
        if out is None:
            outdata.fill(0.0)
            came.put(None)
            raise library.CallbackStop
        outdata[:] = out[:, np.newaxis]
        flags = frozenset(flag for flag in FLAGS if getattr(status, flag)) if status else frozenset()
        came.put(_Block(indata.astype(np.float64), flags))

    return exchange_block


def _close(stream: Any, seconds: float) -> None:
    """Close the stream, in a thread that is left alone if that takes longer."""

    def close() -> None:
        stream.abort(ignore_errors=True)
        stream.close(ignore_errors=True)

    with suppress(DeviceFault):  # the reason is told already, or there is none to tell: the take is complete
        within(seconds, "the stream", close)
