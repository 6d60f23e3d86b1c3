from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.capture.fake_library import FakeLibrary, PortAudioError, device

from sealtune.capture import device_list, portaudio, sound_library
from sealtune.capture.device_list import Listed, chosen, list_devices, rates_of, why_not
from sealtune.capture.portaudio import PortAudioDevice
from sealtune.capture.sound_library import opening_fault, within
from sealtune.capture.take import take
from sealtune.errors import DeviceFault
from sealtune.records.recording import Sweep
from sealtune.records.sound_device import StreamFlag

Reals = NDArray[np.float64]
Use = Callable[..., FakeLibrary]


@pytest.fixture
def use(monkeypatch: pytest.MonkeyPatch) -> Use:
    """Put a stand-in in the place of the library."""

    def put(**settings: Any) -> FakeLibrary:
        settings.setdefault("devices", [device("Interface", 2, 2)])
        library = FakeLibrary(**settings)
        monkeypatch.setattr(device_list, "load_library", lambda: library)
        monkeypatch.setattr(portaudio, "load_library", lambda: library)
        return library

    return put


def named(name: str | None) -> Listed:
    return chosen(list_devices(), name)


def refusal(name: str | None) -> str:
    with pytest.raises(DeviceFault) as met:
        named(name)
    return str(met.value)


def test_what_can_do_the_job_is_told_and_what_cannot_is_told_why(use: Use) -> None:
    use(devices=[device("Two", 2, 2), device("Mono", 1, 2), device("Speakers", 0, 2), device("Line", 2, 0)])
    listed = list_devices()
    assert [why_not(entry) for entry in listed] == [
        "",
        "one input, two are needed",
        "plays only",
        "records only",
    ]
    assert [rates_of(entry) for entry in listed] == [(44100.0, 48000.0), (), (), ()]


def test_an_interface_split_into_input_and_output_comes_back_as_one(use: Use) -> None:
    use(devices=[
        device("Speakers (Interface 2i2)", 0, 2), device("Microphone (Webcam)", 2, 0),
        device("Line (Interface 2i2)", 2, 0), device("Line (Interface 2i2)", 2, 0, host=1),
    ])  # fmt: skip
    found = named(None)
    assert (found.input_number, found.output_number) == (2, 0)
    assert found.info.usable
    assert named("2,0").info == found.info
    assert named("1,0").info.usable  # whoever says so may join what he likes
    assert "none that fits" in refusal("9,0")


def test_a_name_a_part_of_it_or_the_number_mean_a_device(use: Use) -> None:
    use(
        devices=[
            device("Built-in", 2, 2),
            device("USB Interface", 2, 2),
            device("USB Interface", 2, 2, host=1),
        ]
    )
    assert named("0").info.name == "Built-in"
    assert named("built").info.number == 0
    assert named("USB Interface, JACK").info.number == 2
    assert named("jack").info.number == 2
    several = refusal("usb")
    assert "1 USB Interface, ALSA; 2 USB Interface, JACK" in several
    assert "sealtune devices" in refusal("nothing")
    assert "none that fits" in refusal("7")


def test_of_several_that_fit_the_only_able_one_is_meant(use: Use) -> None:
    use(devices=[device("USB Headset", 1, 2), device("USB Interface", 2, 2)])
    assert named("usb").info.number == 1
    assert "one input, two are needed" in refusal("headset")


def test_without_a_name_the_able_one_or_the_system_s_own(use: Use) -> None:
    library = use(devices=[device("One", 2, 2), device("Two", 2, 2), device("Speakers", 0, 2)])
    assert "Give --device" in refusal(None)
    library.wanted = (1, 1)
    assert named(None).info.name == "Two"
    use(devices=[device("One", 1, 2), device("Two", 2, 2)], wanted=(0, 0))
    assert named(None).info.name == "Two"
    use(devices=[])
    assert "--device virtual" in refusal(None)
    assert "no sound device at all" in refusal(None)


