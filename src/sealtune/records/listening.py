"""Listening for a leak: the tone that is played, and what the microphone hears of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ToneBasis = Literal["measured", "design", "nothing", "you"]
"""What the tone's frequency was chosen by: the cabinet's curve, its design, nothing known, or the user's word."""

LevelLimit = Literal["travel", "power", "enough", "travel unknown"]


@dataclass(frozen=True)
class ListeningTone:
    """A tone to listen with, and how loud it may be.

    frequency_hz: its middle; it swings a little about that
    volts: the most at the box's terminals, root mean square
    because: what limits it
    travel_share: what the cone moves then over x_max, None where that is not known
    tuning_hz: of the box as far as known
    """

    frequency_hz: float
    volts: float
    because: LevelLimit
    basis: ToneBasis
    travel_share: float | None = None
    tuning_hz: float | None = None


@dataclass(frozen=True)
class Heard:
    """What the microphone hears at a moment.

    time_s: since the tone began; negative in the silence before it
    hiss_db: how strongly the hiss swells in step with the tone, over the room's noise before the tone, power ratio in
        dB; None where nothing in step is heard
    sure: whether it is told from no leak
    channel: the input that carries it, 0 or 1; None where neither does, and then nothing can be said of a leak
    lost: blocks so far of which the device said that samples were lost
    """

    time_s: float
    hiss_db: float | None
    sure: bool
    channel: int | None
    lost: int


@dataclass(frozen=True)
class Place:
    """A place that was heard or marked: its number (0 for the loudest without a mark), name, time and hiss."""

    number: int
    name: str
    time_s: float
    hiss_db: float | None
