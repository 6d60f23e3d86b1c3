"""design.toml and jig.toml: what is right is converted, everything wrong is named at once."""

from __future__ import annotations

import math
import re
from contextlib import suppress
from dataclasses import asdict, replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sealtune.errors import SealtuneError, SettingsFault, UsageFault
from sealtune.files.design_file import read_design
from sealtune.files.design_keys import DESIGN_TABLES, SHAPE_KEYS, SHAPE_OPTIONS
from sealtune.files.jig_file import JIG_TABLES, jig_text, read_jig
from sealtune.physics.air import standard_air
from sealtune.physics.vent import tuning_hz
from sealtune.records.design import Box, Climate, Crossover, Design, Driver, Tuning, Vent
from sealtune.records.recording import Jig, JigStandards, KnownResistor, Standard

FULL = """
[design]
name = "Bookshelf"
[box]
volume_l = 18.0
volume_tolerance_percent = 2.0
lining = "walls"
width_mm = 200
height_mm = 320
depth_mm = 310
[vent]
shape = "round"
diameter_mm = 60.0
length_mm = 140.0
count = 2
outer_end = "flared"
inner_end = "flanged"
flare_radius_mm = 12.0
wall_distance_mm = 80
wall_position = "facing"
spacing_mm = 95
length_tolerance_mm = 0.5
size_tolerance_mm = 0.2
[tuning]
target_hz = 44.0
tolerance_percent = 5.0
[driver]
fs_hz = 48.0
qms = 4.2
qes = 0.42
qts = 0.38
vas_l = 21.0
re_ohm = 5.7
sd_cm2 = 132.0
mms_g = 13.0
cms_mm_per_n = 0.85
bl_t_m = 7.3
rms_kg_per_s = 0.93
xmax_mm = 5.0
power_w = 60.0
fs_tolerance_percent = 11.0
qms_tolerance_percent = 26.0
qes_tolerance_percent = 16.0
vas_tolerance_percent = 17.0
re_tolerance_percent = 6.0
sd_tolerance_percent = 4.0
count = 2
wiring = "series"
[crossover]
series_mh = 0.8
series_ohm = 0.3
shunt_uf = 22.0
shunt_ohm = 6.8
[air]
temperature_c = -4.0
humidity_percent = 35
pressure_hpa = 945.0
temperature_tolerance_c = 1.5
"""
Record = Box | Vent | Tuning | Driver | Crossover | Climate
BOX = "[box]\nvolume_l = 18\n"
VENT = "[vent]\ndiameter_mm = 60\nlength_mm = 140\n"


def design(folder: Path, text: str | bytes, name: str = "design.toml") -> Design:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_design(path)


def faults(folder: Path, text: str) -> tuple[str, ...]:
    with pytest.raises(SettingsFault) as caught:
        design(folder, text)
    assert str(folder / "design.toml") in str(caught.value)
    for fault in caught.value.faults:
        assert fault in str(caught.value)
    return caught.value.faults


def same(found: Record, expected: Record) -> None:
    """Equal field by field, numbers to 12 digits."""
    for name, value in asdict(expected).items():
        got = asdict(found)[name]
        assert got == (pytest.approx(value, rel=1e-12) if isinstance(value, float) else value), name