def exchanged(
    listed: Listed, frames: int = 4096, hear: Callable[[Reals, frozenset[StreamFlag]], None] | None = None
) -> tuple[Reals, Reals, list[frozenset[StreamFlag]]]:
    """Return what was played, what came in, and the flags of each block."""
    rng = np.random.default_rng(3)
    played: list[Reals] = []
    heard: list[Reals] = []
    flags: list[frozenset[StreamFlag]] = []

    def play(count: int) -> Reals | None:
        if sum(block.size for block in played) >= frames:
            return None
        played.append(rng.uniform(-1.0, 1.0, count).astype(np.float32).astype(np.float64))
        return played[-1]

    def listen(block: Reals, said: frozenset[StreamFlag]) -> None:
        heard.append(block)
        flags.append(said)
        if hear is not None:
            hear(block, said)

    PortAudioDevice(listed).exchange(48000.0, play, listen)
    return np.concatenate(played), np.concatenate(heard), flags


def test_as_many_frames_come_in_as_went_out_none_changed(use: Use) -> None:
    library = use()
    played, heard, flags = exchanged(named(None), 100 * 256)
    assert played.size == heard.shape[0] == 100 * 256
    np.testing.assert_array_equal(heard[256:, 0], played[:-256])  # Exact: the stand-in is one block late
    np.testing.assert_array_equal(heard[:, 0], heard[:, 1])
    assert set(flags) == {frozenset()}
    assert library.streams[0].closed
    assert library.streams[0].settings["samplerate"] == 48000.0


def test_flags_come_with_their_block(use: Use) -> None:
    use(flagged={3: "input_overflow", 7: "output_underflow"})
    _, _, flags = exchanged(named(None))
    said = {number: set(flag) for number, flag in enumerate(flags) if flag}
    assert said == {3: {"input_overflow"}, 7: {"output_underflow"}}


@pytest.mark.parametrize("behaviour", ["stalls", "vanishes"])
def test_a_device_that_stops_is_told_soon_after_what_came(
    use: Use, behaviour: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(portaudio, "STALL_S", 0.5)
    library = use(behaviour=behaviour)
    seen: list[int] = []
    since = time.monotonic()
    with pytest.raises(DeviceFault, match="vanished or stands still"):
        exchanged(named(None), 1 << 20, lambda block, _: seen.append(block.shape[0]))
    assert time.monotonic() - since < 10.0
    assert sum(seen) == 40 * 256
    assert library.streams[0].closed


def test_a_stream_that_cannot_be_closed_holds_nobody_up(use: Use, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(portaudio, "CLOSE_S", 0.2)
    use(close_hangs=True)
    since = time.monotonic()
    played, heard, _ = exchanged(named(None))
    assert played.size == heard.shape[0]
    assert time.monotonic() - since < 20.0


def test_what_hear_or_play_raises_comes_out_and_the_stream_is_closed(use: Use) -> None:
    library = use()

    def interrupted(block: Reals, _flags: frozenset[StreamFlag]) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        exchanged(named(None), hear=interrupted)

    def broken(_frames: int) -> Reals | None:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        PortAudioDevice(named(None)).exchange(48000.0, broken, lambda _block, _flags: None)
    assert [stream.closed for stream in library.streams] == [True, True]


def test_a_slow_listener_loses_nothing(use: Use) -> None:
    use()
    slow: list[int] = []

    def hear(block: Reals, _flags: frozenset[StreamFlag]) -> None:
        slow.append(block.shape[0])
        if len(slow) == 5:
            time.sleep(0.3)

    played, heard, _ = exchanged(named(None), 200 * 256, hear)
    np.testing.assert_array_equal(heard[256:, 0], played[:-256])


def test_a_take_goes_through(use: Use) -> None:
    use()
    sweep = Sweep(50.0, 1000.0, 0.3, begins_s=0.1)
    taken = take(PortAudioDevice(named(None)), sweep, 48000.0, -20.0, after_s=0.2)
    assert taken.delay_s == pytest.approx(256 / 48000.0, abs=1e-4)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (
            PortAudioError("Error opening Stream: Invalid sample rate", -9997),
            ("44100", "--rate", "48000, 96000"),
        ),
        (
            PortAudioError("Invalid number of channels", -9998),
            ("two inputs and an output", "sealtune devices"),
        ),
        (PortAudioError("Device unavailable", -9985), ("Close other programs", "Device unavailable")),
        (PortAudioError("Invalid device", -9996), ("plug it in again",)),
        (PortAudioError("Illegal combination of I/O devices", -9993), ("same device and host",)),
        (ValueError("Something else"), ("Something else", "a device that opens")),
    ],
)
def test_messages_of_the_library_become_ours(error: Exception, words: tuple[str, ...]) -> None:
    # the numbers are those of portaudio.h, PaErrorCode (published)
    said = str(opening_fault(error, "Interface", 44100.0, (48000.0, 96000.0)))
    assert said.startswith("Interface: expected ")
    for word in words:
        assert word in said


