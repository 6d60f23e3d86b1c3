"""Cone and mouth through the commands: agreement, polarity, rattles, what is missing, and what cannot be used."""

import json
import shutil
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from sealtune.cli.main import commands
from sealtune.files.sound_file import read_recording, write_recording
from sealtune.signals.sweep import sweep_starts
from sealtune.virtual.side_noise import Rattle, rattling

DESIGN = Path(__file__).parents[2] / "recordings" / "design.toml"
ALL = ("--role", "open", "--role", "cone", "--role", "mouth")


def run(*words: str | Path) -> tuple[int, str]:
    result = CliRunner().invoke(commands, [str(word) for word in words], catch_exceptions=False)
    return result.exit_code, result.output


@cache
def checked(folder: Path, *more: str | Path) -> tuple[int, dict]:  # type: ignore[type-arg]
    code, text = run("check", folder, "--json", "-", *more)
    return code, json.loads(text)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("near")
    for name, more in {
        "good": (), "turned": ("--fault", "polarity"), "rattling": ("--rattle", "0.01"),
        "lined": ("--fault", "vent_lined", "--severity", "0.6"),
    }.items():  # fmt: skip
        code, text = run("simulate", DESIGN, "--out", home / name, "--seconds", "4", *ALL, *more)
        assert code == 0, text
    return home


def copy_of(made: Path, name: str, to: Path) -> Path:
    shutil.copytree(made / name, to / name)
    return to / name


def rewritten(path: Path, factor: float) -> None:
    take = read_recording(path)
    path.unlink()
    write_recording(path, replace(take, channels=take.channels * [1.0, factor]))


def test_good_cabinet(made: Path) -> None:
    code, found = checked(made / "good")
    near = found["near_field"]
    assert (code, found["verdict"], near["polarity"]) == (0, "good", "normal")
    assert near["tuning"]["agrees"] is True
    assert near["tuning"]["low_hz"] < found["tuning"]["hz"] < near["tuning"]["high_hz"]
    assert near["tuning"]["hz"] == pytest.approx(found["tuning"]["hz"], rel=0.01)
    assert near["sum"]["crosstalk_removed"] is True
    # Exact: ka = 1 of 136 cm2 at 344 m/s
    assert near["sum"]["limit_hz"] == pytest.approx(344.0 / (2 * np.pi * np.sqrt(0.0136 / np.pi)), rel=2e-3)
    assert near["sum"]["bands_hz"][:3] == [20.0, 25.0, 31.5]
    assert max(abs(one) for one in near["sum"]["difference_db"]) < 1.5
    assert near["noises"] == []
    assert [one["role"] for one in found["inputs"]] == ["open", "cone", "mouth"]


def test_text_has_a_short_passage(made: Path) -> None:
    code, text = run("check", made / "good")
    assert code == 0
    assert "Sound      Cone and mouth tell 4" in text
    assert "plus moves the cone" in text
    assert len(text.strip().splitlines()) <= 16


def test_swapped_leads(made: Path) -> None:
    code, found = checked(made / "turned")
    assert (code, found["verdict"]) == (1, "rework")
    assert found["findings"][0]["fault"] == "polarity"
    assert found["findings"][0]["probability"] > 0.9
    assert "wrong way round" in found["summary"]


def test_mouth_in_the_wrong_phase(made: Path, tmp_path: Path) -> None:
    folder = copy_of(made, "good", tmp_path)
    rewritten(folder / "mouth.flac", -1.0)
    code, found = checked(folder)
    assert code == 1
    assert found["near_field"]["polarity"] == "contradictory"
    assert "contradict" in found["summary"]
    assert found["findings"][0]["fault"] == "polarity"
    # the tuning is found all the same
    assert found["near_field"]["tuning"]["agrees"] is True


def test_rattle(made: Path) -> None:
    code, found = checked(made / "rattling")
    assert code == 0
    noises = found["near_field"]["noises"]
    assert {one["kind"] for one in noises} == {"rattle"}
    assert noises[0]["share_percent"] == pytest.approx(1.0, rel=0.5)
    assert noises[0]["low_hz"] < 45.0 < noises[0]["high_hz"]
    assert "rattles" in found["summary"]