def test_every_key_is_converted_to_si(tmp_path: Path) -> None:
    found = design(tmp_path, FULL)
    # exact: litre 1e-3 m3, cm2 1e-4 m2, mm 1e-3 m, mH 1e-3 H, uF 1e-6 F, percent 1e-2; circle pi d2 / 4
    assert found.name == "Bookshelf"
    same(found.box, Box(0.018, 0.02, "walls", 0.2, 0.32, 0.31))
    assert found.vent is not None
    same(
        found.vent,
        Vent(
            "round", math.pi * 0.03**2, 0.14, 2, diameter_m=0.06, outer_end="flared", inner_end="flanged",
            flare_radius_m=0.012, wall_distance_m=0.08, wall_position="facing", spacing_m=0.095,
            length_tolerance_m=0.0005, size_tolerance_m=0.0002,
        ),
    )  # fmt: skip
    same(found.tuning, Tuning(44.0, 0.05))
    same(
        found.driver,
        Driver(
            48.0, 4.2, 0.42, 0.021, 5.7, 0.0132, 0.005, 60.0, 2, "series", 0.11, 0.26, 0.16, 0.17, 0.06, 0.04,
            qts=0.38, mms_kg=0.013, cms_m_n=0.85e-3, bl_t_m=7.3, rms_kg_s=0.93,
        ),
    )  # fmt: skip
    same(found.climate, Climate(-4.0, 0.35, 94500.0, 1.5))
    assert found.crossover is not None
    same(found.crossover, Crossover(8e-4, 0.3, 22e-6, 6.8))


def test_the_full_example_names_every_key() -> None:
    for table, keys in DESIGN_TABLES.items():
        assert f"[{table}]" in FULL
        for key in keys:
            sizes = [name for names in (*SHAPE_KEYS.values(), *SHAPE_OPTIONS.values()) for name in names]
            assert f"\n{key.name} = " in FULL or (key.name in sizes and key.name != "diameter_mm")


@pytest.mark.parametrize("table", DESIGN_TABLES)
def test_every_example_of_the_key_table_is_within_its_own_range(table: str) -> None:
    for key in DESIGN_TABLES[table]:
        if key.kind in ("number", "integer"):
            assert key.low <= float(key.example) <= key.high
        elif key.kind == "word":
            assert key.example in key.words
        assert key.meaning


def test_little_is_needed(tmp_path: Path) -> None:
    found = design(tmp_path, BOX + "[tuning]\ntarget_hz = 44\n")
    assert found == Design(tmp_path.name, Box(found.box.volume_m3), None, Tuning(44.0))
    assert found.box.volume_m3 == pytest.approx(0.018, rel=1e-12)
    assert design(tmp_path, BOX + VENT, "tower.toml").name == "tower"
    assert design(tmp_path, BOX + VENT + "[driver]\n[crossover]\n").crossover is None


@pytest.mark.parametrize(
    ("keys", "area_m2"),
    [
        # exact: areas of a rectangle, a square as a 4-sided polygon, a hexagon sqrt(3)/2 a2, a given area
        ('shape = "rectangular"\nwidth_mm = 200\nheight_mm = 25', 0.2 * 0.025),
        ('shape = "polygon"\nsides = 4\nacross_flats_mm = 50', 0.05**2),
        ('shape = "polygon"\nsides = 6\nacross_flats_mm = 50', math.sqrt(3) / 2 * 0.05**2),
        ('shape = "custom"\narea_cm2 = 28', 28e-4),
        ("diameter_mm = 60", math.pi * 9e-4),
    ],
)
def test_the_area_of_every_shape(tmp_path: Path, keys: str, area_m2: float) -> None:
    vent = design(tmp_path, f"{BOX}[vent]\nlength_mm = 140\n{keys}\n").vent
    assert vent is not None
    assert vent.area_m2 == pytest.approx(area_m2, rel=1e-12)


SHORT = "[vent]\ndiameter_mm = 60\n"


def line_length_m(speed_m_s: float) -> float:
    """Length of a lossless duct of 60 mm on 18 L for 44 Hz, by the transmission line instead of a lumped mass.

    The outer mouth (flanged, 0.8216 radii [Dalmont2001]) and the inner (free, 0.6127 radii) end the line as masses.
    """
    k, area, outer, inner = 2 * math.pi * 44 / speed_m_s, math.pi * 0.03**2, 0.8216 * 0.03, 0.6127 * 0.03
    return (math.atan(area / (k * 0.018) - k * inner) - math.atan(k * outer)) / k


