"""The tone to listen with, held against the virtual cabinet's own physics."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.design.listening_tone import (
    CAREFUL_V,
    LISTENING_POWER,
    LISTENING_TRAVEL,
    MOST_LISTENING_V,
    designed_tone,
    measured_tone,
    usual_tone,
)
from sealtune.jobs.designs import load_design
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Driver
from sealtune.virtual.cabinet import VirtualCabinet, cabinet_from_design
from sealtune.virtual.circuit import Network

DESIGN = load_design(Path(__file__).parents[2] / "recordings" / "design.toml")[0]


def virtual_response(cabinet: VirtualCabinet, hz: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return pressure in the box, Pa, and cone's peak travel, m, for one volt root mean square."""
    network = Network(hz.size, ("coil", "cone", "box"))
    cabinet.driver.add_to(network, hz, cabinet.air, mounted=True)
    network.connect("box", "ground", cabinet.acoustic_admittance(hz))
    found = network.potentials("coil")
    volt = found["coil"]
    travel = np.sqrt(2.0) * np.abs(found["cone"] / volt) / (2.0 * np.pi * hz)
    return np.abs(found["box"] / volt), travel


def cabinet() -> VirtualCabinet:
    return cabinet_from_design(DESIGN, np.random.default_rng(1))


def test_the_tone_lies_above_the_tuning_where_the_pressure_is_highest() -> None:
    # independent: the virtual cabinet's own network, driven with what the tone allows, over all that lies above it
    tone = designed_tone(DESIGN, 2.0)
    box = cabinet()
    tuning_hz = box.truth().tuning_hz
    assert tuning_hz is not None
    assert tuning_hz + 2.0 < tone.frequency_hz < 1.3 * tuning_hz
    hz = np.linspace(tone.frequency_hz, 90.0, 300)
    pressure, travel = virtual_response(box, hz)
    assert DESIGN.driver.xmax_m is not None
    volts = np.minimum(MOST_LISTENING_V, LISTENING_TRAVEL * DESIGN.driver.xmax_m / travel)
    assert pressure[0] * volts[0] > 0.97 * float((pressure * volts).max())
    # and the cone moves less there than anywhere in the octave below
    assert travel[0] < 0.5 * virtual_response(box, np.linspace(22.0, 35.0, 50))[1].max()


def test_the_cones_travel_is_that_of_the_virtual_cabinet() -> None:
    # independent: the same; the coil's inductance and creep, left out in the textbook circuit, are in it
    tone = designed_tone(DESIGN, 2.0)
    _, travel = virtual_response(cabinet(), np.array([tone.frequency_hz]))
    assert DESIGN.driver.xmax_m is not None
    assert tone.travel_share == pytest.approx(tone.volts * float(travel[0]) / DESIGN.driver.xmax_m, rel=0.2)
    assert tone.travel_share is not None
    assert tone.travel_share <= LISTENING_TRAVEL


def test_a_short_travel_limits_the_level() -> None:
    # exact: by definition the cone then moves the share that it may
    tone = designed_tone(replace(DESIGN, driver=replace(DESIGN.driver, xmax_m=0.0005)), 2.0)
    assert tone.because == "travel"
    assert tone.travel_share == pytest.approx(LISTENING_TRAVEL)
    assert tone.volts < MOST_LISTENING_V


def test_a_weak_coil_limits_the_level() -> None:
    # exact: E^2 / R_E is the share of the rated power
    tone = designed_tone(replace(DESIGN, driver=replace(DESIGN.driver, power_w=2.0)), 2.0)
    assert tone.because == "power"
    assert tone.volts == pytest.approx((LISTENING_POWER * 2.0 * 5.6) ** 0.5)


def test_without_the_drivers_data_it_stays_careful() -> None:
    tone = designed_tone(replace(DESIGN, driver=Driver()), 2.0)
    assert (tone.because, tone.volts) == ("travel unknown", CAREFUL_V)
    assert tone.frequency_hz > 43.5
    assert usual_tone().volts == CAREFUL_V


def test_the_measured_curve_wins_over_the_design() -> None:
    # a vent cut short tunes higher than designed: the tone follows
    design = DESIGN
    assert design.vent is not None
    shorter = replace(design, vent=replace(design.vent, length_m=0.06))
    box = cabinet_from_design(shorter, np.random.default_rng(2))
    tuning_hz = box.truth().tuning_hz
    assert tuning_hz is not None
    hz = np.linspace(10.0, 400.0, 2000)
    curve = ImpedanceCurve(hz, box.impedance(hz), np.full(hz.size, 0.01))
    fit = fit_vented_box(curve, find_landmarks(curve), design)
    assert fit is not None
    for known in (design, None):
        tone = measured_tone(fit, known, 2.0)
        assert tone.tuning_hz == pytest.approx(tuning_hz, rel=0.01)
        assert tuning_hz + 2.0 <= tone.frequency_hz < 1.25 * tuning_hz
        assert tone.basis == "measured"
    assert measured_tone(fit, None, 2.0).because == "travel unknown"
    assert measured_tone(fit, design, 2.0).travel_share is not None
