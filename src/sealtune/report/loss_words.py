"""Where the box loses its energy, in words and as a table; and what would tell where nothing does."""

from __future__ import annotations

import math

from sealtune.records.fit import BoxFit, Losses
from sealtune.records.interval import Interval
from sealtune.records.recording import Role
from sealtune.records.verdict import Result
from sealtune.report.content import decimals_for, number, span
from sealtune.report.numbers import Row

LOSSES: tuple[tuple[str, str], ...] = (
    ("leakage", "air that slips through joints, gasket, terminal cup and pores"),
    ("vent", "friction of the air in the vent, or something in its way"),
    ("absorption", "what lining and filling swallow"),
)
"""The three losses and what each means at the bench."""

MEASUREMENTS: dict[Role, str] = {
    "plugged": "a recording with the vent plugged airtight",
    "free-air": "the driver's own curve in free air",
}
"""The recordings that tell the losses apart, in words."""

NOT_TOLD = "not separable"


def _told(losses: Losses) -> dict[str, Interval]:
    """The losses whose Q is known and finite, by name."""
    all_three = (losses.leakage_q, losses.vent_q, losses.absorption_q)
    return {
        name: q
        for (name, _), q in zip(LOSSES, all_three, strict=True)
        if q is not None and math.isfinite(q.value)
    }


def _value(q: Interval) -> str:
    return number(q.value, min(1, decimals_for(q)))


def _between(q: Interval) -> str:
    return span(q, min(1, decimals_for(q)))


def _joined(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _remedy(losses: Losses) -> str:
    """What would tell the rest, half a sentence."""
    measurement = MEASUREMENTS.get(losses.next_role) if losses.next_role is not None else None
    return f"{measurement} would tell" if measurement else "no further recording would tell more"


def loss_words(losses: Losses) -> str:
    """Every loss in one line: what is told, what was not found, what cannot be told apart and what would tell."""
    told, none_found = _told(losses), dict(losses.none_found)
    parts = [f"{name} Q {_value(q)} ({_between(q)})" for name, q in told.items()]
    parts += [
        f"no {name} found (its Q is above {number(least, 0)})"
        for name, least in none_found.items()
        if name not in told
    ]
    rest = [name for name, _ in LOSSES if name not in told and name not in none_found]
    if not rest:
        return ", ".join(parts)
    subject = f"{_joined(rest)} {NOT_TOLD}" if parts else f"{NOT_TOLD} from this measurement"
    return f"{', '.join(parts)}{'; ' if parts else ''}{subject}; {_remedy(losses)}"


def worth_a_line(fit: BoxFit | None) -> bool:
    """Whether the losses deserve a line in the short summary: something is told, or more than one curve was fitted."""
    return fit is not None and bool(_told(fit.losses) or fit.losses.none_found or len(fit.roles) > 1)


def loss_rows(result: Result) -> tuple[Row, ...]:
    """The losses as lines of a table, the fourth column saying what each means; none where nothing is told."""
    if result.fit is None or not (_told(result.fit.losses) or result.fit.losses.none_found):
        return ()
    told, none_found = _told(result.fit.losses), dict(result.fit.losses.none_found)
    lines = []
    for name, meaning in LOSSES:
        value, between = NOT_TOLD, ""
        if name in told:
            value, between = _value(told[name]), _between(told[name])
        elif name in none_found:
            value, between = "none found", f"above {number(none_found[name], 0)}"
        lines.append(Row(name.capitalize(), value, between, meaning))
    return tuple(lines)


def loss_note(result: Result) -> str:
    """A sentence or two for beneath the table: how to read it, or why there is none and what would tell.

    That leakage outweighs the rest in most boxes is [Small1973].
    """
    if result.fit is None:
        return ""
    losses = result.fit.losses
    told, none_found = _told(losses), dict(losses.none_found)
    if not told and not none_found:
        names = _joined([f"{name} ({meaning})" for name, meaning in LOSSES])
        return f"The box Q sums up three losses: {names}. They are {loss_words(losses)}."
    reading = "The lower the Q, the greater the loss; the box Q lies below all three."
    if told:
        greatest = min(told, key=lambda name: told[name].value)
        others = [told[name].low for name in told if name != greatest] + list(none_found.values())
        if len(told) + len(none_found) == len(LOSSES) and told[greatest].high < min(others):
            usual = ", as most boxes do" if greatest == "leakage" else ""
            reading += f" This box loses most by {greatest}{usual}."
    rest = [name for name, _ in LOSSES if name not in told and name not in none_found]
    if rest:
        reading += f" {_joined(rest).capitalize()} cannot be told apart here; {_remedy(losses)}."
    return reading
