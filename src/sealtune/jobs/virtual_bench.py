"""The virtual sound device by its name, with the design it names read from its file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sealtune.jobs.designs import load_design

if TYPE_CHECKING:
    from sealtune.records.design import Design
    from sealtune.records.recording import Wiring
    from sealtune.virtual.sound_device import VirtualSoundDevice


def open_virtual(
    name: str,
    *,
    design: Design | None = None,
    wiring: Wiring = "divider",
    reference_ohm: float = 10.0,
) -> VirtualSoundDevice:
    """Return the virtual device of a name such as `virtual:fault=leak,seed=3`.

    design: of the box where the name has none; None for a small box that is built in
    wiring, reference_ohm: of the virtual jig where the name does not say: how the person was told to wire it
    Raises UsageFault where the name is wrong or there is no such design, SettingsFault where that is faulty.
    """
    from sealtune.virtual.device_name import virtual_device, virtual_settings

    settings = virtual_settings(name)
    return virtual_device(
        settings, named_design(settings, design), wiring=wiring, reference_ohm=reference_ohm
    )


def named_design(settings: dict[str, str], design: Design | None = None) -> Design:
    """Return the design of the virtual box: of the file that the settings name, else `design`, else the one built in.

    Raises UsageFault where there is no such design, SettingsFault where it is faulty.
    """
    from sealtune.virtual.device_name import built_in_design, design_path

    path = design_path(settings)
    if path is not None:
        return load_design(path)[0]
    return design or built_in_design()