def test_softer_the_rattle_is_told_apart(made: Path, tmp_path: Path) -> None:
    folder = copy_of(made, "rattling", tmp_path)
    take = read_recording(made / "good" / "cone.flac")
    assert take.origin.level_dbfs is not None
    assert take.origin.recorded_at is not None
    origin = replace(
        take.origin, level_dbfs=take.origin.level_dbfs - 12.0,
        recorded_at=take.origin.recorded_at.replace(year=2020),
    )  # fmt: skip
    write_recording(folder / "cone-soft.flac", replace(take, origin=origin))
    _, found = checked(folder)
    other = found["near_field"]["other_levels"]
    assert [(one["file"], one["level_db"], one["noises"]) for one in other] == [("cone-soft.flac", -12.0, [])]
    assert any("12 dB softer" in note and "gone" in note for note in found["near_field"]["notes"])


def test_lost_bass_is_explained(made: Path) -> None:
    _, found = checked(made / "lined")
    missing = {one["hz"]: one for one in found["near_field"]["missing"]}
    assert 40.0 in missing
    at = missing[40.0]
    assert at["difference_db"] < -1.0
    # Exact: what is explained and what stays open add up, but for shares under 0.2 dB
    assert sum(at["explained_db"].values()) + at["open_db"] == pytest.approx(at["difference_db"], abs=0.5)
    assert abs(at["open_db"]) < 0.6
    worst = min(at["explained_db"], key=at["explained_db"].get)
    assert worst == "the material in the vent"


def test_microphone_file(made: Path, tmp_path: Path) -> None:
    # Exact: a microphone said to lose 6 dB at 40 Hz and below had 6 dB more before it
    path = tmp_path / "mic.txt"
    path.write_text("10 -6\n40 -6\n80 0\n1000 0\n")
    _, plain = checked(made / "good")
    code, found = checked(made / "good", "--microphone", path)
    assert code == 0
    assert found["near_field"]["microphone_corrected"] is True
    change = np.subtract(found["near_field"]["sum"]["level_db"], plain["near_field"]["sum"]["level_db"])
    assert change[:3] == pytest.approx([6.0, 6.0, 6.0], abs=0.3)
    # cone and mouth share the microphone: the tuning stays
    assert found["near_field"]["tuning"]["hz"] == pytest.approx(plain["near_field"]["tuning"]["hz"], rel=1e-3)


def test_a_bad_microphone_file_is_told(made: Path, tmp_path: Path) -> None:
    path = tmp_path / "mic.txt"
    path.write_text("nothing\n")
    code, text = run("check", made / "good", "--microphone", path)
    assert code == 2
    assert "Traceback" not in text


@pytest.mark.parametrize("left", ["cone", "mouth"])
def test_one_of_the_two(made: Path, tmp_path: Path, left: str) -> None:
    folder = copy_of(made, "turned", tmp_path)
    (folder / f"{'mouth' if left == 'cone' else 'cone'}.flac").unlink()
    code, found = checked(folder)
    near = found["near_field"]
    assert near["sum"] is None
    assert near["tuning"]["hz"] is None
    # the cone alone tells the polarity, the mouth alone does not
    assert (code, near["polarity"]) == ((1, "reversed") if left == "cone" else (0, None))


def test_a_useless_recording_is_left_out(made: Path, tmp_path: Path) -> None:
    folder = copy_of(made, "good", tmp_path)
    rewritten(folder / "mouth.flac", 0.0)
    code, found = checked(folder)
    assert code == 0
    problems = [one for one in found["quality"]["problems"] if one["problem"] == "channel_missing"]
    assert len(problems) == 1
    assert problems[0]["detail"].startswith("mouth.flac")
    assert found["near_field"]["polarity"] == "normal"


def test_a_folder_without_open_is_refused(made: Path, tmp_path: Path) -> None:
    folder = copy_of(made, "good", tmp_path)
    (folder / "open.flac").unlink()
    code, text = run("check", folder)
    assert code == 2
    assert "role open" in text


