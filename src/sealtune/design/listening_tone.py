"""The tone to listen for leaks with: where the pressure in the box is high and the cone moves little.

Pressure over volt is highest from the tuning up to a little above it, and the air in the vent holds the cone there;
below the tuning the cone is let go, and towards the upper peak it moves further for less pressure. So the tone lies
close above the tuning, by as much as the tuning is uncertain.
"""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np

from sealtune.design.designed_speaker import designed_speaker, designed_tuning_hz
from sealtune.design.limits import MOST_SWEEP_V
from sealtune.design.prediction import predict
from sealtune.design.terminals import effective_driver
from sealtune.physics.air import Air, climate_air, standard_air
from sealtune.physics.loudspeaker import (
    Loudspeaker,
    air_and_vent,
    lossless_landmarks_rad_s,
    motion,
    static_volume_m3,
)
from sealtune.records.design import Design, Driver
from sealtune.records.fit import BoxFit
from sealtune.records.listening import ListeningTone

LISTENING_TRAVEL = 0.25
"""Share of x_max that the cone may move: a steady tone goes on for minutes (our own judgement)."""

LISTENING_POWER = 0.05
"""Share of the rated power, for the same reason (our own judgement)."""

MOST_LISTENING_V = MOST_SWEEP_V
"""More is not needed to make a leak hiss, and ears are near."""

CAREFUL_V = 0.5
"""The most where the cone's travel is not known (common practice: a few tenths of a volt)."""

USUAL_TONE_HZ = 70.0
"""Where nothing is known of the box: above the tuning of most (our own judgement)."""


def usual_tone() -> ListeningTone:
    """Return the tone for a box that nothing is known of."""
    return ListeningTone(USUAL_TONE_HZ, CAREFUL_V, "travel unknown", "nothing")


def measured_tone(fit: BoxFit, design: Design | None, swing_hz: float) -> ListeningTone:
    """Return the tone for a box whose circuit was fitted to its curve.

    design: for the cone's area and travel and the rated power; None where there is none
    swing_hz: how far the tone swings to either side
    """
    circuit = Loudspeaker(
        ws_rad_s=2.0 * pi * fit.fs_hz.value,
        qms=fit.qms,
        qes=fit.qes,
        alpha=fit.compliance_ratio.value,
        wb_rad_s=2.0 * pi * fit.tuning_hz.value,
        leakage=1.0 / fit.box_q.value,
    )
    driver, air = Driver(), standard_air()
    if design is not None:
        vas_m3 = fit.compliance_ratio.value * design.box.volume_m3
        driver = replace(effective_driver(design), re_ohm=fit.re_ohm, vas_m3=vas_m3)
        air = climate_air(design.climate)
    tone = _chosen(circuit, driver, fit.tuning_hz.high + swing_hz, air)
    return replace(tone, basis="measured", tuning_hz=fit.tuning_hz.value)


def designed_tone(design: Design, swing_hz: float) -> ListeningTone:
    """Return the tone for a box as designed; without enough driver data, the lowest that is surely above the tuning.

    swing_hz: how far the tone swings to either side
    """
    air = climate_air(design.climate)
    prediction = predict(design, air)
    tuning_hz = designed_tuning_hz(prediction)
    above_hz = max(prediction.high_hz, tuning_hz * (1.0 + 2.0 * prediction.tuning_spread)) + swing_hz
    speaker = designed_speaker(design, prediction, air)
    if speaker is None:
        return ListeningTone(above_hz, CAREFUL_V, "travel unknown", "design", tuning_hz=tuning_hz)
    tone = _chosen(speaker.circuit, speaker.driver, above_hz, air)
    return replace(tone, basis="design", tuning_hz=tuning_hz)


def _chosen(circuit: Loudspeaker, driver: Driver, above_hz: float, air: Air) -> ListeningTone:
    """Return the tone between above_hz and the upper peak that brings the most pressure within the limits."""
    upper_hz = float(lossless_landmarks_rad_s(circuit)[2]) / (2.0 * pi)
    frequency_hz = np.geomspace(above_hz, max(upper_hz, 1.05 * above_hz), 200)
    s = np.asarray(2j * pi * frequency_hz, dtype=np.complex128)
    cone = motion(s, circuit).cone
    # what flows into the air spring is the cone's flow over all three branches: their pressure
    pressure = np.abs(cone * s / np.asarray(sum(air_and_vent(s, circuit))))
    allowed = {"enough": np.full(frequency_hz.size, MOST_LISTENING_V)}
    per_volt = None
    if (
        driver.re_ohm is not None
        and driver.sd_m2 is not None
        and driver.xmax_m is not None
        and driver.vas_m3 is not None
    ):
        static_m3 = static_volume_m3(float(circuit.ws_rad_s), float(circuit.qes), driver.vas_m3, air)
        per_volt = np.sqrt(2.0 / driver.re_ohm) * static_m3 / driver.sd_m2 * np.abs(cone) / driver.xmax_m
        allowed["travel"] = LISTENING_TRAVEL / per_volt
    else:
        allowed["travel unknown"] = np.full(frequency_hz.size, CAREFUL_V)
    if driver.re_ohm is not None and driver.power_w is not None:
        watts = LISTENING_POWER * driver.power_w
        allowed["power"] = np.full(frequency_hz.size, np.sqrt(watts * driver.re_ohm))
    table = np.array(list(allowed.values()))
    volts = table.min(axis=0)
    best = int(np.argmax(pressure * volts))
    limit = list(allowed)[int(table[:, best].argmin())]
    return ListeningTone(
        frequency_hz=float(frequency_hz[best]),
        volts=float(volts[best]),
        because=limit,  # type: ignore[arg-type]
        basis="design",
        travel_share=None if per_volt is None else float(per_volt[best] * volts[best]),
    )
