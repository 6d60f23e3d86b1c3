"""How well two cabinets match, in a sentence or two."""

from __future__ import annotations

from sealtune.judgement.judge import SOUND
from sealtune.records.pair import SIDES, BandDifference, Difference
from sealtune.records.verdict import Result

HEARD_FROM_DB = 1.0
"""A level difference of the boxes from which on they do not match: hardly heard (common practice), and what [BS1116]
allows between loudspeakers from 250 Hz to 2 kHz, from memory; no standard says it of the bass."""

DRIVERS_APART_DB = 3.0
"""A level difference from which on two do not match though their boxes do: clearly heard (common practice). Drivers of
one type scatter by less."""

LEAK_TOLD = 1.0 - SOUND
"""Probability from which on a leak is told by the mate, as a cabinet alone is not called good with more."""


def summary_of(
    left: Result,
    right: Result,
    tuning: Difference | None,
    tolerance: float,
    bands: tuple[BandDifference, ...],
    leaks: tuple[float, float] | None,
) -> str:
    """Return whether the two match, and by what."""
    if tuning is None:
        spoilt = [
            side
            for side, one in zip(SIDES, (left, right), strict=True)
            if one.verdict == "remeasure" or one.fit is None
        ]
        which = "both cabinets" if len(spoilt) == 2 else f"the {spoilt[0]} cabinet"
        if "remeasure" in (left.verdict, right.verdict):
            return f"Not compared: measure {which} again."
        return f"Not matched: the curve of {which} does not show the two peaks of a vented box."
    percent = 100.0 * abs(tuning.left / tuning.right - 1.0)
    apart = f"the tunings lie {_apart(tuning)}, {percent:.1f} % where {100.0 * tolerance:g} % are allowed"
    level = _level_words(bands)
    off = percent > 100.0 * tolerance
    suspects = [
        side
        for side, one, share in zip(SIDES, (left, right), leaks or (0.0, 0.0), strict=True)
        if share >= LEAK_TOLD
    ]
    higher = "right" if tuning.right > tuning.left else "left"
    reasons = []
    if suspects:
        sure = min(share for share in leaks or () if share >= LEAK_TOLD)
        hedge = "" if sure >= 0.8 else "probably " if sure >= 0.5 else "perhaps "
        which = f"both {hedge}leak" if len(suspects) == 2 else f"the {suspects[0]} one {hedge}leaks"
        by_mate = all((left, right)[SIDES.index(side)].verdict == "good" for side in suspects)
        reasons.append(f"{which}{', which only its mate tells' if by_mate else ''}")
    if off and suspects == [higher]:
        reasons.append("is tuned higher")
    elif off:
        reasons.append(f"the {higher} one is tuned higher")
    worst = _worst(bands, of_boxes=True)
    if worst is not None and abs(worst.boxes_db.value) > HEARD_FROM_DB and not off:
        reasons.append(f"the boxes alone differ by {abs(worst.boxes_db.value):.1f} dB at {worst.hz:g} Hz")
    widest = _worst(bands)
    if not reasons and widest is not None and abs(widest.difference_db.value) > DRIVERS_APART_DB:
        reasons.append("drivers or volumes differ, which is clearly heard")
    if reasons:
        return f"Not matched: {' and '.join(reasons)}; {apart}; {level}."
    return f"Matched: {apart}; {level}."


def _apart(tuning: Difference) -> str:
    size = abs(tuning.difference.value)
    low, high = sorted((abs(tuning.difference.low), abs(tuning.difference.high)))
    if not tuning.certain:
        return f"within {high:.2f} Hz of each other"
    return f"{size:.2f} Hz apart ({low:.2f} to {high:.2f})"


def _worst(bands: tuple[BandDifference, ...], *, of_boxes: bool = False) -> BandDifference | None:
    heard = [band for band in bands if band.heard]
    return max(
        heard,
        key=lambda band: abs(band.boxes_db.value if of_boxes else band.difference_db.value),
        default=None,
    )


def _level_words(bands: tuple[BandDifference, ...]) -> str:
    worst = _worst(bands)
    if worst is None:
        return "nothing is heard of it in the bass"
    size = abs(worst.difference_db.value)
    if size < HEARD_FROM_DB:
        return f"no third octave differs by more than {size:.1f} dB, which is not heard"
    side = "left" if worst.difference_db.value > 0.0 else "right"
    words = f"at {worst.hz:g} Hz the {side} one plays {size:.1f} dB louder"
    if abs(worst.boxes_db.value) < 0.5 * size:
        return f"{words}, by its driver more than by its box"
    return words


def notes_of(*, joint: bool, same_jig: bool, other_day: bool, dated: bool) -> tuple[str, ...]:
    """Return what the comparison rests on."""
    notes = [
        "Both curves were fitted together; what both share drops out of the differences."
        if joint
        else "The two could not be fitted together (a leak, a crossover or a wall in one of them); the differences "
        "count as if the errors of the two were independent."
    ]
    if not same_jig:
        notes.append("The two were measured through different jigs; resistances differ by that too.")
    if other_day:
        notes.append("The two were measured hours apart; the air's temperature may have moved the tuning.")
    elif not dated:
        notes.append("No dates are known; the two count as measured in the same air.")
    return tuple(notes)
