"""How well two cabinets match, for the terminal."""

from __future__ import annotations

from sealtune.records.interval import Interval
from sealtune.records.pair import Pair, QuantityName, Side
from sealtune.records.verdict import Result
from sealtune.report.content import clean, first_step, headline, number, percent, sentence, signed
from sealtune.report.cost_words import audible_words
from sealtune.report.text import LEAST_WIDTH, aligned, wrapped

_LABEL_COLUMNS = 11

MATCH_WORDS = {True: "MATCHED", False: "NOT MATCHED", None: "NOT COMPARED"}

QUANTITIES: dict[QuantityName, tuple[str, str, int]] = {
    "tuning_hz": ("Tuning", " Hz", 2),
    "box_q": ("Box Q", "", 1),
    "compliance_ratio": ("Compliance ratio", "", 3),
    "fs_hz": ("Driver f_S", " Hz", 2),
    "qms": ("Driver Q_MS", "", 2),
    "qes": ("Driver Q_ES", "", 3),
    "re_ohm": ("Driver R_E", " ohm", 2),
    "res_ohm": ("Driver R_ES", " ohm", 1),
}
"""Name, unit and decimals of each quantity."""


def pair_text(pair: Pair, *, width: int = 100) -> str:
    """Return the pair for a person at the bench: match first, both verdicts, what to do, the table of differences."""
    width = max(width, LEAST_WIDTH)
    blocks: list[tuple[str, str]] = [
        ("", f"{_names(pair)}: {sentence(match_words(pair))}"),
        ("", headline(pair.left)),
        ("", headline(pair.right)),
        *step_lines(pair),
        *_costs(pair),
    ]
    lines: list[str] = []
    for label, text in blocks:
        lines += _block(label, text, width)
    lines += table(pair)
    if pair.impedance is not None:
        lines += _block("Impedance", impedance_words(pair), width)
    if pair.leak_probability is not None:
        lines += _block("Leak", leak_words(pair), width)
    if sound := sound_words(pair):
        lines += _block("Sound", sound, width)
    for note in pair.notes:
        lines += _block("Note", note, width)
    return "\n".join(lines)


def table(pair: Pair) -> list[str]:
    """Return the differences line by line, with a mark where they are beyond the uncertainty."""
    if not pair.differences:
        return []
    rows = [("", "left", "right", "left less right", "95 % interval")]
    for one in pair.differences:
        name, unit, places = QUANTITIES[one.name]
        rows.append(
            (
                name,
                number(one.left, places) + unit,
                number(one.right, places) + unit,
                signed(one.difference.value, places),
                f"{span_words(one.difference, places)}{'  differs' if one.certain else ''}",
            )
        )
    return aligned(rows, left=(0, 4))


def span_words(interval: Interval, places: int) -> str:
    """Return the two ends of an interval of a difference, with their signs."""
    return f"{signed(interval.low, places)} to {signed(interval.high, places)}"


def impedance_words(pair: Pair) -> str:
    """Return how far the curves lie apart."""
    found = pair.impedance
    if found is None:
        return ""
    rms, most = found.rms_db, found.largest_db
    return (
        f"from {found.low_hz:.0f} to {found.high_hz:.0f} Hz {rms.value:.2f} dB apart in the root mean square "
        f"({rms.low:.2f} to {rms.high:.2f}), at most {abs(most.value):.2f} dB, at {found.at_hz:.1f} Hz "
        f"({span_words(most, 2)})"
    )


def leak_words(pair: Pair) -> str:
    """Return how probable a leak is in either, weighed together."""
    if pair.leak_probability is None:
        return ""
    left, right = (percent(each) for each in pair.leak_probability)
    return f"weighed together: left {left}, right {right}"


def sound_words(pair: Pair) -> str:
    """Return how the two differ by the microphone, empty without recordings of it."""
    near = pair.near_field
    if near is None:
        return ""
    told = list(near.words)
    if not told and near.bands:
        told.append("Close to cone and mouth the two sound alike, within 1 dB below 200 Hz.")
    if near.within_db is not None:
        told.append(f"Each third octave's difference is known to {number(near.within_db, 1)} dB.")
    if near.polarity == "alike":
        told.append("Their cones move the same way.")
    return " ".join(told)


def level_words(pair: Pair) -> str:
    """Return what the difference costs, and whether it is heard."""
    worst = pair.worst
    if worst is None:
        return "nothing that either box plays"
    level, boxes = worst.difference_db, worst.boxes_db
    return (
        f"left less right at most {signed(level.value, 1)} dB ({span_words(level, 1)}), at {worst.hz:g} Hz: "
        f"{audible_words(level.value)}; {signed(boxes.value, 1)} dB of it by the boxes, the rest by drivers "
        "and volumes. 1 dB is hardly heard, 3 dB clearly (common practice)"
    )


def farther_words(pair: Pair) -> str:
    """Return which of the two lies farther from the design."""
    tuning = pair.of("tuning_hz")
    prediction = pair.left.prediction
    if pair.farther is None or tuning is None or prediction is None:
        return ""
    off = [100.0 * (hz / prediction.target_hz - 1.0) for hz in (tuning.left, tuning.right)]
    target = f"the designed {prediction.target_hz:.1f} Hz"
    return f"{pair.farther}: left {off[0]:+.1f} %, right {off[1]:+.1f} % off {target}"


def match_words(pair: Pair) -> str:
    """Return whether the two match, and why."""
    word = MATCH_WORDS[pair.matched]
    _, _, rest = pair.summary.partition(": ")
    return f"{word} - {rest or pair.summary}"


def _which(side: Side, result: Result) -> str:
    """Return the side with the cabinet's name, where that says more."""
    name = _name(result)
    return side if name.lower() == side else f"{side} ({name})"


def _names(pair: Pair) -> str:
    return f"{_name(pair.left)} and {_name(pair.right)}"


def _name(result: Result) -> str:
    return clean(result.cabinet) or "cabinet"


def step_lines(pair: Pair) -> list[tuple[str, str]]:
    """Return what to do so that the two match, each with its label."""
    if pair.steps:
        sides = {"left": pair.left, "right": pair.right}
        lines = []
        for step in pair.steps:
            result = sides[step.side]
            spare = pair.matched and result.verdict == "good"
            label, need = ("May do", "Not needed, but possible. ") if spare else ("Do", "")
            lines.append((label, f"{_which(step.side, result)}: {need}{clean(step.words)}"))
        return lines
    if pair.verdict == "remeasure":
        again = [one for one in (pair.left, pair.right) if one.verdict == "remeasure"]
        return [("Do", f"{_name(one)}: {first_step(one)}") for one in again]
    if pair.matched:
        return [("Do", "Nothing: leave both as they are.")]
    return [
        (
            "Do",
            "No change of the vents evens this: compare drivers and damping material, or give either another mate.",
        )
    ]


def _costs(pair: Pair) -> list[tuple[str, str]]:
    if not pair.bands:
        return []
    told = [("Level", level_words(pair))]
    words = farther_words(pair)
    return [*told, ("Farther", f"from the design {words}")] if words else told


def _block(label: str, text: str, width: int) -> list[str]:
    room = width - _LABEL_COLUMNS if label else width
    margin = _LABEL_COLUMNS if label else 0
    return [
        f"{(label if place == 0 else '').ljust(margin)}{line}".rstrip()
        for place, line in enumerate(wrapped(text, room))
    ]
