"""Impedance tables: every form reads as the same curve; what is damaged is dropped and counted."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sealtune.errors import RecordingFault, SealtuneError, UsageFault
from sealtune.files.impedance_table import read_table, table_text
from sealtune.files.table_noise import noise_of_table
from sealtune.records.curve import ImpedanceCurve

ROWS = [(20.0, 12.5, 30.0), (25.5, 31.25, -12.5), (40.0, 6.5, 0.0), (63.5, 40.0, -90.0)]
Z = np.array([12.5 * np.exp(1j * np.pi / 6), 31.25 * np.exp(-1j * np.radians(12.5)), 6.5, -40j])
HZ = [20.0, 25.5, 40.0, 63.5]
POLAR = "frequency_hz,magnitude_ohm,phase_deg"


def table(
    rows: Sequence[tuple[float, ...]], separator: str = ",", decimal: str = ".", header: str = ""
) -> str:
    body = "\n".join(separator.join(str(number).replace(".", decimal) for number in row) for row in rows)
    return (header + "\n" if header else "") + body + "\n"


def read(folder: Path, text: str | bytes) -> ImpedanceCurve:
    path = folder / "open.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_table(path)


CARTESIAN = [(hz, float(z.real), float(z.imag)) for hz, z in zip(HZ, Z, strict=True)]
FORMS = {
    "documented header": table(ROWS, header=POLAR),
    "cartesian header": table(CARTESIAN, header="frequency_hz,resistance_ohm,reactance_ohm"),
    "bare commas": table(ROWS),
    "commas and spaces": table(ROWS, ", "),
    "semicolons": table(ROWS, ";"),
    "tabs": table(ROWS, "\t"),
    "spaces": table(ROWS, "   "),
    "semicolons, decimal commas": table(ROWS, ";", ","),
    "tabs, decimal commas": table(ROWS, "\t", ","),
    "spaces, decimal commas": table(ROWS, " ", ","),
    "semicolon header, decimal commas": table(ROWS, ";", ",", POLAR.replace(",", ";")),
    "quoted": '"' + table(ROWS, '","').strip().replace("\n", '"\n"') + '"',
    "carriage returns": table(ROWS, header=POLAR).replace("\n", "\r\n"),
    "old carriage returns": table(ROWS, header=POLAR).replace("\n", "\r"),
    "indented, blank lines, trailing separators": "\n\n  " + table(ROWS).replace("\n", ",\n\n  "),
    "typographic minus": table(ROWS).replace("-", "\u2212"),
    "unsorted": table(ROWS[::-1]),
    "further columns": table([(*row, 7.0) for row in ROWS]),
    "other order": "phase_deg,frequency_hz,note,magnitude_ohm\n"
    + "".join(f"{p},{f},x,{m}\n" for f, m, p in ROWS),
    "exponents": "2.0E+1,1.25e1,30\n2.55E1,31.25,-1.25e+01\n40,.65e1,0.\n6.35e1,40,-90\n",
}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_reads_as_the_same_curve(tmp_path: Path, form: str) -> None:
    curve = read(tmp_path, FORMS[form])
    # exact: the same four rows written differently
    np.testing.assert_array_equal(curve.frequency_hz, HZ)
    np.testing.assert_allclose(curve.impedance_ohm, Z, rtol=1e-14, atol=1e-13)
    assert curve.skipped_lines == 0


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1", "cp1252"])
def test_every_encoding_survives(tmp_path: Path, encoding: str) -> None:
    curve = read(tmp_path, ("Größe in °\n" + table(ROWS)).encode(encoding))
    np.testing.assert_allclose(curve.impedance_ohm, Z, rtol=1e-14, atol=1e-13)
    assert curve.skipped_lines == 1


def test_lines_that_do_not_begin_with_a_number_are_counted(tmp_path: Path) -> None:
    text = "* my box\n" + POLAR + "\n# comment\n" + table(ROWS) + "end of file\n"
    assert read(tmp_path, text).skipped_lines == 3


@pytest.mark.parametrize(
    "row",
    ["30,nan,5", "30,inf,5", "0,8,5", "-30,8,5", "30,-8,5", "30,0,5", "30,8", "30,,5", "30,8,x", "1e999,8,5"],
)
def test_damaged_rows_are_dropped_and_counted(tmp_path: Path, row: str) -> None:
    curve = read(tmp_path, table(ROWS) + row + "\n")
    np.testing.assert_array_equal(curve.frequency_hz, HZ)
    assert curve.skipped_lines == 1


def test_rows_of_one_frequency_are_averaged(tmp_path: Path) -> None:
    header = "frequency_hz,resistance_ohm,reactance_ohm\n"
    curve = read(tmp_path, header + "10,1,1\n20,5,2\n20,7,-4\n30,3,3\n")
    # exact: mean of 5+2j and 7-4j
    np.testing.assert_allclose(curve.impedance_ohm, [1 + 1j, 6 - 1j, 3 + 3j], rtol=1e-15)
    assert curve.skipped_lines == 0


def test_a_worded_header_of_real_and_imaginary_part_is_understood(tmp_path: Path) -> None:
    curve = read(tmp_path, "Freq (Hz), Real (Ohm), Imag (Ohm)\n10,1,1\n20,6,-1\n30,3,3\n")
    np.testing.assert_array_equal(curve.impedance_ohm, [1 + 1j, 6 - 1j, 3 + 3j])


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "truncated"), ("\ufeff", "truncated"), (" \n\n", "truncated"),
        ("only words\nand more\n", "not_impedance"), (POLAR + "\n", "not_impedance"),
        ("20,8\n30,9\n40,7\n", "not_impedance"), ("20\n30\n", "not_impedance"),
        ("20,5,8,1,30,0\n30,5,9,2,20,0\n40,5,8,8,10,0\n", "not_impedance"),
        ("20,8,1\n", "too_coarse"), ("20,8,1\n30,9,2\n", "too_coarse"),
        ("20,8,1\n20,8,1\n20,9,2\n", "too_coarse"), ("20,8,1\n30,9,2\nnan,1,1\n40,nan,1\n", "too_coarse"),
        ("0,8,1\n0,8,2\n0,8,3\n", "too_coarse"),
    ],
)  # fmt: skip
def test_what_is_no_table_is_named(tmp_path: Path, text: str, problem: str) -> None:
    with pytest.raises(RecordingFault) as caught:
        read(tmp_path, text)
    assert caught.value.problem == problem
    assert "open.csv" in str(caught.value)


def test_missing_files_and_folders(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "missing.csv"):
        with pytest.raises(UsageFault):
            read_table(path)


def test_what_is_written_comes_back(tmp_path: Path) -> None:
    hz = np.geomspace(4, 500, 300)
    curve = ImpedanceCurve(hz, box_like(hz), np.full(300, 0.01))
    path = tmp_path / "out.csv"
    path.write_text(table_text(curve))
    assert path.read_text().splitlines()[0] == POLAR
    back = read_table(path)
    np.testing.assert_allclose(back.frequency_hz, hz, rtol=1e-9)
    np.testing.assert_allclose(back.impedance_ohm, curve.impedance_ohm, rtol=1e-8)
    assert back.skipped_lines == 0


# --- noise ---


def box_like(hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Two resonances of Q 5 and 6 on a resistance: shaped like a vented box."""
    peaks = 25 / (1 + 5j * (hz / 25 - 25 / hz)) + 30 / (1 + 6j * (hz / 73 - 73 / hz))
    return np.asarray(5.7 + peaks + 0.01j * hz, dtype=np.complex128)


