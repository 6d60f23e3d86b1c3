from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from sealtune.errors import UsageFault
from sealtune.records.verdict import FaultName
from sealtune.virtual.cabinet import VirtualCabinet
from sealtune.virtual.faults import FAULTS, apply_fault, with_hole, with_slit


def _tuning(cabinet: VirtualCabinet) -> float:
    hz = cabinet.truth().tuning_hz
    assert hz is not None
    return hz


def test_every_fault_changes_the_curve_and_names_a_finding(
    cabinet: VirtualCabinet, rng: np.random.Generator
) -> None:
    frequency_hz = np.geomspace(10.0, 200.0, 500)
    sound = cabinet.impedance(frequency_hz)
    for fault in FAULTS:
        box = cabinet
        if fault.name == "driver_wiring":
            box = replace(cabinet, driver=replace(cabinet.driver, count=2, wiring="parallel"))
        faulty = apply_fault(box, fault.name, 0.5, rng)
        change = np.abs(faulty.impedance(frequency_hz) / sound - 1).max()
        if fault.name == "none":
            assert change < 1e-14  # the batch size decides the last bit
            assert fault.finding is None
        elif fault.name == "polarity":  # no impedance shows it, see test_sound_field
            assert change < 1e-14
            assert fault.finding == "polarity"
        else:
            assert change > 0.1, fault.name
            assert fault.finding in get_args(FaultName)


def test_tuning_moves_the_way_the_fault_says(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    good = _tuning(cabinet)
    # exact but for the walls: f_B goes with one over the root of length or volume
    assert _tuning(apply_fault(cabinet, "vent_long", 1.0, rng)) / good == pytest.approx(1.6**-0.5, rel=0.01)
    assert _tuning(apply_fault(cabinet, "vent_short", 0.0, rng)) / good == pytest.approx(0.85**-0.5, rel=0.01)
    assert _tuning(apply_fault(cabinet, "volume_small", 1.0, rng)) / good == pytest.approx(
        0.65**-0.5, rel=0.01
    )
    assert _tuning(apply_fault(cabinet, "volume_large", 1.0, rng)) / good == pytest.approx(
        1.45**-0.5, rel=0.01
    )
    assert _tuning(apply_fault(cabinet, "vent_restricted", 0.0, rng)) < 0.98 * good
    assert _tuning(apply_fault(cabinet, "vent_restricted", 1.0, rng)) < 0.85 * good


def test_losses_come_out_as_the_fault_says(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    assert (cabinet.truth().box_q or 0) > 10
    assert (apply_fault(cabinet, "overstuffed", 0.0, rng).truth().absorption_q or 0) == pytest.approx(
        8.0, rel=0.1
    )
    lined = apply_fault(cabinet, "vent_lined", 0.0, rng).truth()
    # exact: flow resistance alone, Q = rho omega L' / R
    effective_m = 0.13 + (0.8216 + 0.6127) * 0.025
    alone = 1.19931 * 2 * np.pi * (lined.tuning_hz or 0) * effective_m / 4.0
    sound_q = cabinet.truth().vent_q or 0
    assert 1 / (lined.vent_q or 1) == pytest.approx(1 / alone + 1 / sound_q, rel=0.05)


def test_shut_vents_have_no_tuning(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    for name in ("vent_blocked", "closed_box"):
        truth = apply_fault(cabinet, name, 0.5, rng).truth()
        assert truth.tuning_hz is None
        assert truth.box_q is None
    blocked = apply_fault(cabinet, "vent_blocked", 0.0, rng)
    frequency_hz = np.geomspace(5.0, 300.0, 100)
    # exact: a blocked vent is a plugged one
    np.testing.assert_array_equal(blocked.impedance(frequency_hz), cabinet.impedance(frequency_hz, "plugged"))


def test_leaks_have_the_size_asked_for(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    leaky = with_hole(with_slit(cabinet, 0.5, 60.0, 15.0), 4.0, 15.0)
    # exact: 30 mm2 and pi 2^2 mm2
    assert leaky.truth().leak_area_m2 == pytest.approx((30.0 + np.pi * 4.0) * 1e-6)
    kinds = {type(apply_fault(cabinet, "leak", 0.5, rng).leaks[0]).__name__ for _ in range(40)}
    assert kinds == {"Slit", "Hole"}


def test_series_resistance_is_added_at_the_terminals(
    cabinet: VirtualCabinet, rng: np.random.Generator
) -> None:
    frequency_hz = np.geomspace(5.0, 300.0, 50)
    faulty = apply_fault(cabinet, "series_resistance", 1.0, rng)
    np.testing.assert_allclose(
        faulty.impedance(frequency_hz), cabinet.impedance(frequency_hz) + 4.0, rtol=1e-12
    )


def test_driver_off_goes_both_ways(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    ratios = {
        round(apply_fault(cabinet, "driver_off", 1.0, rng).truth().fs_hz / cabinet.truth().fs_hz, 4)
        for _ in range(40)
    }
    assert ratios == {round(2**0.5, 4), round(2**-0.5, 4)}  # exact: compliance doubled or halved


def test_wrong_use_is_refused(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    with pytest.raises(UsageFault, match="leak_slit"):
        apply_fault(cabinet, "leek", 0.5, rng)
    with pytest.raises(UsageFault, match="0 to 1"):
        apply_fault(cabinet, "leak", 1.5, rng)
    with pytest.raises(UsageFault, match="vent"):
        apply_fault(replace(cabinet, vent=None), "vent_long", 0.5, rng)
    with pytest.raises(UsageFault, match="several drivers"):
        apply_fault(cabinet, "driver_wiring", 0.5, rng)
    with pytest.raises(UsageFault, match="gap_mm"):
        with_slit(cabinet, 0.0, 50.0, 15.0)
