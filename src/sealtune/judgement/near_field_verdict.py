"""What the microphone adds to the verdict: polarity as a finding, the rest as remarks."""

from __future__ import annotations

from dataclasses import replace

from sealtune.judgement.near_field_words import near_field_notes, noise_summary
from sealtune.records.near_field import NearField
from sealtune.records.verdict import Finding, Result

SURE = 0.97
UNSURE = 0.5


def with_near_field(result: Result, near: NearField) -> Result:
    """Return the result with what the microphone tells.

    A reversed driver needs rework, however well the box is made; so does a cabinet whose cone and mouth contradict
    each other, since its polarity is not known then.
    """
    notes = near_field_notes(near, result.fit, result.design)
    result = replace(result, near_field=replace(near, notes=notes))
    found = _polarity_finding(near)
    if found is None:
        noisy = noise_summary(near.noises)
        if noisy and result.verdict == "good":
            result = replace(result, summary=f"{result.summary} But {noisy}.")
        return result
    findings = tuple(sorted((*result.findings, found), key=lambda one: -one.probability))
    if result.verdict != "good":
        return replace(result, findings=findings)
    sound = f"The box itself is as it should be: {result.summary.removeprefix('Good: ')}"
    reason = (
        "the driver is connected the wrong way round"
        if near.polarity is not None and near.polarity.word == "reversed"
        else "cone and mouth contradict each other"
    )
    return replace(result, findings=findings, verdict="rework", summary=f"Rework: {reason}. {sound}")


def _polarity_finding(near: NearField) -> Finding | None:
    if near.polarity is None:
        return None
    if near.polarity.word == "reversed":
        return Finding(
            "polarity",
            SURE,
            "A positive voltage moves the cone inwards: the sound at the cone is upside down against the voltage.",
            "Swap the two leads at the driver, or inside the terminal plate.",
            "Hold a 1.5 V cell to the terminals for a moment, plus to red: the cone must move outwards. A microphone "
            "that turns the sign shows the same on every cabinet.",
        )
    if near.polarity.word == "contradictory":
        return Finding(
            "polarity",
            UNSURE,
            "The mouth's sound has the wrong sign against the cone's: below the tuning they must be opposite. Between "
            "the two recordings the leads, or the microphone's, were swapped.",
            "Record cone and mouth again, one after the other, without touching the leads.",
            "Hold a 1.5 V cell to the terminals for a moment, plus to red: the cone must move outwards.",
        )
    return None
