"""What is missing in a design.toml, and which of its sound values do not go together."""

from __future__ import annotations

from collections.abc import Mapping

from sealtune.design.completion import impossible
from sealtune.design.driver_identities import QUANTITIES, filled_values, listed, plain
from sealtune.files.design_keys import BOX_KEYS, DRIVER_KEYS, SHAPE_KEYS, SHAPE_OPTIONS
from sealtune.files.settings import Value, shown
from sealtune.physics.air import standard_air
from sealtune.records.design import Box, Driver

Table = Mapping[str, Value]
Given = Mapping[str, object]

WHOLE_WIDTH = 0.9
"""A slot of less than this share of the box's inside is no slot across it."""


def contradictions(given: Mapping[str, Given], values: Mapping[str, Table]) -> list[str]:
    """Return one line for each thing that is missing or does not go together.

    given: the file's tables with their faulty values
    values: those without, in SI units
    """
    faults: list[str] = []
    if "volume_l" not in given.get("box", {}):
        faults.append("[box] volume_l: missing; the net volume in litres is needed")
    faults += _box(values.get("box", {}))
    if "vent" not in given and "target_hz" not in given.get("tuning", {}):
        faults.append("[vent] or [tuning] target_hz: missing; one of them must say what the tuning should be")
    if "vent" in given:
        if "length_mm" not in given["vent"] and "target_hz" not in given.get("tuning", {}):
            faults.append(
                "[vent] length_mm: missing; from mouth to mouth, flanges and wall included, or give "
                "[tuning] target_hz, and the length that reaches it counts"
            )
        faults += _shape(given["vent"], values.get("vent", {}))
        faults += _ends_and_neighbours(given["vent"], values.get("vent", {}))
        faults += _across(values.get("vent", {}), values.get("box", {}))
    driver = values.get("driver", {})
    wiring_is_faulty = "wiring" in given.get("driver", {}) and "wiring" not in driver
    count = driver.get("count", 1)
    if (
        isinstance(count, int)
        and count > 1
        and driver.get("wiring", "single") == "single"
        and not wiring_is_faulty
    ):
        faults.append(f'[driver] wiring: "parallel" or "series" is needed for count = {count}')
    crossover = values.get("crossover", {})
    if crossover.get("shunt_ohm") == 0 and "shunt_uf" not in given["crossover"]:
        faults.append("[crossover] shunt_ohm = 0: without shunt_uf this is a short circuit")
    return faults


def driver_faults(driver: Driver) -> list[str]:
    """Return one line for each value that cannot be, or that follows from the others and is out of its range."""
    air = standard_air()
    faults = list(impossible(driver, air))
    keys = {key.name: key for key in DRIVER_KEYS}
    for one in filled_values(driver, air):
        quantity = QUANTITIES[one.field]
        key, value = keys[quantity.key], one.value / quantity.to_si
        if not key.low <= value <= key.high:
            sources = listed([QUANTITIES[name].key for name in one.sources])
            faults.append(
                f"[driver] {key.name}: {plain(value)} follows from {sources}; must be {key.allowed()}"
            )
            break  # whatever else follows from it is odd too
    return faults


def _box(box: Table) -> list[str]:
    """Return the fault of a net volume above what the inside holds."""
    names = ("width_mm", "height_mm", "depth_mm")
    sides = [side for side in (_number(box, name) for name in names) if side is not None]
    volume, tolerance = _number(box, "volume_l"), _number(box, "volume_tolerance_percent")
    if len(sides) < len(names) or volume is None:
        return []
    inside = sides[0] * sides[1] * sides[2]
    if volume <= inside * (1.0 + (Box.volume_tolerance if tolerance is None else tolerance)):
        return []
    to_litres = 1.0 / BOX_KEYS[0].to_si
    return [
        f"[box] volume_l = {volume * to_litres:.4g}: more than the {inside * to_litres:.4g} litres that "
        f"{' x '.join(names)} hold"
    ]


def _shape(given: Given, vent: Table) -> list[str]:
    if "shape" in given and "shape" not in vent:
        return []  # the shape itself is faulty and has been named
    shape = str(vent.get("shape", "round"))
    faults = [
        f'[vent] {name}: missing; a vent of shape "{shape}" needs it'
        for name in SHAPE_KEYS[shape]
        if name not in given
    ]
    for other, names in SHAPE_KEYS.items():
        for name in (*names, *SHAPE_OPTIONS.get(other, ())):
            if other != shape and name in given:
                faults.append(
                    f'[vent] {name} = {shown(given[name])}: belongs to shape "{other}", not "{shape}"'
                )
    return faults


def _ends_and_neighbours(given: Given, vent: Table) -> list[str]:
    faults: list[str] = []
    if "flare_radius_mm" in given and "flared" not in (vent.get("outer_end"), vent.get("inner_end")):
        faults.append('[vent] flare_radius_mm: counts only where outer_end or inner_end is "flared"')
    if "wall_position" in given and "wall_distance_mm" not in given:
        faults.append("[vent] wall_position: counts only where wall_distance_mm says how far that wall is")
    count_is_faulty = "count" in given and "count" not in vent
    if "spacing_mm" in given and vent.get("count", 1) == 1 and not count_is_faulty:
        faults.append("[vent] spacing_mm: counts only where count is above 1")
    sides = [
        (name, value)
        for name in ("diameter_mm", "width_mm", "height_mm", "across_flats_mm")
        if (value := _number(vent, name)) is not None
    ]
    if not sides:
        return faults
    name, least = min(sides, key=lambda side: side[1])
    for key, limit, words in (("spacing_mm", least, "at least"), ("size_tolerance_mm", 0.5 * least, "below")):
        value = _number(vent, key)
        if value is None or (value >= limit if key == "spacing_mm" else value < limit):
            continue
        why = "the vents would overlap" if key == "spacing_mm" else "half of the opening"
        faults.append(
            f"[vent] {key} = {shown(given[key])}: must be {words} {limit * 1e3:.4g} mm for "
            f"{name} = {least * 1e3:.4g}; {why}"
        )
    return faults


def _across(vent: Table, box: Table) -> list[str]:
    """Return the fault of a slot that is said to reach across the whole box and does not."""
    width, height = _number(vent, "width_mm"), _number(vent, "height_mm")
    if vent.get("shape") != "rectangular" or vent.get("shared_walls") != 3 or width is None or height is None:
        return []
    name, side = ("width_mm", width) if width >= height else ("height_mm", height)
    inside = _number(box, name)
    if inside is None or side >= WHOLE_WIDTH * inside * (1.0 - 1e-9):
        return []
    return [
        f"[vent] shared_walls = 3: a slot across the whole box, but [vent] {name} = {side * 1e3:.4g} is below "
        f"{100.0 * WHOLE_WIDTH:.0f} % of [box] {name} = {inside * 1e3:.4g}; a slot in a corner has 2, one on the "
        f"floor 1"
    ]


def _number(table: Table, name: str) -> float | None:
    value = table.get(name)
    return float(value) if isinstance(value, int | float) else None
