"""One-port Touchstone files, versions 1.0, 1.1, 2.0 and 2.1 [Touchstone2.1, IBIS Open Forum].

In version 1 files Z and Y data are normalised to the reference resistance R of the option line (Z is the
number times R, Y the number over R); in version 2 files they are in ohm and siemens. S data refer to R, or
in version 2 to `[Reference]` where it is given.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sealtune.errors import RecordingFault
from sealtune.files.disk import read_text
from sealtune.files.impedance_table import LEAST_HZ, LEAST_OHM, curve_from_rows
from sealtune.files.table_noise import LEAST
from sealtune.records.curve import ImpedanceCurve

WRITTEN_REFERENCE_OHM = 50.0
"""The default of the format, so that even a reader that ignores the R of the option line is right."""

_UNITS = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
_FORMS = ("db", "ma", "ri")
_LARGEST_HZ = 1e12
_LARGEST_OHM = 1e9


@dataclass
class _Content:
    """What was gathered from the lines of a file."""

    version: str = "1"
    option_seen: bool = False
    unit: str = "ghz"
    parameter: str = "s"
    form: str = "ma"
    reference_ohm: float = 50.0
    rows: list[list[float]] = field(default_factory=list)
    promised: int | None = None
    skipped: int = 0


def read_touchstone(path: Path) -> ImpedanceCurve:
    """Return the impedance curve of a one-port Touchstone file in Z, Y or S form.

    path: the file, usually .s1p
    Points at which the impedance is infinite or zero are passed over and counted in `skipped_lines`, as are
    lines that cannot be read. Raises UsageFault where there is no readable file; RecordingFault "truncated"
    for an empty file or one that ends before the points it promises, "not_impedance" for what is no one-port
    Touchstone file, "too_coarse" below three usable points.
    """
    text = read_text(path)
    if not text.strip():
        raise RecordingFault(
            "truncated", str(path), "a Touchstone file", "an empty file", "Export the file again."
        )
    content = _gather(path, text)
    if not content.rows:
        raise _not_one_port(path, "no line with a frequency and one pair of numbers")
    if content.promised is not None and len(content.rows) + content.skipped < content.promised:
        raise RecordingFault(
            "truncated",
            str(path),
            f"the {content.promised} points that the file promises",
            f"{len(content.rows)}",
            "Copy or export the file again.",
        )
    numbers = np.array(content.rows, dtype=np.float64)
    with np.errstate(all="ignore"):
        frequency_hz = numbers[:, 0] * _UNITS[content.unit]
        impedance_ohm = _impedance(content, _complex(content.form, numbers[:, 1], numbers[:, 2]))
        magnitude = np.abs(impedance_ohm)
        usable = np.isfinite(magnitude) & (magnitude >= LEAST_OHM) & (magnitude <= _LARGEST_OHM)
        usable &= (frequency_hz >= LEAST_HZ) & (frequency_hz <= _LARGEST_HZ)
    skipped = content.skipped + int(np.count_nonzero(~usable))
    return curve_from_rows(
        path, frequency_hz[usable], impedance_ohm[usable], LEAST * magnitude[usable], skipped
    )


def touchstone_text(curve: ImpedanceCurve) -> str:
    """Return the curve as a one-port Touchstone 1.1 file: Hz, S, real and imaginary part, R 50.

    A point with Z = -50 ohm has no S and does not occur in a load.
    """
    reference = WRITTEN_REFERENCE_OHM
    reflection = (curve.impedance_ohm - reference) / (curve.impedance_ohm + reference)
    lines = [
        "! Impedance of a loudspeaker at its terminals: Z = R (1 + S) / (1 - S)",
        f"# Hz S RI R {reference:g}",
        *(
            f"{float(hz)!r} {float(s.real)!r} {float(s.imag)!r}"
            for hz, s in zip(curve.frequency_hz, reflection, strict=True)
        ),
    ]
    return "\n".join(lines) + "\n"


def _complex(form: str, first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.complex128]:
    if form == "ri":
        return np.asarray(first + 1j * second, dtype=np.complex128)
    magnitude = 10.0 ** (first / 20.0) if form == "db" else first
    return np.asarray(magnitude * np.exp(1j * np.radians(second)), dtype=np.complex128)


def _impedance(content: _Content, value: NDArray[np.complex128]) -> NDArray[np.complex128]:
    reference = content.reference_ohm
    normalised = content.version == "1"
    if content.parameter == "z":
        result = value * reference if normalised else value
    elif content.parameter == "y":
        result = (reference if normalised else 1.0) / value
    else:
        result = reference * (1.0 + value) / (1.0 - value)
    return np.asarray(result, dtype=np.complex128)


def _gather(path: Path, text: str) -> _Content:
    content = _Content()
    in_data = True
    in_information = awaits_reference = False
    for line in text.splitlines():
        line = line.partition("!")[0].strip().lower()
        keyword = re.match(r"\[([^\]]*)\]\s*(.*)", line)
        if keyword:
            name, value = " ".join(keyword[1].split()), keyword[2]
            awaits_reference = name == "reference" and not value
            if name == "version":
                content.version = _version(path, value)
                in_data = content.version == "1"
            elif name == "begin information":
                in_information = True
            elif name == "end information":
                in_information = False
            elif name in ("network data", "noise data", "end"):
                in_data = name == "network data"
            elif not in_information:
                _keyword(path, content, name, value)
        elif not line or in_information:
            continue
        elif line.startswith("#"):
            if not content.option_seen:
                _options(path, content, line[1:].split())
        elif awaits_reference:
            content.reference_ohm = _reference(path, line)
            awaits_reference = False
        elif in_data:
            _data_line(path, content, line)
    if not content.option_seen:
        raise _not_one_port(path, "no line that begins with #")
    return content


def _keyword(path: Path, content: _Content, name: str, value: str) -> None:
    if name == "number of ports" and value.split()[:1] != ["1"]:
        raise _not_one_port(path, f"{value or 'no'} ports")
    if name == "reference" and value:
        content.reference_ohm = _reference(path, value)
    if name == "number of frequencies" and value.isascii() and value.isdigit() and len(value) < 10:
        content.promised = int(value)


def _version(path: Path, value: str) -> str:
    if value not in ("1.0", "1.1", "2.0", "2.1"):
        raise _not_one_port(path, f"version {value[:20] or 'unknown'}")
    return value[0]


def _options(path: Path, content: _Content, words: list[str]) -> None:
    content.option_seen = True
    if "r" in words:
        place = words.index("r")
        content.reference_ohm = _reference(path, " ".join(words[place + 1 :][:1]))
        words = words[:place] + words[place + 2 :]
    for word in words:
        if word in _UNITS:
            content.unit = word
        elif word in _FORMS:
            content.form = word
        elif word in ("s", "y", "z"):
            content.parameter = word
        elif word in ("h", "g"):
            raise _not_one_port(path, f"{word.upper()} data, which belong to two ports")
        elif _float(word) is None:  # further numbers after R belong to further ports
            raise _not_one_port(path, f"`{word[:20]}` in the line that begins with #")


def _reference(path: Path, text: str) -> float:
    value = _float(text.split()[0]) if text.split() else None
    if value is None or not 1e-6 <= value <= _LARGEST_OHM:
        raise _not_one_port(path, f"`{text[:20]}` as the reference resistance")
    return value


def _data_line(path: Path, content: _Content, line: str) -> None:
    values = [_float(word) for word in line.split()]
    numbers = [value for value in values if value is not None]
    if len(numbers) != len(values) or len(numbers) < 3:
        content.skipped += 1
    elif len(numbers) > 3:
        raise _not_one_port(path, f"{len(numbers)} numbers in a line, so more than one port")
    else:
        content.rows.append(numbers)


def _float(word: str) -> float | None:
    try:
        value = float(word)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _not_one_port(path: Path, got: str) -> RecordingFault:
    return RecordingFault(
        "not_impedance",
        str(path),
        "a one-port Touchstone file (version 1 or 2) with S, Y or Z data",
        got,
        "Export one port, best as real and imaginary part (RI).",
    )
