"""`sealtune plan` as a person runs it."""

import json
import math
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from sealtune.cli.main import commands

DEMO = Path(__file__).parents[2] / "recordings" / "design.toml"


def run(*words: str) -> Result:
    return CliRunner().invoke(commands, ["plan", *words])


def flat(value: object) -> list[object]:
    if isinstance(value, dict):
        return [leaf for part in value.values() for leaf in flat(part)]
    if isinstance(value, list):
        return [leaf for part in value for leaf in flat(part)]
    return [value]


def test_plan_of_the_demo() -> None:
    done = run(str(DEMO))
    assert done.exit_code == 0
    assert "Bookshelf 18" in done.output
    assert "43.5 Hz" in done.output
    assert "nan" not in done.output
    assert max(len(line) for line in done.output.splitlines()) <= 100


def test_readme_shows_what_the_program_says() -> None:
    # Exact: every indented line of that part of the README stands in the output.
    readme = (DEMO.parents[1] / "README.md").read_text(encoding="utf-8")
    part = readme.split("## Before you cut")[1].split("## Practice")[0]
    shown = [line[4:] for line in part.splitlines() if line.startswith("    ")]
    assert len(shown) >= 4
    said = run(str(DEMO)).output.splitlines()
    assert [line for line in shown if line not in said] == []


def test_folder_stands_for_its_design(tmp_path: Path) -> None:
    (tmp_path / "design.toml").write_text(DEMO.read_text(encoding="utf-8"), encoding="utf-8")
    assert run(str(tmp_path)).output == run(str(DEMO)).output


def test_json_alone_on_standard_output() -> None:
    done = run(str(DEMO), "--json", "-")
    plan = json.loads(done.output)
    assert plan["schema"] == "sealtune.plan/1"
    for leaf in flat(plan):
        assert leaf is None or isinstance(leaf, str | bool | int) or math.isfinite(leaf)  # type: ignore[arg-type]
    # Regression only, of the demo's design; the physics is held elsewhere.
    assert plan["tuning"]["predicted_hz"] == pytest.approx(43.68, abs=0.01)
    assert plan["expected"]["tuning_hz"]["low"] < 43.68 < plan["expected"]["tuning_hz"]["high"]
    # Exact: one designed row in each table, as many points in each curve.
    for table in ("other_vents", "other_volumes"):
        assert [row["designed"] for row in plan[table]].count(True) == 1
    curves = plan["curves"]
    lengths = {
        len(curve)
        for curve in (curves["frequency_hz"], curves["impedance_ohm"], curves["vented"]["level_db_1w_1m"])
    }
    assert lengths == {600}


def test_same_bytes_each_time() -> None:
    # Exact: the random draws follow from a fixed seed.
    assert run(str(DEMO), "--json", "-").output == run(str(DEMO), "--json", "-").output


def test_page_and_json_files(tmp_path: Path) -> None:
    page, table = tmp_path / "plan.html", tmp_path / "plan.json"
    done = run(str(DEMO), "--out", str(page), "--json", str(table))
    assert done.exit_code == 0
    assert f"Page: {page}" in done.output
    html = page.read_text(encoding="utf-8")
    assert html.startswith("<!DOCTYPE html>")
    assert "<script" not in html
    assert len(html) < 600_000
    assert json.loads(table.read_text())["design"] == "Bookshelf 18"


def test_new_writes_a_design_that_can_be_planned(tmp_path: Path) -> None:
    path = tmp_path / "box.toml"
    done = run("--new", str(path))
    assert done.exit_code == 0
    assert str(path) in done.output
    assert run(str(path)).exit_code == 0
    # never over what is there
    before = path.read_text(encoding="utf-8")
    path.write_text(before + "# mine\n", encoding="utf-8")
    with pytest.raises(Exception, match="free"):
        CliRunner().invoke(commands, ["plan", "--new", str(path)], catch_exceptions=False)
    assert path.read_text(encoding="utf-8") == before + "# mine\n"


def test_jig_resistor_changes_the_level_of_the_sweep() -> None:
    # Exact: the more of the voltage falls across the jig, the more the amplifier may give.
    small, large = (
        json.loads(run(str(DEMO), "--reference-ohm", ohm, "--json", "-").output)["sweep"]
        for ohm in ("1", "47")
    )
    assert large["volts"] > small["volts"]
    assert run(str(DEMO), "--reference-ohm", "nan").exit_code == 2


@pytest.mark.parametrize(
    "driver", ["", "[driver]\nfs_hz = 40.0\nqms = 4.0\nqes = 0.4\nvas_l = 30.0\n", "[driver]\nre_ohm = 6.0\n"]
)
def test_little_is_known(tmp_path: Path, driver: str) -> None:
    path = tmp_path / "design.toml"
    path.write_text(f"[box]\nvolume_l = 20.0\n[tuning]\ntarget_hz = 40.0\n{driver}", encoding="utf-8")
    done = run(str(path), "--out", str(tmp_path / "plan.html"))
    assert done.exit_code == 0, done.output
    assert "None" not in done.output
    assert "nan" not in done.output
    assert run(str(path), "--json", "-").exit_code == 0


def test_faults_leave_with_2(tmp_path: Path) -> None:
    from sealtune.errors import SettingsFault

    path = tmp_path / "design.toml"
    path.write_text(
        "[box]\nvolume_l = 20.0\ndepth_mm = 200\n[vent]\ndiameter_mm = 60\nlength_mm = 420\n",
        encoding="utf-8",
    )
    with pytest.raises(SettingsFault, match="longer than the box is deep") as caught:
        CliRunner().invoke(commands, ["plan", str(path)], catch_exceptions=False)
    assert caught.value.exit_code == 2


def test_where_there_is_no_design_one_can_be_written(tmp_path: Path) -> None:
    done = CliRunner().invoke(commands, ["plan", str(tmp_path)])
    path = tmp_path / "design.toml"
    assert str(done.exception) == (
        f"{path}: expected a design; got nothing there. Write one to fill in: sealtune plan --new {path}"
    )
