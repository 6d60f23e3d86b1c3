"""Touchstone files against the specification's own examples and against scikit-rf, in both directions."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import skrf
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sealtune.errors import RecordingFault, SealtuneError
from sealtune.files.touchstone import read_touchstone, touchstone_text
from sealtune.records.curve import ImpedanceCurve

HZ = np.linspace(10.0, 200.0, 96)


def box_like(hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Two resonances on a resistance: what a vented box looks like."""
    peaks = 25 / (1 + 5j * (hz / 25 - 25 / hz)) + 30 / (1 + 6j * (hz / 73 - 73 / hz))
    return np.asarray(5.7 + peaks + 0.01j * hz, dtype=np.complex128)


def read(folder: Path, text: str) -> ImpedanceCurve:
    path = folder / "open.s1p"
    path.write_text(text)
    return read_touchstone(path)


# published: Touchstone File Format Specification 2.0 (IBIS Open Forum 2009), Version 1.0 example "1-port
# Z-parameter file, multiple frequency points" and its Version 2.0 counterpart with [Reference] 20.0; the
# latter's magnitudes are 75 times the former's (0.99 and 74.25, ...), so version 1 data are normalised to R
# and version 2 data are in ohm, whatever the reference
EXAMPLE_V1 = """!1-port Z-parameter file, multiple frequency points
# MHz Z MA R 75
!freq magZ11 angZ11
100 0.99 -4
200 0.80 -22
300 0.707 -45
400 0.40 -62
500 0.01 -89
"""
EXAMPLE_V2 = """!1-port Z-parameter file, multiple frequency points
[Version] 2.0
# MHz Z MA
[Number of Ports] 1
[Number of Frequencies] 5
[Reference] 20.0
[Network Data]
!freq magZ11 angZ11
100 74.25 -4
200 60 -22
300 53.025 -45
400 30 -62
500 0.75 -89
[End]
"""
EXAMPLE_OHM = [74.25, 60.0, 53.025, 30.0, 0.75]
EXAMPLE_DEG = [-4.0, -22.0, -45.0, -62.0, -89.0]


@pytest.mark.parametrize("text", [EXAMPLE_V1, EXAMPLE_V2, EXAMPLE_V2.replace("2.0\n#", "2.1\n#")])
def test_the_example_of_the_specification(tmp_path: Path, text: str) -> None:
    curve = read(tmp_path, text)
    np.testing.assert_allclose(curve.frequency_hz, [1e8, 2e8, 3e8, 4e8, 5e8], rtol=1e-14)
    np.testing.assert_allclose(np.abs(curve.impedance_ohm), EXAMPLE_OHM, rtol=1e-12)
    np.testing.assert_allclose(np.degrees(np.angle(curve.impedance_ohm)), EXAMPLE_DEG, rtol=1e-12)


@pytest.mark.parametrize("version", ["1.0", "2.0", "2.1"])
@pytest.mark.parametrize("parameter", ["S", "Z", "Y"])
@pytest.mark.parametrize("form", ["ri", "ma", "db"])
@pytest.mark.parametrize("reference_ohm", [1.0, 8.0, 50.0])
def test_every_form_that_scikit_rf_writes(
    tmp_path: Path, version: str, parameter: str, form: str, reference_ohm: float
) -> None:
    # independent: scikit-rf
    clean = box_like(HZ)
    network = skrf.Network(f=HZ, z=clean.reshape(-1, 1, 1), z0=reference_ohm)
    path = tmp_path / "open.s1p"
    options = {} if version == "1.0" or parameter == "S" else {"r_ref": reference_ohm}
    text = network.write_touchstone(
        "open", form=form, parameter=parameter, version=version, return_string=True, **options
    )
    path.write_text(text)
    curve = read_touchstone(path)
    np.testing.assert_allclose(curve.frequency_hz, HZ, rtol=1e-12)
    np.testing.assert_allclose(curve.impedance_ohm, clean, rtol=1e-9)
    assert curve.skipped_lines == 0


