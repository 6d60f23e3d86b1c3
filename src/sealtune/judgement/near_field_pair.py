"""Two cabinets side by side, as the microphone has them."""

from __future__ import annotations

from collections.abc import Sequence
from math import log, sqrt
from typing import Literal

import numpy as np

from sealtune.analysis.intervals import COVERAGE
from sealtune.records.near_field import NearField, NearFieldPair

MATCH_DB = 1.0
"""Loudspeakers of a pair may differ by this much [ITUBS1116, from memory; there above 250 Hz]."""

SUM_SPREAD_DB = 0.14
"""Standard deviation of a third octave of the acoustic sum: on virtual cabinets 95 % lie within 0.28 dB."""

DB = 20.0 / log(10.0)


def near_field_pair(names: tuple[str, str], first: NearField, second: NearField) -> NearFieldPair:
    """Return how two cabinets differ by the microphone.

    names: of the cabinets, for the sentences
    """
    both = (first, second)
    ways = [near.polarity.word if near.polarity is not None else "unclear" for near in both]
    polarity: Literal["alike", "opposite", "unclear"] = "unclear"
    if set(ways) <= {"normal", "reversed"}:
        polarity = "alike" if ways[0] == ways[1] else "opposite"
    bands: list[tuple[float, float]] = []
    apart = None
    if first.sound is not None and second.sound is not None:
        other = {band.hz: band.level_db for band in second.sound.bands}
        bands = [(band.hz, band.level_db - other[band.hz]) for band in first.sound.bands if band.hz in other]
        apart = first.sound.common_db - second.sound.common_db
    tuning = tuning_spread = None
    if first.tuning_hz is not None and second.tuning_hz is not None:
        tuning = 100.0 * (first.tuning_hz.value / second.tuning_hz.value - 1.0)
        halves = [log(one.high / one.low) / 2.0 for one in (first.tuning_hz, second.tuning_hz)]
        tuning_spread = 100.0 * sqrt(sum(half**2 for half in halves))
    within_db = COVERAGE * sqrt(sum(_spread_db(near) ** 2 for near in both)) if bands else None
    words = _words(names, both, ways, bands, polarity)
    return NearFieldPair(polarity, tuple(bands), apart, tuning, words, within_db, tuning_spread)


def _spread_db(near: NearField) -> float:
    """Return the standard deviation of a third octave of the sum: of the method, and of the noise of either reading."""
    readings = [reading for reading in (near.cone, near.mouth) if reading is not None]
    noise = [DB * float(np.median(reading.sigma / np.abs(reading.value))) for reading in readings]
    return sqrt(SUM_SPREAD_DB**2 + sum(one**2 for one in noise))


def _words(
    names: tuple[str, str], both: tuple[NearField, NearField], ways: Sequence[str], bands: list[tuple[float, float]],
    polarity: str,
) -> tuple[str, ...]:  # fmt: skip
    told = []
    if polarity == "opposite":
        wrong = names[ways.index("reversed")]
        told.append(
            f"The drivers move against each other: {wrong} is connected the wrong way round, and together the pair has "
            "no bass. Swap the two leads there."
        )
    bass = [(hz, difference) for hz, difference in bands if hz <= 200.0]
    if bass:
        hz, difference = max(bass, key=lambda band: abs(band[1]))
        if abs(difference) >= MATCH_DB:
            softer, louder = names if difference < 0.0 else names[::-1]
            told.append(f"At {hz:g} Hz {softer} plays {abs(difference):.1f} dB softer than {louder}.")
    for kind, words in (("rattle", "rattles"), ("blowing", "blows in its vent")):
        having = [any(noise.kind == kind for noise in near.noises) for near in both]
        if having[0] != having[1]:
            one, other = names if having[0] else names[::-1]
            told.append(f"{one} {words}, {other} does not.")
    return tuple(told)