@pytest.mark.parametrize("relative", [1e-3, 1e-2])
@pytest.mark.parametrize("grid", ["even", "geometric", "jittered"])
def test_the_noise_that_was_added_is_found(relative: float, grid: str) -> None:
    rng = np.random.default_rng(7)
    hz = np.geomspace(8, 400, 1200) if grid == "geometric" else np.linspace(8, 400, 2000)
    if grid == "jittered":
        hz = np.sort(hz + rng.uniform(-0.08, 0.08, len(hz)))
    clean = box_like(hz)
    sigma = relative * np.abs(clean)
    noisy = clean + sigma * (rng.standard_normal(len(hz)) + 1j * rng.standard_normal(len(hz)))
    ratio = noise_of_table(hz, noisy) / sigma
    # independent: the noise put in; the 82 or more values in each median scatter by up to 15 %
    assert np.median(ratio) == pytest.approx(1.0, abs=0.06)
    assert 0.6 < ratio.min() < ratio.max() < 1.6


def test_a_clean_curve_is_given_the_floor_and_rounding_is_seen(tmp_path: Path) -> None:
    hz = np.linspace(8, 400, 2000)
    clean = box_like(hz)
    # exact: the floor of 1e-4 |Z|
    np.testing.assert_allclose(noise_of_table(hz, clean), 1e-4 * np.abs(clean), rtol=0.05)
    points = zip(hz, np.abs(clean), np.degrees(np.angle(clean)), strict=True)
    rows = "".join(f"{f:.6f},{ohm:.0f},{degrees:.4f}\n" for f, ohm, degrees in points)
    # exact: rounding to 1 ohm spreads evenly over 1 ohm, whose standard deviation is 1 / sqrt(12)
    assert read(tmp_path, rows).sigma_ohm.min() >= 1 / np.sqrt(12) * 0.999


