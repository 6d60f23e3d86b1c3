"""The whole plan of a design."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np

from sealtune.design.behaviour import behaviour, curve_frequencies
from sealtune.design.designed_speaker import designed_speaker, designed_tuning_hz
from sealtune.design.fit_in_box import LONGEST_M, takes_too_much, too_long
from sealtune.design.limits import limits, sweep_level
from sealtune.design.near_alignment import near_alignment
from sealtune.design.prediction import predict
from sealtune.design.tolerance import model_of, toleranced
from sealtune.design.trade_offs import other_vents, other_volumes
from sealtune.physics.air import Air
from sealtune.physics.crossover import impedance_behind
from sealtune.physics.loudspeaker import impedance_ratio
from sealtune.physics.vent import pipe_resonance_hz, tuning_hz
from sealtune.records.design import Design
from sealtune.records.plan import Plan, VentChoice

USUAL_REFERENCE_OHM = 10.0
"""Resistor of the jig where nobody says (common practice: 10 to 47 ohm)."""


def make_plan(
    design: Design, air: Air, notes: tuple[str, ...] = (), reference_ohm: float = USUAL_REFERENCE_OHM
) -> Plan:
    """Return everything that can be said of a design before it is built.

    design: its driver data as complete as they can be made
    air: of the place where the box will be measured
    notes: what is known to be odd about the design, in sentences
    reference_ohm: resistor of the jig, for the level of the sweep
    """
    prediction = predict(design, air)
    speaker = designed_speaker(design, prediction, air)
    hz = curve_frequencies()
    vented = closed = bounds = impedance = plugged = None
    flow = None
    if speaker is not None:
        vented, closed = behaviour(speaker, hz), behaviour(speaker, hz, closed=True)
        bounds = limits(speaker, hz, vented, closed)
        if bounds.air_speed_m_s is not None and design.vent is not None:
            flow = bounds.air_speed_m_s * design.vent.count * design.vent.area_m2
        if speaker.driver.re_ohm is not None:
            s = np.asarray(2j * pi * hz, dtype=np.complex128)
            impedance, plugged = (
                impedance_behind(
                    s,
                    design.crossover,
                    speaker.driver.re_ohm * impedance_ratio(s, speaker.circuit, closed=stopped),
                )
                for stopped in (False, True)
            )
    vent, box = design.vent, design.box
    vents = other_vents(design, prediction, air, flow)
    return Plan(
        design=design,
        prediction=prediction,
        notes=notes,
        expected=toleranced(model_of(design, speaker, designed_tuning_hz(prediction))),
        hz_per_mm=None
        if vent is None
        else tuning_hz(box, replace(vent, length_m=vent.length_m + 1e-3), air) - tuning_hz(box, vent, air),
        length_for_target_m=next(
            (one.length_m for one in vents if one.designed and _fits(design, one)), None
        ),
        pipe_hz=None if vent is None else pipe_resonance_hz(vent, box, air),
        frequency_hz=hz,
        vented=vented,
        closed=closed,
        impedance_ohm=impedance,
        plugged_ohm=plugged,
        limits=bounds,
        sweep=sweep_level(speaker, reference_ohm),
        vents=vents,
        volumes=other_volumes(design, prediction, air, hz),
        alignment=None if speaker is None else near_alignment(speaker),
    )


def _fits(design: Design, choice: VentChoice) -> bool:
    """Return whether a vent of the design's opening can be built as long as this; no advice goes beyond."""
    if design.vent is None or choice.length_m is None:
        return False
    vent = replace(design.vent, length_m=choice.length_m)
    return (
        choice.length_m <= LONGEST_M
        and not too_long(design.box, vent)
        and not takes_too_much(design.box, vent)
    )
