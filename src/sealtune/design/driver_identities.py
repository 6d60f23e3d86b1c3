"""The numbers of a driver's data sheet, the identities between them, and what follows from those that are given."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import exp, log, pi

from sealtune.physics.air import Air
from sealtune.records.design import Driver

Values = Mapping[str, float]


@dataclass(frozen=True)
class Quantity:
    """One number of a driver's data: its field, symbol, and key and unit in design.toml with its factor to SI."""

    field: str
    symbol: str
    key: str
    unit: str = ""
    to_si: float = 1.0

    def words(self, value: float) -> str:
        """Return symbol, value and unit as a builder reads them."""
        return f"{self.symbol} {self.number(value)}"

    def half_step(self, value: float) -> float:
        """Return half of the last decimal place that the value has in the file, SI; of a whole number, half of one."""
        digits = f"{value / self.to_si:.9g}"
        if "e" in digits:
            return 0.0
        return 0.5 * 10.0 ** -len(digits.partition(".")[2]) * self.to_si

    def number(self, value: float) -> str:
        """Return value and unit in those of the file, to three digits."""
        return f"{plain(value / self.to_si)} {self.unit}".strip()


@dataclass(frozen=True)
class Identity:
    """How the members go together: product of member^power equals `constant`; without powers, the sum of Q's."""

    powers: Mapping[str, float]
    constant: float = 1.0


@dataclass(frozen=True)
class Filled:
    """A value that the design does not give, in SI units, and the fields that it gives and this one follows from."""

    field: str
    value: float
    sources: tuple[str, ...]


_ALL = (
    Quantity("qts", "Q_TS", "qts"),
    Quantity("vas_m3", "V_AS", "vas_l", "L", 1e-3),
    Quantity("qms", "Q_MS", "qms"),
    Quantity("qes", "Q_ES", "qes"),
    Quantity("fs_hz", "f_S", "fs_hz", "Hz"),
    Quantity("bl_t_m", "Bl", "bl_t_m", "T m"),
    Quantity("mms_kg", "M_MS", "mms_g", "g", 1e-3),
    Quantity("sd_m2", "S_D", "sd_cm2", "cm2", 1e-4),
    Quantity("cms_m_n", "C_MS", "cms_mm_per_n", "mm/N", 1e-3),
    Quantity("rms_kg_s", "R_MS", "rms_kg_per_s", "kg/s"),
    Quantity("re_ohm", "R_E", "re_ohm", "ohm"),
)
"""In the order in which a contradiction is told: what the others make, first."""

QUANTITIES = {quantity.field: quantity for quantity in _ALL}


def filled_values(driver: Driver, air: Air) -> tuple[Filled, ...]:
    """Return what follows from the given data, each value after those it follows from."""
    identities = identities_in(air)
    known = given_values(driver)
    roots: dict[str, tuple[str, ...]] = {name: (name,) for name in known}
    found: list[Filled] = []
    grew = True
    while grew:
        grew = False
        for identity in identities:
            gaps = [name for name in identity.powers if name not in known]
            if len(gaps) != 1:
                continue
            value = solved(identity, gaps[0], known)
            if value is not None:
                known[gaps[0]] = value
                members = (n for n in identity.powers if n != gaps[0])
                roots[gaps[0]] = tuple(dict.fromkeys(root for n in members for root in roots[n]))
                found.append(Filled(gaps[0], value, roots[gaps[0]]))
                grew = True
    return tuple(found)


def identities_in(air: Air) -> tuple[Identity, ...]:
    """Return the identities of [Small1972], sec. 3 (from memory); the first is 1/Q_TS = 1/Q_MS + 1/Q_ES."""
    return (
        Identity({"qts": 0.0, "qms": 0.0, "qes": 0.0}),
        Identity({"vas_m3": 1.0, "sd_m2": -2.0, "cms_m_n": -1.0}, air.bulk_modulus_pa),
        Identity({"fs_hz": 2.0, "mms_kg": 1.0, "cms_m_n": 1.0}, 1.0 / (4.0 * pi**2)),
        Identity({"qms": 1.0, "fs_hz": -1.0, "mms_kg": -1.0, "rms_kg_s": 1.0}, 2.0 * pi),
        Identity({"qes": 1.0, "fs_hz": -1.0, "mms_kg": -1.0, "re_ohm": -1.0, "bl_t_m": 2.0}, 2.0 * pi),
    )


def given_values(driver: Driver) -> dict[str, float]:
    """Return the data that the driver has, by field, SI units."""
    values = {name: getattr(driver, name) for name in QUANTITIES}
    return {name: float(value) for name, value in values.items() if value is not None}


def solved(identity: Identity, name: str, known: Values) -> float | None:
    """Return the member `name` from the others, None where there is no such value.

    known: every other member, SI units, > 0
    """
    if "qts" in identity.powers:
        if name == "qts":
            return 1.0 / (1.0 / known["qms"] + 1.0 / known["qes"])
        rest = 1.0 / known["qts"] - 1.0 / known["qes" if name == "qms" else "qms"]
        return 1.0 / rest if rest > 1e-9 else None
    logarithm = log(identity.constant)
    for member, power in identity.powers.items():
        if member != name:
            logarithm -= power * log(known[member])
    exponent = logarithm / identity.powers[name]
    return exp(exponent) if abs(exponent) < 200.0 else None


def plain(value: float) -> str:
    """Return the number to three digits, without a power of ten; in words where it is beyond all measure.

    value: >= 0
    """
    if value >= 1e9:
        return "above 1000000000"
    if 0.0 < value < 1e-6:
        return "below 0.000001"
    return f"{Decimal(f'{value:.3g}'):f}"


def symbols(fields: Iterable[str]) -> str:
    """Return the symbols of these fields as a list in words."""
    return listed([QUANTITIES[name].symbol for name in fields])


def listed(words: list[str], joint: str = "and") -> str:
    """Return the words as a list in words."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {joint} {words[-1]}"
