"""`pair`, `batch`, the history and paths from standard input as a person runs them."""

import csv
import io
import json
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from tests.program import Done, in_its_own_process, sealtune

from sealtune.files.design_file import read_design
from sealtune.files.impedance_table import table_text
from sealtune.jobs.simulate import Simulation, simulate
from sealtune.records.curve import ImpedanceCurve
from sealtune.virtual.cabinet import cabinet_from_design

RECORDINGS = Path(__file__).parents[2] / "recordings"
DESIGN = RECORDINGS / "design.toml"


def make(folder: Path, seed: int, fault: str = "none", severity: float = 0.6, hour: int = 0) -> Path:
    recorded = datetime(2026, 3, 1, 9, tzinfo=UTC) + timedelta(hours=hour)
    simulation = Simulation(fault, severity, seed=seed, scatter=0.5, seconds=3.0)
    (made,) = simulate(DESIGN, folder, simulation, recorded)
    return made


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten cabinets: eight good ones, one leaks, one recording is cut off; beside them a folder without open vent."""
    shop = tmp_path_factory.mktemp("shop") / "the <b>shop"
    shop.mkdir()
    (shop / "design.toml").write_bytes(DESIGN.read_bytes())
    for number in range(9):
        fault = "leak_slit" if number == 4 else "none"
        make(shop / f"box {number}", number, fault, 0.8, hour=number)
    broken = shop / "=cut & broken"
    broken.mkdir()
    (broken / "open.wav").write_bytes(b"RIFF\x10\x00\x00\x00WAVE")
    alone = shop / "stopped only"
    alone.mkdir()
    (alone / "plugged.csv").write_text("10,5,1\n")
    return shop


@pytest.fixture(scope="module")
def listed(shop: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Done, Path]:
    """What a batch over all of them in two processes prints, and the folder of its files."""
    folder = tmp_path_factory.mktemp("listed")
    words = ("batch", shop, "--json", "all.json", "--csv", "all.csv", "--processes", "2")
    return in_its_own_process(*words, folder=folder), folder


def test_the_shipped_pair_does_not_match_because_the_right_one_leaks(tmp_path: Path) -> None:
    done = in_its_own_process("pair", RECORDINGS / "left", RECORDINGS / "right", folder=tmp_path)
    assert done.returncode == 1, done.stderr
    assert "left and right: NOT MATCHED - the right one leaks" in done.stdout
    assert "left: GOOD" in done.stdout
    assert "right: REWORK - the box leaks" in done.stdout
    assert "Do         right: Search the vent's flange first" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 100


def test_pair_as_json_holds_both_checks_whole(tmp_path: Path) -> None:
    left, right = RECORDINGS / "left", RECORDINGS / "right"
    done = sealtune("pair", left, right, "--json", "-", folder=tmp_path)
    (line,) = done.stdout.splitlines()
    found = json.loads(line)
    assert found["schema"] == "sealtune.pair/1"
    assert (found["verdict"], found["matched"]) == ("rework", False)
    alone = sealtune("check", left, right, "--json", "-", folder=tmp_path)
    assert [json.loads(each) for each in alone.stdout.splitlines()] == [found["left"], found["right"]]
    tuning = found["differences"]["tuning_hz"]
    assert tuning["difference_low"] < tuning["left"] - tuning["right"] < tuning["difference_high"] < 0.0
    assert tuning["certain"] is True
    assert set(found["differences"]) == {
        "tuning_hz", "box_q", "compliance_ratio", "fs_hz", "qms", "qes", "re_ohm", "res_ohm",
    }  # fmt: skip
    assert [band["hz"] for band in found["bands"]][:3] == [20.0, 25.0, 31.5]
    assert found["leak_probability"]["right"] > 0.9
    file = tmp_path / "pair.json"
    written = sealtune("pair", left, right, "--json", file, folder=tmp_path)
    assert json.loads(file.read_text()) == found
    assert "NOT MATCHED" in written.stdout


def test_two_good_ones_of_one_batch_match(shop: Path, tmp_path: Path) -> None:
    done = sealtune("pair", shop / "box 0", shop / "box 1", folder=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "box 0 and box 1: MATCHED" in done.stdout
    assert "Both curves were fitted together" in done.stdout


def test_what_is_no_pair_is_refused_with_what_to_do(shop: Path, tmp_path: Path) -> None:
    left = RECORDINGS / "left"
    twice = sealtune("pair", left, f"{left}/../left", folder=tmp_path)
    assert (twice.returncode, twice.stdout) == (2, "")
    assert "the same one twice" in twice.stderr
    missing = sealtune("pair", left, "nowhere", folder=tmp_path)
    assert missing.returncode == 2
    assert "nowhere" in missing.stderr

    other = tmp_path / "other"
    shutil.copytree(left, other)
    (other / "design.toml").write_text(
        '[design]\nname = "Tower"\n[box]\nvolume_l = 40.0\n[tuning]\ntarget_hz = 43.0\n'
    )
    designs = sealtune("pair", left, other, folder=tmp_path)
    assert designs.returncode == 2
    assert "Bookshelf" in designs.stderr
    assert "Tower" in designs.stderr
    cut = sealtune("pair", shop / "box 0", shop / "=cut & broken", folder=tmp_path)
    assert cut.returncode == 3
    assert "NOT COMPARED" in cut.stdout
    for done in (twice, missing, designs, cut):
        assert "Traceback" not in done.stderr


def test_a_recording_held_against_itself_is_told(tmp_path: Path) -> None:
    left = RECORDINGS / "left"
    for again in (left / "open.flac", shutil.copytree(left, tmp_path / "copy")):
        copied = sealtune("pair", left, again, "--design", DESIGN, folder=tmp_path)
        assert copied.returncode == 0
        assert "hold the same recording of the open vent, byte for byte" in copied.stderr


def test_a_batch_lists_what_needs_work_first_and_pairs_the_rest(listed: tuple[Done, Path]) -> None:
    done, folder = listed
    assert done.returncode == 3, done.stderr
    assert done.stderr == ""
    lines = done.stdout.splitlines()
    assert lines[0] == "the <b>shop: 10 cabinets: 1 to measure again, 1 to rework, 8 good"
    assert [line.split("  ")[0] for line in lines[3:5]] == ["=cut & broken", "box 4"]
    assert "stopped only" in lines[-1]
    found = json.loads((folder / "all.json").read_text())
    assert found["schema"] == "sealtune.batch/1"
    assert found["counts"] == {"good": 8, "rework": 1, "remeasure": 1}
    assert found["passed_over"] == ["stopped only"]
    # nine can have a mate: the odd one is the one that differs most, and no cabinet has two
    assert found["odd_one_out"] == ["box 4"]
    mates = [name for pair in found["pairs"] for name in pair["cabinets"]]
    assert sorted(mates) == [f"box {n}" for n in range(9) if n != 4]
    assert all(pair["ready"] for pair in found["pairs"])
    by_name = {one["cabinet"]: one for one in found["cabinets"]}
    assert by_name["=cut & broken"]["check"]["quality"]["problems"]
    assert by_name["box 0"]["check"]["schema"] == "sealtune.check/1"
    assert {chart["quantity"] for chart in found["limits"]} == {"tuning", "box_q", "fs"}
    assert all(chart["by_date"] for chart in found["limits"])
    q = next(chart for chart in found["limits"] if chart["quantity"] == "box_q")
    assert q["cabinets"] == [f"box {n}" for n in range(9)]
    table = list(csv.DictReader(io.StringIO((folder / "all.csv").read_text())))
    assert len(table) == 10
    assert table[0]["cabinet"] == "'=cut & broken", "a spreadsheet must not take a name for a formula"
    row = next(one for one in table if one["cabinet"] == "box 0")
    assert row["verdict"] == "good"
    assert float(row["tuning_low_hz"]) < float(row["tuning_hz"]) < float(row["tuning_high_hz"])
    assert row["mate"] in mates


def test_one_process_says_the_same_as_two(shop: Path, listed: tuple[Done, Path], tmp_path: Path) -> None:
    one = sealtune("batch", shop, "--json", "-", "--processes", "1", folder=tmp_path).stdout
    assert json.loads(one) == json.loads((listed[1] / "all.json").read_text())


def test_a_drift_of_the_production_is_told(tmp_path: Path) -> None:
    # ten cabinets whose vents get longer by 3 mm each; the longest is 27 mm longer
    design = DESIGN.read_text()
    assert "length_mm" in design
    length = next(
        float(line.split("=")[1].split("#")[0]) for line in design.splitlines() if "length_mm" in line
    )
    shop, hz = tmp_path / "shop", np.geomspace(5.0, 800.0, 300)
    for number in range(10):
        own = tmp_path / f"design {number}.toml"
        own.write_text(design.replace(f"length_mm = {length}", f"length_mm = {length + 3.0 * number}"))
        z = cabinet_from_design(read_design(own), np.random.default_rng(number), scatter=0.1).impedance(hz)
        (shop / f"box {number}").mkdir(parents=True)
        table = shop / f"box {number}" / f"open-2026-03-{number + 1:02d}.csv"
        table.write_text(table_text(ImpedanceCurve(hz, z, 1e-5 * np.abs(z))))
    (shop / "design.toml").write_text(design)
    done = in_its_own_process("batch", shop, "--json", "all.json", folder=tmp_path)
    assert "Drift: the tuning falls by" in done.stdout
    assert "a blunt cutter" in done.stdout
    found = json.loads((tmp_path / "all.json").read_text())
    chart = next(one for one in found["limits"] if one["quantity"] == "tuning")
    assert chart["drift"]["certain"] is True
    # exact: f_B goes with the root of 1/length; with some 20 to 45 mm of end corrections 27 mm are 6 to 9 %
    assert -9.5 < chart["drift"]["change"] < -5.5
    others = [one for one in found["limits"] if one["quantity"] == "fs"]
    assert others[0]["drift"]["certain"] is False


def test_no_batch_is_wrong_use(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "file.txt").write_text("x")
    for path, words in (("nowhere", "nothing there"), ("empty", "role open"), ("file.txt", "a file")):
        done = sealtune("batch", path, folder=tmp_path)
        assert (done.returncode, done.stdout) == (2, "")
        assert words in done.stderr
        assert "Traceback" not in done.stderr


def test_history_is_what_the_folder_holds(tmp_path: Path) -> None:
    for year, seed, fault in ((2019, 1, "none"), (2022, 2, "none"), (2026, 3, "leak_slit")):
        simulation = Simulation(fault, 0.7, seed=seed, seconds=3.0)
        (made,) = simulate(DESIGN, tmp_path / "new", simulation, datetime(year, 5, 1, 10, tzinfo=UTC))
        (tmp_path / "box").mkdir(exist_ok=True)
        made.rename(tmp_path / "box" / f"open-{year}.flac")
    (tmp_path / "box" / "open-2020-01-01.wav").write_bytes(b"no sound")
    (tmp_path / "box" / "design.toml").write_bytes(DESIGN.read_bytes())
    done = sealtune("check", "box", "--history", folder=tmp_path)
    assert done.returncode == 1, done.stderr
    table = done.stdout.partition("History")[2].splitlines()
    assert [line.split()[2] for line in table[2:6]] == [
        "open-2019.flac", "open-2020-01-01.wav", "open-2022.flac", "open-2026.flac",
    ]  # fmt: skip
    assert [line.split()[3] for line in table[2:6]] == ["GOOD", "MEASURE", "GOOD", "REWORK"]
    assert "Since open-2019.flac: The tuning rose" in done.stdout
    with_it = sealtune("check", "box", "--history", "--json", "-", folder=tmp_path)
    found = json.loads(with_it.stdout)["history"]
    assert len(found["recordings"]) == 4
    assert found["recordings"][0]["recorded_at"].startswith("2019-05-01")
    assert found["recordings"][1]["tuning_hz"] is None
    assert found["since_first"]["tuning_hz"]["change"] > 0.5
    plain = sealtune("check", "box", "--json", "-", folder=tmp_path)
    assert json.loads(plain.stdout)["history"] is None


def test_paths_from_standard_input(tmp_path: Path) -> None:
    shutil.copytree(RECORDINGS / "left", tmp_path / "a box")
    (tmp_path / "design.toml").write_bytes(DESIGN.read_bytes())
    done = sealtune("check", "-", "--json", "-", folder=tmp_path, given=f"a box\n\n{RECORDINGS / 'right'}\n")
    assert done.returncode == 1, done.stderr
    assert [json.loads(line)["cabinet"] for line in done.stdout.splitlines()] == ["a box", "right"]
    nothing = sealtune("check", "-", folder=tmp_path, given="\n")
    assert nothing.returncode == 2
    assert "one a line" in nothing.stderr
