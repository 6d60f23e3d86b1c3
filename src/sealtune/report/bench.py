"""What the label's step rests on, and what else may be done; the step itself is not said twice."""

from __future__ import annotations

from dataclasses import dataclass

from sealtune.records.verdict import Result
from sealtune.report.content import (
    FAULT_TITLES,
    PROBLEM_TITLES,
    capital,
    percent,
    ranked_findings,
    ranked_problems,
    sentence,
)

_MOST_FULL_FINDINGS = 3


@dataclass(frozen=True)
class Job:
    """A cause or a problem, and what to do about it.

    probability: of a cause; None of a problem
    lines: each with its term ("Do"); none is empty
    """

    title: str
    probability: float | None
    lines: tuple[tuple[str, str], ...]


def jobs(result: Result) -> list[Job]:
    """Return what is told in full, the most urgent first."""
    causes = [
        Job(
            FAULT_TITLES[one.fault],
            one.probability,
            _lines(
                "" if result.verdict == "rework" and place == 0 else one.remedy, one.evidence, one.confirm
            ),
        )
        for place, one in enumerate(ranked_findings(result)[:_MOST_FULL_FINDINGS])
    ]
    if result.verdict != "remeasure":
        return causes
    problems = [
        Job(capital(PROBLEM_TITLES[one.problem]), None, _lines(one.remedy if place else "", one.detail))
        for place, one in enumerate(ranked_problems(result))
    ]
    return problems + causes


def less_likely(result: Result) -> str:
    """Return the causes that are named only, in a sentence; empty for none."""
    rest = ", ".join(
        f"{FAULT_TITLES[one.fault].lower()} ({percent(one.probability)})"
        for one in ranked_findings(result)[_MOST_FULL_FINDINGS:]
    )
    return f"Less likely: {rest}." if rest else ""


def _lines(do: str, why: str, sure: str = "") -> tuple[tuple[str, str], ...]:
    told = (("Do", do), ("Why", why), ("To be sure", sure))
    return tuple((term, sentence(text)) for term, text in told if text.strip())
