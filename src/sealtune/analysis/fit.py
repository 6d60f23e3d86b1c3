"""The physical circuit fitted to an impedance curve, started from its landmarks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from sealtune.analysis.candidates import (
    Curves,
    Fitted,
    bending,
    closed_misfit,
    leaking,
    relative,
    with_leakage_alone,
)
from sealtune.analysis.circuit import View
from sealtune.analysis.hidden_parts import rivals, without_ringing
from sealtune.analysis.intervals import COVERAGE, Admissible, admissible, combined, interval
from sealtune.analysis.jig_correction import DRIFT_IN_TAKE
from sealtune.analysis.joint import joined
from sealtune.analysis.leak_evidence import leak_rise
from sealtune.analysis.losses import split
from sealtune.analysis.open_curve import begin
from sealtune.analysis.parameters import LEAK, VENTED
from sealtune.analysis.slips import with_slip
from sealtune.records.curve import ImpedanceCurve, Landmarks
from sealtune.records.design import Crossover, Design
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.recording import Role

DRIFT_DB = DRIFT_IN_TAKE * 20.0 / float(np.log(10.0))
"""What one standard deviation of that unknown means, dB."""

NOISE_ALONE = 0.5
"""Where the model error is below this share of the noise, a leaking gap could not explain more."""

DECIDED = 0.5
"""A circuit with a leak whose model error is below this share of the one without stands alone."""


def fit_vented_box(
    curve: ImpedanceCurve,
    landmarks: Landmarks,
    design: Design | None = None,
    others: Mapping[Role, ImpedanceCurve] | None = None,
) -> BoxFit | None:
    """Return the fitted circuit, None where the curve lacks the two peaks to start from or no circuit fits.

    curve: measured with the vent open
    design: its crossover and its net volume (for the radiated sound) are taken as known
    others: curves of the same cabinet, "plugged" or "free-air", that are fitted together with it
    """
    begun = begin(curve, landmarks, design)
    if begun is None:
        return None
    curves, alone, band = begun.curves, begun.best, begun.band_hz
    (first, best), *rest = rivals(curves, alone)
    error = float(best.model_error[0])
    slipped = with_slip(first, best, error)
    if slipped is None and best is not alone:
        slipped = with_slip(curves, alone, error)
    if slipped is not None:
        first, best, rest = *slipped[:2], []
    curves, best, left_out = without_ringing(first, best, begun.starts)
    coarse = curves.thinned()
    misfit = closed_misfit(best, coarse)
    ignored: tuple[Role, ...] = ()
    if others:
        curves, coarse, best, ignored = joined(curves, best, others, band[1], begun.curves.known, design)
    candidates, leak = _admissible(best, coarse)
    for rival_curves, rival in rest:
        candidates += [rival] if curves is first else _rivalling(rival, rival_curves, best, coarse)
    minima = [curves.refined(candidate) for candidate in candidates]
    return replace(
        _summary(curve, curves, minima, misfit, band, ignored),
        left_out_hz=left_out,
        leak_rise=leak_rise(leak, coarse.points) if leak and "plugged" in curves.by_role else None,
        slip=slipped[2] if slipped else None,
    )


def _admissible(best: Fitted, coarse: Curves) -> tuple[list[Fitted], Fitted | None]:
    """Return the circuits that may be true: the one without a leak, one with, and that of the textbooks.

    Beside them the one with a leak by itself.
    """
    candidates, leak = [best], None
    if "leak_ratio" in best.model.names:  # no circuit without one explains all curves together
        leak = best
    elif len(coarse.views) > 1 or best.model_error[0] > NOISE_ALONE * coarse.points.noise[0]:
        leak = leaking(best, coarse)
        if leak is not None:
            decided = np.all(leak.model_error < DECIDED * best.model_error)
            candidates = [leak] if decided else [best, leak]
    spare = with_leakage_alone(best, coarse)
    return (candidates if spare is None else [*candidates, spare]), leak


def _rivalling(rival: Fitted, told_of: Curves, best: Fitted, coarse: Curves) -> list[Fitted]:
    """Return a circuit that rivals the best one, on the curves that are fitted in the end.

    told_of: what lies before the driver in it
    best, coarse: the best circuit, and the curves as they are with it
    """
    own = replace(coarse, crossover=told_of.crossover, hidden=told_of.hidden)
    wall = best.model.unpack(best.vector)
    box = replace(
        rival.model.unpack(rival.vector),
        panel_ratio=wall.panel_ratio, panel_rad_s=wall.panel_rad_s, panel_loss=wall.panel_loss,
    )  # fmt: skip
    names = (*VENTED, *LEAK) if "leak_ratio" in rival.model.names else VENTED
    found = own.searched(names, box, best.model_error)
    return [] if found is None else [found]


def _summary(
    curve: ImpedanceCurve,
    curves: Curves,
    minima: list[Fitted],
    misfit: float,
    band: tuple[float, float],
    ignored: tuple[Role, ...],
) -> BoxFit:
    points = curves.points
    circuits = admissible(minima, points)
    best = circuits[0].minimum
    centre, spread = combined(circuits)
    box = best.model.unpack(best.vector)
    tuning, q, alpha, fs = (
        interval(float(value), float(deviation))
        for value, deviation in zip(centre, np.sqrt(np.diag(spread)), strict=True)
    )
    return BoxFit(
        tuning_hz=tuning, box_q=q, compliance_ratio=alpha, fs_hz=fs,
        qms=box.qms, qes=box.qms * box.re_ohm / box.res_ohm, re_ohm=box.re_ohm, res_ohm=box.res_ohm,
        creep=box.creep,
        residual=relative(best, points, points.parts[0]),
        noise=float(points.noise[0]),
        log_covariance=spread, band_hz=band,
        frequency_hz=curve.frequency_hz, model_ohm=_drawn(best, curve),
        closed_box_misfit=misfit, converged=best.converged,
        roles=tuple(curves.by_role), ignored_roles=ignored,
        hidden_crossover=None if best.model.packing.given else _crossover(best),
        series_ohm=_series_resistance(circuits[0]),
        losses=split(circuits, points, tuple(curves.by_role)),
        gain_drifts_db=_gain_drifts(circuits[0], curves),
        circuit=box, crossover=_crossover(best),
    )  # fmt: skip


def _crossover(best: Fitted) -> Crossover | None:
    return best.model.packing.unpack_crossover(best.vector[: len(best.model.names)])


def _series_resistance(best: Admissible) -> Interval | None:
    """Return the resistance of leads and joints before the driver, None where the driver's own curve is not there."""
    names = best.minimum.model.names
    if "air_load" not in names or "series_ohm" not in names:
        return None
    row = names.index("series_ohm")
    return interval(float(best.minimum.vector[row]), float(np.sqrt(best.covariance[row, row])))


def _gain_drifts(best: Admissible, curves: Curves) -> tuple[tuple[Role, Interval], ...]:
    """Return how far channel 2's gain rose while each curve was recorded, dB, as far as they have that unknown."""
    found: list[tuple[Role, Interval]] = []
    extra = len(best.minimum.model.names)
    for view, curve in zip(best.minimum.model.views, curves.by_role.values(), strict=True):
        if curve.drift_row is not None:
            row = extra + len(view.own) + curve.drift_row
            value = DRIFT_DB * float(best.minimum.vector[row])
            reach = DRIFT_DB * COVERAGE * float(np.sqrt(best.covariance[row, row]))
            found.append((view.role, Interval(value, value - reach, value + reach)))
        extra += view.extras
    return tuple(found)


def _drawn(best: Fitted, curve: ImpedanceCurve) -> np.ndarray[tuple[int], np.dtype[np.complex128]]:
    """Return the fitted circuit on all frequencies of the open curve, its jig's errors included."""
    view = View.of("open", bending(curve))
    shared = len(best.model.names)
    circuit = type(best.model)((view,), best.model.packing)
    return circuit.evaluate(best.vector[: shared + view.extras])[0]