def test_a_length_left_out_is_the_one_that_reaches_the_target(tmp_path: Path) -> None:
    found = design(tmp_path, BOX + SHORT + "[tuning]\ntarget_hz = 44\n")
    assert found.vent is not None
    assert found.vent.length_is_computed
    # Independent: the line, at c 343.994 m/s [Cramer1993]
    assert found.vent.length_m == pytest.approx(line_length_m(343.994), abs=2e-4)
    # Exact: given, it is taken as it stands
    given_length = design(tmp_path, BOX + VENT + "[tuning]\ntarget_hz = 44\n").vent
    assert given_length is not None
    assert given_length.length_m == pytest.approx(0.14, rel=1e-12)
    assert not given_length.length_is_computed


def test_the_length_follows_from_the_air_of_the_place(tmp_path: Path) -> None:
    text = BOX + SHORT + "[tuning]\ntarget_hz = 44\n"
    vents = [design(tmp_path, text + f"[air]\ntemperature_c = {t}\n").vent for t in (20, 25)]
    assert vents[0] is not None
    assert vents[1] is not None
    # Independent: the line, at c 347.134 against 343.994 m/s [Cramer1993]
    assert vents[1].length_m - vents[0].length_m == pytest.approx(
        line_length_m(347.134) - line_length_m(343.994), abs=1e-4
    )


def test_flares_longer_than_the_vent_find_their_length(tmp_path: Path) -> None:
    ends = 'outer_end = "flared"\ninner_end = "flared"\nflare_radius_mm = 30\n'
    found = design(tmp_path, BOX + SHORT + ends + "[tuning]\ntarget_hz = 80\n")
    assert found.vent is not None
    # Exact: what comes out is tuned to the target
    assert tuning_hz(found.box, found.vent, standard_air()) == pytest.approx(80.0, rel=1e-4)


def test_a_target_that_no_length_reaches_names_the_nearest_opening(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, BOX + "[vent]\ndiameter_mm = 30\n[tuning]\ntarget_hz = 100\n")
    assert fault.startswith("[vent] length_mm: missing, and none reaches target_hz = 100;")
    named = re.search(r"diameter_mm = (\d+), length_mm = ([\d.]+)\.", fault)
    assert named is not None
    # Exact: the one named reaches it, and one millimetre narrower is shorter than a cabinet wall of 15 mm
    text = BOX + "[vent]\ndiameter_mm = {}\n[tuning]\ntarget_hz = 100\n"
    nearest = design(tmp_path, text.format(named[1])).vent
    narrower = design(tmp_path, text.format(int(named[1]) - 1)).vent
    assert nearest is not None
    assert narrower is not None
    assert nearest.length_m == pytest.approx(float(named[2]) / 1e3, abs=6e-5)
    assert nearest.length_m >= 0.015 > narrower.length_m


def test_a_length_beyond_all_measure_names_the_nearest_opening(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, BOX + SHORT + "[tuning]\ntarget_hz = 5\n")
    assert re.match(r"\[vent\] length_mm: missing, and \d\d\.\d m would be needed for target_hz = 5\.", fault)
    named = re.search(r"diameter_mm = (\d+), length_mm = ", fault)
    assert named is not None
    text = BOX + f"[vent]\ndiameter_mm = {named[1]}\n[tuning]\ntarget_hz = 5\n"
    nearest = design(tmp_path, text).vent
    assert nearest is not None
    assert 4.0 < nearest.length_m <= 5.0


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_every_encoding_and_line_ending(tmp_path: Path, encoding: str, ending: str) -> None:
    text = ('[design]\nname = "Höhle"\n' + BOX + VENT).replace("\n", ending)
    assert design(tmp_path, text.encode(encoding)).name == "Höhle"


