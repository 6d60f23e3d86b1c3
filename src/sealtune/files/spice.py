"""A network of parts as a SPICE subcircuit: the dialect that all simulators share, R, L and C alone."""

from __future__ import annotations

import re
from collections.abc import Sequence

from sealtune.physics.part_network import Group, Part

_MEANINGS: dict[Group, str] = {
    "crossover": "the crossover before the driver",
    "wire": "the wire of the voice coil",
    "coil": "the inductance of the voice coil, and the losses of its iron",
    "damping": "the mechanical losses of the driver",
    "mass": "the mass of the cone (a capacitor here)",
    "cone_sound": "the sound of the cone",
    "spring": "the suspension (coils here); it gives more the longer it is pushed",
    "air": "the air in the box (a coil here), and what absorbs in it",
    "leakage": "leakage all over the box",
    "wall": "a wall that rings",
    "leak": "a leak, as far as the curve shows one",
    "vent": "the air in the vent (capacitors here), its friction and its sound",
}


def subcircuit_name(cabinet: str) -> str:
    """Return a name that every simulator takes: "box_" and letters, digits and underscores of the cabinet's."""
    return "box_" + (re.sub(r"[^A-Za-z0-9]+", "_", cabinet).strip("_").lower()[:40] or "measured")


def subcircuit(name: str, parts: Sequence[Part], remarks: Sequence[str] = ()) -> str:
    """Return the text of a file with one subcircuit of two pins, plus and minus.

    name: letters, digits and underscores
    parts: between the pins "plus" and "minus"; their other nodes are the subcircuit's own
    remarks: lines for its head; what is no plain letter in them becomes a question mark
    """
    lines = [f"* {_plain(remark)}" for remark in remarks]
    lines += ["*", f"* To use it, include this file and add a line such as:  X1 in 0 {name}", "*"]
    lines.append(f".subckt {name} plus minus")
    counts: dict[tuple[str, str], int] = {}
    told: Group | None = None
    for part in parts:
        if part.group != told:
            lines.append(f"* {_MEANINGS[part.group]}")
            told = part.group
        key = (part.kind, part.group)
        counts[key] = counts.get(key, 0) + 1
        label = f"{part.kind}{part.group.replace('_', '')}{counts[key]}"
        lines.append(f"{label} {part.first} {part.second} {part.value:.9g}")
    return "\n".join([*lines, f".ends {name}"]) + "\n"


def _plain(text: str) -> str:
    return re.sub(r"[^ -~]", "?", text)
