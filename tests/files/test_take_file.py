from __future__ import annotations

import errno
import os
import random
import signal
import subprocess
import sys
import time
import wave
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from sealtune.errors import UsageFault
from sealtune.files import take_file
from sealtune.files.cabinet_folder import find_recordings
from sealtune.files.sound_file import read_recording
from sealtune.files.take_file import TakeFile
from sealtune.files.take_header import HEAD_BYTES, take_header
from sealtune.records.recording import Jig, Origin, Sweep

ROOT = Path(__file__).resolve().parents[2]
MOMENT = datetime(2026, 11, 25, 10, 15, 0, 250000, tzinfo=UTC)
ORIGIN = Origin("open", Jig("divider", 10.0), Sweep(8.0, 1000.0, 4.0), -20.0, "a device", MOMENT, "a program")


def samples(frames: int, seed: int = 1) -> NDArray[np.float64]:
    """Return noise that 32-bit floating point holds exactly."""
    rng = np.random.default_rng(seed)
    return rng.uniform(-1.0, 1.0, (frames, 2)).astype(np.float32).astype(np.float64)


def test_a_finished_take_has_its_name_its_samples_and_its_metadata(tmp_path: Path) -> None:
    data = samples(30_000)
    known = replace(ORIGIN, sweep=Sweep(8.0, 1000.0, 4.0, begins_s=0.53), note="as it was")
    with TakeFile(tmp_path / "left", ORIGIN, 48000.0) as file:
        for piece in np.array_split(data, 37):
            file.keep(piece)
        path = file.finish(known)
    assert path == tmp_path / "left" / "open-2026-11-25T101500.wav"
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]
    recording = read_recording(path)
    np.testing.assert_array_equal(recording.channels, data)
    assert recording.origin == known
    assert recording.expected_frames == 30_000
    # Independent: libsndfile reads the same
    other, rate = soundfile.read(path)
    np.testing.assert_array_equal(other, data)
    assert rate == 48000


def test_at_every_moment_the_file_holds_what_was_written_and_says_that_it_is_cut_short(
    tmp_path: Path,
) -> None:
    data = samples(24_000)
    with TakeFile(tmp_path, ORIGIN, 48000.0) as file:
        assert list(tmp_path.iterdir()) == []
        for number, piece in enumerate(np.array_split(data, 10)):
            file.keep(piece)
            if number < 2:  # the first pieces are shorter than what is written at a time
                continue
            assert file.path is not None
            recording = read_recording(file.path)
            assert recording.channels.shape[0] > file.frames - 4800
            assert recording.expected_frames == recording.channels.shape[0]
            assert not recording.origin.complete
            np.testing.assert_array_equal(recording.channels, data[: recording.channels.shape[0]])
    assert file.path is not None
    assert file.path.name == "open-2026-11-25T101500.partial.wav"
    np.testing.assert_array_equal(read_recording(file.path).channels, data)


def test_a_broken_off_take_is_not_taken_for_a_recording_of_the_cabinet(tmp_path: Path) -> None:
    with TakeFile(tmp_path, ORIGIN, 48000.0) as file:
        file.keep(samples(9000))
        whole = file.finish(ORIGIN)
    with TakeFile(tmp_path, replace(ORIGIN, recorded_at=datetime(2027, 1, 1, tzinfo=UTC)), 48000.0) as file:
        file.keep(samples(9000))
    assert len(list(tmp_path.iterdir())) == 2
    assert find_recordings(tmp_path) == {"open": [whole]}


def test_nothing_came_in_nothing_is_left(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt), TakeFile(tmp_path, ORIGIN, 48000.0):
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []


def test_what_ends_the_block_leaves_what_came_in(tmp_path: Path) -> None:
    data = samples(5000)

    def interrupted() -> None:
        with TakeFile(tmp_path, ORIGIN, 48000.0) as file:
            file.keep(data[:2000])
            file.keep(data[2000:])
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    [path] = tmp_path.iterdir()
    np.testing.assert_array_equal(read_recording(path).channels, data)


def test_no_recording_is_overwritten_though_all_are_of_one_second(tmp_path: Path) -> None:
    paths = []
    for number in range(4):
        with TakeFile(tmp_path, ORIGIN, 48000.0) as file:
            file.keep(samples(6000, number))
            if number != 2:
                paths.append(file.finish(ORIGIN))
    names = [path.name for path in paths]
    stem = "open-2026-11-25T101500"
    assert names == [f"{stem}.wav", f"{stem}-2.wav", f"{stem}-4.wav"]
    assert (tmp_path / f"{stem}-3.partial.wav").exists()
    for number, path in zip((0, 1, 3), paths, strict=True):
        np.testing.assert_array_equal(read_recording(path).channels, samples(6000, number))
    assert find_recordings(tmp_path)["open"] == paths


def test_a_name_taken_while_the_take_runs_stays_as_it_is(tmp_path: Path) -> None:
    foreign = tmp_path / "open-2026-11-25T101500.wav"
    with TakeFile(tmp_path, ORIGIN, 48000.0) as file:
        file.keep(samples(6000))
        foreign.write_bytes(b"somebody else's")
        path = file.finish(ORIGIN)
    assert foreign.read_bytes() == b"somebody else's"
    assert path.name == "open-2026-11-25T101500-2.wav"


def test_a_disk_without_second_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(_old: Path, _new: Path) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refused)
    with TakeFile(tmp_path, ORIGIN, 48000.0) as file:
        file.keep(samples(6000))
        path = file.finish(ORIGIN)
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]
    assert read_recording(path).channels.shape == (6000, 2)