def test_all_faults_are_reported_together(tmp_path: Path) -> None:
    found = faults(
        tmp_path,
        """
        [desing]
        name = "x"
        [box]
        volume_l = -18.0
        lining = "wall"
        [vent]
        shape = "round"
        diameter = 60.0
        width_mm = 10.0
        [driver]
        fs_hz = "48 Hz"
        qms = true
        qes = nan
        re_ohm = inf
        count = 2
        target_hz = 44
        """,
    )
    text = "\n".join(found)
    assert len(found) == 13
    for expected in (
        "[desing]: unknown table; did you mean [design]?",
        "[box] volume_l = -18.0: must be a number from 0.1 to 5000 litres",
        '[box] lining = "wall": must be one of "none", "walls", "filled"; did you mean "walls"?',
        "[vent] diameter = 60.0: unknown key; did you mean diameter_mm (a number from 3 to 1000 mm)?",
        "[vent] diameter_mm: missing",
        "[vent] length_mm: missing",
        '[vent] width_mm = 10.0: belongs to shape "rectangular"',
        '[driver] fs_hz = "48 Hz": must be a number from 5 to 500 Hz; write the number without',
        "[driver] qms = true: must be a number from",
        "[driver] qes = nan: must be a number from 0.01 to 50; leave the line out",
        "[driver] re_ohm = inf: must be",
        "[driver] wiring: ",
        "[driver] target_hz = 44: unknown key; it belongs to [tuning]",
    ):
        assert expected in text


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "[box] volume_l: missing"),
        (BOX, "[vent] or [tuning] target_hz: missing"),
        (VENT, "[box] volume_l: missing"),
        ("volume_l = 18\n" + VENT, "outside of a table; did you mean volume_l below a line [box]?"),
        ("box = 18\n", "must be a table"),
        ("[[vent]]\ndiameter_mm = 60\n" + BOX, "write [vent] in single brackets"),
        (BOX + VENT + "flare_radius_mm = 10\n", "flare_radius_mm: counts only where"),
        (BOX + "[vent]\ndiameter_mm = 60\n", "[vent] length_mm: missing; from mouth to mouth"),
        (BOX + "[vent]\ndiameter_mm = 60\n", "or give [tuning] target_hz"),
        (BOX + VENT + 'wall_position = "facing"\n', "wall_position: counts only where wall_distance_mm"),
        (BOX + VENT + "spacing_mm = 90\n", "spacing_mm: counts only where count is above 1"),
        (
            BOX + VENT + "count = 2\nspacing_mm = 55\n",
            "spacing_mm = 55: must be at least 60 mm for diameter_mm = 60",
        ),
        (BOX + VENT + "size_tolerance_mm = 30\n", "size_tolerance_mm = 30: must be below 30 mm"),
        (BOX + VENT + "shared_walls = 1\n", 'shared_walls = 1: belongs to shape "rectangular", not "round"'),
        (
            BOX + "width_mm = 200\nheight_mm = 300\ndepth_mm = 250\n" + VENT,
            "[box] volume_l = 18: more than the 15 litres that width_mm x height_mm x depth_mm hold",
        ),
        (BOX + VENT + "[driver]\nqts = 4.3\nqms = 4.2\n", "[driver] qts = 4.3: must be below qms = 4.2"),
        (BOX + VENT + "[driver]\nqts = 0.5\nqes = 0.42\n", "[driver] qts = 0.5: must be below qes = 0.42"),
        (
            BOX + VENT + "[driver]\nmms_g = 5000\ncms_mm_per_n = 100\n",
            # exact: 1/(2 pi sqrt(5 kg x 0.1 m/N)) = 0.2251 Hz
            "[driver] fs_hz: 0.225 follows from mms_g and cms_mm_per_n; must be a number from 5 to 500 Hz",
        ),
        (
            BOX + VENT + "[driver]\nfs_hz = 5\nmms_g = 0.01\nsd_cm2 = 10000\n",
            # exact: 1/((2 pi 5 Hz)^2 x 1e-5 kg) = 101.3 m/N
            "[driver] cms_mm_per_n: 101000 follows from fs_hz and mms_g; must be a number from 0.001",
        ),
        (
            # exact: C_MS = 0.2533 mm/N, times 1.4 x 101325 Pa x (1 m2)^2 = 35.9 m3; C_MS is not in the file
            BOX + VENT + "[driver]\nfs_hz = 10\nmms_g = 1000\nsd_cm2 = 10000\n",
            "[driver] vas_l: 35900 follows from sd_cm2, fs_hz and mms_g; must be a number from 0.01 to 10000",
        ),
        (
            BOX + '[design]\nname = "a\\u0007b\\u200b"\n' + VENT,
            "invisible characters are not allowed, here U+0007, U+200B",
        ),
        (BOX + f'[design]\nname = "{"x" * 201}"\n' + VENT, "at most 200 characters, not 201"),
        (BOX + '[vent]\nshape = "Hexagon"\n', 'write "polygon" with sides = 6 and across_flats_mm'),
        (BOX + '[vent]\nshape = "octagonal"\n', 'write "polygon" with sides = 8 and across_flats_mm'),
        (BOX + '[vent]\nshape = "slot"\n', 'write "rectangular" with width_mm and height_mm'),
        (BOX + '[vent]\nshape = "square"\n', 'write "rectangular" with width_mm and height_mm'),
        (BOX + '[vent]\nshape = "oval"\n', 'write "custom" with area_cm2'),
        (BOX + '[vent]\nshape = "circle"\n', 'write "round" with diameter_mm'),
        (BOX + '[vent]\nshape = "roud"\n', 'did you mean "round"?'),
        (BOX + VENT + "count = 1.5\n", "must be a whole number from 1 to 100"),
        (BOX + VENT + "count = 0\n", "must be a whole number from 1 to 100"),
        (BOX + VENT + "[crossover]\nshunt_ohm = 0\n", "short circuit"),
        (BOX + VENT + '[design]\nname = ""\n', "a text in quotation marks"),
        (BOX + VENT + "[driver]\nqms = [1, 2]\n", "qms = a list"),
        (BOX + VENT + f"[driver]\nqms = {'9' * 400}\n", "qms = a huge number"),
        ("[box]\nvolume_l = 18,0\n", "line 2, column"),
        ("[box]\nvolume_l = 18,0\n", "write decimals with a point, not a comma"),
        ("[box]\nvolume_l = 18 l\n", "write the number without its unit"),
        ("[box]\nlining = walls\n", "write words in quotation marks"),
        ("[box]\nvolume_l = 18\nvolume_l = 19\n", "volume_l"),
        ("[box\n", "line 1"),
        ("a = " + "[" * 5000, "line 1"),
    ],
)
def test_each_fault_has_its_message(tmp_path: Path, text: str, expected: str) -> None:
    assert any(expected in fault for fault in faults(tmp_path, text))


