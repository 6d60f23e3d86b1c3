"""What listening for a leak says: before it begins, at every moment, and at the end."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from sealtune.records.listening import Heard, ListeningTone, Place
from sealtune.report.cautions import CAUTIONS

LOWEST_DB, HIGHEST_DB = -20.0, 20.0
"""Ends of the bar: what can just be told from the room, and a leak that needs no instrument."""

CELLS = 30

SLOWEST_BEEP_S, FASTEST_BEEP_S = 1.0, 0.1

_BASIS = {
    "measured": "close above the tuning of {tuning:.1f} Hz that the cabinet's curve shows",
    "design": "close above the tuning of {tuning:.1f} Hz that the design predicts",
    "nothing": "above the tuning of most boxes; nothing is known of this one. Name its folder or its design, and "
    "the tone will suit it",
    "you": "as you chose",
}
_BECAUSE = {
    "travel": "the cone then moves {percent:.0f} % of what it can",
    "power": "more would warm the coil",
    "enough": "more is not needed",
    "travel unknown": "how far the cone moves is not known, so be careful and watch it",
}


def before_listening(tone: ListeningTone, level_dbfs: float, *, virtual: bool) -> str:
    """Return what to know and to do before the tone sounds, in some paragraphs.

    virtual: whether nothing real will sound
    """
    tuning = tone.tuning_hz or 0.0
    percent = 100.0 * (tone.travel_share or 0.0)
    because = _BECAUSE[tone.because].format(percent=percent)
    lines = [
        f"Tone: {tone.frequency_hz:.1f} Hz, swinging slowly by 2 Hz, {_BASIS[tone.basis].format(tuning=tuning)}.",
        f"Level: {level_dbfs:g} dB of full scale; it rises from quiet in 3 s.",
        f"At the box at most {tone.volts:.2g} V (multimeter, alternating voltage): {because}.",
    ]
    lines.append("The bar: 0 dB is a hiss that swells as strongly as the room is loud above 2 kHz.")
    if virtual:
        lines.append("Nothing sounds: box, room and microphone are simulated.")
        return _wrapped(lines)
    ears, driver = CAUTIONS[0], CAUTIONS[1]
    lines += [
        "",
        "Amplifier straight to the box, without the resistor. Microphone in input 2. Input 1 may stay on the "
        "amplifier, behind its divider, or be free.",
        "",
        f"{ears.title}: {ears.text}",
        f"{driver.title}: {driver.text}",
        "Microphone: hold it 2 to 5 cm from seams, driver flange, terminals and screws, never in the air stream of "
        "the vent. That air is in step with the tone too, and so is a part that rattles.",
        "Amplifier at zero now; turn it up when the tone has risen.",
    ]
    return _wrapped(lines)


def moment(heard: Heard, loudest: Place | None) -> str:
    """Return a moment in one line of at most 79 characters."""
    filled = "" if heard.hiss_db is None else ("#" if heard.sure else "-") * _cells(heard.hiss_db)
    line = f"{heard.time_s:6.1f} s  {_word(heard):8}{_decibels(heard.hiss_db)} |{filled:{CELLS}}|"
    if loudest is not None:
        line += f"  most {_decibels(loudest.hiss_db).strip()}, {loudest.time_s:.0f} s"
    return line


def beep_every_s(heard: Heard) -> float | None:
    """Return the time between two beeps, s, None for silence."""
    if heard.hiss_db is None or not heard.sure:
        return None
    return float(SLOWEST_BEEP_S * (FASTEST_BEEP_S / SLOWEST_BEEP_S) ** _share(heard.hiss_db))


def marked(place: Place) -> str:
    """Return the line for a place that was just marked."""
    return f"Place {place.number}{f' ({place.name})' if place.name else ''}: {_level_words(place).strip()}"


def after_listening(loudest: Place | None, marks: Sequence[Place], heard: Heard | None) -> str:
    """Return the loudest place, the marked ones from loud to quiet, and what to make of them.

    heard: the last reading
    """
    lines = []
    if loudest is not None:
        lines.append(f"Loudest: {_decibels(loudest.hiss_db).strip()} at {loudest.time_s:.1f} s.")
    elif heard is not None and heard.channel is None:
        lines += [
            "Neither input heard the tone, so nothing can be said of a leak.",
            "Check amplifier, box and microphone, and turn up with care.",
        ]
    else:
        lines.append("No hiss in step with the tone was heard.")
    if marks:
        ranked = sorted(marks, key=lambda place: (place.hiss_db is None, -(place.hiss_db or 0.0)))
        width = max(5, *(len(place.name) for place in marks))
        lines += ["", f"place  {'name':{width}}  time     hiss"]
        lines += [
            f"{place.number:5}  {place.name:{width}}  {place.time_s:5.1f} s {_level_words(place)}"
            for place in ranked
        ]
    if heard is not None and heard.lost:
        lines.append(f"The device lost samples {heard.lost} times; close other programs if that goes on.")
    if loudest is not None:
        lines += ["", "Press a finger or soft putty on the place: if the hiss stops, that is the leak."]
    return "\n".join(lines)


def _wrapped(lines: Sequence[str]) -> str:
    return "\n".join(textwrap.fill(line, 79) for line in lines)


def _cells(hiss_db: float) -> int:
    return max(1, round(CELLS * _share(hiss_db)))


def _share(hiss_db: float) -> float:
    """How far along the bar a hiss lies, 0 to 1."""
    return min(max((hiss_db - LOWEST_DB) / (HIGHEST_DB - LOWEST_DB), 0.0), 1.0)


def _word(heard: Heard) -> str:
    if heard.time_s < 0.0:
        return "room"
    if heard.channel is None:
        return "no tone"
    if heard.hiss_db is None:
        return "nothing"
    return "LEAK" if heard.sure else "leak?"


def _decibels(hiss_db: float | None) -> str:
    return "       " if hiss_db is None else f"{hiss_db:+4.0f} dB"


def _level_words(place: Place) -> str:
    return "nothing heard" if place.hiss_db is None else _decibels(place.hiss_db)
