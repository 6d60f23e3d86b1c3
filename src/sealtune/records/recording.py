"""A recording: two channels of one cabinet in one state, and how they were made."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Role = Literal["open", "plugged", "free-air", "cone", "mouth"]
Wiring = Literal["divider", "sense"]

ROLES: tuple[Role, ...] = ("open", "plugged", "free-air", "cone", "mouth")
WIRINGS: tuple[Wiring, ...] = ("divider", "sense")


@dataclass(frozen=True)
class Jig:
    """The reference resistor and the wiring through which the impedance is measured.

    wiring: "divider": channel 1 on the amplifier's side of the resistor, channel 2 across the box;
        "sense": channel 1 across the box, channel 2 across the resistor in series with it
    reference_ohm: the resistor, ohm, > 0
    """

    wiring: Wiring
    reference_ohm: float


@dataclass(frozen=True)
class Sweep:
    """A synchronised exponential sweep: x(t) = sin(2 pi f1 L exp(t/L)) [Novak2015].

    start_hz, stop_hz: f1 and f2, Hz, 0 < f1 < f2
    seconds: length wished for, s; the real one follows from rounding f1 L to an integer
    begins_s: silence before the sweep, s
    fade_s: raised-cosine fade at either end, s
    """

    start_hz: float
    stop_hz: float
    seconds: float
    begins_s: float = 0.0
    fade_s: float = 0.0


@dataclass(frozen=True)
class Origin:
    """Where a recording comes from, as far as its own metadata say.

    role: the state it was made in, None if the metadata do not name one
    recorded_at: date and time of the take, None if unknown
    simulated: True for a virtual cabinet's recording
    complete: False where the take was cut short
    """

    role: Role | None = None
    jig: Jig | None = None
    sweep: Sweep | None = None
    level_dbfs: float | None = None
    device: str | None = None
    recorded_at: datetime | None = None
    program: str | None = None
    simulated: bool = False
    complete: bool = True
    note: str | None = None


@dataclass(frozen=True)
class Recording:
    """The samples of one sound file.

    channels: shape (frames, 2) float64, full scale 1.0
    rate_hz: samples per second
    step: the smallest difference between two samples (quantisation), 0 for floating point files
    expected_frames: frames the file's header promises, None if it does not say
    """

    channels: NDArray[np.float64]
    rate_hz: float
    step: float = 0.0
    origin: Origin = field(default_factory=Origin)
    expected_frames: int | None = None


@dataclass(frozen=True)
class Source:
    """A file that went into a result."""

    role: Role
    path: Path
    sha256: str
