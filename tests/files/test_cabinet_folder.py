"""A cabinet's folder: whose role a file has, which one is the newest, where the settings are."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from sealtune.errors import UsageFault
from sealtune.files.cabinet_folder import find_recordings, find_settings, role_of_name
from sealtune.files.sound_file import write_recording
from sealtune.records.recording import Origin, Recording, Role

TABLE = "20,8,1\n30,9,2\n40,7,3\n"


def put(folder: Path, name: str, age_s: float = 0.0, text: str = TABLE) -> Path:
    path = folder / name
    path.write_text(text)
    os.utime(path, (1.7e9 - age_s, 1.7e9 - age_s))
    return path


def record(folder: Path, name: str, role: Role | None, day: int | None = None) -> Path:
    moment = None if day is None else datetime(2026, 3, day, 12, tzinfo=UTC)
    path = folder / name
    write_recording(path, Recording(np.zeros((10, 2)), 48000, origin=Origin(role=role, recorded_at=moment)))
    os.utime(path, (1.7e9, 1.7e9))
    return path


def names(folder: Path) -> dict[str, list[str]]:
    return {role: [path.name for path in paths] for role, paths in find_recordings(folder).items()}


@pytest.mark.parametrize(
    ("stem", "role"),
    [
        # documented examples, and near misses
        ("open", "open"),
        ("open-2", "open"),
        ("plugged-2026-03-01T101500", "plugged"),
        ("free-air", "free-air"),
        ("cone", "cone"),
        ("mouth", "mouth"),
        ("Open", "open"),
        ("OPEN_3", "open"),
        ("free_air-2", "free-air"),
        ("free air", "free-air"),
        ("open.final", "open"),
        ("open 2", "open"),
        ("opened", None),
        ("reopen", None),
        ("free", None),
        ("cones", None),
        ("", None),
        ("report", None),
    ],
)
def test_the_role_that_a_name_begins_with(stem: str, role: str | None) -> None:
    assert role_of_name(stem) == role


def test_what_counts_as_a_recording(tmp_path: Path) -> None:
    for name in ("open.csv", "OPEN-2.TXT", "plugged.s1p", "mouth.CSV", "cone.wav"):
        put(tmp_path, name)
    for name in (
        ".open.csv",
        "open.json",
        "design.toml",
        "jig.toml",
        "open.html",
        "open",
        "notes.txt",
        "open.csv~",
    ):
        put(tmp_path, name)
    (tmp_path / "open-3.csv").mkdir()
    assert names(tmp_path) == {
        "open": ["open.csv", "OPEN-2.TXT"],
        "plugged": ["plugged.s1p"],
        "cone": ["cone.wav"],
        "mouth": ["mouth.CSV"],
    }


def test_the_role_in_the_metadata_counts_more_than_the_name(tmp_path: Path) -> None:
    record(tmp_path, "open.wav", "plugged", 1)
    record(tmp_path, "take.flac", "open", 1)
    record(tmp_path, "mouth.wav", None)
    put(tmp_path, "cone.wav", text="this is no sound file")
    assert names(tmp_path) == {
        "open": ["take.flac"],
        "plugged": ["open.wav"],
        "cone": ["cone.wav"],
        "mouth": ["mouth.wav"],
    }


def test_dated_recordings_go_by_date(tmp_path: Path) -> None:
    record(tmp_path, "open-3.wav", "open", 2)
    record(tmp_path, "open-1.wav", "open", 9)
    record(tmp_path, "open-2.wav", "open", 5)
    put(tmp_path, "open-2026-03-07T101500.csv")
    put(tmp_path, "open-2026-03-07 1030.csv")
    put(tmp_path, "open-2026-03-07.csv")
    assert names(tmp_path)["open"] == [
        "open-3.wav",
        "open-2.wav",
        "open-2026-03-07.csv",
        "open-2026-03-07T101500.csv",
        "open-2026-03-07 1030.csv",
        "open-1.wav",
    ]


def test_without_dates_the_number_counts_and_then_the_time_of_the_file(tmp_path: Path) -> None:
    put(tmp_path, "open-10.csv", 50)
    put(tmp_path, "open-2.csv", 1)
    put(tmp_path, "open.csv", 0)
    put(tmp_path, "open-2.txt", 2)
    put(tmp_path, "open-2026-99-99.csv", 90)  # no date; and no number
    assert names(tmp_path)["open"] == [
        "open-2026-99-99.csv",
        "open.csv",
        "open-2.txt",
        "open-2.csv",
        "open-10.csv",
    ]


def test_where_some_are_dated_the_others_go_by_the_time_of_the_file(tmp_path: Path) -> None:
    record(tmp_path, "open-a.wav", "open", 5)  # 2026; the file times here are of 2023
    put(tmp_path, "open-9.csv", 0)
    put(tmp_path, "open-1.csv", -1e9)
    assert names(tmp_path)["open"] == ["open-9.csv", "open-a.wav", "open-1.csv"]


def test_an_empty_folder_and_no_folder(tmp_path: Path) -> None:
    assert find_recordings(tmp_path) == {}
    for path in (tmp_path / "missing", put(tmp_path, "open.csv"), Path("a\0b")):
        with pytest.raises(UsageFault):
            find_recordings(path)


def test_settings_are_looked_for_in_the_folder_and_then_above_it(tmp_path: Path) -> None:
    cabinet = tmp_path / "bookshelf" / "left"
    cabinet.mkdir(parents=True)
    assert find_settings(cabinet, "sealtune-test-design.toml") is None
    above = put(tmp_path, "design.toml")
    recording = put(cabinet, "open.csv")
    assert find_settings(cabinet, "design.toml") == above
    near = put(tmp_path / "bookshelf", "design.toml")
    assert find_settings(cabinet, "design.toml") == near
    assert find_settings(recording, "design.toml") == near
    (cabinet / "design.toml").mkdir()  # a folder of that name is no settings file
    assert find_settings(cabinet, "design.toml") == near
    assert find_settings(cabinet / "missing", "design.toml") == near
