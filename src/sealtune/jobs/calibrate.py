"""The jig measured against known loads, step by step, each checked as it is taken."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

import numpy as np

from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.analysis.jig_faults import NAMES
from sealtune.analysis.jig_readings import Reading, read_load, with_reading
from sealtune.analysis.known_loads import BAND_HZ
from sealtune.analysis.sample_faults import sample_problems
from sealtune.capture.take import Taken, Watcher, take
from sealtune.errors import RecordingFault
from sealtune.files.jig_file import keep_old, write_jig
from sealtune.jobs.calibration_level import FADE_S, found_level_dbfs
from sealtune.records.recording import Jig, Origin, Recording, Step, Sweep
from sealtune.records.sound_device import SoundDevice
from sealtune.records.verdict import Problem
from sealtune.signals.transfer_function import Ratio

START_HZ, STOP_HZ = 3.8, 1050.0
"""Somewhat more than the sweeps of a box, so that no known load has to be continued beyond its band."""

SILENCE_S = 0.5

LOST_TRIES = 3
"""A sweep of which the device says that samples were lost is played again without asking: no clip is at fault."""

USUAL_OHM = (6.0, 40.0)
"""What a box has at its saddle and at a peak; what is told of the calibration is told for these."""


@dataclass(frozen=True)
class Order:
    """What is to be calibrated, and how.

    jig: wiring and reference resistor, without known loads
    steps: the known loads in the order in which they are measured
    resistor_ohm, resistor_uncertainty: of the known resistor, ohm and relative standard deviation
    check_ohm: of a second resistor, measured through the calibrated jig at the end; None for none
    rate_hz: samples per second
    level_dbfs: peak of the sweep, dB of full scale; None to look for it
    seconds: of each sweep
    """

    jig: Jig
    steps: tuple[Step, ...]
    resistor_ohm: float
    resistor_uncertainty: float = 0.01
    check_ohm: float | None = None
    rate_hz: float = 48000.0
    level_dbfs: float | None = None
    seconds: float = 6.0


@dataclass(frozen=True)
class Checked:
    """A second resistor through the calibrated jig.

    ohm: what it is said to have
    measured_ohm: what the jig reads of it, median from 8 to 300 Hz
    worst: largest relative deviation of the complex impedance from `ohm` there
    degrees: largest angle there
    allowed: relative deviation that its own tolerance and what is unknown of the jig explain, 95 %
    """

    ohm: float
    measured_ohm: float
    worst: float
    degrees: float
    allowed: float

    @property
    def error(self) -> float:
        """Return the relative error of the resistance."""
        return self.measured_ohm / self.ohm - 1.0


@dataclass(frozen=True)
class Calibrated:
    """The jig with its known loads, what each of them read, the second resistor, and the level of the sweeps."""

    jig: Jig
    readings: tuple[tuple[Step, Reading], ...]
    checked: Checked | None
    level_dbfs: float


class Person(Protocol):
    """Whoever changes the clips."""

    def connect(self, step: Step | None) -> None:
        """Put the clips on the load of a step, None for the second resistor; returns when they are."""
        ...

    def took(self, step: Step, reading: Reading) -> None:
        """Hear what was measured."""
        ...

    def refused(self, step: Step | None, problem: Problem) -> bool:
        """Hear why it was not taken, and say whether to measure again."""
        ...


def calibrate(
    device: SoundDevice,
    order: Order,
    person: Person,
    *,
    watch: Watcher | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Calibrated:
    """Measure the known loads of an order.

    watch: told of the progress of each sweep
    clock: the time, s, by which the device settles
    Raises RecordingFault where a load was refused and is not to be measured again, DeviceFault where the device fails.
    """
    jig, level, readings = order.jig, order.level_dbfs, []
    for step in order.steps:
        while True:
            person.connect(step)
            if level is None:
                level = found_level_dbfs(device, order.rate_hz, clock)
            recording = _recorded(device, order, level, watch, clock)
            reading = (
                recording
                if isinstance(recording, Reading)
                else read_load(recording, step, jig, order.resistor_ohm, order.resistor_uncertainty)
            )
            if not reading.refused and reading.standard is not None:
                break
            _again(person, step, reading.refused[0])
            level = order.level_dbfs
        jig = with_reading(jig, step, reading.standard, order.resistor_ohm, order.resistor_uncertainty)
        readings.append((step, reading))
        person.took(step, reading)
    assert level is not None
    checked = None
    while order.check_ohm is not None and checked is None:
        person.connect(None)
        recording = _recorded(device, order, level, watch, clock)
        problems = recording.refused if isinstance(recording, Reading) else tuple(sample_problems(recording))
        if isinstance(recording, Reading) or problems:
            _again(person, None, problems[0])
            continue
        checked = _checked(recording, jig, order)
        if abs(checked.error) > 3.0 * checked.allowed:
            _again(person, None, _off(checked))
            checked = None
    return Calibrated(jig, tuple(readings), checked, level)


def uncertainty(jig: Jig, ohm: float) -> float:
    """Return how far so many ohms may be off at 40 Hz by what is unknown of the jig: relative, 95 %."""
    share = ohm / (ohm + jig.reference_ohm)
    ratio = share if jig.wiring == "divider" else jig.reference_ohm / ohm
    hz = np.array([40.0])
    curve = impedance_curve(Ratio(hz, np.array([ratio + 0j]), np.zeros(1), np.ones(1)), jig)
    variance = float(curve.sigma_ohm[0] ** 2)
    if curve.jig_slopes_ohm is not None:
        variance += float(np.sum(np.abs(curve.jig_slopes_ohm[:, 0]) ** 2))
    return 1.96 * float(np.sqrt(variance) / np.abs(curve.impedance_ohm[0]))


def save(jig: Jig, path: Path, device: str, now: datetime) -> Path | None:
    """Write jig.toml and return under which name the one that was there is kept, None where there was none."""
    kept = keep_old(path)
    write_jig(path, jig, now, device)
    return kept


def _again(person: Person, step: Step | None, problem: Problem) -> None:
    if not person.refused(step, problem):
        where = "second resistor" if step is None else NAMES[step]
        raise RecordingFault(
            problem.problem,
            f"calibration, {where}",
            "a reading of that load",
            problem.detail.rstrip("."),
            problem.remedy,
        )


def _recorded(
    device: SoundDevice,
    order: Order,
    level_dbfs: float,
    watch: Watcher | None,
    clock: Callable[[], float],
) -> Recording | Reading:
    """Return what a sweep brought in, or a reading that tells why it is of no use."""
    sweep = Sweep(START_HZ, STOP_HZ, order.seconds, begins_s=SILENCE_S, fade_s=FADE_S)
    for tries_left in reversed(range(LOST_TRIES)):
        taken = take(device, sweep, order.rate_hz, level_dbfs, watch=watch, clock=clock)
        problem = _lost(taken)
        if problem is not None and (problem.problem != "dropout" or not tries_left):
            return Reading(None, None, 0.0, 0.0, (problem,))
        if problem is None:
            break
    return Recording(taken.channels, taken.rate_hz, origin=Origin(sweep=taken.sweep, level_dbfs=level_dbfs))


def _lost(taken: Taken) -> Problem | None:
    """Return what the device itself tells of a take that cannot be used."""
    if taken.delay_s is None:
        return Problem(
            "too_quiet",
            "Nothing is heard of the sweep in either channel.",
            "Check that the amplifier is on and turned up a little, that input 1 is on its output and that the right "
            "device is chosen, and measure again.",
        )
    remedy = "Close other programs, use a larger buffer or another USB socket, and measure again."
    if taken.silent_from_s is not None:
        return Problem(
            "dropout",
            f"From {taken.silent_from_s:.2f} s on the device delivered zeros: samples were lost.",
            remedy,
        )
    flag = next((flag for flag in taken.flags if flag.in_sweep), None)
    if flag is not None:
        said = flag.flag.replace("_", " ")
        return Problem(
            "dropout", f"At {flag.at_s:.2f} s the device reports an {said}: samples were lost.", remedy
        )
    return None


def _checked(recording: Recording, jig: Jig, order: Order) -> Checked:
    assert order.check_ohm is not None
    curve = impedance_curve(measure_ratio(recording).ratio, jig)
    inside = (curve.frequency_hz >= BAND_HZ[0]) & (curve.frequency_hz <= BAND_HZ[1])
    share = curve.impedance_ohm[inside] / order.check_ohm
    tolerance = 1.96 * order.resistor_uncertainty
    return Checked(
        ohm=order.check_ohm,
        measured_ohm=order.check_ohm * float(np.median(np.abs(share))),
        worst=float(np.max(np.abs(share - 1.0))),
        degrees=float(np.max(np.abs(np.degrees(np.angle(share))))),
        allowed=float(np.hypot(tolerance, uncertainty(jig, order.check_ohm))),
    )


def _off(checked: Checked) -> Problem:
    return Problem(
        "wrong_reference",
        f"The second resistor of {checked.ohm:g} ohm reads {checked.measured_ohm:.3g} ohm, "
        f"{100.0 * checked.error:+.1f} %; {100.0 * checked.allowed:.1f} % would be usual.",
        "Check both resistors with a multimeter and that the clips sit well; measure again, or calibrate again from "
        "the start.",
    )