def written(unit: str, parameter: str, form: str, reference_ohm: float, version_2: bool) -> str:
    """A file by the words of the specification, all options given."""
    clean = box_like(HZ)
    value = {
        "S": (clean - reference_ohm) / (clean + reference_ohm),
        "Z": clean if version_2 else clean / reference_ohm,
        "Y": 1 / clean if version_2 else reference_ohm / clean,
    }[parameter]
    size, angle = np.abs(value), np.degrees(np.angle(value))
    pair = {"RI": (value.real, value.imag), "MA": (size, angle), "DB": (20 * np.log10(size), angle)}[form]
    scale = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}[unit]
    rows = "".join(f"{f / scale:.15g} {a:.15g} {b:.15g}\n" for f, a, b in zip(HZ, *pair, strict=True))
    if not version_2:
        return f"# {unit} {parameter} {form} R {reference_ohm}\n{rows}"
    return (
        f"[Version] 2.0\n# {unit} {parameter} {form} R 3\n[Number of Ports] 1\n"
        f"[Number of Frequencies] {len(HZ)}\n[Reference]\n{reference_ohm}\n[Network Data]\n{rows}[End]\n"
    )


@pytest.mark.parametrize("unit", ["Hz", "kHz", "MHz", "GHz"])
@pytest.mark.parametrize("parameter", ["S", "Z", "Y"])
@pytest.mark.parametrize("form", ["RI", "MA", "DB"])
@pytest.mark.parametrize("version_2", [False, True])
def test_every_form_of_the_specification(
    tmp_path: Path, unit: str, parameter: str, form: str, version_2: bool
) -> None:
    curve = read(tmp_path, written(unit, parameter, form, 8.0, version_2))
    np.testing.assert_allclose(curve.frequency_hz, HZ, rtol=1e-12)
    np.testing.assert_allclose(curve.impedance_ohm, box_like(HZ), rtol=1e-10)


@pytest.mark.parametrize("form", ["RI", "MA", "DB"])
@pytest.mark.parametrize("parameter", ["S", "Z", "Y"])
def test_scikit_rf_reads_the_same_file_as_we_do(tmp_path: Path, parameter: str, form: str) -> None:
    # independent: scikit-rf. For Y of version 1 it multiplies by R where its own writer, and 1/Z, ask for
    # a division (seen in 2.2.0), so that file is compared at R 1, where the two are the same
    path = tmp_path / "open.s1p"
    path.write_text(written("Hz", parameter, form, 1.0 if parameter == "Y" else 8.0, False))
    theirs = skrf.Network(str(path))
    ours = read_touchstone(path)
    np.testing.assert_allclose(ours.frequency_hz, theirs.f, rtol=1e-12)
    np.testing.assert_allclose(ours.impedance_ohm, theirs.z[:, 0, 0], rtol=1e-9)


def test_scikit_rf_recovers_the_impedance_that_we_write(tmp_path: Path) -> None:
    # independent: scikit-rf
    clean = box_like(HZ)
    path = tmp_path / "open.s1p"
    path.write_text(touchstone_text(ImpedanceCurve(HZ, clean, np.full(len(HZ), 0.01))))
    theirs = skrf.Network(str(path))
    np.testing.assert_array_equal(theirs.f, HZ)
    np.testing.assert_allclose(theirs.z[:, 0, 0], clean, rtol=1e-12)
    np.testing.assert_allclose(read_touchstone(path).impedance_ohm, clean, rtol=1e-12)
    assert "# Hz S RI R 50" in path.read_text().splitlines()


def test_the_defaults_of_the_option_line_are_those_of_the_specification(tmp_path: Path) -> None:
    # published: Touchstone 2.0, option line: GHz, S, MA, R 50 where nothing is said
    curve = read(tmp_path, "#\n1 0.5 0\n2 0.5 180\n3 0 0\n")
    np.testing.assert_allclose(curve.frequency_hz, [1e9, 2e9, 3e9], rtol=1e-14)
    # exact: 50 (1 + 1/2) / (1 - 1/2) = 150; 50 (1 - 1/2) / (1 + 1/2) = 50/3; 50
    np.testing.assert_allclose(curve.impedance_ohm, [150.0, 50 / 3, 50.0], rtol=1e-12, atol=1e-12)


