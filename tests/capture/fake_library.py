"""A stand-in for the library sounddevice: its devices and streams as a test wants them."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np


class PortAudioError(Exception):
    pass


class CallbackStop(Exception):
    pass


class CallbackAbort(Exception):
    pass


def device(name: str, inputs: int, outputs: int, host: int = 0, rate_hz: float = 48000.0) -> dict[str, Any]:
    return {
        "name": name, "max_input_channels": inputs, "max_output_channels": outputs, "hostapi": host,
        "default_samplerate": rate_hz,
    }  # fmt: skip


@dataclass
class FakeLibrary:
    """What capture uses of sounddevice.

    behaviour: "loops": plays back what it gets; "stalls", "vanishes" after some blocks; "opens not": raises `error`
    """

    devices: list[dict[str, Any]] = field(default_factory=list)
    hosts: tuple[str, ...] = ("ALSA", "JACK")
    behaviour: str = "loops"
    error: Exception = field(default_factory=lambda: PortAudioError("Invalid sample rate", -9997))
    rates_hz: tuple[float, ...] = (44100.0, 48000.0)
    wanted: tuple[int, int] = (-1, -1)
    close_hangs: bool = False
    flagged: dict[int, str] = field(default_factory=dict)
    streams: list[FakeStream] = field(default_factory=list)
    CallbackStop = CallbackStop
    CallbackAbort = CallbackAbort

    @property
    def default(self) -> SimpleNamespace:
        return SimpleNamespace(device=self.wanted)

    def query_devices(self) -> list[dict[str, Any]]:
        return self.devices

    def query_hostapis(self) -> list[dict[str, Any]]:
        return [{"name": host} for host in self.hosts]

    def check_input_settings(self, _number: int, **settings: Any) -> None:
        if settings["samplerate"] not in self.rates_hz:
            raise PortAudioError("Invalid sample rate", -9997)

    check_output_settings = check_input_settings

    def Stream(self, **settings: Any) -> FakeStream:
        if self.behaviour == "opens not":
            raise self.error
        stream = FakeStream(self, settings)
        self.streams.append(stream)
        return stream


class FakeStream:
    """Calls the callback from a thread of its own, 256 frames at a time."""

    def __init__(self, library: FakeLibrary, settings: dict[str, Any]) -> None:
        self.library, self.settings = library, settings
        self.active = False
        self.closed = False
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        self.active = True
        self._thread.start()

    def abort(self, ignore_errors: bool = True) -> None:
        if self.library.close_hangs:
            time.sleep(60.0)
        self.active = False

    def close(self, ignore_errors: bool = True) -> None:
        self.closed = True

    def _run(self) -> None:
        callback: Callable[..., None] = self.settings["callback"]
        inputs, outputs = self.settings["channels"]
        last = np.zeros((256, inputs), dtype=np.float32)
        for block in range(1 << 20):
            if not self.active or (block == 40 and self.library.behaviour == "stalls"):
                return
            if block == 40 and self.library.behaviour == "vanishes":
                break
            out = np.full((256, outputs), np.nan, dtype=np.float32)
            flag = self.library.flagged.get(block)
            status = SimpleNamespace(**{
                name: name == flag
                for name in ("input_underflow", "input_overflow", "output_underflow", "output_overflow")
            }) if flag else None  # fmt: skip
            try:
                callback(last, out, 256, None, status)
            except (CallbackStop, CallbackAbort):
                break
            last = np.repeat(out[:, :1], inputs, axis=1)
            time.sleep(0.0002)
        self.active = False
