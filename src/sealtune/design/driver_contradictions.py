"""Driver data that do not go together: the smallest such sets, or the one value behind them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations
from math import exp, hypot, log

from sealtune.design.driver_identities import (
    QUANTITIES,
    Identity,
    Values,
    given_values,
    identities_in,
    listed,
    solved,
    symbols,
)
from sealtune.physics.air import Air
from sealtune.records.design import Driver

DATA_SCATTER = 0.05
"""What rounding and scatter of a data sheet explain between values that belong together (common practice)."""

QTS_SCATTER = 0.03
"""The same for Q_TS against Q_MS and Q_ES, which are mostly printed to two or three digits (common practice)."""

_STEPS = 30  # of the search for a root; Newton's steps double the digits, so that ten are plenty


@dataclass(frozen=True)
class _Relation:
    """A set of given values of which any one follows from the others: identities, and the one that checks."""

    steps: tuple[int, ...]
    last: int
    fields: tuple[str, ...]


def contradictions(driver: Driver, air: Air) -> tuple[str, ...]:
    """Return the smallest sets of given values that do not go together, each with its size, in whole sentences.

    Where one value in another size would settle all of them, that value alone is named.
    """
    identities, given = identities_in(air), given_values(driver)
    relations = _relations(identities, given)
    broken = [one for one in relations if _mismatch(one, identities, given) is not None]
    notes: list[str] = []
    for group in _groups(broken):
        others = [one for one in relations if one not in broken or one in group]
        suspect = _suspect(group, others, identities, given) if len(group) > 1 else None
        smallest = [one for one in group if not any(set(other.fields) < set(one.fields) for other in group)]
        notes += [suspect] if suspect else [_sentence(one, identities, given) for one in smallest]
    return tuple(notes)


def _groups(broken: list[_Relation]) -> list[list[_Relation]]:
    """Return the relations sorted into groups that have no value in common."""
    groups: list[list[_Relation]] = []
    for relation in broken:
        touched = [g for g in groups if any(set(one.fields) & set(relation.fields) for one in g)]
        joined = [one for group in touched for one in group] + [relation]
        groups = [group for group in groups if group not in touched] + [joined]
    return groups


def _residual(relation: _Relation, identities: tuple[Identity, ...], values: Values) -> float | None:
    """Return the logarithm by which the relation is missed, None where a value it needs is impossible."""
    known = dict(values)
    for step in relation.steps:
        gap = next((name for name in identities[step].powers if name not in known), None)
        value = None if gap is None else solved(identities[step], gap, known)
        if gap is None or value is None:
            return None
        known[gap] = value
    checked = identities[relation.last]
    target = next(iter(checked.powers))
    made = solved(checked, target, known)
    return None if made is None else log(known[target] / made)


def _relations(identities: tuple[Identity, ...], given: Values) -> list[_Relation]:
    """Return every relation between given values that takes as few identities as it can."""
    found: list[tuple[frozenset[int], _Relation]] = []
    for size in range(1, len(identities) + 1):
        for chosen in combinations(range(len(identities)), size):
            if any(smaller <= set(chosen) for smaller, _ in found):
                continue
            relation = _relation(chosen, identities, given)
            if relation is not None and all(relation.fields != other.fields for _, other in found):
                found.append((frozenset(chosen), relation))
    return [relation for _, relation in found]


def _relation(chosen: tuple[int, ...], identities: tuple[Identity, ...], given: Values) -> _Relation | None:
    """Return the relation that these identities make, None where they determine nothing twice."""
    known, left, steps = set(given), list(chosen), []
    while len(left) > 1:
        step = next((i for i in left if len(set(identities[i].powers) - known) == 1), None)
        if step is None:
            return None
        known |= set(identities[step].powers)
        steps.append(step)
        left.remove(step)
    if set(identities[left[0]].powers) - known:
        return None
    used = [
        name for name in QUANTITIES if name in given and any(name in identities[i].powers for i in chosen)
    ]
    relation = _Relation(tuple(steps), left[0], tuple(used))
    at = _residual(relation, identities, given)
    if at is None:
        return None
    moved = {name: _residual(relation, identities, {**given, name: given[name] * 1.001}) for name in used}
    acting = tuple(name for name, value in moved.items() if value is None or abs(value - at) > 1e-9)
    return replace(relation, fields=acting)


def _made(relation: _Relation, identities: tuple[Identity, ...], given: Values, name: str) -> float | None:
    """Return the value of `name` at which the relation is kept, None where there is none."""
    miss: Callable[[float], float | None] = lambda x: _residual(  # noqa: E731
        relation, identities, {**given, name: exp(x)}
    )
    at = log(given[name])
    for _ in range(_STEPS):
        here, beside = miss(at), miss(at + 1e-6)
        if here is None or beside is None or abs(beside - here) < 1e-12:
            return None
        if abs(here) < 1e-10:
            return exp(at)
        step = here / (beside - here) * 1e-6
        at -= max(-2.0, min(2.0, step))
    return None


def _mismatch(relation: _Relation, identities: tuple[Identity, ...], given: Values) -> float | None:
    """Return by how much the first value misses what the others make, None where rounding or scatter explain it."""
    name = relation.fields[0]
    made = _made(relation, identities, given, name)
    if made is None:
        return None
    apart = abs(given[name] / made - 1.0)
    usual = QTS_SCATTER if name == "qts" else DATA_SCATTER
    return apart if apart > max(usual, _rounding(relation, identities, given)) else None


def _rounding(relation: _Relation, identities: tuple[Identity, ...], given: Values) -> float:
    """Return what rounding each value to the digits that it has in the file does to the first, relative."""
    pull = [_pull(relation, identities, given, name) for name in relation.fields]
    if not pull[0]:
        return 0.0
    steps = (QUANTITIES[name].half_step(given[name]) / given[name] for name in relation.fields)
    return hypot(*(p * step for p, step in zip(pull, steps, strict=True))) / abs(pull[0])


def _pull(relation: _Relation, identities: tuple[Identity, ...], given: Values, name: str) -> float:
    """Return the change of the residual over that of the logarithm of `name`."""
    raised = _residual(relation, identities, {**given, name: given[name] * exp(1e-6)})
    here = _residual(relation, identities, given)
    return 0.0 if raised is None or here is None else (raised - here) / 1e-6


def _suspect(
    broken: list[_Relation],
    relations: list[_Relation],
    identities: tuple[Identity, ...],
    given: Values,
) -> str | None:
    """Return a sentence on the value (or the few) that would settle every contradiction, None if there is none."""
    shared = [name for name in broken[0].fields if all(name in other.fields for other in broken)]
    settling: dict[str, list[float]] = {}
    for name in shared:
        found = [_made(relation, identities, given, name) for relation in broken]
        values = [value for value in found if value is not None]
        if len(values) < len(broken):
            continue
        middle = exp(sum(log(value) for value in values) / len(values))
        corrected = {**given, name: middle}
        if not any(_mismatch(relation, identities, corrected) is not None for relation in relations):
            settling[name] = [middle, *values]
    if not settling:
        return None
    if len(settling) == 1:
        ((name, (middle, *values)),) = settling.items()
        quantity = QUANTITIES[name]
        makes = "; ".join(
            f"{symbols([n for n in relation.fields if n != name])} make {quantity.number(value)}"
            for relation, value in zip(broken, values, strict=True)
        )
        apart = 100.0 * abs(given[name] / middle - 1.0)
        return (
            f"{quantity.words(given[name])} does not go with the other driver data, about {apart:.0f} % apart: "
            f"{makes}. Check {quantity.symbol} first."
        )
    words = [
        f"{QUANTITIES[name].words(given[name])} (the others make {QUANTITIES[name].number(values[0])})"
        for name, values in settling.items()
    ]
    return f"One of the driver data does not go with the others: {listed(words, 'or')}. Check these first."


def _sentence(relation: _Relation, identities: tuple[Identity, ...], given: Values) -> str:
    name, *others = relation.fields
    quantity, made = QUANTITIES[name], _made(relation, identities, given, name)
    if made is None:  # cannot be: a broken relation has a value
        return ""
    words = listed([QUANTITIES[other].words(given[other]) for other in others])
    verb = "make" if len(others) > 1 else "makes"
    count = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}.get(len(relation.fields), "values")
    return (
        f"{quantity.words(given[name])} does not go with {words}, which {verb} {quantity.number(made)}: "
        f"{100.0 * abs(given[name] / made - 1.0):.0f} % apart. Check these {count}."
    )
