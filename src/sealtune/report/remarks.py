"""What the fit came across beside the tuning: a crossover, a part that rings, recordings that were left out."""

from __future__ import annotations

import math

from sealtune.records.design import Crossover
from sealtune.records.recording import IMPEDANCE_ROLES
from sealtune.records.verdict import Result
from sealtune.report.content import number

LEAST_SHUNT_OHM = 0.005
"""A resistor smaller than this is a plain wire."""

_MILLIHENRY = 1e3
_MICROFARAD = 1e6


def rounded(value: float) -> str:
    """A number of two significant digits without an exponent: "0.82", "12", "150"."""
    if not math.isfinite(value) or value == 0.0:
        return number(value, 0)
    value = float(f"{value:.2g}")
    return f"{value:.{max(1 - math.floor(math.log10(abs(value))), 0)}f}"


def _crossover_parts(parts: Crossover) -> tuple[str, str]:
    """The parts in words, and the keys of the design file that name them."""
    words, keys = [], []
    if parts.series_h > 0.0:
        words.append(f"{rounded(parts.series_h * _MILLIHENRY)} mH in series")
        keys.append("series_mh")
    if parts.series_ohm > LEAST_SHUNT_OHM:
        keys.append("series_ohm")
    branch = []
    if parts.shunt_f is not None:
        branch.append(f"{rounded(parts.shunt_f * _MICROFARAD)} \N{MICRO SIGN}F")
        keys.append("shunt_uf")
    if parts.shunt_ohm is not None and parts.shunt_ohm > LEAST_SHUNT_OHM:
        branch.append(f"{rounded(parts.shunt_ohm)} ohm")
        keys.append("shunt_ohm")
    if branch:
        words.append(f"{' with '.join(branch)} across the driver")
    return " and ".join(words), ", ".join(keys)


def crossover_remark(result: Result) -> str:
    """That a crossover was found which the design does not tell of, and how to tell; empty where none was."""
    if result.fit is None or result.fit.hidden_crossover is None:
        return ""
    words, keys = _crossover_parts(result.fit.hidden_crossover)
    why = "that the design does not tell of" if result.design is not None else "that no design tells of"
    found = f"a crossover of about {words} was found" if words else "a crossover was found"
    write = f" as {keys}" if keys else ""
    return (
        f"{found} {why}. This is no fault: write the parts it was built with into design.toml under "
        f"[crossover]{write}."
    )


def ringing_remark(result: Result) -> str:
    """That a wall or a part rings on its own, and at which frequencies; empty where none does."""
    if result.fit is None or not result.fit.left_out_hz:
        return ""
    at = " and ".join(f"{number(math.sqrt(low * high), 0)} Hz" for low, high in result.fit.left_out_hz)
    stretches = " and ".join(
        f"{number(low, 0)} to {number(high, 0)} Hz" for low, high in result.fit.left_out_hz
    )
    return (
        f"a wall or another part rings on its own at about {at}; the curve from {stretches} was left out of the fit. "
        "Knock on the walls there: a brace or a tighter screw may quieten it."
    )


def remarks(result: Result) -> tuple[str, ...]:
    """Everything worth noting that is no fault, each a sentence or two without its capital letter."""
    found = (crossover_remark(result), ringing_remark(result))
    near = () if result.near_field is None else result.near_field.notes
    return (
        *(remark for remark in found if remark),
        *(note[:1].lower() + note[1:] for note in near),
        *(f"the design contradicts itself: {note}" for note in result.design_notes),
        *(f"{unknown}." for unknown in result.unknowns),
    )


def fitted_together(result: Result) -> tuple[str, str]:
    """Which recordings one circuit was fitted to, and which were left out; empty where there was only one."""
    if result.fit is None or len(result.sources) < 2:
        return "", ""
    used = ", ".join(result.fit.roles)
    measured = [source.role for source in result.sources if source.role in IMPEDANCE_ROLES]
    out = [role for role in measured if role not in result.fit.roles]
    return used, f"left out: {', '.join(out)}" if out else ""
