"""Impedance tables: three columns of numbers, as any program or spreadsheet writes them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sealtune.errors import RecordingFault
from sealtune.files.disk import read_text
from sealtune.files.table_noise import noise_of_table
from sealtune.records.curve import ImpedanceCurve

HEADER = "frequency_hz,magnitude_ohm,phase_deg"
FEWEST_ROWS = 3

_POLAR = ("frequency_hz", "magnitude_ohm", "phase_deg")
_CARTESIAN = ("frequency_hz", "resistance_ohm", "reactance_ohm")
_BEGINS_WITH_NUMBER = re.compile(r"[+-]?[.,]?[0-9]")
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")
_LARGEST = (1e7, 1e9, 1e9)  # Hz, ohm or ohm, degrees or ohm: beyond, the row is damaged
LEAST_HZ, LEAST_OHM = 1e-6, 1e-9
"""Below, a row is damaged: no load has so little, and differences of such numbers leave the range of numbers."""

MOST_BELOW_ZERO = 0.1
"""Share of the rows from which magnitudes below zero are no damaged rows, but another quantity."""


@dataclass(frozen=True)
class _Columns:
    """Where the three numbers stand in a row, and whether they are real and imaginary part."""

    places: tuple[int, int, int] = (0, 1, 2)
    cartesian: bool = False


def read_table(path: Path) -> ImpedanceCurve:
    """Return the curve of an impedance table.

    path: a text file with a header line `frequency_hz,magnitude_ohm,phase_deg` or
        `frequency_hz,resistance_ohm,reactance_ohm`, or three bare columns (frequency, magnitude, phase in
        degrees; real and imaginary part where a line above says so), separated by commas, semicolons, tabs
        or spaces. Decimal commas are understood unless
        commas separate the columns
    Rows are sorted, and rows of one frequency averaged. `skipped_lines` counts the lines that do not begin
    with a number (a header that was understood and empty lines are not counted) and the rows without three
    usable numbers: none missing, none infinite, frequency and magnitude above zero.
    Raises UsageFault where there is no readable file; RecordingFault "truncated" for an empty file,
    "not_impedance" where no row has three numbers or magnitudes are below zero, "too_coarse" below three
    usable rows.
    """
    text = read_text(path)
    text = text.lstrip("\ufeff").replace('"', "").replace("\u2212", "-")
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if not lines:
        raise RecordingFault(
            "truncated", str(path), "an impedance table", "an empty file", "Export the table again."
        )
    rows = [line for line in lines if _BEGINS_WITH_NUMBER.match(line)]
    if not rows:
        raise _no_table(path, "no line that begins with a number")
    separator = _separator(path, rows)
    columns, header_lines = _columns(lines, separator)
    numbers, decimals = _numbers(rows, separator, columns)
    if len(numbers) == 0:
        raise _no_table(path, f"no row with three numbers in it; the first row is `{rows[0][:60]}`")
    return _curve(path, numbers, decimals, columns.cartesian, len(lines) - header_lines)


def table_text(curve: ImpedanceCurve) -> str:
    """Return the curve as CSV with the header `frequency_hz,magnitude_ohm,phase_deg`, ten digits to a number."""
    phase_deg = np.degrees(np.angle(curve.impedance_ohm))
    rows = zip(curve.frequency_hz, np.abs(curve.impedance_ohm), phase_deg, strict=True)
    body = "".join(f"{hz:.10g},{ohm:.10g},{degrees:.10g}\n" for hz, ohm, degrees in rows)
    return f"{HEADER}\n{body}"


def _split(line: str, separator: str) -> list[str]:
    return line.split() if separator == " " else [field.strip() for field in line.split(separator)]


def _value(field: str, separator: str) -> float | None:
    """Return the number in the field, None where it is none; a decimal comma only where none separates."""
    if separator != "," and "," in field and "." not in field:
        field = field.replace(",", ".", 1)
    return float(field) if _NUMBER.fullmatch(field) else None


def _separator(path: Path, rows: list[str]) -> str:
    """Return ";", "," or " " (spaces and tabs), by what splits the rows into three numbers or more."""
    if any(";" in row for row in rows):
        return ";"
    sample = rows[:200]
    with_commas = sum(sum(_value(f, ",") is not None for f in _split(row, ",")) >= 3 for row in sample)
    with_spaces = sum(sum(_value(f, " ") is not None for f in _split(row, " ")) >= 3 for row in sample)
    if with_commas == 0 or with_spaces > with_commas:
        return " "
    fields = [len(_split(row, ",")) for row in sample]
    if min(fields) > 3 and not any("." in row for row in sample):
        raise RecordingFault(
            "not_impedance",
            str(path),
            "columns and decimals that can be told apart",
            f"commas for both, as in `{sample[0][:60]}`",
            "Export with points for the decimals, or with semicolons between the columns.",
        )
    return ","


def _columns(lines: list[str], separator: str) -> tuple[_Columns, int]:
    """Return the columns that the header names, and how many lines were understood as headers (0 or 1)."""
    for line in lines:
        if _BEGINS_WITH_NUMBER.match(line):
            break
        names = [name.lower() for name in re.split(r"[,;\s]+", line) if name]
        for wanted, cartesian in ((_POLAR, False), (_CARTESIAN, True)):
            if all(name in names for name in wanted):
                first, second, third = (names.index(name) for name in wanted)
                return _Columns((first, second, third), cartesian), 1
        words = re.findall(r"[a-z]+", line.lower())
        if any(word in ("re", "real", "resistance") for word in words) and any(
            word in ("im", "imag", "imaginary", "reactance") for word in words
        ):
            return _Columns(cartesian=True), 0
    return _Columns(), 0


def _numbers(
    rows: list[str], separator: str, columns: _Columns
) -> tuple[NDArray[np.float64], tuple[int, int]]:
    """Return the rows with three numbers, shape (n, 3), and the most decimals in the last two columns."""
    found: list[tuple[float, ...]] = []
    decimals = [0, 0]
    furthest = max(columns.places)
    for row in rows:
        fields = _split(row, separator)
        if len(fields) <= furthest:
            continue
        chosen = [fields[place] for place in columns.places]
        values = [_value(field, separator) for field in chosen]
        numbers = tuple(value for value in values if value is not None)
        if len(numbers) == 3:
            found.append(numbers)
            for place in (0, 1):
                decimals[place] = max(decimals[place], _decimals(chosen[place + 1]))
    return np.array(found, dtype=np.float64).reshape(-1, 3), (decimals[0], decimals[1])


def _decimals(field: str) -> int:
    mantissa, _, exponent = field.lower().replace(",", ".").partition("e")
    digits = len(mantissa.partition(".")[2])
    return min(digits - int(exponent or 0), 15) if len(exponent) < 5 else 15


def _curve(
    path: Path, numbers: NDArray[np.float64], decimals: tuple[int, int], cartesian: bool, lines: int
) -> ImpedanceCurve:
    usable = np.isfinite(numbers).all(axis=1) & (np.abs(numbers) <= _LARGEST).all(axis=1)
    usable &= numbers[:, 0] >= LEAST_HZ
    below = int(np.count_nonzero(usable & (numbers[:, 1] < 0.0)))
    if not cartesian and below > max(MOST_BELOW_ZERO * len(numbers), 2):
        raise _no_table(
            path, f"{below} of {len(numbers)} rows below zero in the place of the magnitude, as a phase is"
        )
    magnitude = np.hypot(np.where(usable, numbers[:, 1], 0.0), np.where(usable, numbers[:, 2], 0.0))
    usable &= (magnitude if cartesian else numbers[:, 1]) >= LEAST_OHM
    skipped = lines - int(np.count_nonzero(usable))
    hz, second, third = numbers[usable].T
    steps = 10.0 ** -np.array(decimals, dtype=np.float64)
    if cartesian:
        impedance_ohm = second + 1j * third
        least_ohm = np.full(len(hz), float(np.max(steps)))
    else:
        impedance_ohm = second * np.exp(1j * np.radians(third))
        least_ohm = np.maximum(steps[0], second * np.radians(steps[1]))
    return curve_from_rows(path, hz, impedance_ohm, least_ohm / np.sqrt(12.0), skipped)


def curve_from_rows(
    path: Path,
    frequency_hz: NDArray[np.float64],
    impedance_ohm: NDArray[np.complex128],
    least_ohm: NDArray[np.float64],
    skipped_lines: int,
) -> ImpedanceCurve:
    """Return the curve of rows in any order: sorted, rows of one frequency averaged, noise estimated.

    path: for the message
    frequency_hz: shape (n,), Hz, > 0
    impedance_ohm: shape (n,), ohm, finite
    least_ohm: shape (n,), the noise is at least this, ohm
    skipped_lines: passed on
    Raises RecordingFault("too_coarse") below three different frequencies.
    """
    rising_hz, belongs = np.unique(frequency_hz, return_inverse=True)
    if len(rising_hz) < FEWEST_ROWS:
        raise RecordingFault(
            "too_coarse",
            str(path),
            f"at least {FEWEST_ROWS} usable rows, better 200 between 10 and 500 Hz",
            "1 row" if len(rising_hz) == 1 else f"{len(rising_hz)} rows",
            "Export more of the curve.",
        )
    shares = np.bincount(belongs).astype(np.float64)
    mean_ohm = np.empty(len(rising_hz), dtype=np.complex128)
    mean_ohm.real = np.bincount(belongs, impedance_ohm.real) / shares
    mean_ohm.imag = np.bincount(belongs, impedance_ohm.imag) / shares
    floor_ohm = np.bincount(belongs, least_ohm) / shares
    whole = np.abs(mean_ohm) >= LEAST_OHM  # rows of one frequency that cancel
    if not whole.all():
        rising_hz, mean_ohm, floor_ohm = rising_hz[whole], mean_ohm[whole], floor_ohm[whole]
        return curve_from_rows(path, rising_hz, mean_ohm, floor_ohm, skipped_lines + int((~whole).sum()))
    return ImpedanceCurve(rising_hz, mean_ohm, noise_of_table(rising_hz, mean_ohm, floor_ohm), skipped_lines)


def _no_table(path: Path, got: str) -> RecordingFault:
    return RecordingFault(
        "not_impedance",
        str(path),
        "rows of frequency (Hz), magnitude (ohm) and phase (degrees)",
        got,
        f"Export the impedance as text with three columns, best under the line `{HEADER}`.",
    )
