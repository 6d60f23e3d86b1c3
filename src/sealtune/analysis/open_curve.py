"""Where every fit of a cabinet begins: its open curve, and the plain circuit that explains it best."""

from __future__ import annotations

from dataclasses import dataclass

from sealtune.analysis.candidates import (
    BAND_ABOVE,
    BAND_BELOW,
    FEWEST_POINTS,
    Curves,
    Fitted,
    bending,
    start_of,
    within,
)
from sealtune.analysis.hidden_parts import best_of, with_other_coil
from sealtune.physics.vented_box import VentedBox
from sealtune.records.curve import ImpedanceCurve, Landmarks
from sealtune.records.design import Design


@dataclass(frozen=True)
class Begun:
    """An open curve with its plain circuit.

    curves: what the fit uses of it
    starts: circuits to begin a search with, the one by the landmarks as they are first
    best: the circuit, found on some of the points
    band_hz: lowest and highest frequency of what the fit uses
    """

    curves: Curves
    starts: list[VentedBox]
    best: Fitted
    band_hz: tuple[float, float]


def begin(curve: ImpedanceCurve, landmarks: Landmarks, design: Design | None) -> Begun | None:
    """Return the open curve and the plain circuit, None where it lacks the two peaks to start from or none fits."""
    if landmarks.lower is None or landmarks.saddle is None or landmarks.upper is None:
        return None
    marks_hz = (landmarks.lower.hz, landmarks.saddle.hz, landmarks.upper.hz)
    band_hz = (landmarks.lower.hz / BAND_BELOW, landmarks.upper.hz * BAND_ABOVE)
    used = bending(within(curve, *band_hz))
    if used.frequency_hz.size < FEWEST_POINTS:
        return None
    starts = [start_of(used, marks_hz, design, shift) for shift in (1.0, 0.93, 1.07)]
    curves = Curves.of({"open": used}, starts[0], design)
    best = best_of(curves.thinned(), starts)
    return None if best is None else Begun(curves, starts, with_other_coil(curves, best), band_hz)
