"""The cautions a builder must read before touching the bench, as data."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """One danger at the bench: a short title and what to do about it."""

    title: str
    text: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "Ears",
        "Start quiet and turn up slowly: a sweep is louder than it looks. Protect your hearing, and keep "
        "the noise from children and pets.",
    ),
    Caution(
        "Driver",
        "Below the tuning of a vented box the air no longer holds the cone back. Keep the level low, or the "
        "driver hits its stops and tears.",
    ),
    Caution(
        "Sound card",
        "An amplifier's output, a bridged one above all, can destroy a sound card's input. Divide the "
        "voltage down, and never connect either terminal of a bridged output to ground.",
    ),
    Caution(
        "Mains",
        "Pull the mains plug of every device before you touch its wiring. Follow your local electrical "
        "rules, or ask someone who is licensed.",
    ),
    Caution(
        "Glue and dust",
        "Hot glue burns the skin. Solvents want fresh air and no flame; dust wants a mask that filters it.",
    ),
)