def test_a_device_that_does_not_open_is_told(use: Use) -> None:
    use(behaviour="opens not")
    with pytest.raises(DeviceFault, match="Give --rate with one of its own: 44100, 48000"):
        exchanged(named(None))


def test_a_call_that_does_not_come_back_is_given_up() -> None:
    held = threading.Event()
    with pytest.raises(DeviceFault, match="hangs"):
        within(0.1, "the sound system", lambda: held.wait(30.0))
    held.set()
    assert within(5.0, "the sound system", lambda: 7) == 7


def load_message(error: str) -> str:
    """Return the message of a program whose sounddevice raises an error when it is imported."""
    program = (
        "import sys, importlib.abc\n"
        "class Refuses(importlib.abc.MetaPathFinder):\n"
        "    def find_spec(self, name, path, target=None):\n"
        f"        if name == 'sounddevice': raise {error}\n"
        "sys.meta_path.insert(0, Refuses())\n"
        "sys.argv = ['sealtune', 'devices']\n"
        "from sealtune.cli.main import main\n"
        "main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 4, done.stderr
    assert "virtual" in done.stdout
    assert "Traceback" not in done.stderr
    return done.stderr


def test_without_portaudio_the_way_to_install_it_is_told() -> None:
    assert "apt install libportaudio2" in load_message("OSError('PortAudio library not found')")
    assert "pip install sounddevice" in load_message("ImportError('No module named sounddevice')")
    assert "Error initializing PortAudio" in load_message("RuntimeError('Error initializing PortAudio')")


def test_where_loading_hangs_the_message_is_seen_though_the_library_turned_standard_error_off() -> None:
    program = (
        "import os, sys, time, importlib.abc\n"
        "class Hangs(importlib.abc.MetaPathFinder):\n"
        "    def find_spec(self, name, path, target=None):\n"
        "        if name == 'sounddevice':\n"
        "            os.dup2(os.open(os.devnull, os.O_WRONLY), 2)\n"
        "            time.sleep(60)\n"
        "sys.meta_path.insert(0, Hangs())\n"
        "import sealtune.capture.sound_library as library\n"
        "library.LOAD_S = 0.3\n"
        "sys.argv = ['sealtune', 'devices']\n"
        "from sealtune.cli.main import main\n"
        "main()\n"
    )
    since = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 4
    assert "hangs" in done.stderr
    assert time.monotonic() - since < 30.0


def test_the_list_is_no_secret_of_the_library(use: Use) -> None:
    use(devices=[device("A", 2, 2), device("A", 2, 2)])
    assert [entry.info.name for entry in list_devices()] == ["A, ALSA, 0", "A, ALSA, 1"]
    assert sound_library.LOAD_S > 1.0
