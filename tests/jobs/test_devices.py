"""The list of devices, and a sound system that cannot be loaded, with the library put aside."""

import importlib
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import pytest
from tests.program import sealtune

from sealtune.capture import device_list
from sealtune.capture.device_list import Listed
from sealtune.capture.sound_library import load_library
from sealtune.errors import DeviceFault
from sealtune.records.sound_device import DeviceInfo

Listing = Callable[..., str]


@pytest.fixture
def listing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Listing:
    """What `sealtune devices` prints where the system has these devices, each able to do what `why_not` leaves."""

    def printed(*devices: Listed, rates: tuple[float, ...] = (48000.0,)) -> str:
        monkeypatch.setattr(device_list, "list_devices", lambda: list(devices))
        monkeypatch.setattr(device_list, "rates_of", lambda _: rates)
        monkeypatch.setattr(device_list, "why_not", lambda _: "")
        done = sealtune("devices", folder=tmp_path)
        assert done.returncode == 0
        return done.stdout

    return printed


def interface(*, default: bool = False) -> Listed:
    return Listed(DeviceInfo("Interface", 3, "ALSA", 2, 2, 48000.0), 3, 3, default)


def test_where_there_is_no_device(listing: Listing) -> None:
    told = listing().splitlines()
    assert told[-1] == "No sound device was found. Plug the sound interface in and look again."
    assert "simulated box and bench" in told[1]
    assert "No sound device" not in listing(interface())


def test_the_systems_own_and_a_busy_one(listing: Listing) -> None:
    assert listing(interface(default=True)).splitlines()[1].endswith("yes, the system's own")
    assert listing(interface()).splitlines()[1].endswith(" yes")
    assert listing(interface(), rates=()).splitlines()[1].endswith("busy, or no rate for both directions")


@pytest.mark.parametrize(
    ("error", "expected", "remedy"),
    [
        (ImportError("none"), "the Python package sounddevice", "Install it: pip install sounddevice."),
        (
            OSError("none"), "the library PortAudio",
            "Install it: apt install libportaudio2 (Debian, Ubuntu), dnf install portaudio (Fedora), pacman -S "
            "portaudio (Arch). Recordings made elsewhere can be checked without it: sealtune check.",
        ),
        (ValueError("none"), "a sound system that starts", "Restart the sound server, or the computer, and try again."),
    ],
)  # fmt: skip
def test_a_sound_system_that_cannot_be_loaded(
    error: Exception, expected: str, remedy: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(_: str) -> NoReturn:
        raise error

    monkeypatch.setattr(importlib, "import_module", failing)
    with pytest.raises(DeviceFault) as met:
        load_library()
    assert expected in str(met.value)
    assert remedy in " ".join(str(met.value).split())
