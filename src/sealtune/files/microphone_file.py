"""A microphone's response: plain columns of frequency, dB and, where known, degrees."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from sealtune.errors import UsageFault
from sealtune.files.disk import decode_text, read_bytes
from sealtune.records.microphone import MicrophoneResponse

LARGEST_BYTES = 4_000_000
LARGEST_DB = 60.0
"""A response that strays farther than this is no microphone's."""

_BEGINS_WITH_NUMBER = re.compile(r"\s*[-+]?\.?\d")


def read_microphone(path: Path) -> MicrophoneResponse:
    """Return the response in a file.

    path: two or three numeric columns, frequency in Hz, level in dB and phase in degrees, separated by blanks, tabs,
        semicolons or commas; lines that do not begin with a number are passed over
    Raises UsageFault where the file cannot be read or is no such table.
    """
    lines = [line for line in decode_text(read_bytes(path, LARGEST_BYTES)).splitlines() if line.strip()]
    rows = [row for line in lines if (row := _row(line)) is not None]
    columns = min((len(row) for row in rows), default=0)
    table = np.array(sorted(row[:columns] for row in rows), dtype=np.float64)
    if len(rows) < 2 or np.unique(table[:, 0]).size < 2 or table[0, 0] <= 0.0:
        raise _no_response(path, f"{len(rows)} usable lines of {len(lines)}")
    _, first = np.unique(table[:, 0], return_index=True)
    table = table[first]
    if float(np.abs(table[:, 1]).max()) > LARGEST_DB:
        worst = table[int(np.argmax(np.abs(table[:, 1])))]
        raise _no_response(path, f"{worst[1]:g} dB at {worst[0]:g} Hz")
    return MicrophoneResponse(
        table[:, 0], table[:, 1], table[:, 2] if columns > 2 else None, len(lines) - len(rows)
    )


def _row(line: str) -> list[float] | None:
    """Return the two or three numbers at the begin of a line, None where there are not so many."""
    if not _BEGINS_WITH_NUMBER.match(line):
        return None
    for separator in (";", "\t", None, ","):
        fields = [field.strip() for field in line.split(separator) if field.strip()]
        if len(fields) >= 2:
            break
    numbers: list[float] = []
    for text in fields[:3]:
        try:
            value = float(text.rstrip(",").replace(",", "."))
        except ValueError:
            break
        if not np.isfinite(value):
            break
        numbers.append(value)
    return numbers if len(numbers) >= 2 else None


def _no_response(path: Path, got: str) -> UsageFault:
    return UsageFault(
        str(path),
        "a microphone's response: lines of frequency (Hz) and level (dB), with or without phase (degrees)",
        got,
        "Give the correction file that came with the microphone, or leave --microphone out.",
    )
