"""What a fault costs by `cost` from the impedance alone, against the sound that the virtual cabinet really sends out.

Independent: the cabinet's own network, with a line for a vent, exact viscous gaps, creep and a lossy coil. What leaves
the cabinet is what the cone moves less what goes into vent, gaps and walls.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.design.prediction import predict
from sealtune.judgement.cost import cost
from sealtune.physics.air import standard_air
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.records.fit import BoxFit
from sealtune.records.verdict import FaultName, Finding
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.circuit import Network
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.faults import apply_fault, with_hole, with_slit

Reals = NDArray[np.float64]

DRIVER = Driver(
    fs_hz=37.0, qms=3.8, qes=0.38, vas_m3=0.031, re_ohm=6.1, sd_m2=0.021, xmax_m=0.006, power_w=60.0
)
VENT = Vent("round", np.pi / 4 * 0.058**2, 0.165, diameter_m=0.058)
ROUGH = Design("invented", Box(0.024, lining="walls"), VENT, Tuning(38.5), DRIVER)


def sealed() -> VirtualCabinet:
    return cabinet_from_design(ROUGH, np.random.default_rng(1))


def potentials(cabinet: VirtualCabinet, hz: Reals) -> dict[str, NDArray[np.complex128]]:
    """Voltage, velocity and pressure for 1 V at the terminals."""
    made = Network(hz.size, ("coil", "cone", "box"))
    cabinet.driver.add_to(made, hz, cabinet.air, mounted=True)
    made.connect("box", "ground", cabinet.acoustic_admittance(hz))
    found = made.potentials("coil")
    volts = found["coil"] + cabinet.series_ohm
    return {name: value / volts for name, value in found.items()}


def band_levels_db(cabinet: VirtualCabinet) -> Reals:
    """Level of pink noise in the third octaves from 20 to 200 Hz, up to a constant."""
    hz = np.concatenate([10.0 ** ((n + np.linspace(-0.475, 0.475, 20)) / 10.0) for n in range(13, 24)])
    found = potentials(cabinet, hz)
    cone = found["cone"] * cabinet.driver.area_m2
    assert cabinet.vent is not None
    out = cabinet.vent.admittance(hz, cabinet.air, False) + sum(
        leak.admittance(hz, cabinet.air) for leak in cabinet.leaks
    )
    if cabinet.leakage_pa_s_m3 is not None:
        out = out + 1.0 / cabinet.leakage_pa_s_m3
    acceleration = 2.0 * np.pi * hz * np.abs(cone - found["box"] * out)
    return np.asarray(10.0 * np.log10((acceleration**2).reshape(11, 20).mean(axis=1)))


def fitted(cabinet: VirtualCabinet) -> BoxFit:
    rng = np.random.default_rng(1)
    hz = np.geomspace(6.0, 600.0, 800)
    noise = 0.01 * (rng.normal(size=hz.size) + 1j * rng.normal(size=hz.size))
    curve = ImpedanceCurve(hz, cabinet.impedance(hz) + noise, np.full(hz.size, 0.01))
    found = fit_vented_box(curve, find_landmarks(curve), ROUGH)
    assert found is not None
    return found


def damaged(name: str) -> Callable[[VirtualCabinet], VirtualCabinet]:
    return lambda box: apply_fault(box, name, 0.7, np.random.default_rng(3))


CASES: tuple[tuple[FaultName, Callable[[VirtualCabinet], VirtualCabinet], float], ...] = (
    # the bound of a gap is wider: its resistance turns into mass as frequency rises, which one constant cannot show
    ("leak", lambda box: with_slit(box, gap_mm=0.9, width_mm=60.0, depth_mm=15.0), 0.45),
    ("leak", lambda box: with_hole(box, diameter_mm=9.0, depth_mm=15.0), 0.3),
    ("vent_long", damaged("vent_long"), 0.35),
    ("vent_short", damaged("vent_short"), 0.35),
    ("vent_lined", damaged("vent_lined"), 0.35),
    ("vent_restricted", damaged("vent_restricted"), 0.35),
    ("overstuffed", damaged("overstuffed"), 0.35),
    ("volume_small", damaged("volume_small"), 0.35),
    ("volume_large", damaged("volume_large"), 0.35),
)


@pytest.mark.parametrize(("fault", "spoil", "bound_db"), CASES)
def test_the_change_of_each_band_is_that_of_the_sound(
    fault: FaultName, spoil: Callable[[VirtualCabinet], VirtualCabinet], bound_db: float
) -> None:
    whole = sealed()
    truth = whole.truth()
    assert truth.tuning_hz is not None
    assert truth.box_q is not None
    design = replace(ROUGH, tuning=Tuning(truth.tuning_hz))
    # as designed means this very cabinet before it was spoilt, so that nothing but the fault is compared
    prediction = replace(predict(design, standard_air()), box_q=truth.box_q)
    box = spoil(whole)
    found = cost(design, prediction, fitted(box), standard_air(), [Finding(fault, 0.9, "", "", "")])
    assert found is not None
    exact_db = band_levels_db(box) - band_levels_db(whole)
    assert np.abs(exact_db).max() > 1.0, "the fault must be worth pricing"
    for band, exact in zip(found.bands, exact_db, strict=True):
        if band.heard:
            assert band.difference_db.value == pytest.approx(exact, abs=bound_db)
            assert band.difference_db.holds(exact)


def test_the_air_in_a_leaking_box_s_vent_is_that_of_the_vent_alone() -> None:
    whole = sealed()
    truth = whole.truth()
    assert truth.tuning_hz is not None
    design = replace(ROUGH, tuning=Tuning(truth.tuning_hz))
    box = with_hole(whole, diameter_mm=12.0, depth_mm=15.0)
    findings = [Finding("leak", 0.9, "", "", "")]
    prediction = predict(design, standard_air())
    found = cost(design, prediction, fitted(box), standard_air(), findings)
    assert found is not None
    hz = np.geomspace(0.5 * truth.tuning_hz, 200.0, 400)

    def fastest(cabinet: VirtualCabinet) -> float:
        assert cabinet.vent is not None
        pressure = potentials(cabinet, hz)["box"]
        return float(np.abs(pressure * cabinet.vent.admittance(hz, cabinet.air, False)).max())

    measured, designed = found.air_speed_m_s.measured, found.air_speed_m_s.designed
    assert measured is not None
    assert designed is not None
    ratio = fastest(box) / fastest(whole)
    assert ratio < 0.95
    assert measured / designed == pytest.approx(ratio, rel=0.06)
