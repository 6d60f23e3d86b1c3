"""One capture: find the level, record sweeps until they are enough, keep them, judge them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sealtune import __version__
from sealtune.analysis.curve_faults import companion_problems, curve_problems
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.sample_faults import sample_problems
from sealtune.capture.loudness import Loudness, Probe, find_loudness
from sealtune.capture.take import Taken, Watcher, take
from sealtune.errors import RecordingFault
from sealtune.files.cabinet_folder import find_recordings
from sealtune.files.take_file import TakeFile
from sealtune.jobs.capture_order import CaptureOrder
from sealtune.jobs.check import check
from sealtune.jobs.devices import clock_of, connect, is_virtual
from sealtune.jobs.recordings import measured_recording
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.interval import Interval
from sealtune.records.recording import Origin, Recording, Sweep
from sealtune.records.verdict import Problem, Result

Reals = NDArray[np.float64]

MOST_SWEEPS = 5
"""Noise falls with the root of the count; what five do not settle wants a quieter room or another jig."""

NARROWS = 0.9
"""A further sweep that leaves the interval wider than this share of what it was has nothing left to give."""

NOISE_ENOUGH = 0.003
"""Noise over |Z|, median from 8 to 300 Hz, that ends the repeats of recordings which have no tuning of their own."""

MOST_FLAGS_NOTED = 5

Why = Literal["asked", "enough", "no narrower", "most", "spoilt"]


@dataclass(frozen=True)
class Listener:
    """Who is told of the progress; each is called in the thread of the capture.

    probe: a short sweep at a level is over
    loudness: the level is found
    sweep: the sweep of a number begins
    watch: how far its take is
    weighed: what the recording tells so far
    """

    probe: Callable[[Probe], None] = lambda _: None
    loudness: Callable[[Loudness], None] = lambda _: None
    sweep: Callable[[int], None] = lambda _: None
    watch: Watcher = lambda _done, _total: None
    weighed: Callable[[Weighed], None] = lambda _: None
    kept: Callable[[Path], None] = lambda _: None


@dataclass(frozen=True)
class Weighed:
    """What the sweeps so far tell together.

    problems: of the recording
    tuning: None where the recording has none of its own or it is spoilt
    noise: of the curve over its magnitude, None where there is no curve
    """

    problems: tuple[Problem, ...]
    tuning: Interval | None
    noise: float | None

    @property
    def spoilt(self) -> bool:
        """Return whether it must be recorded again."""
        return any(problem.spoils for problem in self.problems)

    @property
    def only_noisy(self) -> bool:
        """Return whether nothing but noise spoils it, which further sweeps mend."""
        return self.spoilt and all(problem.problem == "noisy" for problem in self.problems if problem.spoils)


@dataclass(frozen=True)
class Captured:
    """What a capture brought.

    path: the recording, in its place
    sweeps: how many it holds
    why: what ended the repeats
    flags: what the device said, in words, with the moments
    weighed: the recording by itself
    result: the verdict on the cabinet, None where that needs another recording first
    """

    path: Path
    sweeps: int
    why: Why
    flags: tuple[str, ...]
    weighed: Weighed
    result: Result | None


def capture(order: CaptureOrder, listener: Listener, now: datetime) -> Captured:
    """Record one role of a cabinet, keep it in the cabinet's folder, and judge it.

    now: date and time of the take
    What ends it early leaves the samples that came in, as a file that is cut short and says so.
    Raises DeviceFault where the device fails, UsageFault where the disk does, RecordingFault where no sweep arrives.
    """
    connect(order.device, order.role)
    level_dbfs = _level(order, listener)
    virtual = is_virtual(order.options.device)
    origin = Origin(
        role=order.role, jig=order.jig, sweep=order.sweep, level_dbfs=level_dbfs,
        device=_device_words(order), recorded_at=now, program=f"sealtune {__version__}",
        simulated=virtual, note=f"virtual bench, {order.options.device}" if virtual else None,
    )  # fmt: skip
    takes: list[Taken] = []
    earlier: Weighed | None = None
    file = TakeFile(order.folder, origin, order.rate_hz)
    try:
        with file:
            while True:
                listener.sweep(len(takes) + 1)
                file.describe(replace(origin, sweep=_played(order, takes, len(takes) + 1)))
                takes.append(
                    take(
                        order.device, order.sweep, order.rate_hz, level_dbfs,
                        keep=file.keep, watch=listener.watch, clock=clock_of(order.device),
                    )
                )  # fmt: skip
                recorded = _recorded(order, origin, takes)
                weighed = weigh(order, recorded)
                listener.weighed(weighed)
                why = _why_no_more(order, len(takes), weighed, earlier)
                if why is not None:
                    break
                earlier = weighed
            path = file.finish(recorded.origin)
    except BaseException:
        if file.path is not None:
            listener.kept(file.path)
        raise
    result = None
    if "open" in find_recordings(order.folder):
        result = check(order.folder, replace(order.options.check, role=None))
    return Captured(path, len(takes), why, _flag_words(takes), weighed, result)


def weigh(order: CaptureOrder, recording: Recording) -> Weighed:
    """Return what a recording tells by itself."""
    if order.jig is None:
        return Weighed(tuple(sample_problems(recording)), None, None)
    found = measured_recording(recording, order.jig)
    curve = found.curve
    if curve is None or any(problem.spoils for problem in found.problems):
        return Weighed(found.problems, None, None)
    if order.role != "open":
        return Weighed((*found.problems, *companion_problems(curve)), None, _noise(curve))
    marks = find_landmarks(curve)
    fit = fit_vented_box(curve, marks, order.design)
    problems = (*found.problems, *curve_problems(curve, marks))
    return Weighed(problems, None if fit is None else fit.tuning_hz, _noise(curve))


def relative_half(interval: Interval) -> float:
    """Return half the width of an interval over its value."""
    return (interval.high - interval.low) / 2.0 / interval.value


def _level(order: CaptureOrder, listener: Listener) -> float:
    if order.options.level_dbfs is not None:
        return order.options.level_dbfs
    found = find_loudness(
        order.device, order.rate_hz, order.most_dbfs, told=listener.probe, clock=clock_of(order.device)
    )
    listener.loudness(found)
    if found.because == "unheard":
        where = " and ".join(f"channel {index}" for index in found.last.unheard)
        raise RecordingFault(
            "channel_missing",
            str(order.folder),
            f"the sweep in both channels, at {found.last.level_dbfs:.0f} dB of full scale",
            f"nothing of it in {where}",
            "Check that the amplifier is on and turned up a little, that the clips sit, and that each goes to its own "
            "input; then capture again. Nothing louder was played.",
        )
    return found.level_dbfs


def _played(order: CaptureOrder, takes: list[Taken], sweeps: int) -> Sweep:
    """Return the sweeps that the file holds or is to hold, takes being one behind the other."""
    if not takes or sweeps == 1:
        return takes[0].sweep if takes else order.sweep
    first = takes[0]
    pause = first.channels.shape[0] - first.frames_of_sweep
    return replace(first.sweep, repeats=sweeps, pause_s=pause / first.rate_hz)


def _recorded(order: CaptureOrder, origin: Origin, takes: list[Taken]) -> Recording:
    """Return what was recorded so far, as its file will hold it."""
    words = _flag_words(takes)
    said = f"the device said: {', '.join(words[:MOST_FLAGS_NOTED])}" if words else None
    if len(words) > MOST_FLAGS_NOTED:
        said = f"{said} and {len(words) - MOST_FLAGS_NOTED} more"
    note = "; ".join(part for part in (origin.note, said) if part) or None
    known = replace(origin, sweep=_played(order, takes, len(takes)), note=note)
    channels = np.concatenate([one.channels for one in takes]).astype(np.float32).astype(np.float64)
    return Recording(np.asfortranarray(channels), order.rate_hz, origin=known)


def _why_no_more(order: CaptureOrder, sweeps: int, weighed: Weighed, earlier: Weighed | None) -> Why | None:
    """Return what ends the repeats, None to go on."""
    if order.options.repeats is not None:
        return "asked" if sweeps >= order.options.repeats else None
    if weighed.only_noisy:
        return "most" if sweeps >= MOST_SWEEPS else None
    if weighed.spoilt or order.jig is None:
        return "spoilt" if weighed.spoilt else "enough"
    if weighed.tuning is not None:
        half = relative_half(weighed.tuning)
        if half <= order.enough:
            return "enough"
        if (
            earlier is not None
            and earlier.tuning is not None
            and half > NARROWS * relative_half(earlier.tuning)
        ):
            return "no narrower"
    elif weighed.noise is not None and weighed.noise <= NOISE_ENOUGH:
        return "enough"
    return "most" if sweeps >= MOST_SWEEPS else None


def _noise(curve: ImpedanceCurve) -> float:
    inside = (curve.frequency_hz >= 8.0) & (curve.frequency_hz <= 300.0)
    share = curve.sigma_ohm / np.abs(curve.impedance_ohm)
    return float(np.median(share[inside] if inside.any() else share))


def _device_words(order: CaptureOrder) -> str:
    info = order.device.info
    return f"{info.name}, {info.host}, {order.rate_hz:.0f} Hz"


def _flag_words(takes: list[Taken]) -> tuple[str, ...]:
    """Return what the device said, with the moments in the file."""
    words, before_s = [], 0.0
    for one in takes:
        for flag in one.flags:
            where = "" if flag.in_sweep else " (in the silence)"
            words.append(f"{flag.flag.replace('_', ' ')} at {before_s + flag.at_s:.2f} s{where}")
        before_s += one.seconds
    return tuple(words)
