"""What listening needs before it begins: a tone that suits the box, and a sound device."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from sealtune.design.listening_tone import CAREFUL_V, designed_tone, measured_tone, usual_tone
from sealtune.files.cabinet_folder import find_recordings, find_settings
from sealtune.jobs.designs import load_design
from sealtune.jobs.devices import is_virtual, open_device
from sealtune.records.listening import ListeningTone
from sealtune.records.sound_device import SoundDevice

if TYPE_CHECKING:
    from sealtune.records.design import Design

SWING_HZ = 2.0
"""How far the tone swings to either side of its middle."""


def listening_tone(
    cabinet: Path | None,
    design_path: Path | None,
    frequency_hz: float | None,
    device: str | None = None,
) -> ListeningTone:
    """Return the tone to listen with.

    cabinet: folder or recording whose curve says where the box is tuned; None for none
    design_path: of the box; None for the one beside or above the cabinet's recordings, if there is one
    frequency_hz: the user's own choice, whose travel is not looked at
    device: name of the sound device; the virtual one brings its own box
    Raises UsageFault where there is no such cabinet or design, SettingsFault where the design is faulty.
    """
    tone = _suggested(cabinet, design_path, device)
    if frequency_hz is None:
        return tone
    return replace(
        tone, frequency_hz=frequency_hz, volts=min(tone.volts, CAREFUL_V), because="travel unknown", basis="you",
        travel_share=None,
    )  # fmt: skip


def _suggested(cabinet: Path | None, design_path: Path | None, device: str | None) -> ListeningTone:
    if cabinet is not None:
        design_path = design_path or find_settings(cabinet, "design.toml")
        if design_path is None or not cabinet.is_dir() or "open" in find_recordings(cabinet):
            from sealtune.jobs.check import check
            from sealtune.jobs.recordings import CheckOptions

            result = check(cabinet, CheckOptions(design=design_path))
            if result.fit is not None:
                return measured_tone(result.fit, result.design, SWING_HZ)
    if design_path is not None:
        return designed_tone(load_design(design_path)[0], SWING_HZ)
    if device is not None and is_virtual(device):
        from sealtune.jobs.virtual_bench import named_design
        from sealtune.virtual.device_name import virtual_settings

        return designed_tone(named_design(virtual_settings(device)), SWING_HZ)
    return usual_tone()


def listening_device(name: str | None, design_path: Path | None, rate_hz: float | None) -> SoundDevice:
    """Return the sound device of a name; the virtual one with a microphone that moves along the box.

    design_path: of the virtual box, where its name has none
    rate_hz: at which its microphone will be asked; None for the virtual device's own
    Raises UsageFault, SettingsFault or DeviceFault where there is no such device.
    """
    if not is_virtual(name):
        return open_device(name)
    assert name is not None
    return _virtual(name, None if design_path is None else load_design(design_path)[0], rate_hz)


def _virtual(name: str, design: Design | None, rate_hz: float | None) -> SoundDevice:
    import numpy as np

    from sealtune.jobs.virtual_bench import named_design
    from sealtune.virtual.device_name import named_cabinet, seed_of, virtual_device, virtual_settings
    from sealtune.virtual.leak_microphone import LeakMicrophone
    from sealtune.virtual.room_noise import ROOM_KINDS

    settings = virtual_settings(name)
    design = named_design(settings, design)
    device = virtual_device(settings, design)
    seed = seed_of(settings)
    rng = np.random.default_rng(seed)
    cabinet = named_cabinet(settings, design, rng)
    device.microphone = LeakMicrophone(
        cabinet, rate_hz or device.info.rate_hz, rng, room=ROOM_KINDS[seed % len(ROOM_KINDS)]
    )
    device.real_time = settings.get("pace") != "fast"
    return device
