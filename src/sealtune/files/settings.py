"""Checking a settings file against a table of the keys it may have; all faults are gathered, none raised."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from sealtune.errors import SettingsFault
from sealtune.files.disk import decode_text, read_bytes

LARGEST_BYTES = 1_000_000
LONGEST_LIST = 1000
_LONGEST_SHOWN = 40
_LONGEST_TEXT = 200

Kind = Literal["number", "integer", "numbers", "word", "text"]
Value = float | int | str
Values = dict[str, dict[str, Value]]


@dataclass(frozen=True)
class Key:
    """One key of a settings file: what it may hold, and what it means.

    name: as it is written in the file, with its unit
    meaning: in plain words, for messages and templates
    kind: "number", "integer", "numbers" (a list, see `number_list`), "word" (one of `words`) or "text"
    low, high: the range allowed, both ends included, in the unit of the file
    unit: for messages
    to_si: factor from the unit of the file to SI
    words: what a "word" may be
    example: a sound value, in the unit of the file
    advice: for other words that may be written there, what to write instead
    """

    name: str
    meaning: str
    kind: Kind = "number"
    low: float = 0.0
    high: float = 0.0
    unit: str = ""
    to_si: float = 1.0
    words: tuple[str, ...] = ()
    example: Value = ""
    advice: tuple[tuple[str, str], ...] = ()

    def allowed(self) -> str:
        """Say in words what the key may hold."""
        if self.kind == "word":
            return "one of " + ", ".join(f'"{word}"' for word in self.words)
        if self.kind == "text":
            return "a text in quotation marks"
        kinds = {"integer": "a whole number", "numbers": "a list of numbers, each"}
        number = kinds.get(self.kind, "a number")
        return f"{number} from {self.low:g} to {self.high:g}{' ' if self.unit else ''}{self.unit}"


Tables = Mapping[str, tuple[Key, ...]]


def load_toml(path: Path) -> dict[str, object]:
    """Return the content of a TOML file.

    path: the settings file
    Raises UsageFault where there is no readable file, SettingsFault with the line where it is not TOML.
    """
    text = decode_text(read_bytes(path, LARGEST_BYTES)).lstrip("\ufeff").replace("\r\n", "\n")
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        if "\0" in text or "\ufffd" in text:
            what = "not plain text in UTF-8, or text of two encodings joined; save it as UTF-8"
            raise SettingsFault(str(path), (what,), "Save the file as UTF-8 in the editor.") from error
        raise SettingsFault(str(path), (_syntax_fault(text, str(error)),), "Correct the line.") from error


def checked_values(document: Mapping[str, object], tables: Tables) -> tuple[Values, list[str]]:
    """Return the sound values of the document in SI units, and one line for each fault.

    document: what `load_toml` returned
    tables: the keys that each table may have
    The values hold every table that the document has, and of its keys those without fault; lists of numbers are
    checked, and `number_list` returns them.
    """
    values: Values = {}
    faults: list[str] = []
    for name, content in document.items():
        if name not in tables:
            faults.append(_unknown_table(name, content, tables))
        elif not isinstance(content, dict):
            faults.append(_not_a_table(name, content))
        else:
            values[name], more = _checked_table(name, content, tables)
            faults.extend(more)
    return values, faults


def _checked_table(
    table: str, content: Mapping[str, object], tables: Tables
) -> tuple[dict[str, Value], list[str]]:
    keys = {key.name: key for key in tables[table]}
    sound: dict[str, Value] = {}
    faults: list[str] = []
    for name, value in content.items():
        key = keys.get(name)
        if key is None:
            faults.append(_unknown_key(table, name, value, tables))
            continue
        if key.kind == "numbers":
            if number_list(key, value) is None:
                faults.append(f"[{table}] {name} = {_first_odd(key, value)}: must be {key.allowed()}")
            continue
        converted = _converted(key, value)
        if converted is None:
            faults.append(f"[{table}] {name} = {shown(value)}: must be {key.allowed()}{_hint(key, value)}")
        else:
            sound[name] = converted
    return sound, faults


def _converted(key: Key, value: object) -> Value | None:
    """Return the value in SI units, None where it is not allowed."""
    if key.kind == "word":
        return value if isinstance(value, str) and value in key.words else None
    if key.kind == "text":
        plain = " ".join(value.split()) if isinstance(value, str) else ""
        return plain if plain.isprintable() and 0 < len(plain) <= _LONGEST_TEXT else None
    if isinstance(value, bool) or not isinstance(value, int | float) or not key.low <= value <= key.high:
        return None
    if key.kind == "integer":
        return int(value) if value == int(value) else None
    return float(value) * key.to_si


def number_list(key: Key, value: object) -> tuple[float, ...] | None:
    """Return a list of numbers in SI units, None where the value is no such list; at most 1000 numbers."""
    if not isinstance(value, list) or not 0 < len(value) <= LONGEST_LIST:
        return None
    one = replace(key, kind="number")
    converted = [_converted(one, part) for part in value]
    numbers = tuple(part for part in converted if isinstance(part, float))
    return numbers if len(numbers) == len(value) else None


def _first_odd(key: Key, value: object) -> str:
    if not isinstance(value, list):
        return shown(value)
    one = replace(key, kind="number")
    odd = [part for part in value[:LONGEST_LIST] if _converted(one, part) is None]
    return f"[... {shown(odd[0])} ...]" if odd else f"a list of {len(value)}"


def _hint(key: Key, value: object) -> str:
    if isinstance(value, str) and key.kind in ("number", "integer"):
        return "; write the number without quotation marks and without its unit"
    if isinstance(value, str) and key.kind == "text":
        return _text_hint(value)
    if isinstance(value, str) and key.kind == "word":
        instead = dict(key.advice).get(value.strip().lower())
        if instead is not None:
            return f"; {instead}"
        near = difflib.get_close_matches(value.lower(), key.words, 1)
        return f'; did you mean "{near[0]}"?' if near else ""
    if isinstance(value, float) and not math.isfinite(value):
        return "; leave the line out if the value is not known"
    return ""


def _text_hint(value: str) -> str:
    """Return what is wrong with a text: its length, or the characters that no line of print can show."""
    plain = " ".join(value.split())
    if not plain:
        return "; leave the line out if it has no text"
    if len(plain) > _LONGEST_TEXT:
        return f"; at most {_LONGEST_TEXT} characters, not {len(plain)}"
    odd = list(dict.fromkeys(letter for letter in plain if not letter.isprintable()))
    codes = ", ".join(f"U+{ord(letter):04X}" for letter in odd[:5]) + (", ..." if len(odd) > 5 else "")
    hint = f"; control and other invisible characters are not allowed, here {codes}"
    if any("\x80" <= letter <= "\x9f" for letter in odd):  # letters of Windows-1252 read as Latin-1
        hint += "; if those are plain letters in your editor, save the file as UTF-8"
    return hint


def _unknown_key(table: str, name: str, value: object, tables: Tables) -> str:
    here = {key.name: key for key in tables[table]}
    near = [known for known in here if known.startswith(f"{name.lower()}_")]  # only the unit is missing
    near = near or difflib.get_close_matches(name.lower(), list(here), 1, 0.5)
    advice = "known are " + ", ".join(here)
    if near:
        advice = f"did you mean {near[0]} ({here[near[0]].allowed()})?"
    for other, keys in tables.items():
        if other != table and any(key.name == name for key in keys):
            advice = f"it belongs to [{other}]"
    return f"[{table}] {_name(name)} = {shown(value)}: unknown key; {advice}"


def _unknown_table(name: str, content: object, tables: Tables) -> str:
    if isinstance(content, dict):
        near = difflib.get_close_matches(name.lower(), list(tables), 1, 0.5)
        known = "known are " + ", ".join(f"[{table}]" for table in tables)
        return f"[{_name(name)}]: unknown table; {f'did you mean [{near[0]}]?' if near else known}"
    places = {key.name: table for table, keys in tables.items() for key in keys}
    near = difflib.get_close_matches(name.lower(), list(places), 1, 0.5)
    advice = (
        f"did you mean {near[0]} below a line [{places[near[0]]}]?"
        if near
        else (
            "a key stands below the line with its table, such as "
            + ", ".join(f"[{table}]" for table in tables)
        )
    )
    return f"{_name(name)} = {shown(content)}: unknown key outside of a table; {advice}"


def _not_a_table(name: str, content: object) -> str:
    if isinstance(content, list):
        return f"[[{name}]]: write [{name}] in single brackets, once"
    return f"{name} = {shown(content)}: must be a table: a line [{name}] with its keys below"


def _name(name: str) -> str:
    plain = name if name.isprintable() else ascii(name)[1:-1]
    return plain if len(plain) <= _LONGEST_SHOWN else plain[:_LONGEST_SHOWN] + "..."


def shown(value: object) -> str:
    """Return the value for a message: roughly as it stands in the file, short and on one line."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) > 10**_LONGEST_SHOWN:
        return "a huge number"
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    if isinstance(value, str):
        return f'"{_name(value)}"'
    return str(value)


def _syntax_fault(text: str, message: str) -> str:
    place = re.search(r"\(at line (\d+), column (\d+)\)", message)
    lines = text.splitlines()
    if place is None:
        last = len(lines)
        return f"{message.partition(' (at')[0] or 'nested too deeply'} (by the end of the file, line {last})"
    number = int(place[1])
    line = lines[number - 1].strip()[:80] if number <= len(lines) else ""
    if re.search(r"=\s*[+-]?\d+,\d", line):
        advice = "write decimals with a point, not a comma"
    elif re.search(r"=\s*[+-]?\d[\d.]*\s*[A-Za-z%]", line):
        advice = "write the number without its unit"
    elif re.search(r"=\s*[A-Za-z]", line) and not re.search(r"=\s*(true|false|nan|inf)\b", line):
        advice = "write words in quotation marks"
    else:
        advice = message.partition(" (at")[0]
    return f"line {number}, column {place[2]}, `{line}`: {advice}"
