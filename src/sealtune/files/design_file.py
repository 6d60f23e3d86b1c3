"""Reading design.toml: what a box was meant to be."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import cast

from sealtune.errors import SettingsFault
from sealtune.files.design_keys import DESIGN_TABLES, SHAPE_KEYS
from sealtune.files.settings import Value, checked_values, load_toml, shown
from sealtune.records.design import (
    Box,
    Crossover,
    Design,
    Driver,
    DriverWiring,
    Lining,
    Tuning,
    Vent,
    VentEnd,
    VentShape,
)

_REMEDY = "Correct these lines; the file was not changed."
Table = Mapping[str, Value]


def read_design(path: Path) -> Design:
    """Return the design in SI units.

    path: a TOML file with the tables and keys of `design_keys.DESIGN_TABLES`; `[box] volume_l` and a
        `[vent]` or `[tuning] target_hz` must be there
    Without a name the design is called after its file, or after its folder where the file is design.toml.
    Raises UsageFault where there is no readable file, SettingsFault with all faults of the file together.
    """
    document = load_toml(path)
    values, faults = checked_values(document, DESIGN_TABLES)
    given = {name: table for name, table in document.items() if isinstance(table, dict)}
    faults += _contradictions(given, values)
    if faults:
        raise SettingsFault(str(path), tuple(faults), _REMEDY)
    name = values.get("design", {}).get("name") or _name_from(path)
    return Design(
        name=str(name),
        box=_box(values["box"]),
        vent=_vent(values["vent"]) if "vent" in values else None,
        tuning=_tuning(values.get("tuning", {})),
        driver=_driver(values.get("driver", {})),
        crossover=_crossover(values.get("crossover", {})),
    )


def _contradictions(given: Mapping[str, Mapping[str, object]], values: Mapping[str, Table]) -> list[str]:
    """Return what is missing or does not go together; `given` is the file with its faulty values."""
    faults: list[str] = []
    if "volume_l" not in given.get("box", {}):
        faults.append("[box] volume_l: missing; the net volume in litres is needed")
    if "vent" not in given and "target_hz" not in given.get("tuning", {}):
        faults.append("[vent] or [tuning] target_hz: missing; one of them must say what the tuning should be")
    if "vent" in given:
        faults += _vent_contradictions(given["vent"], values.get("vent", {}))
    driver = values.get("driver", {})
    wiring_is_faulty = "wiring" in given.get("driver", {}) and "wiring" not in driver
    if _whole(driver, "count", 1) > 1 and driver.get("wiring", "single") == "single" and not wiring_is_faulty:
        faults.append(f'[driver] wiring: "parallel" or "series" is needed for count = {driver["count"]}')
    crossover = values.get("crossover", {})
    if crossover.get("shunt_ohm") == 0 and "shunt_uf" not in given["crossover"]:
        faults.append("[crossover] shunt_ohm = 0: without shunt_uf this is a short circuit")
    return faults


def _vent_contradictions(given: Mapping[str, object], vent: Table) -> list[str]:
    faults: list[str] = []
    if "length_mm" not in given:
        faults.append("[vent] length_mm: missing; from mouth to mouth, flanges and wall included")
    if "shape" in given and "shape" not in vent:
        return faults  # the shape itself is faulty and has been named
    shape = str(vent.get("shape", "round"))
    for name in SHAPE_KEYS[shape]:
        if name not in given:
            faults.append(f'[vent] {name}: missing; a vent of shape "{shape}" needs it')
    for other, names in SHAPE_KEYS.items():
        for name in names:
            if other != shape and name in given:
                value = shown(given[name])
                faults.append(f'[vent] {name} = {value}: belongs to shape "{other}", not "{shape}"')
    ends = (vent.get("outer_end"), vent.get("inner_end"))
    if "flare_radius_mm" in given and "flared" not in ends:
        faults.append('[vent] flare_radius_mm: counts only where outer_end or inner_end is "flared"')
    return faults


def _name_from(path: Path) -> str:
    name = path.absolute().parent.name if path.name.lower() == "design.toml" else path.stem
    plain = "".join(letter if letter.isprintable() else " " for letter in name).strip()
    return plain or "design"


def _number(table: Table, name: str) -> float | None:
    value = table.get(name)
    return float(value) if isinstance(value, int | float) else None


def _given(table: Table, name: str, default: float) -> float:
    value = _number(table, name)
    return default if value is None else value


def _whole(table: Table, name: str, default: int) -> int:
    value = table.get(name)
    return value if isinstance(value, int) else default


def _box(table: Table) -> Box:
    return Box(
        volume_m3=_given(table, "volume_l", math.nan),
        volume_tolerance=_given(table, "volume_tolerance_percent", Box.volume_tolerance),
        lining=cast(Lining, table.get("lining", Box.lining)),
    )


def _vent_area_m2(shape: str, table: Table) -> float:
    if shape == "round":
        return math.pi / 4 * _given(table, "diameter_mm", math.nan) ** 2
    if shape == "rectangular":
        return _given(table, "width_mm", math.nan) * _given(table, "height_mm", math.nan)
    if shape == "polygon":  # n triangles of height a/2 and base a tan(pi/n)
        sides, across_flats_m = _whole(table, "sides", 0), _given(table, "across_flats_mm", math.nan)
        return sides * math.tan(math.pi / sides) * across_flats_m**2 / 4
    return _given(table, "area_cm2", math.nan)


def _vent(table: Table) -> Vent:
    shape = str(table.get("shape", "round"))
    return Vent(
        shape=cast(VentShape, shape),
        area_m2=_vent_area_m2(shape, table),
        length_m=_given(table, "length_mm", math.nan),
        count=_whole(table, "count", Vent.count),
        diameter_m=_number(table, "diameter_mm"),
        width_m=_number(table, "width_mm"),
        height_m=_number(table, "height_mm"),
        sides=_whole(table, "sides", 0) or None,
        across_flats_m=_number(table, "across_flats_mm"),
        outer_end=cast(VentEnd, table.get("outer_end", Vent.outer_end)),
        inner_end=cast(VentEnd, table.get("inner_end", Vent.inner_end)),
        flare_radius_m=_number(table, "flare_radius_mm"),
        wall_distance_m=_number(table, "wall_distance_mm"),
        length_tolerance_m=_given(table, "length_tolerance_mm", Vent.length_tolerance_m),
    )


def _tuning(table: Table) -> Tuning:
    return Tuning(_number(table, "target_hz"), _given(table, "tolerance_percent", Tuning.tolerance))


def _driver(table: Table) -> Driver:
    count = _whole(table, "count", Driver.count)
    wiring = cast(DriverWiring, table.get("wiring", Driver.wiring)) if count > 1 else "single"
    return Driver(
        fs_hz=_number(table, "fs_hz"),
        qms=_number(table, "qms"),
        qes=_number(table, "qes"),
        vas_m3=_number(table, "vas_l"),
        re_ohm=_number(table, "re_ohm"),
        sd_m2=_number(table, "sd_cm2"),
        xmax_m=_number(table, "xmax_mm"),
        power_w=_number(table, "power_w"),
        count=count,
        wiring=wiring,
        fs_tolerance=_given(table, "fs_tolerance_percent", Driver.fs_tolerance),
        qms_tolerance=_given(table, "qms_tolerance_percent", Driver.qms_tolerance),
        qes_tolerance=_given(table, "qes_tolerance_percent", Driver.qes_tolerance),
        vas_tolerance=_given(table, "vas_tolerance_percent", Driver.vas_tolerance),
        re_tolerance=_given(table, "re_tolerance_percent", Driver.re_tolerance),
        sd_tolerance=_given(table, "sd_tolerance_percent", Driver.sd_tolerance),
    )


def _crossover(table: Table) -> Crossover | None:
    if not table:
        return None
    return Crossover(
        series_h=_given(table, "series_mh", 0.0),
        series_ohm=_given(table, "series_ohm", 0.0),
        shunt_f=_number(table, "shunt_uf"),
        shunt_ohm=_number(table, "shunt_ohm"),
    )
