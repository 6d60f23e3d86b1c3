"""Recordings at cone and mouth that cannot be used are left out, and it is said why."""

from pathlib import Path

import numpy as np
import pytest

from sealtune.jobs.near_field import near_field_of
from sealtune.judgement.near_field import Known
from sealtune.physics.air import standard_air
from sealtune.records.recording import Recording
from sealtune.records.verdict import Problem

NOTHING_KNOWN = Known(None, None, None, standard_air())


def left_out(path: Path) -> Problem:
    near, (problem,) = near_field_of({"cone": path}, NOTHING_KNOWN, None)
    assert near is None
    assert not problem.spoils
    return problem


def test_a_table_holds_no_sound() -> None:
    assert left_out(Path("cone.csv")) == Problem(
        "channel_missing",
        "cone.csv is a table; the role cone needs a sound file with voltage and microphone. It was left out.",
        "Record it with channel 1 at the amplifier and channel 2 at the microphone.",
        spoils=False,
    )


def test_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    (tmp_path / "cone.wav").write_bytes(b"no sound at all")
    problem = left_out(tmp_path / "cone.wav")
    assert problem.detail.endswith(" It was left out.")
    assert "cone.wav" in problem.detail


def test_a_microphone_that_hears_the_room(monkeypatch: pytest.MonkeyPatch) -> None:
    # two channels of independent noise have nothing in common
    noise = 0.1 * np.random.default_rng(2).standard_normal((48000, 2))
    monkeypatch.setattr("sealtune.jobs.near_field.read_recording", lambda _: Recording(noise, 8000.0))
    assert left_out(Path("cone.wav")) == Problem(
        "noisy",
        "cone.wav: the microphone hears more of the room than of the cabinet. It was left out.",
        "Bring the microphone closer, make the room quiet, or play louder, and record again.",
        spoils=False,
    )
