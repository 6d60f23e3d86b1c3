"""What is known of one cabinet before it is judged, and the result that says so."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sealtune.records.curve import ImpedanceCurve, Landmarks
from sealtune.records.design import Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.recording import Source
from sealtune.records.verdict import Finding, Leak, Problem, Result, VerdictWord

PROBABLE = 0.5
"""A cause is probable that is likelier than not."""


@dataclass(frozen=True)
class Evidence:
    """All that is known of one cabinet.

    cabinet: its name
    design, prediction: None where no design was found
    curve, landmarks, fit: None as far as the chain did not come
    jig_words: the jig of the open vent's recording and what corrects it; None for a table
    design_notes: sentences on what contradicts itself in the design
    """

    cabinet: str
    sources: tuple[Source, ...] = ()
    design: Design | None = None
    prediction: Prediction | None = None
    curve: ImpedanceCurve | None = None
    landmarks: Landmarks | None = None
    fit: BoxFit | None = None
    problems: tuple[Problem, ...] = ()
    jig_words: str | None = None
    design_notes: tuple[str, ...] = ()

    def with_problem(self, problem: Problem) -> Evidence:
        """Return the evidence with one problem more."""
        return replace(self, problems=(*self.problems, problem))

    def result(self, verdict: VerdictWord, summary: str, findings: tuple[Finding, ...] = ()) -> Result:
        """Return the result with everything known so far."""
        return Result(
            cabinet=self.cabinet,
            verdict=verdict,
            summary=summary,
            design=self.design,
            prediction=self.prediction,
            curve=self.curve,
            landmarks=self.landmarks,
            fit=self.fit,
            leak=Leak(0.0, None, None),
            volume_m3=None,
            effective_length_m=None,
            length_change_m=None,
            findings=findings,
            problems=self.problems,
            sources=self.sources,
            skipped_lines=self.curve.skipped_lines if self.curve else 0,
            jig_words=self.jig_words,
            design_notes=self.design_notes,
        )


def lower_first(sentence: str) -> str:
    """Return the sentence as the second half of another one."""
    return sentence[:1].lower() + sentence[1:]
