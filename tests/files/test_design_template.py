"""The template reads back without faults, as it stands and with every key of its shape."""

import re
from pathlib import Path

import pytest

from sealtune.design.buildable import obstacles
from sealtune.design.completion import complete
from sealtune.errors import SettingsFault
from sealtune.files.design_file import read_design
from sealtune.files.design_keys import DESIGN_TABLES, SHAPE_KEYS, SHAPE_OPTIONS
from sealtune.files.design_template import template_text
from sealtune.physics.air import standard_air
from sealtune.physics.vent import tuning_hz
from sealtune.records.design import Climate, Driver, Tuning

KEY_LINE = re.compile(r"^# (?=(\w+) = )", re.MULTILINE)


def of_other_shapes(shape: str) -> set[str]:
    others = {
        name
        for table in (SHAPE_KEYS, SHAPE_OPTIONS)
        for other, names in table.items()
        if other != shape
        for name in names
    }
    return others - set(SHAPE_KEYS.get(shape, ()))


def uncommented(text: str, leave: set[str]) -> str:
    """Take the comment mark off every key but those in `leave`, which are the vent's only."""
    before, vent, after = re.split(r"(?<=\n)(?=\[vent\]|\[tuning\])", text)
    return (
        KEY_LINE.sub("", before)
        + KEY_LINE.sub(lambda m: m[0] if m[1] in leave else "", vent)
        + KEY_LINE.sub("", after)
    )


def test_it_reads_back_as_it_stands(tmp_path: Path) -> None:
    path = tmp_path / "design.toml"
    path.write_text(template_text(), encoding="utf-8")
    found = read_design(path)
    # Exact: the examples of the key table; all else as if the file did not mention it
    assert found.name == "Bookshelf"
    assert found.box.volume_m3 == pytest.approx(0.018, rel=1e-12)
    assert found.vent is not None
    assert (found.vent.shape, found.vent.count) == ("round", 1)
    assert (found.vent.diameter_m, found.vent.length_m) == pytest.approx((0.05, 0.14), rel=1e-12)
    assert (found.driver, found.tuning, found.climate) == (Driver(), Tuning(), Climate())
    assert found.crossover is None


def test_every_key_of_the_shape_may_be_uncommented(tmp_path: Path) -> None:
    path = tmp_path / "design.toml"
    path.write_text(uncommented(template_text(), of_other_shapes("round")), encoding="utf-8")
    found = read_design(path)
    assert found.vent is not None
    assert (found.vent.count, found.vent.outer_end, found.vent.spacing_m) == (2, "flared", 0.12)
    assert found.crossover is not None
    # the examples make a box that can be built, and a driver whose data go together
    assert obstacles(found, standard_air()) == ()
    assert complete(found.driver, standard_air()) == (found.driver, ())


def test_its_vents_meet_the_target_of_the_template(tmp_path: Path) -> None:
    # the examples make one design: with each shape's own keys and the target, the given length is within tolerance
    for shape, names in SHAPE_KEYS.items():
        text = template_text().replace('shape = "round"', f'shape = "{shape}"')
        text = text.replace("\ndiameter_mm", "\n# diameter_mm")
        for name in (*names, "target_hz"):
            text = text.replace(f"\n# {name} = ", f"\n{name} = ")
        path = tmp_path / "design.toml"
        path.write_text(text, encoding="utf-8")
        found = read_design(path)
        assert found.vent is not None
        assert found.tuning.target_hz is not None
        assert tuning_hz(found.box, found.vent, standard_air()) == pytest.approx(
            found.tuning.target_hz, rel=0.04
        )


def test_keys_of_one_shape_stand_below_its_name() -> None:
    heading, below = "", dict[str, str]()
    for line in template_text().split("[vent]")[1].split("[tuning]")[0].splitlines():
        if line.startswith(("# Only for", "# For every")):
            heading = line
        elif named := re.match(r"(?:# )?(\w+) = ", line):
            below[named[1]] = heading
    for table in (SHAPE_KEYS, SHAPE_OPTIONS):
        for shape, names in table.items():
            assert {below[name] for name in names} == {f'# Only for shape = "{shape}":'}
    assert below["shape"] == ""
    for name in of_other_shapes(""):
        below.pop(name)
    assert {heading for name, heading in below.items() if name != "shape"} == {"# For every shape:"}


def test_with_all_keys_only_the_other_shapes_are_faults(tmp_path: Path) -> None:
    path = tmp_path / "design.toml"
    path.write_text(uncommented(template_text(), set()), encoding="utf-8")
    with pytest.raises(SettingsFault) as caught:
        read_design(path)
    named = {re.match(r"\[vent\] (\w+) = .*: belongs to shape", fault) for fault in caught.value.faults}
    assert {match[1] for match in named if match} == of_other_shapes("round")
    assert None not in named


@pytest.mark.parametrize("shape", ["rectangular", "polygon", "custom"])
def test_another_shape_needs_only_its_own_keys(tmp_path: Path, shape: str) -> None:
    text = template_text().replace('shape = "round"', f'shape = "{shape}"')
    text = text.replace("\ndiameter_mm", "\n# diameter_mm")
    path = tmp_path / "design.toml"
    path.write_text(uncommented(text, of_other_shapes(shape)), encoding="utf-8")
    found = read_design(path)
    assert found.vent is not None
    assert found.vent.shape == shape


def test_it_names_every_key_with_its_range_and_meaning() -> None:
    text = template_text()
    plain = " ".join(re.sub(r"\n *#? *#? *", " ", text).split())
    for table, keys in DESIGN_TABLES.items():
        assert f"\n[{table}]\n" in text
        for key in keys:
            assert re.search(rf"^(# )?{key.name} = ", text, re.MULTILINE)
            assert key.meaning in plain
            if key.kind in ("number", "integer"):
                assert f"({key.low:g} to {key.high:g}" in plain
            for word in key.words:
                assert word in plain


def test_it_looks_well() -> None:
    lines = template_text().splitlines()
    assert max(len(line) for line in lines) <= 100
    assert not any(line != line.rstrip() or "\t" in line for line in lines)
    assert template_text().endswith("\n")
    assert template_text().isascii()
    # comments stand in one column
    columns = {line.rindex(" # ") for line in lines if re.match(r"(# )?\w+ = ", line)}
    assert len(columns) == 1
    head = "\n".join(lines[:14])
    for words in ("Net volume", "Vent length", "sharpens"):
        assert words in head
