"""The sound devices: what there is, and the one that a name means."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sealtune.errors import DeviceFault
from sealtune.records.recording import Jig
from sealtune.records.sound_device import DeviceInfo, SoundDevice

if TYPE_CHECKING:
    from sealtune.records.design import Design
    from sealtune.virtual.bench import Connection

Clock = Callable[[], float]


@dataclass(frozen=True)
class Offer:
    """A device, what to call it in --device, and why it cannot do the job (empty where it can)."""

    info: DeviceInfo
    call: str
    default: bool
    why_not: str


def offered_devices() -> tuple[list[Offer], DeviceFault | None]:
    """Return the devices, the virtual one last, and why real ones could not be asked for, None where they could."""
    from sealtune.capture.device_list import list_devices, rates_of, why_not
    from sealtune.virtual.sound_device import RATES_HZ, VIRTUAL

    offers, fault = [], None
    try:
        for listed in list_devices():
            rates = rates_of(listed)
            reason = why_not(listed)
            if not reason and not rates:
                reason = "busy, or no rate for both directions"
            number = listed.info.number
            call = f"{listed.input_number},{listed.output_number}" if number is None else str(number)
            offers.append(Offer(replace(listed.info, rates_hz=rates), call, listed.default, reason))
    except DeviceFault as met:
        fault = met
    virtual = DeviceInfo("simulated box and bench", None, "built in", 2, 1, 48000.0, RATES_HZ)
    return [*offers, Offer(virtual, VIRTUAL, False, "")], fault


def is_virtual(name: str | None) -> bool:
    """Return whether a device's name means the virtual one; None does not."""
    from sealtune.virtual import device_name

    return name is not None and device_name.is_virtual(name)


def open_device(name: str | None, *, design: Design | None = None, jig: Jig | None = None) -> SoundDevice:
    """Return the device that a name means.

    name: a name, part of a name, number, pair of numbers "IN,OUT", `virtual` or `virtual:KEY=VALUE,...`; None for the
        one that can do the job
    design, jig: of the virtual bench, where its name does not say
    Raises DeviceFault where none or several fit, UsageFault where the name of the virtual one is wrong.
    """
    if name is not None and is_virtual(name):
        from sealtune.jobs.virtual_bench import open_virtual

        jig = jig or Jig("divider", 10.0)
        return open_virtual(name, design=design, wiring=jig.wiring, reference_ohm=jig.reference_ohm)
    from sealtune.capture.device_list import chosen, list_devices
    from sealtune.capture.portaudio import PortAudioDevice

    return PortAudioDevice(chosen(list_devices(), name))


def clock_of(device: SoundDevice) -> Clock:
    """Return the time, s, by which the device settles: that of the virtual one goes as fast as its samples do."""
    own = getattr(device, "now_s", None)
    return own if callable(own) else time.monotonic


def connect(device: SoundDevice, connection: Connection) -> None:
    """Put the clips of a virtual bench on something else; at a real one the person does that."""
    put = getattr(device, "connect", None)
    if callable(put):
        put(connection)
