"""A bad design.toml: every fault at once, each with key, value, what is allowed and the nearest known key."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from sealtune.cli.main import commands
from sealtune.errors import SettingsFault
from sealtune.files.design_keys import DESIGN_TABLES
from sealtune.jobs.check import check
from sealtune.jobs.designs import load_design, planned_design
from sealtune.jobs.recordings import CheckOptions

DEMO = Path(__file__).parents[2] / "recordings"
BOX = "[box]\nvolume_l = 18\n"
VENT = "[vent]\ndiameter_mm = 60\nlength_mm = 140\n"

NEW_KEYS = {
    "box": ("width_mm", "height_mm", "depth_mm"),
    "vent": ("wall_position", "shared_walls", "spacing_mm", "size_tolerance_mm"),
    "driver": ("qts", "mms_g", "cms_mm_per_n", "bl_t_m", "rms_kg_per_s"),
    "air": ("temperature_c", "humidity_percent", "pressure_hpa", "temperature_tolerance_c"),
}
SLIPS = {
    # table, as typed: the key meant
    ("box", "widht_mm"): "width_mm",
    ("box", "hight_mm"): "height_mm",
    ("box", "depth"): "depth_mm",
    ("vent", "wall_pos"): "wall_position",
    ("vent", "walls_shared"): "shared_walls",
    ("vent", "spacing"): "spacing_mm",
    ("vent", "size_tolerance"): "size_tolerance_mm",
    ("driver", "qt"): "qts",
    ("driver", "mms"): "mms_g",
    ("driver", "cms"): "cms_mm_per_n",
    ("driver", "bl"): "bl_t_m",
    ("driver", "rms"): "rms_kg_per_s",
    ("air", "temperature"): "temperature_c",
    ("air", "humidity"): "humidity_percent",
    ("air", "pressure"): "pressure_hpa",
    ("air", "temp_tolerance_c"): "temperature_tolerance_c",
}


def write(folder: Path, text: str) -> Path:
    path = folder / "design.toml"
    path.write_text(text, encoding="utf-8")
    return path


def faults(path: Path) -> tuple[str, ...]:
    with pytest.raises(SettingsFault) as caught:
        load_design(path)
    assert caught.value.exit_code == 2
    return caught.value.faults


def test_the_lists_above_name_every_key() -> None:
    for table, names in NEW_KEYS.items():
        assert set(names) <= {key.name for key in DESIGN_TABLES[table]}
    assert {(table, name) for (table, _), name in SLIPS.items()} == {
        (table, name) for table, names in NEW_KEYS.items() for name in names
    }


def test_every_slip_names_the_key_that_was_meant(tmp_path: Path) -> None:
    tables: dict[str, list[str]] = {"box": ["volume_l = 18"], "vent": ["diameter_mm = 60", "length_mm = 140"]}
    for table, typed in SLIPS:
        tables.setdefault(table, []).append(f"{typed} = 1")
    text = "\n".join(f"[{table}]\n" + "\n".join(lines) for table, lines in tables.items())
    found = faults(write(tmp_path, text + "\n"))
    assert len(found) == len(SLIPS)
    for (table, typed), meant in SLIPS.items():
        key = next(key for key in DESIGN_TABLES[table] if key.name == meant)
        line = f"[{table}] {typed} = 1: unknown key; did you mean {meant} ({key.allowed()})?"
        assert line in found


def test_every_impossible_value_is_told_with_its_range(tmp_path: Path) -> None:
    text = BOX + "width_mm = 0\nheight_mm = -320\ndepth_mm = 1e6\n" + VENT
    text += 'wall_distance_mm = 50\nwall_position = "front"\nshared_walls = 4\nspacing_mm = 0\n'
    text += "size_tolerance_mm = nan\n[driver]\nqts = 0\nmms_g = -1\n"
    text += 'cms_mm_per_n = 0\nbl_t_m = "7 Tm"\nrms_kg_per_s = inf\n'
    text += "[air]\ntemperature_c = 68\nhumidity_percent = 101\npressure_hpa = 101325\n"
    text += "temperature_tolerance_c = -1\n[tuning]\ntarget_hz = 1000\n"
    found = "\n".join(faults(write(tmp_path, text)))
    for table, names in NEW_KEYS.items():
        for name in names:
            key = next(key for key in DESIGN_TABLES[table] if key.name == name)
            assert re.search(
                rf"^\[{table}\] {name} = .*: must be {re.escape(key.allowed())}", found, re.MULTILINE
            )
    assert "[tuning] target_hz = 1000: must be a number from 3 to 500 Hz" in found


def test_faults_of_every_kind_come_together(tmp_path: Path) -> None:
    text = BOX + "width_mm = 100\nheight_mm = 200\ndepth_mm = 200\n[vent]\ndiameter_mm = 60\ncount = 2\n"
    text += 'spacing_mm = 50\nwall_position = "facing"\nshared_walls = 2\n'
    text += "[driver]\nqts = 4.5\nqms = 4.2\nmms_g = 1\ncms_mm_per_n = 90\n[air]\ntemprature_c = 20\n"
    found = faults(write(tmp_path, text))
    for start in (
        "[box] volume_l = 18: more than the 4 litres",
        "[vent] length_mm: missing",
        "[vent] spacing_mm = 50: must be at least 60 mm for diameter_mm = 60",
        "[vent] wall_position: counts only where wall_distance_mm",
        '[vent] shared_walls = 2: belongs to shape "rectangular"',
        "[driver] qts = 4.5: must be below qms = 4.2",
        "[air] temprature_c = 20: unknown key; did you mean temperature_c",
    ):
        assert any(fault.startswith(start) for fault in found), start
    assert len(found) == 7


def test_what_cannot_be_built_can_be_checked_but_not_planned(tmp_path: Path) -> None:
    text = BOX + "width_mm = 200\nheight_mm = 320\ndepth_mm = 300\n"
    text += "[vent]\ndiameter_mm = 250\nlength_mm = 600\n"
    path = write(tmp_path, text)
    design, notes = load_design(path)
    assert design.vent is not None
    assert notes == ()
    with pytest.raises(SettingsFault) as caught:
        planned_design(path)
    assert caught.value.exit_code == 2
    message = str(caught.value)
    assert str(path) in message
    for words in ("[vent] length_mm = 600: ", "[vent] diameter_mm = 250: larger than the wall", "3 faults"):
        assert words in message
    assert message.count("The nearest that can be built for ") == 3
    assert path.read_text(encoding="utf-8") == text


def test_a_good_design_is_completed_and_planned(tmp_path: Path) -> None:
    text = BOX + VENT + "[driver]\nqts = 0.38\nqms = 4.2\nvas_l = 20\nsd_cm2 = 136\ncms_mm_per_n = 1.2\n"
    design, notes = planned_design(write(tmp_path, text))
    # Exact: 1/0.38 - 1/4.2 = 1/0.4178; V_AS: see the test of the completion
    assert design.driver.qes == pytest.approx(0.4178, abs=5e-5)
    assert notes[0] == "Q_ES 0.418 follows from Q_TS and Q_MS."
    assert notes[1].startswith("V_AS 20 L does not go with S_D 136 cm2 and C_MS 1.2 mm/N, which make 31.5 L")
    assert len(notes) == 2
    # for a finished box only what contradicts itself is worth a word
    assert load_design(tmp_path / "design.toml") == (design, notes[1:])


def test_mountain_air_makes_no_contradiction(tmp_path: Path) -> None:
    # a data sheet speaks of the standard air, wherever the box stands; at 700 hPa V_AS would be 31 % off
    sheet = "[driver]\nvas_l = 21.0\nsd_cm2 = 132\ncms_mm_per_n = 0.85\n"
    design, odd = load_design(write(tmp_path, BOX + VENT + sheet + "[air]\npressure_hpa = 700\n"))
    assert odd == ()
    # Exact: rho c^2 goes with the pressure, and V_AS = rho c^2 S_D^2 C_MS with it
    assert design.driver.vas_m3 == pytest.approx(0.021 * 700 / 1013.25, rel=1e-3)


def test_check_refuses_a_faulty_design_in_one_message(tmp_path: Path) -> None:
    path = write(tmp_path, BOX + "[vent]\ndiameter_mm = 30\n[tuning]\ntarget_hz = 100\n[driver]\nbl = 7\n")
    done = CliRunner().invoke(commands, ["check", str(DEMO / "left"), "--design", str(path)])
    assert done.exit_code == 2
    assert done.stdout == ""
    for words in (
        "got 2 faults:",
        "[driver] bl = 7: unknown key; did you mean bl_t_m",
        "[vent] length_mm: missing, and none reaches target_hz = 100;",
    ):
        assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_check_takes_the_air_of_the_design(tmp_path: Path) -> None:
    text = (DEMO / "design.toml").read_text(encoding="utf-8")
    tunings = []
    for air in ("", "[air]\ntemperature_c = 20\n", "[air]\ntemperature_c = 30\n"):
        options = CheckOptions(design=write(tmp_path, text + air))
        prediction = check(DEMO / "left", options).prediction
        assert prediction is not None
        assert prediction.tuning_hz is not None
        tunings.append(prediction.tuning_hz)
    assert tunings[0] == tunings[1]
    # Published: c of moist air, 350.3 m/s at 30 degrees and 50 % against 343.99 m/s at 20 [Cramer1993, eq. 15]
    assert tunings[2] / tunings[0] == pytest.approx(350.3 / 343.99, rel=5e-4)


def test_check_counts_a_length_left_out_as_that_of_the_target(tmp_path: Path) -> None:
    text = (DEMO / "design.toml").read_text(encoding="utf-8")
    short = re.sub(r"length_mm = .*\n", "", text, count=1)
    assert short != text
    prediction = check(DEMO / "left", CheckOptions(design=write(tmp_path, short))).prediction
    assert prediction is not None
    # Exact: box and vent then predict the target
    assert prediction.tuning_hz == pytest.approx(prediction.target_hz, rel=1e-6)
