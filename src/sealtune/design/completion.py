"""Gaps in the driver's data filled by the identities between them."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

from sealtune.design.driver_contradictions import DATA_SCATTER
from sealtune.design.driver_identities import QUANTITIES, filled_values, listed, plain, symbols
from sealtune.physics.air import Air
from sealtune.records.design import Driver

_TOLERANCES = {
    "fs_hz": "fs_tolerance",
    "qms": "qms_tolerance",
    "qes": "qes_tolerance",
    "vas_m3": "vas_tolerance",
    "re_ohm": "re_tolerance",
    "sd_m2": "sd_tolerance",
}


def complete(driver: Driver, air: Air) -> tuple[Driver, tuple[str, ...]]:
    """Return the driver with its gaps filled as far as its data allow, and what there is to say about them.

    driver: of one driver, SI units; any of its numbers may be None
    air: of the place where the data were measured; for a data sheet, the standard air. Only V_AS depends on it.
    Returns notes in whole sentences, in the units of design.toml: one for each value filled in that the program
    goes on to use. A value filled in scatters by DATA_SCATTER more than the design says. Values that are impossible
    together are left alone, see `impossible`; what contradicts itself is told by `contradictions`.
    The identities are those of [Small1972]; they hold at small signals for a suspension without creep, so that
    measured data go together only to some per cent.
    """
    filled = filled_values(driver, air)
    changes: dict[str, float] = {one.field: one.value for one in filled}
    for one in filled:
        if one.field in _TOLERANCES:
            tolerance = _TOLERANCES[one.field]
            changes[tolerance] = hypot(getattr(driver, tolerance), DATA_SCATTER)
    notes = tuple(
        f"{QUANTITIES[one.field].words(one.value)} follows from {symbols(one.sources)}."
        for one in filled
        if one.field in _TOLERANCES
    )
    # a mapping of field to number cannot be typed for replace
    return replace(driver, **changes), notes  # type: ignore[arg-type]


def impossible(driver: Driver, air: Air) -> tuple[str, ...]:
    """Return one line for each pair of driver data that no driver has: Q_TS not below Q_MS and Q_ES.

    The lines name key and value as design.toml does; they say so where the second value is not given but follows.
    """
    if driver.qts is None:
        return ()
    follows = {one.field: one for one in filled_values(driver, air)}
    lines = []
    for name in ("qms", "qes"):
        other = getattr(driver, name)
        how = ""
        if other is None and name in follows and "qts" not in follows[name].sources:
            other = follows[name].value
            how = f" (from {listed([QUANTITIES[n].key for n in follows[name].sources])})"
        if other is not None and driver.qts >= other:
            lines.append(
                f"[driver] qts = {driver.qts:g}: must be below {name} = {plain(other)}{how}; the total Q is smaller "
                f"than both its parts, 1/qts = 1/qms + 1/qes"
            )
    return tuple(lines)
