"""Drawings in characters of what to clip where, for both wirings and each known load."""

from __future__ import annotations

from sealtune.records.recording import Step, Wiring

TITLES: dict[Step | None, str] = {
    "balance": "Both inputs on one point",
    "open": "Leads open",
    "short": "Leads shorted",
    "resistor": "The known resistor",
    None: "The second resistor",
}
"""What a step is called; None is the closing check."""

_REFERENCE = "[RRRRRRRRR]"
"""Stands for the reference resistor in the drawings below."""

_DIVIDER_BALANCE = """\
    amplifier + o---+-----+-----[RRRRRRRRR]---o clip
                    |     |
               input 1   input 2                    nothing between
                    |     |                         the clips
    amplifier - o---+-----+-------------------o clip
                 ground of both inputs"""

_DIVIDER = """\
    amplifier + o---+---[RRRRRRRRR]---+-------o clip{plus}
                    |                 |             {one}
                 input 1           input 2          {two}
                    |                 |             {three}
    amplifier - o---+-----------------+-------o clip{minus}
                     ground of both inputs"""

_SENSE_BALANCE = """\
    amplifier + o---+-----------+-------------o clip
                hot |       hot |
                 input 1     input 2                nothing between
               cold |      cold |                   the clips
    amplifier - o---+-----------+-[RRRRRRRRR]-o clip"""

_SENSE = """\
    amplifier + o---------------------+-------o clip{plus}
                                  hot |             {one}
                                   input 1          {two}
                                 cold |             {three}
    amplifier - o---+---[RRRRRRRRR]---+-------o clip{minus}
               cold |                 | hot
                    +---- input 2 ----+"""

_BETWEEN: dict[Step | None, tuple[str, str, str, str, str]] = {
    "open": ("", "", "nothing between", "the clips", ""),
    "short": ("-+", " |", " | one clip on the other", " |", "-+"),
    "resistor": ("-+", " |", "[ ] {known}", " |", "-+"),
    None: ("-+", " |", "[ ] {known}", " |", "-+"),
}


def drawing(step: Step | None, wiring: Wiring, reference_ohm: float, known_ohm: float) -> str:
    """Return the drawing of a step, None for the second resistor, as lines of at most 78 characters.

    reference_ohm: the reference resistor
    known_ohm: the resistor between the clips, of no interest for the other steps
    """
    if step == "balance":
        picture = _DIVIDER_BALANCE if wiring == "divider" else _SENSE_BALANCE
    else:
        plus, one, two, three, minus = _BETWEEN[step]
        picture = (_DIVIDER if wiring == "divider" else _SENSE).format(
            plus=plus, one=one, two=two.format(known=_ohms(known_ohm)), three=three, minus=minus
        )
    picture = picture.replace(_REFERENCE, f"[{_ohms(reference_ohm):^9}]")
    return "\n".join(line.rstrip() for line in picture.splitlines())


def advice(step: Step | None, wiring: Wiring) -> str:
    """Return what to do for a step, in one or two sentences."""
    if step == "balance":
        if wiring == "divider":
            return (
                "Put the hot clip of input 2 beside that of input 1, on the amplifier's side of the resistor."
            )
        return "Put both inputs on the amplifier: both hot clips on plus, both cold clips on minus."
    return {
        "open": "Nothing on the two clips that will hold the box; keep them apart. Input 2 sits as drawn.",
        "short": "Clip the two clips that will hold the box on each other.",
        "resistor": "Put the resistor that you have measured between the two clips, in place of the box.",
        None: "Put the second resistor between the two clips.",
    }[step]


def _ohms(value: float) -> str:
    return f"{value:.4g} ohm"
