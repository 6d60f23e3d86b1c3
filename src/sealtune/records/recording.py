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

IMPEDANCE_ROLES: tuple[Role, ...] = ("open", "plugged", "free-air")
"""Measured at the terminals, through the jig."""

MICROPHONE_ROLES: tuple[Role, ...] = ("cone", "mouth")
"""Channel 2 is a microphone, channel 1 the amplifier, which the box hangs on without the jig's resistor."""

ROLES: tuple[Role, ...] = (*IMPEDANCE_ROLES, *MICROPHONE_ROLES)
Step = Literal["balance", "open", "short", "resistor"]
"""The known loads of a jig's calibration: both inputs on one point, leads open, leads shorted, a known resistor."""

STEPS: tuple[Step, ...] = ("balance", "open", "short", "resistor")
WIRINGS: tuple[Wiring, ...] = ("divider", "sense")


@dataclass(frozen=True)
class Standard:
    """What the two channels read with one known load, a smooth function of frequency.

    frequency_hz: rising, > 0, at least two
    value: channel 2 over channel 1 at each; in the wiring "sense" with the leads shorted, where channel 1 is
        almost nothing, channel 1 over channel 2
    sigma: standard deviation of the real and of the imaginary part at each, in the unit of the value
    """

    frequency_hz: tuple[float, ...]
    value: tuple[complex, ...]
    sigma: tuple[float, ...]


@dataclass(frozen=True)
class KnownResistor:
    """A resistor of known value in place of the box.

    ohm: its resistance, > 0
    uncertainty: relative standard deviation of that
    """

    ohm: float
    measured: Standard
    uncertainty: float = 0.01


@dataclass(frozen=True)
class JigStandards:
    """The known loads that were measured with a jig; None for those that were not.

    balance: both inputs on one and the same point, so channel 2 over channel 1 is their gain
    open_leads: nothing between the clips
    shorted_leads: the clips on each other
    resistor: a known resistor between the clips
    """

    balance: Standard | None = None
    open_leads: Standard | None = None
    shorted_leads: Standard | None = None
    resistor: KnownResistor | None = None


@dataclass(frozen=True)
class Jig:
    """The reference resistor and the wiring through which the impedance is measured.

    wiring: "divider": channel 1 on the amplifier's side of the resistor, channel 2 across the box;
        "sense": channel 1 across the box, channel 2 across the resistor in series with it
    reference_ohm: the resistor, ohm, > 0
    reference_uncertainty: relative standard deviation of that
    standards: known loads measured with this wiring and this reference resistor, None for none
    full_scale_v: peak voltage at the amplifier's output while the program plays full scale, V, > 0; None where nobody
        measured it
    """

    wiring: Wiring
    reference_ohm: float
    reference_uncertainty: float = 0.01
    standards: JigStandards | None = None
    full_scale_v: float | None = None


@dataclass(frozen=True)
class Sweep:
    """A synchronised exponential sweep: x(t) = sin(2 pi f1 L exp(t/L)) [Novak2015].

    start_hz, stop_hz: f1 and f2, Hz, 0 < f1 < f2
    seconds: length wished for, s; the real one follows from rounding f1 L to an integer
    begins_s: silence before the sweep, s
    fade_s: raised-cosine fade at either end, s
    repeats: how many times it is played in one file, >= 1
    pause_s: silence between one time and the next, s
    """

    start_hz: float
    stop_hz: float
    seconds: float
    begins_s: float = 0.0
    fade_s: float = 0.0
    repeats: int = 1
    pause_s: float = 0.0


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
