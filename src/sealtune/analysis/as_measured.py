"""The circuit that gives the curve as it was measured.

The fit that judges leaves room for what is unknown of the jig, such as the two channels' gains against each other, so
that its circuit may lie some percent off the curve at a peak. Whoever puts the circuit beside the curve wants the
curve.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sealtune.analysis.candidates import Curves, within
from sealtune.analysis.parameters import LEAK, PANEL, SPARE, USUAL_VOLUME_M3, VENTED
from sealtune.records.circuit import VentedBox
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover, Design
from sealtune.records.fit import BoxFit


def circuit_as_measured(
    fit: BoxFit, curve: ImpedanceCurve, design: Design | None = None
) -> tuple[VentedBox, Crossover | None] | None:
    """Return the circuit near a fitted one that gives the open vent's curve, the jig taken for exact.

    fit: of that curve
    curve: measured with the vent open
    returns: the box and what lies before its driver; None where the fit holds no circuit
    """
    box = fit.circuit
    if box is None:
        return None
    taken = within(replace(curve, jig_slopes_ohm=None, drift_row=None), *fit.band_hz)
    curves = Curves.of({"open": taken}, box, design)
    curves = replace(
        curves,
        crossover=fit.crossover,
        hidden=fit.hidden_crossover is not None,
    )
    kept = np.ones(taken.frequency_hz.size, dtype=np.bool_)
    for low_hz, high_hz in fit.left_out_hz:
        kept &= (taken.frequency_hz < low_hz) | (taken.frequency_hz > high_hz)
    # without friction it is the circuit of the textbooks, see `candidates.with_leakage_alone`; radiated sound, which
    # hardly shows, stays that of the design's volume: with the jig taken for exact it would be bent to take up its
    # errors
    names: tuple[str, ...] = (
        SPARE if box.friction == 0.0 else (*VENTED, *LEAK) if box.leak_ratio > 0.0 else VENTED
    )
    names = tuple(name for name in names if name != "volume_m3")
    if box.friction > 0.0:
        names += PANEL if box.panel_ratio > 0.0 else ()
        box = replace(box, volume_m3=USUAL_VOLUME_M3 if design is None else design.box.volume_m3)
    thin = curves.picked({"open": kept}).thinned()
    found = thin.searched(names, box, max(fit.residual, 1e-5))
    if found is not None and found.model.unpack(found.vector).creep < 0.0:
        # a suspension that stiffens the longer it is pushed gives power: no parts make it
        names = tuple(name for name in names if name != "creep")
        found = thin.searched(names, replace(box, creep=0.0), max(fit.residual, 1e-5))
    if found is None:
        return replace(box, creep=max(box.creep, 0.0)), fit.crossover
    shared = found.vector[: len(found.model.names)]
    return found.model.unpack(found.vector), found.model.packing.unpack_crossover(shared)
