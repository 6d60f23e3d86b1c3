"""What the microphone tells beside the verdict, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from sealtune.physics.near_field import openings
from sealtune.records.design import Design
from sealtune.records.fit import BoxFit
from sealtune.records.near_field import Missing, NearField, SideNoise

MOST_MISSING = 2
EXCESS_DB = 3.0
"""A microphone a fifth of the radius away loses 1.7 dB, and a second driver beside the first adds up to 2."""


def near_field_notes(near: NearField, fit: BoxFit | None, design: Design | None) -> tuple[str, ...]:
    """Return what is worth saying, each a sentence or two; fit and design None where there is none."""
    notes = [*_tuning(near, fit), *noise_words(near.noises), *_levels(near)]
    if near.cone is not None and near.mouth is not None and (design is None or openings(design) is None):
        lacking = "a design with the driver's sd_cm2 and the vent"
        notes.append(f"Cone and mouth cannot be added up to the cabinet's sound: that needs {lacking}.")
    worst = sorted(near.missing, key=lambda one: -abs(one.difference_db))[:MOST_MISSING]
    notes += [missing_words(one, judged=fit is not None) for one in sorted(worst, key=lambda one: one.hz)]
    if near.not_searched:
        roles = " and ".join(near.not_searched)
        notes.append(
            f"Rattles and blowing were not looked for in {roles}: the recording does not say which sweep was played. "
            "Recordings made by sealtune capture do."
        )
    if near.polarity is not None and near.polarity.word == "unclear":
        notes.append("The polarity is not clear from the cone's recording: bring the microphone closer.")
    return tuple(notes)


def _tuning(near: NearField, fit: BoxFit | None) -> list[str]:
    if near.tuning_hz is None:
        if near.cone is not None and near.mouth is not None:
            return [
                "Cone and mouth do not go together as those of one vented box do, so the microphone tells no tuning: "
                "see that both are of this cabinet, and that the microphone stood in the middle of cone and mouth."
            ]
        return []
    witnessed, excess_db = near.tuning_hz, near.mouth_excess_db
    if excess_db is not None and abs(excess_db) > EXCESS_DB:
        louder, far = ("louder", "the cone") if excess_db > 0.0 else ("softer", "the mouth")
        return [
            f"The mouth was recorded about {abs(excess_db):.0f} dB {louder} against the cone than their areas say: "
            f"the microphone's gain was changed in between, or it stood too far from {far}. Its tuning, "
            f"{witnessed.value:.1f} Hz, is not to be trusted then; record both again with one gain."
        ]
    told = f"{witnessed.value:.1f} Hz ({witnessed.low:.1f} to {witnessed.high:.1f})"
    if near.agrees is None or fit is None:
        return [f"By the microphone alone the box is tuned to {told}."]
    if near.agrees:
        return []
    return [
        f"The microphone disagrees: by cone and mouth alone the box is tuned to {told}, by the impedance to "
        f"{fit.tuning_hz.value:.1f} Hz. One of the recordings is of another cabinet or of another state of this one, "
        "or the microphone was not in the middle of cone and mouth."
    ]


def _levels(near: NearField) -> list[str]:
    """Return how rattles and blowing change with the level."""
    told = []
    for other in near.other_levels:
        softer = "softer" if other.level_db < 0.0 else "louder"
        played = f"{abs(other.level_db):.0f} dB {softer} ({other.file})"
        for kind, words in (("rattle", "the rattle"), ("blowing", "the blowing of the vent")):
            now = [noise for noise in near.noises if noise.kind == kind and noise.role == other.role]
            then = [noise for noise in other.noises if noise.kind == kind]
            if now and not then:
                told.append(f"Played {played}, {words} is gone: it comes with the travel.")
            elif then and not now:
                told.append(f"Played {played}, {words} is heard: it comes with the travel.")
            elif now and then:
                shares = [100.0 * max(one.share for one in noises) for noises in (then, now)]
                told.append(
                    f"Played {played}, {words} has {shares[0]:.2g} % of the sound, not {shares[1]:.2g} %."
                )
    return told


def noise_summary(noises: Sequence[SideNoise]) -> str:
    """Return in a few words that something rattles or blows, "" where nothing does."""
    words = {"rattle": "something rattles", "blowing": "the vent blows"}
    told = []
    for kind, text in words.items():
        alike = [noise for noise in noises if noise.kind == kind]
        if alike:
            low, high = min(one.low_hz for one in alike), max(one.high_hz for one in alike)
            told.append(f"{text} at {low:.0f} to {high:.0f} Hz")
    return " and ".join(told)


def noise_words(noises: Sequence[SideNoise]) -> list[str]:
    """Return rattles and blowing vents in words, with what to do; for each kind what is heard and what is measured."""
    told = []
    by_voltage = [noise for noise in noises if noise.role == "open"]
    noises = [noise for noise in noises if noise.role != "open"]
    if by_voltage:
        low, high = min(one.low_hz for one in by_voltage), max(one.high_hz for one in by_voltage)
        share = 100.0 * max(one.share for one in by_voltage)
        told.append(
            f"Something rattles at the driver: the voltage across the box shows blows in each period while {low:.0f} "
            f"to {high:.0f} Hz are played (at least {share:.2g} % of it). Play such a tone softly and listen: is the "
            "flange loose, does a lead touch the cone, does the coil scrape?"
        )
    for kind in ("rattle", "blowing"):
        alike = [noise for noise in noises if noise.kind == kind]
        if not alike:
            continue
        places = [
            words for role, words in (("cone", "before the cone"), ("mouth", "in the mouth"))
            if any(noise.role == role for noise in alike)
        ]  # fmt: skip
        low, high = min(one.low_hz for one in alike), max(one.high_hz for one in alike)
        share = 100.0 * max(one.share for one in alike)
        heard = f"{' and '.join(places)}, while {low:.0f} to {high:.0f} Hz are played"
        amount = f"at least {share:.2g} % of the sound"
        if kind == "blowing":
            told.append(
                f"The vent blows: {heard}, a hiss swells twice in each period ({amount}). Round its edges or play "
                "softer; a wider vent blows less."
            )
        else:
            told.append(
                f"Something rattles: {heard}, it is hit once in each period ({amount}). Press on flange, terminal "
                "plate, grille and dust cap, one after the other, while such a tone plays softly."
            )
    return told


def missing_words(missing: Missing, *, judged: bool = True) -> str:
    """Return what is missing in a band and why; judged: whether the impedance could be."""
    less = missing.difference_db < 0.0
    amount = (
        f"{abs(missing.difference_db):.1f} dB {'less' if less else 'more'} than designed at {missing.hz:g} Hz"
    )
    shares = [f"{share:+.1f} dB by {name}" for name, share in missing.shares]
    if not shares:
        why = "nothing that the impedance shows explains it" if judged else "the impedance does not tell why"
        return f"By the microphone the cabinet gives {amount}; {why}."
    left = f"; {missing.open_db:+.1f} dB stay open" if abs(missing.open_db) >= 0.5 else ""
    return f"By the microphone the cabinet gives {amount}: {', '.join(shares)}{left}."
