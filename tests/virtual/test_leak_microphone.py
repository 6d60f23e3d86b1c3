"""The virtual microphone and what it hears."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt

from sealtune.errors import UsageFault
from sealtune.physics.air import standard_air
from sealtune.physics.loudspeaker import Loudspeaker, air_and_vent, motion, static_volume_m3
from sealtune.virtual.cabinet import VirtualCabinet
from sealtune.virtual.faults import with_hole, with_slit
from sealtune.virtual.leak_microphone import DISCHARGE, LeakMicrophone, Path
from sealtune.virtual.parts import Hole, Slit
from sealtune.virtual.room_noise import ROOM_KINDS, room_noise

Reals = NDArray[np.float64]
RATE_HZ = 48000.0
STILL = Path(length_m=1e-6, leak_m=0.0, apart_m=0.05, vent_apart_m=1e3)


def microphone(cabinet: VirtualCabinet, path: Path = STILL, seed: int = 1) -> LeakMicrophone:
    return LeakMicrophone(
        cabinet, RATE_HZ, np.random.default_rng(seed), room_db=-60.0, self_noise_db=-60.0, path=path
    )


def heard_pa(
    cabinet: VirtualCabinet, volts: float, hz: float = 60.0, path: Path = STILL, block: int = 960
) -> Reals:
    time_s = np.arange(96000) / RATE_HZ
    tone = np.sqrt(2.0) * volts * np.sin(2.0 * np.pi * hz * time_s)
    listener = microphone(cabinet, path)
    return 40.0 * np.concatenate([listener(part) for part in tone.reshape(-1, block)])


def upper(pressure_pa: Reals) -> Reals:
    band = butter(4, [2000.0, 16000.0], "bandpass", fs=RATE_HZ, output="sos")
    return np.asarray(sosfiltfilt(band, pressure_pa)[48000:90000])


def level_db(pressure_pa: Reals) -> float:
    return float(10.0 * np.log10(np.mean(pressure_pa**2)))


@pytest.mark.parametrize("hz", [40.0, 55.0, 80.0])
def test_the_pressure_in_the_box_is_that_of_the_textbook_circuit(cabinet: VirtualCabinet, hz: float) -> None:
    # independent: physics.loudspeaker, Small's circuit, with the true parameters; creep and coil are left out there
    truth = cabinet.truth()
    circuit = Loudspeaker(
        ws_rad_s=2.0 * np.pi * truth.fs_hz,
        qms=truth.qms,
        qes=truth.qes,
        alpha=truth.compliance_ratio,
        wb_rad_s=2.0 * np.pi * (truth.tuning_hz or 0.0),
        leakage=1.0 / (truth.box_q or 1.0),
    )
    s = np.array([2j * np.pi * hz])
    vas_m3 = truth.compliance_ratio * cabinet.air_compliance * cabinet.air.stiffness_pa
    volume_m3 = static_volume_m3(2.0 * np.pi * truth.fs_hz, truth.qes, vas_m3, standard_air())
    spring = motion(s, circuit).cone * s / sum(air_and_vent(s, circuit))
    expected = abs(complex(spring[0])) * volume_m3 / np.sqrt(truth.re_ohm) / cabinet.air_compliance
    taps = microphone(cabinet)._taps[0]
    turn = np.exp(-2j * np.pi * hz * np.arange(taps.size) / (RATE_HZ / 16))
    assert abs(complex(taps @ turn)) == pytest.approx(expected, rel=0.12)


def test_a_slow_push_through_a_wide_hole_makes_bernoullis_jet(cabinet: VirtualCabinet) -> None:
    # exact: steady, frictionless flow has the speed sqrt(2 p / rho)
    leaky = with_hole(cabinet, 10.0, 1.0)
    listener = microphone(leaky)
    speed = listener._leak_speed(0, leaky.leaks[0], np.full(3000, 60.0))[-1]
    assert speed == pytest.approx(np.sqrt(2.0 * 60.0 / leaky.air.density_kg_m3), rel=0.02)


def test_a_push_through_a_thin_gap_is_held_by_friction(cabinet: VirtualCabinet) -> None:
    # exact: Poiseuille's flow between plates, mean speed h^2 p / (12 mu depth)
    slit = Slit(5e-5, 0.05, 0.015)
    leaky = replace(cabinet, leaks=(slit,))
    speed = microphone(leaky)._leak_speed(0, slit, np.full(3000, 60.0))[-1]
    expected = slit.gap_m**2 * 60.0 / (12.0 * leaky.air.viscosity_pa_s * slit.depth_m)
    assert speed * DISCHARGE == pytest.approx(expected, rel=0.01)


def test_the_hiss_grows_with_the_sixth_power_of_the_speed(cabinet: VirtualCabinet) -> None:
    # exact: through a wide hole, whose jet has its speed with the root of the pressure, four times the volts bring
    # twice the speed and 18 dB; inertia at 25 Hz is small, and the box answers in proportion
    leaky = replace(cabinet, leaks=(Hole(0.004, 0.001),))
    rise = level_db(upper(heard_pa(leaky, 0.8, 25.0))) - level_db(upper(heard_pa(leaky, 0.2, 25.0)))
    assert rise == pytest.approx(18.0, abs=1.5)


def test_twice_as_far_from_the_leak_is_six_decibels_less(cabinet: VirtualCabinet) -> None:
    # exact: spherical spreading
    leaky = with_slit(cabinet, 1.0, 50.0, 15.0)
    near, far = (
        level_db(upper(heard_pa(leaky, 1.0, path=replace(STILL, apart_m=apart_m))))
        for apart_m in (0.04, 0.08)
    )
    assert near - far == pytest.approx(6.02, abs=0.7)


def test_the_hiss_swells_at_twice_the_tone(cabinet: VirtualCabinet) -> None:
    # exact: both directions sound; inward at 0.3 of the power, so the tone's own frequency is there as well
    band = upper(heard_pa(with_slit(cabinet, 1.0, 50.0, 15.0), 1.0)) ** 2
    time_s = np.arange(band.size) / RATE_HZ
    twice, once, other = (
        abs(np.mean(band * np.exp(-2j * np.pi * hz * time_s))) / band.mean() for hz in (120.0, 60.0, 90.0)
    )
    assert 0.4 < twice < 0.9
    assert 0.1 < once < 0.6
    assert other < 0.1


def test_without_a_leak_only_the_tone_is_there(cabinet: VirtualCabinet) -> None:
    quiet, leaky = heard_pa(cabinet, 1.0), heard_pa(with_slit(cabinet, 1.0, 50.0, 15.0), 1.0)
    assert level_db(upper(quiet)) < level_db(upper(leaky)) - 20.0
    # what is assumed beside the box: a hundredth of the pressure inside
    assert 0.1 < np.std(quiet[48000:]) < 3.0


def test_the_length_of_the_blocks_matters_only_to_the_noise(cabinet: VirtualCabinet) -> None:
    # exact: without a leak and nearly without noise both are the same
    assert heard_pa(cabinet, 1.0, block=960) == pytest.approx(heard_pa(cabinet, 1.0, block=4800), abs=1e-5)


@pytest.mark.parametrize("kind", ROOM_KINDS)
def test_a_rooms_noise_has_the_strength_one(kind: str) -> None:
    noise = room_noise(kind, 96000, RATE_HZ, np.random.default_rng(3))  # type: ignore[arg-type]
    assert noise.shape == (96000,)
    assert np.sqrt(np.mean(noise**2)) == pytest.approx(1.0)
    again = room_noise(kind, 96000, RATE_HZ, np.random.default_rng(3))  # type: ignore[arg-type]
    assert np.array_equal(noise, again)


def test_lamps_swell_at_twice_the_mains_and_voices_come_and_go() -> None:
    mains = room_noise("mains", 480000, RATE_HZ, np.random.default_rng(4))
    spectrum = np.abs(np.fft.rfft(upper(mains[:96000]) ** 2))[20:400]
    hz = np.fft.rfftfreq(42000, 1.0 / RATE_HZ)[20:400]
    assert min(abs(hz[spectrum.argmax()] - line) for line in (100.0, 120.0)) < 1.5
    parts = [float(np.std(part)) for part in np.array_split(upper(mains[:96000]), 10)]
    voices = room_noise("speech", 480000, RATE_HZ, np.random.default_rng(4))
    spoken = [float(np.std(part)) for part in np.array_split(upper(voices[:96000]), 10)]
    assert max(parts) / min(parts) < 1.3 < max(spoken) / min(spoken)


def test_an_unknown_room_is_refused() -> None:
    with pytest.raises(UsageFault, match="quiet"):
        room_noise("cave", 48000, RATE_HZ, np.random.default_rng(1))  # type: ignore[arg-type]
