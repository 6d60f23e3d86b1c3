"""The sound devices of this machine, and which of them a name or number means."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sealtune.capture.sound_library import load_library, within
from sealtune.errors import DeviceFault
from sealtune.records.sound_device import DeviceInfo

USUAL_RATES_HZ = (44100.0, 48000.0, 88200.0, 96000.0, 176400.0, 192000.0)

PROBE_S = 10.0
"""Asking a device for its rates opens it, which takes some tenths of a second each."""

BRACKETED = re.compile(r"\(([^()]+(?:\([^()]*\))?)\)\s*$")
"""Where the system splits an interface into an input and an output, both bear its name in brackets."""


@dataclass(frozen=True)
class Listed:
    """A device, or an input and an output of one interface that the system lists apart.

    info: how it introduces itself
    input_number, output_number: PortAudio's own; the same for one device, None for a direction it has not
    default: whether the system would take it
    """

    info: DeviceInfo
    input_number: int | None
    output_number: int | None
    default: bool = False


def list_devices() -> list[Listed]:
    """Return what PortAudio finds, in its order, pairs of an input and an output behind the single ones.

    Raises DeviceFault where PortAudio is missing or hangs; a machine without devices gives an empty list.
    """
    library = load_library()
    devices = within(
        PROBE_S, "the sound system", lambda: [dict(device) for device in library.query_devices()]
    )
    hosts = within(
        PROBE_S, "the sound system", lambda: [str(host["name"]) for host in library.query_hostapis()]
    )
    raw = [(number, device, hosts[device["hostapi"]]) for number, device in enumerate(devices)]
    wanted = tuple(library.default.device)
    pairs = _pairs(raw)
    names = _unique([(str(device["name"]), host) for _, device, host in raw])
    found = [
        Listed(
            DeviceInfo(
                names[number], number, host, device["max_input_channels"], device["max_output_channels"],
                float(device["default_samplerate"]),
            ),
            number if device["max_input_channels"] else None,
            number if device["max_output_channels"] else None,
            default=wanted == (number, number),
        )
        for number, device, host in raw
    ]  # fmt: skip
    for one, two in pairs:
        found.append(_as_one(found[one], found[two], default=wanted == (one, two)))
    return found


def rates_of(listed: Listed) -> tuple[float, ...]:
    """Return the usual rates at which the device can record two channels and play at once; empty if none or unknown."""
    if not listed.info.usable:
        return ()
    library = load_library()
    tried = sorted({*USUAL_RATES_HZ, listed.info.rate_hz})

    def probe() -> tuple[float, ...]:
        return tuple(rate for rate in tried if _can(library, listed, rate))

    try:
        return within(PROBE_S, listed.info.name, probe)
    except DeviceFault:
        return ()


def why_not(listed: Listed) -> str:
    """Return why a device cannot do the job, an empty text where it can."""
    info = listed.info
    if info.usable:
        return ""
    if info.inputs == 0:
        return "plays only"
    if info.outputs == 0:
        return "records only"
    return "one input, two are needed"


def chosen(devices: Sequence[Listed], wanted: str | None) -> Listed:
    """Return the device that a name, a part of one, a number, or two numbers "IN,OUT" mean.

    wanted: None for the one that can do the job; where there are several, the system's own
    Raises DeviceFault where none or several fit, or where the one cannot do the job.
    """
    able = [device for device in devices if device.info.usable]
    if wanted is None:
        return _only(able, devices)
    text = wanted.strip()
    fitting = _fitting(devices, text)
    if len(fitting) > 1:
        usable = [device for device in fitting if device.info.usable]
        fitting = usable if len(usable) == 1 else fitting
    if not fitting:
        raise DeviceFault(
            f"--device {text}", "a device's name, a part of it, or its number", "none that fits" + _are(able),
            "See `sealtune devices`.",
        )  # fmt: skip
    if len(fitting) > 1:
        raise DeviceFault(
            f"--device {text}", "one device", "several that fit" + _are(fitting),
            "Give more of the name, or the number.",
        )  # fmt: skip
    if not fitting[0].info.usable:
        raise DeviceFault(
            fitting[0].info.name, "two inputs and an output at the same time", why_not(fitting[0]),
            "Choose another device; `sealtune devices` lists them.",
        )  # fmt: skip
    return fitting[0]


def _only(able: Sequence[Listed], devices: Sequence[Listed]) -> Listed:
    if not able:
        got = "none that can" if devices else "no sound device at all"
        raise DeviceFault(
            "sound devices", "one that has two inputs and an output", got,
            "Plug the sound interface in and see `sealtune devices`; to try the program without one, use "
            "--device virtual.",
        )  # fmt: skip
    if len(able) == 1:
        return able[0]
    default = next((device for device in able if device.default), None)
    if default is None:
        raise DeviceFault(
            "sound devices", "to be told which one to use", "several that could" + _are(able),
            "Give --device with a name or number.",
        )  # fmt: skip
    return default


def _fitting(devices: Sequence[Listed], text: str) -> list[Listed]:
    both = re.fullmatch(r"(\d+)\s*,\s*(\d+)", text)
    if both is not None:
        return _joined(devices, int(both[1]), int(both[2]))
    if text.isdecimal():
        return [device for device in devices if device.info.number == int(text)]
    low = text.lower()
    exact = [device for device in devices if device.info.name.lower() == low]
    if exact:
        return exact
    parts = [device for device in devices if low and low in f"{device.info.name}, {device.info.host}".lower()]
    single = [device for device in parts if device.info.number is not None]
    return single if any(device.info.usable for device in single) else parts


def _joined(devices: Sequence[Listed], one: int, two: int) -> list[Listed]:
    """Return an input and an output as one device, nothing where either is not there."""
    inner = next((device for device in devices if device.info.number == one), None)
    outer = next((device for device in devices if device.info.number == two), None)
    if inner is None or outer is None:
        return []
    if one == two:
        return [inner]
    return [_as_one(inner, outer)]


def _as_one(inner: Listed, outer: Listed, *, default: bool = False) -> Listed:
    """Return an input and an output that the system lists apart as one device."""
    one, two = inner.info, outer.info
    info = DeviceInfo(f"{one.name} + {two.name}", None, one.host, one.inputs, two.outputs, one.rate_hz)
    return Listed(info, one.number, two.number, default)


def _are(devices: Sequence[Listed]) -> str:
    said = [
        device.info.name if device.info.number is None else f"{device.info.number} {device.info.name}"
        for device in devices
    ]
    return ": " + "; ".join(said) if said else ""


def _pairs(raw: Sequence[tuple[int, dict[str, Any], str]]) -> list[tuple[int, int]]:
    """Return the inputs and outputs of one interface that the system lists apart, by number."""
    inner: dict[tuple[str, str], list[int]] = {}
    outer: dict[tuple[str, str], list[int]] = {}
    for number, device, host in raw:
        name = str(device["name"])
        match = BRACKETED.search(name)
        key = (host, match[1] if match else name)
        if device["max_input_channels"] >= 2 and not device["max_output_channels"]:
            inner.setdefault(key, []).append(number)
        elif device["max_output_channels"] and not device["max_input_channels"]:
            outer.setdefault(key, []).append(number)
    return [(numbers[0], outer[key][0]) for key, numbers in inner.items() if key in outer]


def _unique(named: Sequence[tuple[str, str]]) -> list[str]:
    """Return the names, with the host where two devices share one, and a count where that does not help."""
    plain = Counter(name for name, _ in named)
    full = Counter(named)
    names = []
    for number, (name, host) in enumerate(named):
        if plain[name] == 1:
            names.append(name)
        elif full[name, host] == 1:
            names.append(f"{name}, {host}")
        else:
            names.append(f"{name}, {host}, {number}")
    return names


def _can(library: Any, listed: Listed, rate_hz: float) -> bool:
    try:
        library.check_input_settings(listed.input_number, channels=2, dtype="float32", samplerate=rate_hz)
        library.check_output_settings(
            listed.output_number, channels=min(listed.info.outputs, 2), dtype="float32", samplerate=rate_hz
        )
    except Exception:
        return False
    return True