SLOT = '[vent]\nshape = "rectangular"\nlength_mm = 140\nshared_walls = 3\nwidth_mm = {}\nheight_mm = {}\n'


@pytest.mark.parametrize(
    ("width", "height", "named"),
    [
        # exact: 90 % of 200 mm is 180 mm, of 320 mm 288 mm
        (179, 25, ("[vent] width_mm = 179", "[box] width_mm = 200")),
        (180, 25, ()),
        (25, 287, ("[vent] height_mm = 287", "[box] height_mm = 320")),
        (25, 288, ()),
    ],
)
def test_a_slot_across_the_box_reaches_across_it(
    tmp_path: Path, width: int, height: int, named: tuple[str, ...]
) -> None:
    sides = "width_mm = 200\nheight_mm = 320\n"
    text = BOX + sides + SLOT.format(width, height)
    if named:
        (fault,) = faults(tmp_path, text)
        assert fault.startswith("[vent] shared_walls = 3: ")
        for words in named:
            assert words in fault
    else:
        assert design(tmp_path, text).vent is not None
    # nothing is known of the box, or the slot lies in a corner
    assert design(tmp_path, text.replace(sides, "")).vent is not None
    assert design(tmp_path, text.replace("shared_walls = 3", "shared_walls = 2")).vent is not None


