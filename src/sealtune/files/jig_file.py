"""jig.toml, read and written: the reference resistor, the wiring, and the known loads it was measured with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise
from pathlib import Path
from typing import cast

from sealtune.analysis.jig_faults import standard_faults
from sealtune.errors import SettingsFault
from sealtune.files.disk import read_bytes, write_bytes, written_whole
from sealtune.files.settings import Key, Value, checked_values, load_toml, number_list, shown
from sealtune.records.recording import WIRINGS, Jig, JigStandards, KnownResistor, Standard, Wiring

DEFAULT_SIGMA = 0.001
"""Standard deviation of a standard whose file does not say, in the unit of its values."""

LISTS = (
    Key("frequency_hz", "the frequencies, rising", "numbers", 0.01, 1_000_000.0, "Hz"),
    Key("real", "real part of the ratio at each", "numbers", -1000.0, 1000.0),
    Key("imaginary", "imaginary part of the ratio at each", "numbers", -1000.0, 1000.0),
    Key("uncertainty", "standard deviation of either part at each", "numbers", 0.0, 1000.0),
)

RESISTOR = (
    Key("ohm", "the known resistor", "number", 0.001, 1_000_000.0, "ohm", example=10.0),
    Key("uncertainty_percent", "how well it is known", "number", 0.0, 100.0, "percent", 0.01, example=1.0),
)

JIG_TABLES: dict[str, tuple[Key, ...]] = {
    "jig": (
        Key("wiring", "which voltage each channel holds", "word", words=WIRINGS, example="divider"),
        Key("reference_ohm", "the reference resistor", "number", 0.001, 1_000_000.0, "ohm", example=10.0),
        Key("date", "when it was measured", "text", example="2026-03-01"),
        Key("device", "the sound card it was measured with", "text", example="USB interface"),
        Key("uncertainty_percent", "how well the resistor is known", "number", 0.0, 100.0, "percent", 0.01,
            example=1.0),
        Key("full_scale_v", "peak voltage at the amplifier's output while the program plays full scale", "number",
            0.001, 1000.0, "V", example=20.0),
    ),
    "jig.balance": LISTS,
    "jig.open": LISTS,
    "jig.short": LISTS,
    "jig.resistor": (*RESISTOR, *LISTS),
}  # fmt: skip
"""The tables of jig.toml with their keys."""

COMMENTS = {
    "balance": "both inputs on one point: channel 2 over channel 1",
    "open": "nothing between the clips: channel 2 over channel 1",
    "short": "clips on each other: channel 2 over channel 1",
    "short, sense": "clips on each other: channel 1 over channel 2",
    "resistor": "the known resistor between the clips: channel 2 over channel 1",
}


def read_jig(path: Path) -> Jig:
    """Return the jig.

    path: a TOML file with the table `[jig]`, in it `wiring` and `reference_ohm`, and below it what was measured of
        known loads: `[jig.balance]`, `[jig.open]`, `[jig.short]`, `[jig.resistor]`
    Raises UsageFault where there is no readable file, SettingsFault with all faults of the file together.
    """
    document = _flattened(load_toml(path))
    values, faults = checked_values(document, JIG_TABLES)
    table = document.get("jig")
    given = table if isinstance(table, dict) else {}
    for name in ("wiring", "reference_ohm"):
        if name not in given:
            faults.append(f"[jig] {name}: missing; {_key('jig', name).allowed()}")
    standards, more = _standards(document, values)
    if not faults and not more:
        jig = _jig(values["jig"], standards)
        more = [
            f"[jig.{fault.standard}]: {fault.detail} {fault.remedy}"
            for fault in standard_faults(jig)
            if fault.impossible
        ]
    if faults or more:
        raise SettingsFault(str(path), tuple(faults + more), "Correct these lines; the file was not changed.")
    return jig


def jig_text(jig: Jig, recorded_on: date | None = None, device: str | None = None) -> str:
    """Return the jig as the text of a jig.toml, which `read_jig` reads back to nine digits.

    recorded_on: the day of the calibration, None to leave it out
    device: the sound card, None to leave it out
    """
    lines = [
        "[jig]",
        f'wiring = "{jig.wiring}"',
        f"reference_ohm = {_number(jig.reference_ohm)}",
        f"uncertainty_percent = {_number(100.0 * jig.reference_uncertainty)}",
    ]
    if jig.full_scale_v is not None:
        lines.append(f"full_scale_v = {_number(jig.full_scale_v)}")
    if recorded_on is not None:
        lines.append(f"date = {recorded_on.isoformat()[:10]}")
    plain = "".join(letter for letter in device or "" if letter.isprintable())[:200].strip()
    if plain:
        escaped = plain.replace("\\", "\\\\").replace('"', '\\"')
        lines.append(f'device = "{escaped}"')
    known = jig.standards or JigStandards()
    for name, standard in (
        ("balance", known.balance),
        ("open", known.open_leads),
        ("short", known.shorted_leads),
        ("resistor", None if known.resistor is None else known.resistor.measured),
    ):
        if standard is None:
            continue
        comment = COMMENTS.get(f"{name}, {jig.wiring}", COMMENTS[name])
        lines += ["", f"[jig.{name}]  # {comment}"]
        if name == "resistor" and known.resistor is not None:
            lines.append(f"ohm = {_number(known.resistor.ohm)}")
            lines.append(f"uncertainty_percent = {_number(100.0 * known.resistor.uncertainty)}")
        lines += [
            _list("frequency_hz", standard.frequency_hz),
            _list("real", [value.real for value in standard.value]),
            _list("imaginary", [value.imag for value in standard.value]),
            _list("uncertainty", standard.sigma),
        ]
    return "\n".join(lines) + "\n"


def write_jig(path: Path, jig: Jig, recorded_at: datetime, device: str | None = None) -> None:
    """Write the jig in place of the file of that name; `keep_old` puts that one away before.

    recorded_at: when it was calibrated
    device: the sound card
    """
    text = jig_text(jig, recorded_at.date(), device)
    with written_whole(path, overwrite=True) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n")


def keep_old(path: Path) -> Path | None:
    """Copy a jig file to a name with its date, which no other file has, and return that; None where there is none."""
    if not path.exists():
        return None
    content = read_bytes(path)
    written = datetime.fromtimestamp(path.stat().st_mtime)
    stem = f"{path.stem}-{written:%Y-%m-%dT%H%M%S}"
    number = 1
    while True:
        kept = path.with_name(f"{stem}{'' if number == 1 else f'-{number}'}{path.suffix}")
        if not kept.exists():
            break
        if read_bytes(kept) == content:
            return kept
        number += 1
    write_bytes(kept, content)
    return kept


def _number(value: float) -> str:
    return f"{value:.9g}"


def _list(name: str, values: tuple[float, ...] | list[float]) -> str:
    return f"{name} = [{', '.join(_number(value) for value in values)}]"


def _key(table: str, name: str) -> Key:
    return next(key for key in JIG_TABLES[table] if key.name == name)


def _flattened(document: Mapping[str, object]) -> dict[str, object]:
    """Return the document with the tables below [jig] beside it, and the moments as texts."""
    table = document.get("jig")
    if not isinstance(table, dict):
        return dict(document)
    flat: dict[str, object] = {}
    below: dict[str, object] = {}
    for name, value in table.items():
        if isinstance(value, dict) or (isinstance(value, list) and value and isinstance(value[0], dict)):
            below[f"jig.{name}"] = value
        else:
            flat[name] = value.isoformat() if isinstance(value, date) else value
    return {**document, "jig": flat, **below}


def _jig(values: Mapping[str, Value], standards: JigStandards | None) -> Jig:
    jig = Jig(cast(Wiring, values["wiring"]), float(values["reference_ohm"]), standards=standards)
    if "uncertainty_percent" in values:
        jig = replace(jig, reference_uncertainty=float(values["uncertainty_percent"]))
    if "full_scale_v" in values:
        jig = replace(jig, full_scale_v=float(values["full_scale_v"]))
    return jig


def _standards(
    document: Mapping[str, object], values: Mapping[str, Mapping[str, Value]]
) -> tuple[JigStandards | None, list[str]]:
    """Return the known loads and what is missing or contradictory about them."""
    faults: list[str] = []
    found: dict[str, Standard | None] = {}
    for name in ("balance", "open", "short", "resistor"):
        table = document.get(f"jig.{name}")
        if isinstance(table, dict):
            found[name], more = _standard(f"jig.{name}", table)
            faults += more
    resistor = None
    if "resistor" in found:
        given, sound = document["jig.resistor"], values.get("jig.resistor", {})
        if isinstance(given, dict) and "ohm" not in given:
            faults.append(f"[jig.resistor] ohm: missing; {_key('jig.resistor', 'ohm').allowed()}")
        measured = found["resistor"]
        if measured is not None and "ohm" in sound:
            resistor = KnownResistor(float(sound["ohm"]), measured)
            if "uncertainty_percent" in sound:
                resistor = replace(resistor, uncertainty=float(sound["uncertainty_percent"]))
    if not found:
        return None, faults
    return JigStandards(found.get("balance"), found.get("open"), found.get("short"), resistor), faults


def _standard(table: str, given: Mapping[str, object]) -> tuple[Standard | None, list[str]]:
    faults = []
    lists: dict[str, tuple[float, ...]] = {}
    for key in LISTS:
        if key.name not in given and key.name != "uncertainty":
            faults.append(f"[{table}] {key.name}: missing; {key.allowed()}")
        numbers = number_list(key, given.get(key.name))
        if numbers is not None:
            lists[key.name] = numbers
    lengths = {name: len(numbers) for name, numbers in lists.items()}
    if len(set(lengths.values())) > 1:
        said = ", ".join(f"{name} has {length}" for name, length in lengths.items())
        faults.append(f"[{table}]: every list must have one number per frequency; {said}")
    hz = lists.get("frequency_hz", ())
    if len(hz) == 1:
        faults.append(f"[{table}] frequency_hz: at least two frequencies are needed")
    falling = next((pair for pair in pairwise(hz) if not pair[0] < pair[1]), None)
    if falling is not None:
        faults.append(
            f"[{table}] frequency_hz: must rise from number to number; "
            f"{shown(falling[1])} follows {shown(falling[0])}"
        )
    wanted = {key.name for key in LISTS if key.name in given or key.name != "uncertainty"}
    if faults or set(lists) != wanted:
        return None, faults
    value = tuple(complex(x, y) for x, y in zip(lists["real"], lists["imaginary"], strict=True))
    return Standard(hz, value, lists.get("uncertainty", (DEFAULT_SIGMA,) * len(hz))), faults
