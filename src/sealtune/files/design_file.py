"""Reading design.toml: what a box was meant to be."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import cast

from sealtune.design.buildable import with_length_for_target
from sealtune.errors import SettingsFault
from sealtune.files.design_faults import Table, contradictions, driver_faults
from sealtune.files.design_keys import DESIGN_TABLES
from sealtune.files.settings import checked_values, load_toml
from sealtune.physics.air import climate_air
from sealtune.physics.vent_opening import polygon_area_m2
from sealtune.records.design import (
    Box,
    Climate,
    Crossover,
    Design,
    Driver,
    DriverWiring,
    Lining,
    Tuning,
    Vent,
    VentEnd,
    VentShape,
    WallPosition,
)

_REMEDY = "Correct these lines; the file was not changed."


def read_design(path: Path) -> Design:
    """Return the design in SI units.

    path: a TOML file with the tables and keys of `design_keys.DESIGN_TABLES`; `[box] volume_l` and a
        `[vent]` or `[tuning] target_hz` must be there
    A vent whose length is left out has the length that reaches the target.
    Without a name the design is called after its file, or after its folder where the file is design.toml.
    Raises UsageFault where there is no readable file, SettingsFault with all faults of the file together.
    """
    document = load_toml(path)
    values, faults = checked_values(document, DESIGN_TABLES)
    given = {name: table for name, table in document.items() if isinstance(table, dict)}
    faults += contradictions(given, values)
    name = values.get("design", {}).get("name") or _name_from(path)
    design = Design(
        name=str(name),
        box=_box(values.get("box", {})),
        vent=_vent(values["vent"]) if "vent" in values else None,
        tuning=_tuning(values.get("tuning", {})),
        driver=_driver(values.get("driver", {})),
        crossover=_crossover(values.get("crossover", {})),
        climate=_climate(values.get("air", {})),
    )
    faults += driver_faults(design.driver)
    if _length_is_wanted(given, faults):
        design, fault = with_length_for_target(design, climate_air(design.climate))
        faults += [] if fault is None else [fault]
    if faults:
        raise SettingsFault(str(path), tuple(faults), _REMEDY)
    return design


def _length_is_wanted(given: Mapping[str, Mapping[str, object]], faults: list[str]) -> bool:
    """Whether the vent's length is left out, and all that it follows from is sound."""
    if "vent" not in given or "length_mm" in given["vent"]:
        return False
    return not any(fault.startswith(("[box]", "[vent]", "[tuning]", "[air]")) for fault in faults)


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
        width_m=_number(table, "width_mm"),
        height_m=_number(table, "height_mm"),
        depth_m=_number(table, "depth_mm"),
    )


def _vent_area_m2(shape: str, table: Table) -> float:
    if shape == "round":
        return math.pi / 4 * _given(table, "diameter_mm", math.nan) ** 2
    if shape == "rectangular":
        return _given(table, "width_mm", math.nan) * _given(table, "height_mm", math.nan)
    if shape == "polygon":
        return polygon_area_m2(_whole(table, "sides", 3), _given(table, "across_flats_mm", math.nan))
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
        wall_position=cast(WallPosition, table.get("wall_position", Vent.wall_position)),
        shared_walls=_whole(table, "shared_walls", Vent.shared_walls),
        spacing_m=_number(table, "spacing_mm"),
        length_tolerance_m=_given(table, "length_tolerance_mm", Vent.length_tolerance_m),
        size_tolerance_m=_given(table, "size_tolerance_mm", Vent.size_tolerance_m),
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
        qts=_number(table, "qts"),
        mms_kg=_number(table, "mms_g"),
        cms_m_n=_number(table, "cms_mm_per_n"),
        bl_t_m=_number(table, "bl_t_m"),
        rms_kg_s=_number(table, "rms_kg_per_s"),
    )


def _climate(table: Table) -> Climate:
    return Climate(
        temperature_c=_given(table, "temperature_c", Climate.temperature_c),
        humidity=_given(table, "humidity_percent", Climate.humidity),
        pressure_pa=_given(table, "pressure_hpa", Climate.pressure_pa),
        temperature_tolerance_k=_given(table, "temperature_tolerance_c", Climate.temperature_tolerance_k),
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