@pytest.mark.parametrize(
    "data",
    [
        (BOX + VENT).encode("utf-32"),
        (BOX + VENT).encode("utf-16")[:-1],
        ("# \u97f3\u7bb1\u7684\u8bbe\u8ba1\u97f3\u7bb1\u7684\u8bbe\u8ba1\n" * 20 + BOX + VENT).encode(
            "utf-16-le"
        ),
        (BOX + VENT).encode() + "[tuning]\n".encode("utf-16-le"),
    ],
)
def test_what_is_no_text_in_utf_8_says_so(tmp_path: Path, data: bytes) -> None:
    with pytest.raises(SettingsFault, match="save it as UTF-8"):
        design(tmp_path, data)


def test_a_name_in_the_letters_of_an_old_windows(tmp_path: Path) -> None:
    # exact: the euro sign is 0x80 in Windows-1252, a control character in Latin-1
    with pytest.raises(SettingsFault, match=r"here U\+0080; .*save the file as UTF-8"):
        design(tmp_path, f'[design]\nname = "5 €"\n{BOX}{VENT}'.encode("cp1252"))


@pytest.mark.parametrize(
    ("table", "name"),
    [(table, key.name) for table, keys in DESIGN_TABLES.items() for key in keys if key.high > key.low],
)
def test_every_range_is_kept_at_both_ends(tmp_path: Path, table: str, name: str) -> None:
    key = next(key for key in DESIGN_TABLES[table] if key.name == name)
    for value in (math.nextafter(key.low, -math.inf), math.nextafter(key.high, math.inf), 1e300, -1e300):
        named = [fault for fault in faults(tmp_path, f"[{table}]\n{name} = {value!r}\n") if " = " in fault]
        start, span = f"[{table}] {name} = ", f"from {key.low:g} to {key.high:g}"
        assert any(fault.startswith(start) and span in fault for fault in named)
    for value in (key.low, key.high):
        ends = faults(tmp_path, f"[{table}]\n{name} = {value!r}\n[other]\n")
        assert not any("must be" in fault for fault in ends)


def test_a_missing_design_is_wrong_use(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "design.toml"):
        with pytest.raises(UsageFault):
            read_design(path)


def test_a_jig_with_all_it_may_have(tmp_path: Path) -> None:
    path = tmp_path / "jig.toml"
    path.write_text('[jig]\nwiring = "sense"\nreference_ohm = 0.47\n')
    assert read_jig(path) == Jig("sense", 0.47)
    path.write_text(
        '[jig]\nwiring = "divider"\nreference_ohm = 10\ndate = 2026-03-01\ndevice = "card"\n'
        "uncertainty_percent = 1\n"
    )
    assert read_jig(path) == Jig("divider", 10.0)
    path.write_text('[jig]\nwiring = "divider"\nreference_ohm = 10\ndate = "1 March"\n')
    assert read_jig(path) == Jig("divider", 10.0)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", ["[jig] wiring: missing", "[jig] reference_ohm: missing"]),
        ('[jig]\nwiring = "dividr"\n', ['did you mean "divider"?', "[jig] reference_ohm: missing"]),
        ('[jig]\nwiring = "sense"\nreference_ohm = 0\n', ["reference_ohm = 0: must be a number from 0.001"]),
        ('[jig]\nwiring = "sense"\nref_ohm = 1\n', ["did you mean reference_ohm", "reference_ohm: missing"]),
        ('[jig]\nwiring = "sense"\nreference_ohm = 1\n[box]\nvolume_l = 1\n', ["[box]: unknown table"]),
        ("jig = 3\n", ["jig = 3: must be a table"]),
    ],
)
def test_faults_of_a_jig(tmp_path: Path, text: str, expected: list[str]) -> None:
    path = tmp_path / "jig.toml"
    path.write_text(text)
    with pytest.raises(SettingsFault) as caught:
        read_jig(path)
    for words in expected:
        assert any(words in fault for fault in caught.value.faults)


SENSE = '[jig]\nwiring = "sense"\nreference_ohm = 10\n'
OPEN = "[jig.open]\nfrequency_hz = [5, 1000]\nreal = [1e-5, 1e-5]\nimaginary = [0, 1e-6]\n"
LIKE_OPEN = OPEN.replace("open", "resistor") + "ohm = 10\n"
ANY_SIGMA = st.floats(0.0, 0.01)


