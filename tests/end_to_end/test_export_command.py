"""`sealtune export` as a person runs it, its files read by general libraries."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import skrf
from tests.ngspice import impedance_by_ngspice
from tests.program import sealtune

from sealtune.files.design_file import read_design
from sealtune.files.impedance_table import read_table
from sealtune.files.touchstone import read_touchstone
from sealtune.virtual.cabinet import cabinet_from_design

RECORDINGS = Path(__file__).parents[2] / "recordings"


def table_of_a_resistor(path: Path) -> None:
    rows = "".join(f"{hz:.3f},8.0,0.0\n" for hz in np.geomspace(5.0, 500.0, 200))
    path.write_text("frequency_hz,magnitude_ohm,phase_deg\n" + rows)


def test_all_formats_tell_the_same_curve(tmp_path: Path) -> None:
    for form, name in (("csv", "left.csv"), ("touchstone", "left.s1p"), ("spice", "left.cir")):
        done = sealtune("export", RECORDINGS / "left", "--format", form, "--out", name, folder=tmp_path)
        assert done.returncode == 0, done.stderr
        assert done.stdout == f"Written: {name}\n"
        assert done.stderr == ""
    text = (tmp_path / "left.csv").read_text()
    assert text.startswith("frequency_hz,magnitude_ohm,phase_deg\n")
    columns = np.loadtxt(tmp_path / "left.csv", delimiter=",", skiprows=1)
    z = columns[:, 1] * np.exp(1j * np.radians(columns[:, 2]))
    # independent: scikit-rf reads the Touchstone file and makes Z of it
    network = skrf.Network(str(tmp_path / "left.s1p"))
    assert network.nports == 1
    np.testing.assert_allclose(network.f, columns[:, 0], rtol=1e-8)
    np.testing.assert_allclose(network.z[:, 0, 0], z, rtol=1e-8)
    # by hand: the demo's driver has 5.6 ohm and its saddle 6.8 ohm
    assert 4.5 < np.abs(z).min() < 7.5
    if shutil.which("ngspice"):
        band = np.flatnonzero((columns[:, 0] >= 15.0) & (columns[:, 0] <= 200.0))[::7]
        spice = impedance_by_ngspice(tmp_path / "left.cir", "box_left", columns[band, 0], tmp_path)
        np.testing.assert_allclose(spice, z[band], rtol=0.02)


def test_export_of_a_table_and_back(tmp_path: Path) -> None:
    # independent: the virtual cabinet's own impedance
    cabinet = cabinet_from_design(read_design(RECORDINGS / "design.toml"), np.random.default_rng(3))
    hz = np.geomspace(5.0, 500.0, 400)
    z = cabinet.impedance(hz)
    rows = "".join(
        f"{f:.9g} {abs(v):.9g} {np.degrees(np.angle(v)):.9g}\n" for f, v in zip(hz, z, strict=True)
    )
    (tmp_path / "mine.txt").write_text(rows)
    for form, name in (("csv", "a.csv"), ("touchstone", "a.s1p")):
        assert (
            sealtune("export", "mine.txt", "--format", form, "--out", name, folder=tmp_path).returncode == 0
        )
    for curve in (read_table(tmp_path / "a.csv"), read_touchstone(tmp_path / "a.s1p")):
        np.testing.assert_allclose(curve.frequency_hz, hz, rtol=1e-8)
        np.testing.assert_allclose(curve.impedance_ohm, z, rtol=1e-7)


def test_without_out_it_goes_to_standard_output(tmp_path: Path) -> None:
    table_of_a_resistor(tmp_path / "open.csv")
    done = sealtune("export", "open.csv", "--format", "csv", folder=tmp_path)
    assert done.returncode == 0
    assert done.stdout.startswith("frequency_hz,magnitude_ohm,phase_deg\n5,8,0\n")
    assert done.stdout.count("\n") == 201
    assert [path.name for path in tmp_path.iterdir()] == ["open.csv"]


def test_where_no_circuit_fits_the_curve_can_still_be_exported(tmp_path: Path) -> None:
    table_of_a_resistor(tmp_path / "open.csv")
    done = sealtune("export", "open.csv", "--format", "spice", "--out", "box.cir", folder=tmp_path)
    assert done.returncode == 3
    assert done.stderr.count("\n") == 1
    for word in ("open.csv", "expected", "got", "csv and touchstone"):
        assert word in done.stderr
    assert not (tmp_path / "box.cir").exists()
    done = sealtune("export", "open.csv", "--format", "touchstone", "--out", "box.s1p", folder=tmp_path)
    assert done.returncode == 0
    np.testing.assert_allclose(skrf.Network(str(tmp_path / "box.s1p")).z[:, 0, 0], 8.0, rtol=1e-9)


def test_no_recording_is_overwritten_and_none_is_made(tmp_path: Path) -> None:
    box = tmp_path / "box"
    box.mkdir()
    table_of_a_resistor(box / "open.csv")
    before = (box / "open.csv").read_bytes()
    for name in ("open.csv", "open-2.csv", "plugged.s1p"):
        done = sealtune("export", "box", "--format", "csv", "--out", box / name, folder=tmp_path)
        assert done.returncode == 2, name
        assert "Choose another name" in done.stderr
    done = sealtune("export", "box", "--format", "csv", "--out", box / "measured.csv", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    done = sealtune("export", "box", "--format", "csv", "--out", box / "measured.csv", folder=tmp_path)
    assert done.returncode == 2, "an export that is there is not replaced either"
    assert (box / "open.csv").read_bytes() == before
    assert sorted(path.name for path in box.iterdir()) == ["measured.csv", "open.csv"]


def test_another_role_by_its_name(tmp_path: Path) -> None:
    words = ("simulate", RECORDINGS / "design.toml", "--seconds", "2", "--seed", "5", "--out", "box")
    assert sealtune(*words, "--role", "open", "--role", "plugged", folder=tmp_path).returncode == 0
    outputs = [
        sealtune("export", "box", "--format", "csv", *more, folder=tmp_path)
        for more in ((), ("--role", "open"), ("--role", "plugged"))
    ]
    assert [done.returncode for done in outputs] == [0, 0, 0]
    assert outputs[0].stdout == outputs[1].stdout != outputs[2].stdout
    single = sealtune("export", "box/plugged.flac", "--format", "csv", folder=tmp_path)
    assert single.stdout == outputs[2].stdout


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("export", "nothing", "--format", "csv"), 2),
        (("export", "empty", "--format", "csv"), 2),
        (("export", "empty", "--format", "spice"), 2),
        (("export", "broken.csv", "--format", "csv"), 3),
        (("export", "broken.csv", "--format", "spice"), 3),
        (("export", "notes.md", "--format", "csv"), 2),
        (("export", "broken.csv", "--format", "csv", "--role", "cone"), 2),
        (("export", "broken.csv"), 2),
        (("export", "broken.csv", "--format", "gif"), 2),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else str(value),
)
def test_wrong_use_is_one_message(words: tuple[str, ...], code: int, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "broken.csv").write_text("nothing to see\n")
    (tmp_path / "notes.md").write_text("notes\n")
    done = sealtune(*words, folder=tmp_path)
    assert done.returncode == code, done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert done.stderr.strip()
