"""The sound of the virtual cabinet: pistons by Rayleigh's integral, sums, rooms, and what rattles."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from sealtune.records.recording import Sweep
from sealtune.virtual.cabinet import VirtualCabinet
from sealtune.virtual.duct import Air
from sealtune.virtual.faults import apply_fault
from sealtune.virtual.near_field_take import Microphone, record_near_field
from sealtune.virtual.side_noise import Chuffing, Rattle, blowing
from sealtune.virtual.sound_card import IDEAL
from sealtune.virtual.sound_field import (
    Placement,
    RoomMode,
    far_field,
    near_cone,
    near_mouth,
    on_axis,
    on_axis_of_rectangle,
)

AIR = Air()
HZ = np.array([40.0, 300.0, 1500.0])


def stiff(hz: float) -> complex:
    return 1j * hz * AIR.density_kg_m3  # j w rho / (2 pi)


@pytest.mark.parametrize("distance_m", [0.0, 0.01])
def test_round_piston(distance_m: float) -> None:
    # Independent: Rayleigh's integral over rings by quadrature
    radius = 0.08
    for hz, found in zip(HZ, on_axis(HZ, radius, distance_m, AIR), strict=True):
        k = 2.0 * np.pi * hz / AIR.sound_speed_m_s

        def ring(r: float, part: int, k: float = k) -> float:
            way = np.hypot(r, distance_m) + 1e-12
            value = np.exp(-1j * k * way) / way * 2.0 * np.pi * r
            return float((value.real, value.imag)[part])

        whole = quad(ring, 0.0, radius, args=(0,))[0] + 1j * quad(ring, 0.0, radius, args=(1,))[0]
        assert found == pytest.approx(stiff(hz) * whole, rel=1e-6)


@pytest.mark.parametrize(("ratio", "db"), [(0.05, -0.434), (0.10, -0.867), (0.11, -0.954), (0.12, -1.040)])
def test_distance(ratio: float, db: float) -> None:
    # From memory [Keele1974], confirmed by computation: sqrt(1 + (r/a)^2) - r/a; below 0.11 a less than 1 dB is lost
    hz = np.array([20.0])
    lost = np.abs(on_axis(hz, 0.065, ratio * 0.065, AIR) / on_axis(hz, 0.065, 0.0, AIR))
    assert 20.0 * np.log10(lost) == pytest.approx([db], abs=0.001)


def test_rectangular_piston() -> None:
    # Independent: Rayleigh's integral over the face by quadrature
    sides, distance_m, hz = (0.24, 0.05), 0.004, 700.0
    k = 2.0 * np.pi * hz / AIR.sound_speed_m_s

    def face(y: float, x: float, part: int) -> float:
        way = np.sqrt(x * x + y * y + distance_m**2)
        value = np.exp(-1j * k * way) / way
        return float((value.real, value.imag)[part])

    parts = [
        4.0 * dblquad(face, 0.0, sides[0] / 2, 0.0, sides[1] / 2, args=(part,), epsrel=1e-7)[0]
        for part in (0, 1)
    ]
    found = on_axis_of_rectangle(np.array([hz]), sides, distance_m, AIR)[0]
    assert found == pytest.approx(stiff(hz) * (parts[0] + 1j * parts[1]), rel=1e-4)


def test_far_below_the_tuning_the_air_only_moves_round(cabinet: VirtualCabinet) -> None:
    # Exact: what the cone takes away at 0 Hz comes out of vent and leaks
    tight = replace(cabinet, leakage_pa_s_m3=None)
    flows = tight.flows(np.array([0.5]))
    assert flows.vent / flows.cones == pytest.approx([-1.0], abs=2e-3)


def test_impedance_and_flows_agree(cabinet: VirtualCabinet) -> None:
    # Exact: the motional part of the voltage is Bl v, so v = (V - I Z_blocked)/Bl
    hz = np.array([25.0, 43.0, 90.0])
    z = cabinet.impedance(hz)
    driver = cabinet.driver
    speed = (1.0 - driver.blocked_ohm(hz) / z) / driver.bl_tm
    assert cabinet.flows(hz).each_cone == pytest.approx(driver.area_m2 * speed, rel=1e-9)


def test_keeles_sum_is_the_far_field_at_low_frequencies(cabinet: VirtualCabinet) -> None:
    # [Keele1974]: p_cone + p_mouth sqrt(S_V/S_D), times a/(2 r); with the microphone in the middle, nothing else heard
    assert cabinet.vent is not None
    tight = replace(cabinet, leakage_pa_s_m3=None)
    alone = Placement(cone_distance_m=0.0, mouth_distance_m=0.0, apart_m=1e9)
    hz = np.asarray(np.geomspace(25.0, 200.0, 20), dtype=np.float64)
    weight = np.sqrt(cabinet.vent.area_m2 / cabinet.driver.area_m2)
    whole = near_cone(tight, hz, alone) + weight * near_mouth(tight, hz, alone)
    far = far_field(tight, hz, 1.0) / (cabinet.driver.radius_m / 2.0)
    assert 20 * np.log10(np.abs(whole / far)) == pytest.approx(np.zeros(20), abs=0.06)


def test_crosstalk_has_its_size(cabinet: VirtualCabinet) -> None:
    # Exact: the vent's sound at the cone's microphone is a/(2 d) of a cone's near field of the same flow
    hz = np.array([30.0])
    d = 0.3
    with_it = near_cone(cabinet, hz, Placement(0.0, 0.0, apart_m=d))
    without = near_cone(cabinet, hz, Placement(0.0, 0.0, apart_m=1e9))
    flows = cabinet.flows(hz)
    own = on_axis(hz, cabinet.driver.radius_m, 0.0, cabinet.air) / cabinet.driver.area_m2
    share = np.abs((with_it - without) / ((flows.vent + flows.leaks) * own))
    assert share == pytest.approx([cabinet.driver.radius_m / (2.0 * d)], rel=1e-3)


def test_room_mode_peaks_at_its_resonance() -> None:
    # Exact: at resonance rho c^2 q / (V w) times the coupling
    mode = RoomMode(40.0, 15.0, 50.0, 0.5)
    height = np.abs(mode.pressure(np.array([20.0, 40.0, 80.0]), AIR))
    assert height[1] == pytest.approx(0.5 * AIR.stiffness_pa * 15.0 / (50.0 * 2 * np.pi * 40.0), rel=1e-9)
    assert height[1] > 8.0 * height[0]
    assert height[1] > 8.0 * height[2]


def test_swapped_leads_turn_the_sound_and_nothing_else(
    cabinet: VirtualCabinet, rng: np.random.Generator
) -> None:
    turned = apply_fault(cabinet, "polarity", 0.5, rng)
    hz = np.array([30.0, 100.0])
    assert turned.impedance(hz) == pytest.approx(cabinet.impedance(hz), rel=1e-12)
    assert near_cone(turned, hz, Placement()) == pytest.approx(
        -near_cone(cabinet, hz, Placement()), rel=1e-12
    )


def test_recording_holds_the_field(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    # Independent: the ratio of the two channels' spectra against the field itself
    sweep = Sweep(15.0, 400.0, 3.0, begins_s=0.3, fade_s=0.05)
    quiet = Microphone(full_scale_pa=100.0, noise_pa=0.0, hiss_dbfs=None, second=0.0, third=0.0)
    take = record_near_field(cabinet, "cone", sweep, rng, microphone=quiet, card=IDEAL, rate_hz=4000.0)
    assert take.origin.role == "cone"
    spectra = np.fft.rfft(take.channels, axis=0)
    hz = np.fft.rfftfreq(take.channels.shape[0], 1.0 / 4000.0)
    used = (hz > 30.0) & (hz < 300.0)
    # channel 1: twice the input's voltage is full scale; channel 2: 100 Pa
    ratio = spectra[used, 1] / spectra[used, 0] * 100.0 / (2.0 * IDEAL.input_v)
    at_hz = np.asarray(hz[used], dtype=np.float64)
    assert ratio == pytest.approx(near_cone(cabinet, at_hz, Placement()), rel=0.02)


def test_rattle_has_its_share(cabinet: VirtualCabinet) -> None:
    sweep = Sweep(15.0, 400.0, 4.0, begins_s=0.3)
    quiet = Microphone(noise_pa=0.0, hiss_dbfs=None)
    plain, rattling = (
        record_near_field(
            cabinet, "cone", sweep, np.random.default_rng(1), microphone=quiet, card=IDEAL, rattle=rattle
        ).channels[:, 1]
        for rattle in (None, Rattle(0.1, 40.0, 80.0, uneven=0.0))
    )
    # the sweep of 4 s rises by a factor e in 1.2 s: it passes 50 to 70 Hz from 1.74 to 2.15 s
    part = slice(round(1.80 * 48000), round(2.10 * 48000))
    share = np.sqrt(np.mean((rattling - plain)[part] ** 2) / np.mean(plain[part] ** 2))
    assert share == pytest.approx(0.1, rel=0.2)


def test_blowing_goes_with_the_fourth_power(rng: np.random.Generator) -> None:
    time_s = np.arange(48000) / 48000.0
    speed = 5.0 * np.sin(2.0 * np.pi * 40.0 * time_s)
    soft, loud = (
        np.sqrt(np.mean(blowing(Chuffing(), factor * speed, 48000.0, np.random.default_rng(2)) ** 2))
        for factor in (1.0, 2.0)
    )
    assert loud / soft == pytest.approx(16.0, rel=1e-9)  # Exact: 2^4


def test_a_closed_box_has_no_mouth_to_listen_at(cabinet: VirtualCabinet) -> None:
    with pytest.raises(ValueError, match="a closed box has no mouth"):
        near_mouth(replace(cabinet, vent=None), HZ, Placement(0.01, 0.01, 0.3, 1.0, ()))
