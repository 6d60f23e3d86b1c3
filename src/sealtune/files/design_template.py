"""A commented design.toml to begin with, made from the table of keys."""

from __future__ import annotations

import textwrap

from sealtune.files.design_keys import DESIGN_TABLES, SHAPE_KEYS, SHAPE_OPTIONS
from sealtune.files.settings import Key

_WIDTH = 100
_COMMENT_AT = 34

_ACTIVE = {
    "design": ("name",),
    "box": ("volume_l",),
    "vent": ("shape", "diameter_mm", "length_mm"),
}
"""The keys that stand there uncommented: the least that a design needs."""

_HEAD = (
    "What this box is meant to be. Put your own numbers in place of the examples.",
    "",
    "A line that begins with # does not count. Only the net volume and the vent (or the tuning aimed at) are needed; "
    "take the # away from any other line whose number you know: each one sharpens the answer. Of the vent's keys, "
    "those for another shape stay behind their #.",
    "",
    "Net volume: multiply inside width, height and depth in millimetres and divide by 1 000 000 for litres; then take "
    "off what the driver, the vent and the bracing fill. Lining takes nothing off.",
    "Vent length: from mouth to mouth along the middle of the duct, with the wall it goes through and any flange; of a "
    "folded duct, along its middle line.",
)

_ABOUT = {
    "box": "Width, height and depth show whether the vent fits.",
    "vent": "Not built yet? Leave length_mm out and give target_hz below: the length that reaches it is then used.",
    "driver": "From the data sheet, of one driver. Gaps are filled as far as the other numbers allow.",
    "crossover": "What sits between the terminals and the driver, if you measure through it.",
    "air": "Where the box is measured; warmer air tunes it higher, 0.17 % per degree.",
}


def template_text() -> str:
    """Return the text of a design.toml that reads back without faults: every key with its meaning, range and example.

    Keys that are not needed stand behind a comment mark, those of one shape of vent together. No line is longer than
    100 characters.
    """
    parts = [_comment(_HEAD)]
    for table, keys in DESIGN_TABLES.items():
        lines = [f"[{table}]"]
        if table in _ABOUT:
            lines.insert(0, _comment((_ABOUT[table],)))
        active = _ACTIVE.get(table, ())
        shapes = _shape_of_key() if table == "vent" else {}
        before = None
        for key in keys:
            shape = shapes.get(key.name)
            if shape != before:
                lines.append(f'# Only for shape = "{shape}":' if shape else "# For every shape:")
            before = shape
            lines.append(_key_lines(key, key.name in active))
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


def _shape_of_key() -> dict[str, str]:
    return {name: shape for names in (SHAPE_KEYS, SHAPE_OPTIONS) for shape in names for name in names[shape]}


def _key_lines(key: Key, active: bool) -> str:
    """Return the line of one key; what its comment has too much goes on below it."""
    line = f"{'' if active else '# '}{key.name} = {_value(key)}"
    indent = " " * _COMMENT_AT if active else "#" + " " * (_COMMENT_AT - 1)
    words = textwrap.wrap(_meaning(key), _WIDTH - _COMMENT_AT - 2)
    first = f"{line:<{_COMMENT_AT - 1}} # {words[0]}"
    if len(first) > _WIDTH:
        first = f"{line}\n{indent}# {words[0]}"
    return "\n".join([first, *(f"{indent}# {word}" for word in words[1:])])


def _meaning(key: Key) -> str:
    """Return the meaning, and what the key may hold where its name and example do not say it."""
    if key.kind == "word":
        return f"{key.meaning}: {' | '.join(key.words)}"
    if key.kind in ("number", "integer"):
        unit = f" {key.unit}" if key.unit else ""
        return f"{key.meaning} ({key.low:g} to {key.high:g}{unit})"
    return key.meaning


def _value(key: Key) -> str:
    if isinstance(key.example, str):
        return f'"{key.example}"'
    return str(key.example)


def _comment(paragraphs: tuple[str, ...]) -> str:
    blocks = [textwrap.wrap(text, _WIDTH - 2) or [""] for text in paragraphs]
    return "\n".join(f"# {line}".rstrip() for block in blocks for line in block)