def reading(centre: float) -> st.SearchStrategy[Standard]:
    part = st.floats(-0.05, 0.05)
    value = st.builds(lambda x, y: complex(centre + x, y), part, part)
    rising = st.lists(st.floats(0.1, 0.4), min_size=8, max_size=8).map(
        lambda steps: tuple(5.0 * 10.0 ** sum(steps[:n]) for n in range(8))
    )
    values = st.lists(value, min_size=8, max_size=8).map(tuple)
    return st.builds(Standard, rising, values, st.lists(ANY_SIGMA, min_size=8, max_size=8).map(tuple))


@settings(max_examples=60)
@given(
    st.sampled_from(["divider", "sense"]),
    st.builds(
        JigStandards, st.none() | reading(1.0), st.none() | reading(0.99), st.none() | reading(0.06),
        st.none() | st.builds(KnownResistor, st.floats(1.0, 100.0), reading(0.5), st.floats(0.0, 0.1)),
    ),
    st.floats(0.01, 1000.0),
)  # fmt: skip
def test_a_jig_written_is_the_jig_read(
    tmp_path_factory: pytest.TempPathFactory, wiring: str, standards: JigStandards, ohm: float
) -> None:
    if wiring == "sense":  # open and short read otherwise there
        opened, short = standards.shorted_leads, standards.open_leads
        opened = opened and replace(opened, value=tuple(0.1 * value for value in opened.value))
        short = short and replace(short, value=tuple(0.1 * value for value in short.value))
        standards = replace(standards, open_leads=opened, shorted_leads=short)
    jig = Jig("sense" if wiring == "sense" else "divider", ohm, 0.02, standards)
    path = tmp_path_factory.mktemp("jig") / "jig.toml"
    path.write_text(jig_text(jig, date(2026, 3, 1), 'a "card" \\ of mine\n'), encoding="utf-8")
    found = read_jig(path)
    # exact: nine digits are written
    assert found.wiring == jig.wiring
    assert (found.reference_ohm, found.reference_uncertainty) == pytest.approx((ohm, 0.02), rel=1e-8)
    if standards == JigStandards():
        assert found.standards is None
        return
    assert found.standards is not None
    pairs = [
        (found.standards.balance, standards.balance),
        (found.standards.open_leads, standards.open_leads),
        (found.standards.shorted_leads, standards.shorted_leads),
    ]
    if standards.resistor is not None:
        resistor = found.standards.resistor
        assert resistor is not None
        assert resistor.ohm == pytest.approx(standards.resistor.ohm, rel=1e-8)
        assert resistor.uncertainty == pytest.approx(standards.resistor.uncertainty, rel=1e-8)
        pairs.append((resistor.measured, standards.resistor.measured))
    else:
        assert found.standards.resistor is None
    for ours, theirs in pairs:
        assert (ours is None) is (theirs is None)
        if ours is not None and theirs is not None:
            assert ours.frequency_hz == pytest.approx(theirs.frequency_hz, rel=1e-8)
            assert ours.value == pytest.approx(theirs.value, rel=1e-6)
            assert ours.sigma == pytest.approx(theirs.sigma, rel=1e-8)


