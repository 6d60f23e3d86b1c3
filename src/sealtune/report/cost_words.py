"""What the faults of a box cost, in words: how much softer or louder, on which instruments, and its limits.

From how many decibels on a change is heard, and which instrument plays where, is common practice.
"""

from __future__ import annotations

from sealtune.records.cost import BandCost, Compared, Cost
from sealtune.records.verdict import Result
from sealtune.report.content import number, span
from sealtune.report.numbers import Row
from sealtune.report.plan_limit_words import watts

HEARD_FROM_DB = 1.0
"""A change of less than this in a band is not heard."""

_HEARD: tuple[tuple[float, str], ...] = (
    (6.0, "heard at once"),
    (3.0, "clearly audible"),
    (2.0, "audible"),
    (HEARD_FROM_DB, "hardly audible"),
)

_INSTRUMENTS: dict[float, str] = {
    20.0: "the lowest organ pipes",
    25.0: "the piano's lowest keys (A, 27.5 Hz)",
    31.5: "the low B of five-string basses (31 Hz)",
    40.0: "bass guitar and double bass (low E, 41 Hz)",
    50.0: "bass guitar (A string, 55 Hz) and large kick drums",
    63.0: "kick drum and cello (low C, 65 Hz)",
    80.0: "kick drum and guitar (low E, 82 Hz)",
    100.0: "bass voices and toms",
    125.0: "men's voices",
    160.0: "men's voices and cellos",
}

HIGHEST_HZ = 200.0

_WORTH_TELLING = 1.1
"""Limits nearer to one another than this factor are not told in the sentence."""


def cost_words(cost: Cost) -> str:
    """The cost in one sentence without a full stop: the band that loses most, the one that gains most, the limits."""
    told = [
        f"{_change(band)}{_heard_on(band)}"
        for band in (cost.softest, cost.loudest)
        if band is not None and abs(band.difference_db.value) >= HEARD_FROM_DB
    ]
    if not told:
        told = [f"nothing that can be heard, under {number(HEARD_FROM_DB, 0)} dB from 20 to 200 Hz"]
    told += _limit_words(cost)
    against = "" if cost.against == "design" else " (held against the same box with usual losses)"
    return "; ".join(told) + against


def worth_telling(result: Result) -> bool:
    """Whether the cost deserves a line in the short summary: there is work to do, or a change is heard."""
    if result.cost is None:
        return False
    worst = result.cost.worst
    heard = worst is not None and abs(worst.difference_db.value) >= HEARD_FROM_DB
    return result.verdict == "rework" or heard


def audible_words(difference_db: float) -> str:
    """How well a change of level is heard, by common practice."""
    return next((words for least, words in _HEARD if round(abs(difference_db), 1) >= least), "not audible")


def band_words(hz: float) -> str:
    """A nominal midband frequency: "31.5 Hz"."""
    return f"{hz:g} Hz"


def cost_rows(cost: Cost) -> tuple[Row, ...]:
    """The limits side by side: what, as measured, as designed; without those that are not known."""
    table: tuple[tuple[str, Compared, str], ...] = (
        ("Down to half power (3 dB below the passband) at", cost.f3_hz, "Hz"),
        ("Power until the cone reaches x_max, above the tuning", cost.travel_w, "W"),
        ("Usable power", cost.usable_w, "W"),
        ("Fastest air in the vent, at the power usable as designed", cost.air_speed_m_s, "m/s"),
    )
    return tuple(
        Row(name, _amount(pair.measured, unit), _amount(pair.designed, unit))
        for name, pair, unit in table
        if pair.measured is not None and pair.designed is not None
    )


def cost_note(cost: Cost) -> str:
    """How the figure is to be read: what is compared, from where on it is heard, what stays open."""
    designed = "the tuning aimed at and usual losses" if cost.against == "design" else "usual losses"
    note = (
        f"The measured driver in this box against the same driver in a box with {designed}. 1 dB is hardly heard, 3 dB "
        "clearly (common practice). Bands more than 12 dB below the passband count as not heard."
    )
    if cost.excess_matters_db >= 0.2:
        note += (
            f" The curves do not tell all losses apart: what is open counts as {cost.excess}; any other kind would "
            f"shift a band by {number(cost.excess_matters_db, 1)} dB at most."
        )
    return note


def figure_words(cost: Cost) -> str:
    """Every band in words, for whoever cannot see the figure."""
    bands = [
        f"{band_words(band.hz)} {_signed(band.difference_db.value)} dB ({span(band.difference_db, 1)})"
        for band in cost.bands
    ]
    return f"Level as measured less level as designed in third octaves: {', '.join(bands)}."


def _heard_on(band: BandCost) -> str:
    audible = audible_words(band.difference_db.value)
    if band.hz == HIGHEST_HZ:  # far above the tuning everything changes alike
        return f" and above: {audible} on all that it plays"
    return f": {audible} on {_INSTRUMENTS[band.hz]}"


def _change(band: BandCost) -> str:
    difference = band.difference_db
    unsure = "perhaps " if difference.low < 0.0 < difference.high else ""
    direction = "less" if difference.value < 0.0 else "more"
    return f"{unsure}{number(abs(difference.value), 1)} dB {direction} at {band_words(band.hz)}"


def _limit_words(cost: Cost) -> list[str]:
    told = []
    for name, pair, unit, bad in (
        ("stands", cost.usable_w, "W", -1),
        ("air in the vent up to", cost.air_speed_m_s, "m/s", 1),
    ):
        if pair.measured is None or pair.designed is None or not pair.designed > 0.0:
            continue
        ratio = pair.measured / pair.designed
        if ratio**bad > _WORTH_TELLING:
            told.append(f"{name} {_amount(pair.measured, unit)} instead of {_amount(pair.designed, unit)}")
    return told


def _amount(value: float | None, unit: str) -> str:
    if value is None:
        return "not known"
    return f"{watts(value) if unit == 'W' else number(value, 1 if unit == 'Hz' else 0)} {unit}"


def _signed(value: float) -> str:
    return f"{value:+.1f}"
