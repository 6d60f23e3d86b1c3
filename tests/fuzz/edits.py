"""Damage done to the bytes of a file: one small edit after another, drawn at random or by Hypothesis."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

Kind = Literal["flip", "put", "insert", "delete", "double", "cut", "swap", "number", "word", "line", "scale"]
KINDS: tuple[Kind, ...] = get_args(Kind)

NUMBERS = (
    "0", "-0", "1", "-1", "+1", "1e", "e5", "1e308", "1e309", "-1e309", "1e-320", "nan", "NaN", "inf", "-inf", "1,5",
    "1.5.2", "0x10", "1_000", "9" * 25, "1" + "0" * 400, "2147483648", "-2147483649", "18446744073709551616",
    "0.000001", "1e6", "1e9", "true", '"x"', "[]", "[1, 2]", "{}", "1979-05-27", "\u0661\u0662", "\u2212" + "5",
    "\u00bd", "1" * 5000,
)  # fmt: skip
"""What takes the place of a number in a text."""

WORDS = (
    "", " ", "\t", "\r", "\n", "\r\n", "\0", ",", ";", "=", "#", "!", "[", "]", "[[", "{", '"', '"""', "'", "\\", "\\u",
    "\ufeff", "\u202e", "\ud7ff", "\U0001f50a", "<b>", "</script>", "&amp;", "%s", "{0}", "../..", "a" * 300,
    "[" * 2000, "open", "divider", "round", "plugged", "re", "im", "# hz z ri r 1", "[Version] 2.0",
    "[Number of Ports] 4", "[driver]", "[jig.short]", "fs_hz = 50", "count = 100",
)  # fmt: skip
"""What takes the place of a word, or is put into a text."""

FACTORS = (0.5, 0.8, 0.97, 1.03, 1.25, 2.0, 10.0, 0.1, 100.0, 0.01, 1e4, 1e-4, -1.0)
"""By which a number in a text is multiplied."""

PIECES = (
    b"\x00", b"\xff", b"\x7f", b"\x80", b"\x00" * 8, b"\xff" * 8, b"\xff\xff\xff\x7f", b"\x00\x00\x00\x80", b"\x01\x00",
    b"\x00\x01", b"RIFF", b"RF64", b"WAVE", b"fmt ", b"data", b"LIST", b"ICMT", b"INFO", b"fact", b"ds64", b"fLaC",
    b"\xff\xf8", b"\xff\xfe", b"\xfe\xff", b"\xef\xbb\xbf", b"\xc3", b"\xed\xa0\x80",
)  # fmt: skip
"""What is written into a file of bytes."""

_NUMBER = re.compile(rb"[+-]?\d+(?:[.]\d*)?(?:[eE][+-]?\d+)?")
_WORD = re.compile(rb"[A-Za-z_]+")


@dataclass(frozen=True)
class Edit:
    """One piece of damage.

    place: where, 0 the beginning of the file to 1 its end
    size: bytes, or lines, concerned
    choice: which of the pieces, numbers or words, counted round and round
    """

    kind: Kind
    place: float
    size: int
    choice: int


def damaged(data: bytes, edits: list[Edit]) -> bytes:
    """Return the bytes after all edits."""
    for edit in edits:
        data = _one(data, edit)
    return data


def draw_edits(rng: np.random.Generator, *, headed: bool) -> list[Edit]:
    """Return 1 to 8 random edits, mostly few.

    headed: whether the file begins with a header, near which most edits of a file of bytes then are
    """
    edits = []
    gentle = rng.random() < 0.4  # a text that stays readable, with other numbers in it
    for _ in range(min(int(rng.geometric(0.45)), 8)):
        place = float(rng.random())
        if headed and rng.random() < 0.7:
            place = 300.0 ** (place - 1.0) if rng.random() < 0.3 else 0.02 * place
        kinds = KINDS[:7] if headed else KINDS[-1:] if gentle else (*KINDS, *KINDS[-4:])
        kind = kinds[int(rng.integers(len(kinds)))]
        size = int(np.exp(rng.uniform(0.0, np.log(3000.0 if headed else 60.0))))
        edits.append(Edit(kind, place, size, int(rng.integers(10_000))))
    return edits


def _one(data: bytes, edit: Edit) -> bytes:
    at = min(int(edit.place * len(data)), max(len(data) - 1, 0))
    size = min(edit.size, len(data))
    match edit.kind:
        case "flip" if data:
            return data[:at] + bytes([data[at] ^ (1 << edit.choice % 8)]) + data[at + 1 :]
        case "put":
            piece = PIECES[edit.choice % len(PIECES)]
            return data[:at] + piece + data[at + len(piece) :]
        case "insert":
            return data[:at] + PIECES[edit.choice % len(PIECES)] + data[at:]
        case "delete":
            return data[:at] + data[at + size :]
        case "double":
            return data[: at + size] + data[at:]
        case "cut":
            return data[:at]
        case "swap":
            return data[:at] + data[at + size : at + 2 * size] + data[at : at + size] + data[at + 2 * size :]
        case "number":
            return _replaced(data, _NUMBER, edit, NUMBERS)
        case "word":
            return _replaced(data, _WORD, edit, WORDS)
        case "line":
            return _lines(data, edit)
        case "scale":
            return _scaled(data, edit)
    return data


def _replaced(data: bytes, what: re.Pattern[bytes], edit: Edit, by: tuple[str, ...]) -> bytes:
    """Replace the first match at or after the place."""
    found = what.search(data, int(edit.place * len(data))) or what.search(data)
    if found is None:
        return data
    return data[: found.start()] + by[edit.choice % len(by)].encode("utf-8") + data[found.end() :]


def _scaled(data: bytes, edit: Edit) -> bytes:
    """Multiply the first number at or after the place."""
    found = _NUMBER.search(data, int(edit.place * len(data))) or _NUMBER.search(data)
    if found is None:
        return data
    number = float(found[0]) * FACTORS[edit.choice % len(FACTORS)]
    return data[: found.start()] + f"{number:.8g}".encode() + data[found.end() :]


def _lines(data: bytes, edit: Edit) -> bytes:
    """Drop, repeat or move a line."""
    lines = data.split(b"\n")
    at = min(int(edit.place * len(lines)), len(lines) - 1)
    line = lines.pop(at)
    match edit.choice % 3:
        case 1:
            lines[at:at] = [line] * min(edit.size, 50)
        case 2:
            lines.insert(edit.size % (len(lines) + 1), line)
    return b"\n".join(lines)