def test_comments_order_case_and_a_second_option_line(tmp_path: Path) -> None:
    text = (
        "! first\n\n# r 8 RI hz z ! options in any order\n# GHz S MA R 50\n"
        "30 3 0 ! last\n10 1 0\n 20\t2 0 !\n"
    )
    curve = read(tmp_path, text)
    np.testing.assert_array_equal(curve.frequency_hz, [10, 20, 30])
    np.testing.assert_allclose(curve.impedance_ohm, [8, 16, 24], rtol=1e-14)
    assert curve.skipped_lines == 0


def test_points_without_an_impedance_are_passed_over_and_counted(tmp_path: Path) -> None:
    text = "# Hz S RI R 50\n0 0.1 0\n10 1 0\n20 -1 0\n30 0 0\n40 0.2 0\n50 0.5 0\nwords\n60 1e400 0\n"
    curve = read(tmp_path, text)
    np.testing.assert_array_equal(curve.frequency_hz, [30, 40, 50])
    assert curve.skipped_lines == 5


def test_information_and_noise_sections_are_no_data(tmp_path: Path) -> None:
    information = "[Begin Information]\n1 2 3\n[End Information]\n"
    text = EXAMPLE_V2.replace("[Network Data]", information + "[Network Data]")
    text = text.replace("[End]\n", "[Noise Data]\n1 2 3 4 5\n[End]\n7 8 9\n")
    np.testing.assert_allclose(np.abs(read(tmp_path, text).impedance_ohm), EXAMPLE_OHM, rtol=1e-12)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "truncated"), ("\n \n", "truncated"), (EXAMPLE_V2[:200], "truncated"),
        ("words\n", "not_impedance"),
        ("10 1 0\n20 1 0\n30 1 0\n", "not_impedance"), ("# Hz S RI R 50\n", "not_impedance"),
        ("# Hz H RI R 50\n10 1 0\n", "not_impedance"), ("# Hz S RI R -5\n10 1 0\n", "not_impedance"),
        ("# Hz S RI R\n10 1 0\n", "not_impedance"), ("# THz S RI R 50\n10 1 0\n", "not_impedance"),
        ("# Hz S RI R 50\n10 1 0 1 0 1 0 1 0\n", "not_impedance"),
        (EXAMPLE_V2.replace("Ports] 1", "Ports] 2"), "not_impedance"),
        (EXAMPLE_V2.replace("Version] 2.0", "Version] 9.0"), "not_impedance"),
        ("# Hz Z RI R 1\n10 1 0\n20 1 0\n", "too_coarse"),
        ("# Hz S RI R 50\n10 1 0\n20 1 0\n30 1 0\n", "too_coarse"),
    ],
)  # fmt: skip
def test_what_is_no_one_port_file_is_named(tmp_path: Path, text: str, problem: str) -> None:
    with pytest.raises(RecordingFault) as caught:
        read(tmp_path, text)
    assert caught.value.problem == problem


@settings(max_examples=200)
@given(
    st.lists(
        st.one_of(
            st.sampled_from(["# Hz S DB R 50", "# Hz Y RI R 8", *(EXAMPLE_V1 + EXAMPLE_V2).splitlines()]),
            st.tuples(*[st.floats()] * 3).map(lambda row: " ".join(map(str, row))),
            st.text(max_size=20),
        ),
        max_size=20,
    )
)
def test_any_file_is_read_or_raises_our_own_error(
    tmp_path_factory: pytest.TempPathFactory, lines: list[str]
) -> None:
    path = tmp_path_factory.mktemp("any") / "a.s1p"
    path.write_bytes("\n".join(lines).encode("utf-8", "surrogatepass"))
    try:
        curve = read_touchstone(path)
    except SealtuneError:
        return
    assert np.isfinite(curve.impedance_ohm).all()
    assert (np.diff(curve.frequency_hz) > 0).all()
    assert (curve.sigma_ohm > 0).all()