def test_report_shows_the_figure(made: Path, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    code, _ = run("report", made / "lined", "--out", page, "--pdf")
    assert code == 1
    sheets = [" ".join(each.extract_text().split()) for each in PdfReader(page.with_suffix(".pdf")).pages]
    assert len(sheets) <= 3
    for words in ("Close to cone and mouth", "near field up to 832", "Minimum of the cone's sound"):
        assert words in " ".join(sheets), words
    text = page.read_text()
    assert "Close to cone and mouth" in text
    assert "Near field of lined" in text
    assert "near field up to 832" in text  # Hz follows after a blank that does not break


def test_a_rattle_without_a_microphone(made: Path, tmp_path: Path) -> None:
    # Independent: the virtual rattle's own share, added to the voltage across the box
    folder = tmp_path / "bare"
    folder.mkdir()
    shutil.copy(made / "good" / "design.toml", folder)
    take = read_recording(made / "good" / "open.flac")
    assert take.origin.sweep is not None
    starts = sweep_starts(take.origin.sweep, take.rate_hz)
    rattle, rng = Rattle(0.01, 34.0, 80.0), np.random.default_rng(2)
    channels = take.channels.copy()
    channels[:, 1] += rattling(rattle, channels[:, 1], take.origin.sweep, starts, take.rate_hz, rng)
    write_recording(folder / "open.flac", replace(take, channels=channels))
    code, found = checked(folder)
    assert (code, found["verdict"]) == (0, "good")
    assert "rattles" in found["summary"]
    (noise,) = found["near_field"]["noises"]
    assert (noise["kind"], noise["role"]) == ("rattle", "open")
    assert noise["share_percent"] == pytest.approx(1.0, rel=0.3)
    assert found["near_field"]["polarity"] is None
    assert "voltage across the box" in found["near_field"]["notes"][0]
    page = tmp_path / "page.html"
    run("report", folder, "--out", page)
    text = page.read_text()
    assert "What rattles" in text
    assert "Close to cone and mouth" not in text


def test_without_a_sweep_it_is_said_that_no_rattle_was_looked_for(made: Path, tmp_path: Path) -> None:
    folder = copy_of(made, "rattling", tmp_path)
    take = read_recording(folder / "cone.flac")
    (folder / "cone.flac").unlink()
    write_recording(folder / "cone.wav", replace(take, origin=replace(take.origin, sweep=None)))
    _, found = checked(folder)
    assert found["near_field"]["not_searched"] == ["cone"]
    assert any("not looked for in cone" in note for note in found["near_field"]["notes"])
    assert [one["role"] for one in found["near_field"]["noises"]] == ["mouth"]
    assert 0.9 < found["near_field"]["coherence"]["cone"] <= 1.0


def test_without_the_cones_area_it_is_said_why_there_is_no_sum(made: Path, tmp_path: Path) -> None:
    folder = copy_of(made, "good", tmp_path)
    design = folder / "design.toml"
    lines = design.read_text().splitlines()
    design.write_text("\n".join(line for line in lines if not line.startswith("sd_cm2")))
    _, found = checked(folder)
    assert found["near_field"]["sum"] is None
    assert any("sd_cm2" in note for note in found["near_field"]["notes"])


def test_without_a_verdict_on_the_box_the_impedance_is_not_said_to_explain_nothing(
    made: Path, tmp_path: Path
) -> None:
    folder = copy_of(made, "lined", tmp_path)
    rewritten(folder / "open.flac", 0.0)
    code, found = checked(folder)
    assert code == 3
    told = [note for note in found["near_field"]["notes"] if "less than designed" in note]
    assert told
    assert all("the impedance does not tell why" in note for note in told)


@pytest.mark.parametrize(("factor", "word"), [(2.0, "louder"), (0.5, "softer")])
def test_another_gain_at_the_mouth_is_told(made: Path, tmp_path: Path, factor: float, word: str) -> None:
    folder = copy_of(made, "good", tmp_path)
    rewritten(folder / "mouth.flac", factor)
    _, found = checked(folder)
    # Exact: a factor of two is 6.02 dB; what is known of distances draws it towards 0
    assert found["near_field"]["mouth_excess_db"] == pytest.approx(20 * np.log10(factor), abs=2.0)
    assert any(
        f"dB {word} against the cone" in note and "gain" in note for note in found["near_field"]["notes"]
    )
