"""What the microphone tells beside the verdict, in sentences."""

from __future__ import annotations

from sealtune.records.fit import BoxFit
from sealtune.records.near_field import Missing, NearField, SideNoise

MOST_MISSING = 2
HEARD_SHARE = 1e-3


def near_field_notes(near: NearField, fit: BoxFit | None) -> tuple[str, ...]:
    """Return what is worth saying, each a sentence or two."""
    notes = [*_tuning(near, fit), *(noise_words(noise) for noise in near.noises)]
    worst = sorted(near.missing, key=lambda one: -abs(one.difference_db))[:MOST_MISSING]
    notes += [missing_words(one) for one in sorted(worst, key=lambda one: one.hz)]
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
    witnessed = near.tuning_hz
    told = f"{witnessed.value:.1f} Hz ({witnessed.low:.1f} to {witnessed.high:.1f})"
    if near.agrees is None or fit is None:
        return [f"By the microphone alone the box is tuned to {told}."]
    if near.agrees:
        return [f"The microphone agrees: by cone and mouth alone the box is tuned to {told}."]
    return [
        f"The microphone disagrees: by cone and mouth alone the box is tuned to {told}, by the impedance to "
        f"{fit.tuning_hz.value:.1f} Hz. One of the recordings is of another cabinet or of another state of this one, "
        "or the microphone was not in the middle of cone and mouth."
    ]


def noise_words(noise: SideNoise) -> str:
    """Return a rattle or a blowing vent in words, with what to do."""
    where = "before the cone" if noise.role == "cone" else "in the mouth"
    played = f"while {noise.low_hz:.0f} to {noise.high_hz:.0f} Hz are played"
    share = f"at least {100.0 * noise.share:.2g} % of the sound"
    if noise.kind == "blowing":
        return (
            f"The vent blows: {where}, {played}, a hiss swells twice in each period ({share}). Round its edges or play "
            "softer; a wider vent blows less."
        )
    return (
        f"Something rattles: {where}, {played}, it is hit once in each period ({share}). Press on flange, terminal "
        "plate, grille and dust cap, one after the other, while such a tone plays softly."
    )


def missing_words(missing: Missing) -> str:
    """Return what is missing in a band and why."""
    less = missing.difference_db < 0.0
    amount = (
        f"{abs(missing.difference_db):.1f} dB {'less' if less else 'more'} than designed at {missing.hz:g} Hz"
    )
    shares = [f"{share:+.1f} dB by {name}" for name, share in missing.shares]
    if not shares:
        return f"By the microphone the cabinet gives {amount}; nothing that the impedance shows explains it."
    left = f"; {missing.open_db:+.1f} dB stay open" if abs(missing.open_db) >= 0.5 else ""
    return f"By the microphone the cabinet gives {amount}: {', '.join(shares)}{left}."