def test_a_jig_by_hand(tmp_path: Path) -> None:
    path = tmp_path / "jig.toml"
    path.write_text(SENSE + "uncertainty_percent = 0.1\n" + OPEN)
    jig = read_jig(path)
    assert jig.reference_uncertainty == pytest.approx(0.001)
    assert jig.standards is not None
    assert jig.standards.open_leads == Standard((5.0, 1000.0), (1e-5 + 0j, 1e-5 + 1e-6j), (0.001, 0.001))
    assert "channel 1 over channel 2" in jig_text(
        Jig("sense", 10.0, 0.01, JigStandards(shorted_leads=jig.standards.open_leads))
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (OPEN.replace("real", "reel"), ["did you mean real", "[jig.open] real: missing; a list of numbers"]),
        (OPEN.replace("open", "opn"), ["[jig.opn]: unknown table; did you mean [jig.open]?"]),
        (OPEN.replace("[jig.open]", "[[jig.open]]"), ["write [jig.open] in single brackets"]),
        ("open = 3\n", ["[jig] open = 3: unknown key"]),
        (OPEN.replace("1000]", "1000, 2000]"), ["frequency_hz has 3, real has 2, imaginary has 2"]),
        (OPEN.replace("[5, 1000]", "[1000, 5]"), ["must rise from number to number; 5.0 follows 1000.0"]),
        (OPEN.replace("[5, 1000]", "[-5, 1000]"), ["frequency_hz = [... -5 ...]: must be a list of numbers"]),
        (OPEN.replace("[5, 1000]", "[]"), ["frequency_hz = a list of 0: must be"]),
        (OPEN.replace("[5, 1000]", "5"), ["frequency_hz = 5: must be"]),
        (OPEN.replace("[0, 1e-6]", '[0, "1e-6"]'), ['imaginary = [... "1e-6" ...]: must be']),
        (OPEN.replace("[0, 1e-6]", "[0, nan]"), ["imaginary = [... nan ...]: must be"]),
        (OPEN.replace("[0, 1e-6]", "[0, true]"), ["imaginary = [... true ...]: must be"]),
        (OPEN + "uncertainty = [-1, 0]\n", ["uncertainty = [... -1 ...]"]),
        ("[jig.open]\nfrequency_hz = [5]\nreal = [1]\nimaginary = [0]\n", ["at least two frequencies"]),
        (LIKE_OPEN.replace("ohm = 10\n", ""), ["[jig.resistor] ohm: missing"]),
        (LIKE_OPEN.replace("ohm = 10", "ohm = 0"), ["[jig.resistor] ohm = 0: must be a number from 0.001"]),
        (OPEN + LIKE_OPEN, ["[jig.open]: The readings for known resistor and leads open are the same."]),
        (
            OPEN.replace("1e-5", "0.9") + "ohm = 10\n[jig.short]\n",
            ["[jig.open] ohm = 10: unknown key", "[jig.short] frequency_hz: missing", "[jig.short] real: missing"],
        ),
    ],
)  # fmt: skip
def test_faults_of_known_loads(tmp_path: Path, text: str, expected: list[str]) -> None:
    path = tmp_path / "jig.toml"
    path.write_text(SENSE + text)
    with pytest.raises(SettingsFault) as caught:
        read_jig(path)
    for words in expected:
        assert any(words in fault for fault in caught.value.faults), caught.value.faults


VALUES = st.one_of(
    st.floats().map(repr), st.integers().map(str), st.booleans().map(lambda b: str(b).lower()),
    st.sampled_from(['"round"', '"walls"', '""', "[]", "{}", "1979-05-27", "08:00:00", "0x1F", "1_0", "[1, 2]",
                     "[0.5, 0.6]", '"sense"']),
)  # fmt: skip
NAMES = [key.name for keys in (*DESIGN_TABLES.values(), *JIG_TABLES.values()) for key in keys]
LINES = st.one_of(
    st.sampled_from([f"[{table}]" for table in (*DESIGN_TABLES, *JIG_TABLES, "other")]),
    st.tuples(st.sampled_from([*NAMES, "x", '"a\\u0007b"']), VALUES).map(" = ".join),
    st.text(max_size=20),
)


@settings(max_examples=200)
@given(st.one_of(st.lists(LINES, max_size=12).map("\n".join).map(str.encode), st.binary(max_size=200)))
def test_any_file_is_read_or_raises_our_own_error(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    path = tmp_path_factory.mktemp("any") / "design.toml"
    path.write_bytes(data)
    for read in (read_design, read_jig):
        with suppress(SealtuneError):
            assert isinstance(read(path), Design | Jig)
