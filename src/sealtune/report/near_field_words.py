"""What the microphone tells, in the words of the workshop: a line for the terminal, a table for the page."""

from __future__ import annotations

from sealtune.records.near_field import NearField, PolarityWord
from sealtune.records.verdict import Result
from sealtune.report.content import decimals_for, number, percent, sentence, span
from sealtune.report.numbers import Row

_POLARITY: dict[PolarityWord, str] = {
    "normal": "plus moves the cone outwards",
    "reversed": "plus moves the cone inwards: reversed",
    "contradictory": "cone and mouth contradict each other",
    "unclear": "not clear",
}


def near_field_words(near: NearField) -> str:
    """The near field in one or two sentences: tuning, polarity, the greatest difference, noises."""
    told = []
    if near.tuning_hz is not None:
        places = decimals_for(near.tuning_hz, 1)
        agrees = {True: ", as by the impedance", False: ", not as by the impedance", None: ""}[near.agrees]
        told.append(
            f"cone and mouth tell {number(near.tuning_hz.value, places)} Hz ({span(near.tuning_hz, places)}){agrees}"
        )
    if near.polarity is not None:
        told.append(_POLARITY[near.polarity.word])
    worst = max(near.missing, key=lambda one: abs(one.difference_db), default=None)
    if worst is not None:
        less = "less" if worst.difference_db < 0.0 else "more"
        told.append(f"{number(abs(worst.difference_db), 1)} dB {less} than designed at {worst.hz:g} Hz")
    elif near.sound is not None and near.sound.designed_db is not None:
        told.append("the bass is there, within 1 dB of the design")
    kinds = {noise.kind for noise in near.noises}
    told += [
        words
        for kind, words in (("rattle", "something rattles"), ("blowing", "the vent blows"))
        if kind in kinds
    ]
    return "; ".join(told) or "the recordings tell nothing"


def near_field_rows(near: NearField) -> tuple[Row, ...]:
    """What was found by the microphone, how far it is certain, and what it means."""
    rows = []
    if near.tuning_hz is not None:
        places = decimals_for(near.tuning_hz, 2)
        meaning = {
            True: "the impedance agrees",
            False: "the impedance disagrees",
            None: "nothing to compare with",
        }[near.agrees]
        rows.append(
            Row(
                "Tuning by cone and mouth alone",
                f"{number(near.tuning_hz.value, places)} Hz",
                span(near.tuning_hz, places) + " Hz",
                meaning,
                near.agrees is False,
            )
        )
    if near.null_hz is not None and near.crosstalk is not None:
        rows.append(
            Row(
                "Minimum of the cone's sound",
                f"{number(near.null_hz, 1)} Hz",
                "",
                f"pulled away from the tuning: {percent(near.crosstalk)} of the vent's sound is heard at the cone",
            )
        )
    if near.polarity is not None:
        bad = near.polarity.word in ("reversed", "contradictory")
        rows.append(Row("Polarity", near.polarity.word, "", _POLARITY[near.polarity.word], bad))
    if near.sound is not None:
        rows.append(
            Row(
                "Near field tells the far one up to",
                f"{number(near.sound.limit_hz, 0)} Hz",
                "",
                "above, the cone is no longer small against the wave",
            )
        )
    rows += [
        Row(
            f"Coherence with the voltage, {reading.role}",
            f"{number(reading.bass_coherence, 3)}",
            "",
            "the least from 20 to 200 Hz; 1 where nothing but the sweep is heard",
        )
        for reading in (near.cone, near.mouth)
        if reading is not None and reading.bass_coherence is not None
    ]
    rows += [
        Row(
            f"Second and third harmonic, {'voltage across the box' if role == 'open' else role}",
            f"{number(100.0 * share, 1)} %",
            "",
            "the higher one, within an octave of the tuning",
        )
        for role, share in near.distortion
    ]
    return tuple(rows)


def near_field_note(result: Result) -> str:
    """How the figure is to be read."""
    near = result.near_field
    if near is None or near.sound is None:
        return ""
    removed = (
        "the mouth's sound at the cone's microphone and the room's answer are taken off"
        if near.sound.by_model
        else "crosstalk is left in, since no model explains both recordings"
    )
    note = (
        f"Cone plus mouth, weighted by their areas, is what the cabinet sends out in half space; {removed}. Levels are "
        "relative: both sides share theirs in the upper bands."
    )
    if not near.calibrated:
        note += " The microphone counts as even; with --microphone FILE its own response is taken off."
    return sentence(note)
