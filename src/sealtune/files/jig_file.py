"""Reading jig.toml: the reference resistor and the wiring."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import cast

from sealtune.errors import SettingsFault
from sealtune.files.settings import Key, checked_values, load_toml
from sealtune.records.recording import WIRINGS, Jig, Wiring

JIG_TABLES = {
    "jig": (
        Key("wiring", "which voltage each channel holds", "word", words=WIRINGS, example="divider"),
        Key("reference_ohm", "the reference resistor", "number", 0.001, 1_000_000.0, "ohm", example=10.0),
        Key("date", "when it was measured", "text", example="2026-03-01"),
        Key("device", "the sound card it was measured with", "text", example="USB interface"),
        Key("uncertainty_percent", "how well the resistor is known", "number", 0.0, 100.0, "percent", 0.01,
            example=1.0),
    ),
}  # fmt: skip
"""The table of jig.toml with its keys."""


def read_jig(path: Path) -> Jig:
    """Return the jig.

    path: a TOML file with the table `[jig]` and in it `wiring` and `reference_ohm`
    Raises UsageFault where there is no readable file, SettingsFault with all faults of the file together.
    """
    document = load_toml(path)
    table = document.get("jig")
    if isinstance(table, dict):
        moments = {key: value.isoformat() for key, value in table.items() if isinstance(value, date)}
        document = {**document, "jig": {**table, **moments}}
    values, faults = checked_values(document, JIG_TABLES)
    given = table if isinstance(table, dict) else {}
    for name in ("wiring", "reference_ohm"):
        if name not in given:
            key = next(key for key in JIG_TABLES["jig"] if key.name == name)
            faults.append(f"[jig] {name}: missing; {key.allowed()}")
    if faults:
        raise SettingsFault(str(path), tuple(faults), "Correct these lines; the file was not changed.")
    jig = values["jig"]
    return Jig(cast(Wiring, jig["wiring"]), float(jig["reference_ohm"]))
