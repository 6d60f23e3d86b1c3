"""The library that speaks to sound devices: loaded late, called with a time limit, its messages in our words.

A call to PortAudio may never come back when the sound server behind it has died or stands still; this is true of
loading it, of closing a stream and of leaving it. So such calls run in threads of their own that nobody has to wait
for.
"""

from __future__ import annotations

import importlib
import os
import queue
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from sealtune.errors import DeviceFault

T = TypeVar("T")

LOAD_S = 10.0
"""Loading asks every sound system for its devices, which takes a second or two at most."""

LEAVE_S = 2.0
"""Leaving PortAudio takes some hundredths of a second, or for ever."""

INVALID_RATE, INVALID_CHANNELS, INVALID_DEVICE = -9997, -9998, -9996
UNAVAILABLE, BAD_COMBINATION, DEVICE_GONE = -9985, -9993, -9988
"""PortAudio's numbers for what went wrong (portaudio.h, PaErrorCode)."""


def load_library() -> Any:
    """Return the module `sounddevice`.

    Raises DeviceFault where PortAudio is missing, or where a sound server that hangs keeps it from starting.
    """
    try:
        with _errors_still_seen():
            return within(LOAD_S, "the sound system", lambda: importlib.import_module("sounddevice"))
    except DeviceFault:
        raise
    except ImportError as error:
        raise DeviceFault(
            "sound devices", "the Python package sounddevice", str(error),
            "Install it: pip install sounddevice.",
        ) from error  # fmt: skip
    except OSError as error:
        raise DeviceFault(
            "sound devices",
            "the library PortAudio",
            str(error),
            "Install it: apt install libportaudio2 (Debian, Ubuntu), dnf install portaudio (Fedora), pacman -S "
            "portaudio (Arch). Recordings made elsewhere can be checked without it: sealtune check.",
        ) from error
    except Exception as error:
        raise DeviceFault(
            "sound devices", "a sound system that starts", str(error),
            "Restart the sound server, or the computer, and try again.",
        ) from error  # fmt: skip


@contextmanager
def _errors_still_seen() -> Iterator[None]:
    """Give standard error back where loading hangs: the library turns it off until it is through."""
    try:
        saved = os.dup(2)
    except OSError:  # closed; nothing can be lost
        yield
        return
    try:
        yield
    except DeviceFault:
        os.dup2(saved, 2)
        raise
    finally:
        os.close(saved)


def within(seconds: float, where: str, call: Callable[[], T]) -> T:
    """Return what the call returns, or raise what it raises.

    seconds: longest time that it is waited for
    where: what is called, for the message
    Raises DeviceFault where it does not come back; its thread is then left alone.
    """
    answer: queue.SimpleQueue[tuple[T | None, BaseException | None]] = queue.SimpleQueue()

    def run() -> None:
        try:
            answer.put((call(), None))
        except BaseException as error:
            answer.put((None, error))

    threading.Thread(target=run, name="sound device", daemon=True).start()
    try:
        value, error = answer.get(timeout=seconds)
    except queue.Empty:
        raise DeviceFault(
            where, f"an answer within {seconds:g} s", "none: the sound server hangs",
            "Restart the sound server, or the computer, and try again.",
        ) from None  # fmt: skip
    if error is not None:
        raise error
    return value  # type: ignore[return-value]


def leave_in_time(code: int) -> None:
    """See to it that the program leaves with this exit code soon, though PortAudio may hang when it is left too.

    Whoever calls this leaves at once.
    """
    sys.stdout.flush()
    sys.stderr.flush()
    last = threading.Timer(LEAVE_S, os._exit, (code,))
    last.daemon = True
    last.start()


def opening_fault(error: Exception, name: str, rate_hz: float, rates_hz: tuple[float, ...]) -> DeviceFault:
    """Return what to tell of a device that could not be opened.

    error: what sounddevice raised
    name: of the device
    rate_hz: that was asked for
    rates_hz: at which it can play and record, as far as that is known
    """
    code = error.args[1] if len(error.args) > 1 and isinstance(error.args[1], int) else None
    text = str(error.args[0] if error.args else error).rstrip(".")
    if code == INVALID_RATE:
        known = ", ".join(f"{rate:.0f}" for rate in rates_hz)
        remedy = (
            f"Give --rate with one of its own: {known}."
            if known
            else "Give another --rate, such as 44100 or 48000."
        )
        return DeviceFault(
            name, "a sample rate that the device has", f"{rate_hz:.0f}, which it refuses", remedy
        )
    if code == INVALID_CHANNELS:
        return DeviceFault(
            name, "two inputs and an output at the same time", "fewer",
            "Choose another device; `sealtune devices` lists them.",
        )  # fmt: skip
    if code in (INVALID_DEVICE, UNAVAILABLE, DEVICE_GONE):
        return DeviceFault(
            name, "a device that is free and plugged in", text,
            "Close other programs that use it, plug it in again, and see `sealtune devices`.",
        )  # fmt: skip
    if code == BAD_COMBINATION:
        return DeviceFault(
            name, "an input and an output that work together", text,
            "Choose an input and an output of the same device and host; `sealtune devices` lists them.",
        )  # fmt: skip
    return DeviceFault(name, "a device that opens", text, "Close other programs that use it, and try again.")