def test_a_full_disk_is_told_and_what_was_written_stays_valid(tmp_path: Path) -> None:
    """The limit on the size of a file stands for the full disk: the write takes some bytes and then fails."""
    program = """
import resource, signal, sys
from pathlib import Path
import numpy as np
from sealtune.errors import UsageFault
from sealtune.files.take_file import TakeFile
from sealtune.records.recording import Origin
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (200_003, 200_003))
try:
    with TakeFile(Path(sys.argv[1]), Origin("open"), 48000.0) as file:
        for _ in range(40):
            file.keep(np.full((1000, 2), 0.25))
except UsageFault as fault:
    print(fault)
"""
    done = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path)], capture_output=True, text=True, timeout=60, check=True
    )
    assert "a disk that takes the samples; got File too large" in done.stdout
    [path] = tmp_path.iterdir()
    recording = read_recording(path)
    # Exact: whole pieces of 5000 frames of 8 bytes, as many as fit
    assert recording.channels.shape[0] == 5000 * ((200_003 - HEAD_BYTES) // 40_000)
    assert recording.expected_frames == recording.channels.shape[0]
    assert (recording.channels == 0.25).all()


def test_the_head_is_always_of_one_length_and_any_reader_understands_it(tmp_path: Path) -> None:
    long = replace(ORIGIN, note="x" * 5000)
    assert {len(take_header(origin, 96000, 7)) for origin in (ORIGIN, long, Origin())} == {HEAD_BYTES}
    path = tmp_path / "take.wav"
    path.write_bytes(take_header(long, 96000, 7) + bytes(7 * 8))
    info = soundfile.info(path)
    assert (info.samplerate, info.channels, info.frames, info.subtype) == (96000, 2, 7, "FLOAT")
    # Independent: Python's own reader walks the same chunks; it refuses the coding only after it has found it
    with pytest.raises(wave.Error, match="unknown format: 3"), wave.open(str(path)):
        pass


WRITER = """
import sys, time
from pathlib import Path
import numpy as np
from sealtune.files.take_file import TakeFile
from sealtune.records.recording import Origin
with TakeFile(Path(sys.argv[1]), Origin("open"), 48000.0) as file:
    print("begun", flush=True)
    count = 0
    while True:
        file.keep(np.arange(count, count + 2 * 512).reshape(512, 2) / 2.0**24)
        count += 2 * 512
        time.sleep(0.0002)
"""


@pytest.mark.parametrize("seed", range(6))
def test_killed_at_any_moment_the_file_is_valid(tmp_path: Path, seed: int) -> None:
    moment = random.Random(seed)
    earlier = tmp_path / "open.wav"
    earlier.write_bytes(b"an earlier take")
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(tmp_path)], stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "begun\n"
        time.sleep(moment.uniform(0.05, 0.4))
        writer.send_signal(signal.SIGKILL)
    [path] = [path for path in tmp_path.iterdir() if not path.name.startswith(".") and path != earlier]
    recording = read_recording(path)
    frames = recording.channels.shape[0]
    assert frames > 0
    assert recording.expected_frames == frames
    assert not recording.origin.complete
    # Exact: a count, so that nothing is missing, doubled or out of place
    np.testing.assert_array_equal(recording.channels.ravel() * 2.0**24, np.arange(2 * frames))
    assert soundfile.info(path).frames == frames
    assert earlier.read_bytes() == b"an earlier take"


def test_a_disk_without_any_room_does_not_claim_that_something_was_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(take_file, "_append", full)
    with (
        pytest.raises(UsageFault, match=r"No space left.*nothing was kept"),
        TakeFile(tmp_path, ORIGIN, 48000.0) as file,
    ):
        file.keep(samples(6000))
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "left").write_text("a file")
    with pytest.raises(UsageFault, match="a folder that can be written to"):
        TakeFile(tmp_path / "left", ORIGIN, 48000.0)


def test_a_disk_that_fills_up_at_the_end_leaves_what_was_recorded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    data = samples(6000)
    with TakeFile(tmp_path, ORIGIN, 48000.0) as file:
        file.keep(data)
        monkeypatch.setattr(os, "fsync", full)
        with pytest.raises(UsageFault, match=r"No space left.*what was recorded so far is kept"):
            file.finish(ORIGIN)
    [path] = tmp_path.iterdir()
    assert path.name == "open-2026-11-25T101500.partial.wav"
    np.testing.assert_array_equal(read_recording(path).channels, data)


def test_where_all_names_of_a_second_are_taken_it_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(take_file, "MOST_NAMES", 3)  # so that two names are enough
    for number in ("", "-2"):
        (tmp_path / f"open-2026-11-25T101500{number}.wav").write_bytes(b"somebody else's")
    with (
        pytest.raises(
            UsageFault, match=r"a name that is still free; got .* takes of one second.*Wait a second"
        ),
        TakeFile(tmp_path, ORIGIN, 48000.0) as file,
    ):
        file.keep(samples(6000))
    assert [path.read_bytes() for path in tmp_path.iterdir()] == [b"somebody else's"] * 2


def test_a_name_taken_at_the_last_moment_on_a_disk_without_second_names_is_not_overwritten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    foreign = tmp_path / "open-2026-11-25T101500.wav"

    def refused(_old: Path, new: Path) -> None:
        if new == foreign:  # another program is quicker
            foreign.write_bytes(b"somebody else's")
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refused)
    data = samples(6000)
    with TakeFile(tmp_path, ORIGIN, 48000.0) as file:
        file.keep(data)
        with pytest.raises(UsageFault, match=r"got a file of that name.*what was recorded so far is kept"):
            file.finish(ORIGIN)
    assert foreign.read_bytes() == b"somebody else's"
    [own] = [path for path in tmp_path.iterdir() if path != foreign]
    np.testing.assert_array_equal(read_recording(own).channels, data)
