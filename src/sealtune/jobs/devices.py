"""The sound devices: what there is, and the one that a name means."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sealtune.errors import DeviceFault
from sealtune.records.sound_device import DeviceInfo, SoundDevice

VIRTUAL = "virtual"


@dataclass(frozen=True)
class Offer:
    """A device, what to call it in --device, and why it cannot do the job (empty where it can)."""

    info: DeviceInfo
    call: str
    default: bool
    why_not: str


def offered_devices() -> tuple[list[Offer], DeviceFault | None]:
    """Return what there is, the virtual device last, and why the real ones could not be asked for, if so."""
    from sealtune.capture.device_list import list_devices, rates_of, why_not

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
    return offers, fault


def open_device(name: str | None) -> SoundDevice:
    """Return the device that a name, part of a name, number or pair of numbers means.

    name: None for the one that can do the job
    Raises DeviceFault where none or several fit.
    """
    from sealtune.capture.device_list import chosen, list_devices
    from sealtune.capture.portaudio import PortAudioDevice

    return PortAudioDevice(chosen(list_devices(), name))
