"""A cabinet's folder that holds its history: what `check` says after the rework."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.program import sealtune

from sealtune.jobs.simulate import Simulation, simulate
from sealtune.virtual.sound_card import SoundCard

DESIGN = Path(__file__).parents[2] / "recordings" / "design.toml"


def take(folder: Path, day: int, fault: str, severity: float = 0.7, card: SoundCard | None = None) -> None:
    """Record a virtual cabinet as role open on a day of January 2026."""
    simulation = Simulation(fault, severity, seed=day, seconds=4.0)
    (made,) = simulate(DESIGN, folder / "new", simulation, datetime(2026, 1, day, 10, tzinfo=UTC), card)
    made.rename(folder / f"open-2026-01-{day:02d}T100000.flac")


def checked(folder: Path, *words: str, of: str = ".") -> str:
    done = sealtune("check", of, *words, folder=folder)
    assert done.returncode in (0, 1), done.stderr
    return done.stdout


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "design.toml").write_text(DESIGN.read_text(encoding="utf-8"), encoding="utf-8")
    return tmp_path


def test_a_sealed_leak_is_told_as_sealed(folder: Path) -> None:
    take(folder, 1, "leak_slit")
    take(folder, 2, "none")
    result = json.loads(checked(folder, "--json", "-"))
    since = result["since"]
    assert result["verdict"] == "good"
    assert since["file"] == "open-2026-01-01T100000.flac"
    assert since["outcome"] == "fixed"
    assert since["summary"].endswith("the leak is sealed.")
    # independent, the virtual cabinet's own truth: 45.67 and 42.93 Hz, box Q 6.83 and 12.99
    assert since["tuning_hz"]["change_low"] < -2.74 < since["tuning_hz"]["change_high"]
    assert since["box_q"]["change_low"] < 6.16 < since["box_q"]["change_high"]
    assert since["tuning_hz"]["change_high"] - since["tuning_hz"]["change_low"] < 1.0
    assert [source["file"] for source in result["inputs"]] == ["open-2026-01-02T100000.flac"]
    text = checked(folder)
    assert "Since      open-2026-01-01T100000.flac: The tuning fell by 2.7 Hz" in text
    assert len(text.splitlines()) <= 15


def test_a_spoilt_recording_between_is_passed_over(folder: Path) -> None:
    take(folder, 1, "leak_slit")
    take(folder, 2, "leak_slit", card=SoundCard(level_dbfs=0.0, amplifier_v=40.0))  # clipped
    take(folder, 3, "leak_slit")
    since = json.loads(checked(folder, "--json", "-"))["since"]
    assert (since["file"], since["passed_over"]) == ("open-2026-01-01T100000.flac", 1)
    assert since["outcome"] == "unchanged"
    assert "the next joint in the order is" in since["summary"]


def test_one_recording_alone_has_no_history_nor_has_a_single_file(folder: Path) -> None:
    take(folder, 1, "none")
    assert json.loads(checked(folder, "--json", "-"))["since"] is None
    take(folder, 2, "none")
    assert json.loads(checked(folder, "--json", "-", of="open-2026-01-02T100000.flac"))["since"] is None


def test_the_page_has_a_table_of_the_changes(folder: Path, tmp_path: Path) -> None:
    take(folder, 1, "vent_long")
    take(folder, 2, "none")
    page = tmp_path / "page.html"
    done = sealtune("report", ".", "--out", page, folder=folder)
    assert done.returncode == 0, done.stderr
    text = page.read_text(encoding="utf-8")
    assert "Since open-2026-01-01T100000.flac" in text
    # a vent too long and one narrowed look the same, and both were named
    assert "what was done has worked" in text
    assert "Change between (95" in text
