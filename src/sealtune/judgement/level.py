"""Two recordings of one box at different levels: small signals must give the same box."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import log

import numpy as np

from sealtune.analysis.intervals import COVERAGE
from sealtune.judgement.two_takes import own_covariance
from sealtune.records.fit import BoxFit
from sealtune.records.verdict import Problem

LEAST_DB = 3.0
"""Levels nearer to each other than this count as the same."""

TOGETHER = timedelta(hours=1)
"""Takes further apart are before and after a rework, or a cold and a warm suspension."""

OWN_WAY = (0.002, 0.05, 0.03, 0.01)
"""Standard deviation of tuning, box Q, compliance ratio and f_S, in ln, from take to take at one level: the suspension
is warmer or older (common practice)."""

NAMES = (("tuning", "Hz", 1), ("box Q", "", 1), ("compliance ratio", "", 2), ("driver's resonance", "Hz", 1))


@dataclass(frozen=True)
class Take:
    """A recording as far as it matters here; level and time None where unknown.

    told: how it is called
    level_dbfs: of the sweep, full scale of the output 0
    """

    told: str
    fit: BoxFit
    level_dbfs: float | None
    recorded_at: datetime | None = None


def level_problem(older: Take, newer: Take) -> Problem | None:
    """Return the problem of two takes that differ in level and in what they say of the box; None where they agree.

    None too where the levels are unknown or alike, or the takes lie so far apart that something else may have changed.
    What the suspension does by itself from take to take counts along with what either fit leaves open.
    """
    if older.level_dbfs is None or newer.level_dbfs is None:
        return None
    if abs(newer.level_dbfs - older.level_dbfs) < LEAST_DB:
        return None
    times = older.recorded_at, newer.recorded_at
    if times[0] is not None and times[1] is not None and abs(times[1] - times[0]) > TOGETHER:
        return None
    apart = [
        (abs(log(now / before)) / (COVERAGE * deviation), row, before, now)
        for row, (before, now, deviation) in enumerate(_values(older.fit, newer.fit))
    ]
    most, row, before, now = max(apart)
    if most <= 1.0:
        return None
    name, unit, places = NAMES[row]
    words = " to ".join(f"{value:.{places}f}{' ' if unit else ''}{unit}" for value in (before, now))
    louder = "louder" if newer.level_dbfs > older.level_dbfs else "softer"
    return Problem(
        "level_dependent",
        f"Played {abs(newer.level_dbfs - older.level_dbfs):.0f} dB {louder} than {older.told}, the {name} moved from "
        f"{words}.",
        "If nothing was changed in between, judge by the softer one, and record a third softer still. If they "
        "still differ, look for a rubbing coil, a loose part, a gap that opens or a vent too narrow.",
        spoils=False,
    )


def _values(older: BoxFit, newer: BoxFit) -> list[tuple[float, float, float]]:
    """Return before, now and the standard deviation of ln of their ratio, for what NAMES lists."""
    own = [np.diag(own_covariance(fit)) for fit in (older, newer)]
    deviation = np.sqrt(own[0] + own[1] + 2.0 * np.square(OWN_WAY))
    pairs = [
        (before.value, now.value)
        for before, now in (
            (older.tuning_hz, newer.tuning_hz),
            (older.box_q, newer.box_q),
            (older.compliance_ratio, newer.compliance_ratio),
            (older.fs_hz, newer.fs_hz),
        )
    ]
    return [(before, now, float(one)) for (before, now), one in zip(pairs, deviation, strict=True)]