def test_too_short_a_table_is_given_an_assumed_noise(tmp_path: Path) -> None:
    curve = read(tmp_path, table([(10.0, 8.001, 1.001), (20.0, 80.001, 5.001), (30.0, 8.001, -3.001)]))
    np.testing.assert_allclose(curve.sigma_ohm, 0.002 * np.abs(curve.impedance_ohm), rtol=1e-6)


# --- nothing but our own errors ---


def survives(folder: Path, data: bytes) -> None:
    try:
        curve = read(folder, data)
    except SealtuneError:
        return
    assert (np.diff(curve.frequency_hz) > 0).all()
    assert (curve.frequency_hz > 0).all()
    assert np.isfinite(curve.impedance_ohm).all()
    assert (curve.sigma_ohm > 0).all()
    assert np.isfinite(curve.sigma_ohm).all()


@settings(max_examples=100)
@given(st.binary(max_size=300))
def test_random_bytes(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    survives(tmp_path_factory.mktemp("bytes"), data)


@settings(max_examples=200)
@given(st.text(alphabet='0123456789.,;- \t\n\re+NaifHzx"', max_size=300))
def test_random_text(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    survives(tmp_path_factory.mktemp("text"), text.encode())


@settings(max_examples=200)
@given(st.lists(st.tuples(*[st.floats(width=64)] * 3), min_size=3, max_size=30))
def test_random_numbers(
    tmp_path_factory: pytest.TempPathFactory, rows: list[tuple[float, float, float]]
) -> None:
    survives(tmp_path_factory.mktemp("numbers"), table(rows).encode())
    near = [(20 + abs(f) % 1, abs(m) % 50, p % 90) for f, m, p in rows if np.isfinite([f, m, p]).all()]
    survives(tmp_path_factory.mktemp("numbers"), table(near).encode())


def test_a_phase_in_the_place_of_the_magnitude_is_refused(tmp_path: Path) -> None:
    rows = [(10.0 + n, -40.0 + n, 6.0 + n) for n in range(80)]
    with pytest.raises(
        RecordingFault, match="40 of 80 rows below zero in the place of the magnitude, as a phase is"
    ):
        read(tmp_path, table(rows, header=POLAR))
