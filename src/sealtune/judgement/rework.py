"""After the rework: what changed since an older recording of the same box, and whether the remedy worked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.intervals import COVERAGE, SYSTEMATIC
from sealtune.design.terminals import effective_driver
from sealtune.judgement.resistance import LEADS_OHM, OWN_TAKE
from sealtune.judgement.rework_words import (
    Moved,
    Quantity,
    conclusion,
    reach_words,
    told_words,
    unmoved_words,
    without_numbers,
)
from sealtune.judgement.signs import MOUNTED_SHARE
from sealtune.judgement.two_takes import other_jig, own_covariance, weather
from sealtune.records.comparison import Change, Comparison
from sealtune.records.design import Climate, Design
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.verdict import Result

LEAST_AIR = 0.02
"""A smaller change of the volume of air is not worth a word."""

LEAST_FS = 0.08
"""A smaller relative change of the driver's resonance may be that of a suspension that is warm or played in."""

LEAST_Q = 0.05
"""A smaller relative change of box Q follows from any change of the tuning, and is not worth a word."""


def compared(
    before: Result,
    now: Result,
    verdict: Result | None = None,
    *,
    file: str = "an older recording",
    attempts: int = 1,
    passed_over: int = 0,
) -> Comparison:
    """Return what changed from one recording of the open vent to the next, and whether the remedy worked.

    before, now: both judged alone against the same design, so that like is held against like; neither spoilt
    verdict: the newest recording judged with all that goes with it; `now` if None
    attempts: recordings made since the fault was first named; says which joint comes next
    An error that both recordings share, of clock, reference and lumped vent (`intervals.SYSTEMATIC`), scales a change
    and does not make one. Noise, the circuit's own error and the jig's inputs count as if they were independent, which
    is more than they deserve where both were made alike. Added is what moves from day to day: the speed of sound
    by the climate's tolerance at either time, R_E by a few kelvin of the coil and by the clips.
    An open curve tells a leaking box less truly (`two_takes.LEAKING`), and that counts too. Damping material counts
    as air.
    """
    verdict = verdict or now
    fault = before.findings[0].fault if before.verdict == "rework" and before.findings else None
    if before.fit is None or now.fit is None:
        outcome, summary = without_numbers(before, now, verdict, fault)
        return Comparison(file, outcome, summary, passed_over=passed_over)
    design = now.design or before.design
    same_jig = before.jig_words == now.jig_words
    own = tuple(own_covariance(fit, one.leak) for one, fit in ((before, before.fit), (now, now.fit)))
    moved = _moved(before.fit, now.fit, own, design, same_jig=same_jig)
    if any(moved.way.values()):
        outcome, end = conclusion(moved, before, verdict)
        summary = f"{told_words(moved, now)}: {end}."
    else:
        outcome = "unchanged"
        summary = (
            f"Nothing changed beyond what the measurement can tell ({reach_words(moved)}): "
            f"{unmoved_words(before, verdict, fault, attempts)}."
        )
    return Comparison(
        file,
        outcome,
        summary,
        tuning_hz=moved.tuning,
        box_q=moved.box_q,
        compliance_ratio=moved.compliance_ratio,
        re_ohm=moved.re_ohm,
        air_share=moved.air,
        leak_probability=(before.leak.probability, now.leak.probability),
        leak_area_mm2=_areas(before.leak.area_mm2, now.leak.area_mm2),
        passed_over=passed_over,
    )


def _moved(
    before: BoxFit, now: BoxFit, own: Sequence[NDArray[np.float64]], design: Design | None, *, same_jig: bool
) -> Moved:
    """Return the changes by the two fits and the covariances of their own."""
    warmth = weather(Climate() if design is None else design.climate)
    first, second, third = (
        _difference(a, b, float(np.sqrt(own[0][row, row])), float(np.sqrt(own[1][row, row])), row, extra)
        for row, a, b, extra in (
            (0, before.tuning_hz.value, now.tuning_hz.value, warmth),
            (1, before.box_q.value, now.box_q.value, 0.0),
            (2, before.compliance_ratio.value, now.compliance_ratio.value, 0.0),
        )
    )
    jig = other_jig(same_jig=same_jig)
    ohm = now.re_ohm - before.re_ohm
    reach = COVERAGE * float(np.hypot(np.hypot(OWN_TAKE, jig) * now.re_ohm, LEADS_OHM))
    resistance = Change(before.re_ohm, now.re_ohm, Interval(ohm, ohm - reach, ohm + reach))
    # alpha f_S^2 goes as 1/(moving mass x volume): the suspension's age and warmth drop out
    slope = np.array([0.0, 0.0, -1.0, -2.0])
    logs = [np.log([1.0, 1.0, one.compliance_ratio.value, one.fs_hz.value]) for one in (before, now)]
    share = float(slope @ (logs[1] - logs[0]))
    spread = COVERAGE * float(np.sqrt(slope @ (own[0] + own[1]) @ slope))
    air = Interval(*(float(np.expm1(value)) for value in (share, share - spread, share + spread)))
    way: dict[Quantity, int] = {
        "tuning": _way(first.difference),
        "box Q": _way(second.difference) if abs(second.now / second.before - 1.0) > LEAST_Q else 0,
        "R_E": _way(resistance.difference),
        "air": _way(air) if abs(air.value) > LEAST_AIR else 0,
        "driver": _driver_way(design, before.fs_hz.value, now.fs_hz.value),
    }
    return Moved(first, second, third, resistance, air, (before.fs_hz.value, now.fs_hz.value), way)


def _driver_way(design: Design | None, before_hz: float, now_hz: float) -> int:
    """Return 1 where the driver's resonance came nearer to its data, -1 where it went away from them, else 0."""
    data_hz = None if design is None else effective_driver(design).fs_hz
    if data_hz is None or abs(np.log(now_hz / before_hz)) < LEAST_FS:
        return 0
    off = [abs(np.log(hz / (MOUNTED_SHARE * data_hz))) for hz in (before_hz, now_hz)]
    return 1 if off[1] < off[0] else -1


def _difference(before: float, now: float, first: float, second: float, row: int, extra: float) -> Change:
    """Return a change by the deviations of both logarithms, with what they share and what comes in between."""
    value = now - before
    reach = COVERAGE * float(
        np.sqrt(
            (before * first) ** 2 + (now * second) ** 2 + (SYSTEMATIC[row] * value) ** 2 + (now * extra) ** 2
        )
    )
    return Change(before, now, Interval(value, value - reach, value + reach))


def _way(change: Interval) -> int:
    return 0 if change.holds(0.0) else 1 if change.value > 0.0 else -1


def _areas(before: Interval | None, now: Interval | None) -> Change | None:
    """Return the change of the leak's area, both intervals taken as independent."""
    if before is None or now is None:
        return None
    value = now.value - before.value
    down = float(np.hypot(now.value - now.low, before.high - before.value))
    up = float(np.hypot(now.high - now.value, before.value - before.low))
    return Change(before.value, now.value, Interval(value, value - down, value + up))
