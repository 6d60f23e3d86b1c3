"""Damaged files of every kind are read or refused by one message, and never break what follows.

Exact: the promises are the program's own. tests/benchmarks/fuzz.py does the same to very many more.
"""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.fuzz.edits import KINDS, Edit, damaged
from tests.fuzz.paths import go_on, read, told
from tests.fuzz.seeds import seeds, sound_with_tag, write_companions
from tests.fuzz.trees import FOLDERS, HOWS, NAMES, Tree

from sealtune.errors import SealtuneError
from sealtune.files.impedance_table import read_table
from sealtune.files.touchstone import read_touchstone

corpus = cache(seeds)

EDITS = st.lists(
    st.builds(
        Edit,
        st.sampled_from(KINDS),
        st.floats(0.0, 1.0) | st.floats(0.0, 0.01),
        st.integers(1, 200),
        st.integers(0, 300),
    ),
    min_size=1,
    max_size=4,
)
SHORT = settings(
    max_examples=60,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def written(folder: Path, kind: str, which: int, edits: list[Edit]) -> Path:
    name, data = corpus()[kind][which % len(corpus()[kind])]
    path = folder / name
    path.write_bytes(damaged(data, edits))
    return path


@pytest.mark.parametrize("kind", ["sound", "tag", "table", "touchstone", "design", "jig"])
@SHORT
@given(which=st.integers(0, 6), edits=EDITS)
def test_damaged_file_is_read_or_refused(tmp_path: Path, kind: str, which: int, edits: list[Edit]) -> None:
    path = written(tmp_path, kind, which, edits)
    before = path.read_bytes()
    try:
        read(kind, path)
    except SealtuneError as error:
        told(error)
    assert path.read_bytes() == before


@pytest.mark.parametrize("kind", ["sound", "tag", "table", "touchstone", "design", "jig"])
@settings(SHORT, max_examples=6)
@given(which=st.integers(0, 6), edits=EDITS)
def test_what_is_read_goes_all_the_way(tmp_path: Path, kind: str, which: int, edits: list[Edit]) -> None:
    path = written(tmp_path, kind, which, edits)
    (tmp_path / "beside").mkdir(exist_ok=True)
    write_companions(tmp_path / "beside", corpus())
    if kind == "tag":
        path = sound_with_tag(path, corpus())
    try:
        go_on(kind, path, tmp_path / "beside")
    except SealtuneError as error:
        told(error)


TREES = st.builds(
    lambda folder, files, links, closed, lost, read_only: Tree(
        folder,
        {
            stem + name[name.index(".") :]: data[: len(data) if whole else len(data) // 3]
            for stem, (name, data), whole in files
        },
        dict(links),
        closed=[files[closed][0] + files[closed][1][0][4:]] if closed < len(files) else [],
        lost={files[0][0] + files[0][1][0][4:]: lost} if files and lost else {},
        read_only=read_only,
    ),
    st.sampled_from(FOLDERS),
    st.lists(
        st.tuples(
            st.sampled_from(NAMES),
            st.deferred(lambda: st.sampled_from(corpus()["table"] + corpus()["touchstone"])),
            st.booleans(),
        ),
        max_size=4,
    ),
    st.lists(
        st.tuples(
            st.sampled_from(["open-5.csv", "design.toml", "jig.toml"]),
            st.sampled_from([".", "..", "open-5.csv", "nowhere", "/dev/null", "open.csv"]),
        ),
        max_size=2,
    ),
    st.integers(0, 5),
    st.none() | st.tuples(st.sampled_from(HOWS), st.integers(1, 4)),
    st.booleans(),
)


@settings(SHORT, max_examples=25)
@given(tree=TREES)
def test_folders_as_they_should_not_be(tmp_path_factory: pytest.TempPathFactory, tree: Tree) -> None:
    path = tree.write(tmp_path_factory.mktemp("tree"))
    before = sorted(os.listdir(path))
    try:
        with tree.in_use():
            read("tree", path)
            go_on("tree", path, path)
    except SealtuneError as error:
        told(error)
    finally:
        tree.tidy()
    assert set(os.listdir(path)) <= set(before)


@pytest.mark.parametrize("kind", KINDS)
def test_every_edit_does_damage(kind: str) -> None:
    data = corpus()["table"][0][1]
    edits = [Edit(kind, place, 3, choice) for place in (0.0, 0.4) for choice in (0, 1)]  # type: ignore[arg-type]
    assert any(damaged(data, [edit]) != data for edit in edits)


def test_an_error_without_its_four_parts_and_a_reader_that_breaks_are_noticed(tmp_path: Path) -> None:
    with pytest.raises(AssertionError):
        told(SealtuneError("here", "a file", "", "Do it again."))
    (tmp_path / "open.csv").write_text("nothing")
    with pytest.raises(SealtuneError):
        read("table", tmp_path / "open.csv")
    with pytest.raises(KeyError):
        read("no such kind", tmp_path / "open.csv")


def test_rows_with_numbers_that_no_load_has_are_passed_over_and_counted(tmp_path: Path) -> None:
    # exact: three of the rows lie below the least that is read; the others, neighbouring numbers among them, stay
    hz = [1e-310, 10.0, float(np.nextafter(10.0, 11.0)), *np.geomspace(11.0, 1e6, 60)]
    ohm = [8.0, 8.0, 8.0, 1e-310, 1e-10, *[8.0] * 58]
    rows = "".join(f"{f!r},{z!r},{n}.0\n" for n, (f, z) in enumerate(zip(map(float, hz), ohm, strict=True)))
    (tmp_path / "open.csv").write_text("frequency_hz,magnitude_ohm,phase_deg\n" + rows)
    (tmp_path / "open.s1p").write_text("# Hz Z MA R 1\n" + rows.replace(",", " "))
    for curve in (read_table(tmp_path / "open.csv"), read_touchstone(tmp_path / "open.s1p")):
        assert curve.skipped_lines == 3
        assert curve.frequency_hz.size == 60
        assert np.isfinite(curve.sigma_ohm).all()
        assert (curve.sigma_ohm > 0).all()
