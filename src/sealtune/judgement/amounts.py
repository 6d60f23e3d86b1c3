"""Millimetres to cut off or add and litres to fill or take out, in words."""

from __future__ import annotations

from sealtune.judgement.volume import VolumeOff
from sealtune.records.interval import Interval

LITRES = 1e3
MILLIMETRES = 1e3

STEPS = "a few millimetres at a time, measuring after each step"


def air_there(volume: VolumeOff | None, than: str) -> str:
    """Return how much air there is and how much there should be."""
    if volume is None:
        return f"The tuning fits a box with {than} air than designed."
    signs = "Tuning and the distance of the peaks both fit" if volume.by_peaks else "The tuning fits"
    told = f"{signs} a box with {than} air than designed"
    designed = volume.volume_m3.value - volume.excess_m3.value
    return f"{told}: about {_litres(volume.volume_m3)}, not {LITRES * designed:.1f} litres."


def take_out(volume: VolumeOff | None) -> str:
    """Return how many litres to take out of a box with too little air."""
    if volume is None or not volume.excess_m3.value < 0.0:
        return "Take out what fills the box."
    less = volume.excess_m3
    missing = Interval(-less.value, max(-less.high, 0.0), -less.low)
    return f"Take out what fills the box, blocks or bracing, about {_litres(missing)}."


def put_in(volume: VolumeOff | None) -> str:
    """Return how many litres to fill in a box with too much air."""
    if volume is None or not volume.excess_m3.value > 0.0:
        return "Put solid blocks into the box."
    more = volume.excess_m3
    filling = Interval(more.value, max(more.low, 0.0), more.high)
    return f"Glue solid blocks or bracing of about {_litres(filling)} into the box, clear of vent and driver."


def _litres(volume_m3: Interval) -> str:
    value, low, high = (LITRES * each for each in (volume_m3.value, volume_m3.low, volume_m3.high))
    return f"{value:.1f} litres ({low:.1f} to {high:.1f})"


def or_the_vent(volume: VolumeOff | None, *, shorten: bool, vents: int) -> str:
    """Return the vent that would do in the box as it is; empty where none would."""
    if volume is None:
        return " Or fit the vent to it. " + change_length(None, shorten=shorten, vents=vents)
    change = volume.length_change_m
    if change is None or (change.value < 0.0) != shorten:
        return ""
    return (
        f" Or leave the box as it is and {'shorten' if shorten else 'lengthen'} {_which(vents)} "
        f"{_by(change)}: the tuning is then right, the bass not quite as designed."
    )


def change_length(change: Interval | None, *, shorten: bool, vents: int = 1) -> str:
    """Return by how many millimetres to change the vent, in words."""
    vent, by = _which(vents), STEPS
    known = change is not None and (change.value < 0.0) == shorten
    if not shorten:
        if change is not None and known:
            by = f"{_by(change)} with a ring or a longer duct of the same bore, and measure again"
        return f"Lengthen {vent} {by}."
    if change is not None and known:
        by = f"{_by(change)}: take off half first, measure, then the rest"
    return (
        f"Look through {vent} first: glue or cloth in it lowers the tuning too. If nothing is there, shorten "
        f"{vent} {by}; what is cut off does not come back."
    )


def _which(vents: int) -> str:
    return "the vent" if vents == 1 else f"each of the {vents} vents"


def _by(change: Interval) -> str:
    """Return by how many millimetres, with a decimal where there are few."""
    low, high = sorted((abs(change.low), abs(change.high)))
    if change.low * change.high < 0.0:
        low = 0.0
    value, low, high = (MILLIMETRES * each for each in (abs(change.value), low, high))
    places = 0 if value >= 5.0 else 1
    return f"by {value:.{places}f} mm ({low:.{places}f} to {high:.{places}f} mm)"
