"""The guided calibration over a virtual bench: what it reaches, what it refuses, what it writes."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.benchmarks.calibration_error import distorted, measured_curve
from tests.virtual_person import VirtualPerson

from sealtune.errors import RecordingFault, SettingsFault
from sealtune.files.jig_file import keep_old, read_jig, write_jig
from sealtune.jobs.calibrate import Order, calibrate, save, uncertainty
from sealtune.jobs.calibration_level import found_level_dbfs
from sealtune.records.recording import STEPS, Jig, JigStandards, Standard, Step, Wiring
from sealtune.virtual.bench import Bench, Connection
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.device_name import built_in_design
from sealtune.virtual.sound_card import SoundCard
from sealtune.virtual.sound_device import DeviceFaults, VirtualSoundDevice

KNOWN_OHM = 22.0


@pytest.fixture(scope="module")
def bench() -> Bench:
    return Bench(cabinet_from_design(built_in_design(), np.random.default_rng(5)).impedance)


@lru_cache(maxsize=20)
def responses(bench: Bench, card: SoundCard, connection: Connection, rate_hz: float) -> NDArray[np.float64]:
    device = VirtualSoundDevice(bench, card)
    device.connect(connection)
    return device.impulse_responses(rate_hz)


class Remembered(VirtualSoundDevice):
    """What the bench answers is worked out once for all tests."""

    def impulse_responses(self, rate_hz: float) -> NDArray[np.float64]:
        return responses(self.bench, self.card, self.connection, rate_hz)


def device_of(bench: Bench, wiring: Wiring = "divider", card: SoundCard | None = None) -> VirtualSoundDevice:
    return Remembered(replace(bench, wiring=wiring), card or SoundCard(), seed=2)


def order_of(
    wiring: Wiring = "divider", steps: tuple[Step, ...] = STEPS, check_ohm: float | None = None
) -> Order:
    return Order(Jig(wiring, 10.0), steps, KNOWN_OHM, check_ohm=check_ohm, level_dbfs=-20.0, seconds=2.0)


@pytest.mark.parametrize(("wiring", "reference_ohm"), [("divider", 10.0), ("sense", 10.0)])
def test_impedance_through_a_distorted_jig_after_open_short_and_load(
    bench: Bench, wiring: Wiring, reference_ohm: float
) -> None:
    device = distorted(bench, wiring, reference_ohm, seed=8)
    order = Order(Jig(wiring, reference_ohm), ("open", "short", "resistor"), KNOWN_OHM, seconds=4.0)
    bare = measured_curve(device, order.jig, "open", -20.0, 4.0)
    done = calibrate(device, order, VirtualPerson(device, KNOWN_OHM), clock=device.now_s)
    hz, found = measured_curve(device, done.jig, "open", done.level_dbfs, 4.0)
    assert hz[0] < 8.1
    assert hz[-1] > 295.0
    share = found / bench.impedance(hz, "open")
    # exact: the virtual box's own impedance; the limits are those the calibration has to reach
    assert np.abs(np.abs(share) - 1.0).max() < 0.003
    assert np.abs(np.degrees(np.angle(share))).max() < 0.2
    # and without the known loads the jig is far off
    assert np.abs(np.abs(bare[1] / bench.impedance(bare[0], "open")) - 1.0).max() > 0.05


@pytest.mark.parametrize(
    ("wiring", "step", "mistake", "words"),
    [
        ("divider", "balance", "open", "not one point|runs from"),
        ("divider", "open", "leads shorted", "touch each other"),
        ("divider", "open", "open", "something is still between"),
        ("divider", "short", "open", "no short"),
        ("divider", "short", "leads open", "no short"),
        ("divider", "resistor", 3.0 * KNOWN_OHM, "reads 66"),
        ("divider", "resistor", "leads shorted", "the same|reads 0"),
        ("divider", "resistor", "leads open", "the same|kohm|reads"),
        ("sense", "balance", "open", "runs from"),
        ("sense", "open", "leads shorted", "touch each other|other way"),
        ("sense", "open", 100.0, "something is still between"),
        ("sense", "short", "open", "no short"),
        ("sense", "short", "leads open", "no short|other way"),
        ("sense", "resistor", 3.0 * KNOWN_OHM, "reads 66"),
    ],
)
def test_a_wrong_load_is_refused_with_the_reason_and_taken_when_it_is_right(
    bench: Bench, wiring: Wiring, step: Step, mistake: Connection, words: str
) -> None:
    device = device_of(replace(bench, leads_ohm=0.1, loading_ohm=20_000.0), wiring)
    person = VirtualPerson(device, KNOWN_OHM, mistakes={step: mistake}, learns=True)
    # after the loads before it, and in the other wiring, but for the known resistor, alone
    steps = STEPS[: STEPS.index(step) + 1] if wiring == "divider" or step == "resistor" else (step,)
    done = calibrate(device, order_of(wiring, steps), person, clock=device.now_s)
    assert [where for where, _ in person.refusals] == [step]
    assert any(word in person.refusals[0][1].detail for word in words.split("|")), person.refusals[0][
        1
    ].detail
    assert [where for where, _ in done.readings] == list(steps)


@pytest.mark.parametrize("wiring", ["divider", "sense"])
@pytest.mark.parametrize("step", ["short", "resistor"])
def test_exchanged_channels_are_named(bench: Bench, wiring: Wiring, step: Step) -> None:
    device = device_of(replace(bench, swapped=True), wiring)
    person = VirtualPerson(device, KNOWN_OHM)
    with pytest.raises(RecordingFault, match="Exchange the two input plugs") as told:
        calibrate(device, order_of(wiring, (step,)), person, clock=device.now_s)
    assert told.value.problem == "channels_swapped"
    assert told.value.exit_code == 3


@pytest.mark.parametrize(
    ("card", "problem"),
    [
        (SoundCard(noise_dbfs=-30.0), "noisy"),
        (SoundCard(hum_dbfs=-10.0, input_v=10.0), "hum"),
        (SoundCard(input_v=0.5), "clipped"),
        (SoundCard(amplifier_v=1e-6), "too_quiet"),
        (SoundCard(mismatch_db=9.0), "not_impedance"),
    ],
)
def test_a_bad_signal_is_refused(bench: Bench, card: SoundCard, problem: str) -> None:
    device = device_of(bench, card=card)
    with pytest.raises(RecordingFault) as told:
        calibrate(device, order_of(steps=("balance",)), VirtualPerson(device, KNOWN_OHM), clock=device.now_s)
    assert told.value.problem == problem


def test_what_the_device_says_of_lost_samples_refuses_the_step(bench: Bench) -> None:
    for faults in (
        DeviceFaults(flags=((70_000, "input_overflow"),)),
        DeviceFaults(drops_at=(70_000,)),
        DeviceFaults(zeros_from=70_000),
    ):
        device = replace(device_of(bench), faults=faults)
        with pytest.raises(RecordingFault) as told:
            calibrate(
                device, order_of(steps=("balance",)), VirtualPerson(device, KNOWN_OHM), clock=device.now_s
            )
        assert told.value.problem == "dropout", faults


def test_the_closing_check_tells_the_error_of_the_second_resistor(bench: Bench) -> None:
    device = device_of(replace(bench, leads_ohm=0.5))
    person = VirtualPerson(device, KNOWN_OHM, check_ohm=6.8 * 1.01)
    checked = calibrate(device, order_of(check_ohm=6.8), person, clock=device.now_s).checked
    assert checked is not None
    # exact: the resistor has 1 % more than it is said to have
    assert checked.error == pytest.approx(0.01, abs=3e-4)
    assert checked.degrees < 0.1
    assert abs(checked.error) < checked.allowed
    person = VirtualPerson(device, KNOWN_OHM, check_ohm=10.0)
    with pytest.raises(RecordingFault, match=r"6\.8 ohm reads 10\.2 ohm"):
        calibrate(device, order_of(steps=("resistor",), check_ohm=6.8), person, clock=device.now_s)


def test_any_subset_helps(bench: Bench) -> None:
    jig, line = Jig("divider", 10.0), (4.0, 1000.0)

    def flat(value: complex) -> Standard:
        return Standard(line, (value, value), (1e-5, 1e-5))

    bare = uncertainty(jig, 40.0)
    balanced = uncertainty(replace(jig, standards=JigStandards(balance=flat(1.0))), 40.0)
    # exact: Z = R m/(g - m), so 0.6 % of the gain g make 0.6 % (1 + Z/R) = 3.0 %; 1 % of R; both with 1.96
    assert bare == pytest.approx(1.96 * np.hypot(0.03, np.hypot(0.01, 6e-5 * 40.0)), rel=0.02)
    # balanced, the 1 % of R and the loading by 6e-5 S are left
    assert balanced == pytest.approx(1.96 * np.hypot(0.01, 6e-5 * 40.0), rel=0.05)


def test_the_level_is_found_from_quiet_on(bench: Bench) -> None:
    for amplifier_v, input_v in ((10.0, 5.0), (40.0, 11.0), (1.0, 5.0), (100.0, 1.0)):
        device = device_of(bench, card=SoundCard(amplifier_v=amplifier_v, input_v=input_v))
        device.connect("leads open")
        level = found_level_dbfs(device, 48000.0, device.now_s)
        heard = level + 20.0 * np.log10(amplifier_v / input_v)
        # the louder input is aimed at -15 dB of full scale, the output at -20 dB at most
        assert -19.0 < heard < -12.0 or level == -20.0
        assert level <= -20.0
    silent = device_of(bench, card=SoundCard(amplifier_v=1e-6))
    assert found_level_dbfs(silent, 48000.0, silent.now_s) == -30.0  # nothing arrives: no louder


def test_an_old_jig_file_is_kept_whatever_happens(tmp_path: Path) -> None:
    path, now = tmp_path / "jig.toml", datetime(2026, 3, 1, 10, 15)
    assert keep_old(path) is None
    assert save(Jig("divider", 10.0, full_scale_v=28.3), path, "a card", now) is None
    assert read_jig(path).full_scale_v == pytest.approx(28.3)
    first = path.read_bytes()
    kept = save(Jig("sense", 2.0), path, "a card", now)
    assert kept is not None
    assert kept.read_bytes() == first
    assert kept.name.startswith("jig-20")
    assert read_jig(path) == Jig("sense", 2.0)
    path.write_text("not a jig at all \u00e4", encoding="latin-1")  # whatever it holds is kept byte for byte
    odd = path.read_bytes()
    second = save(Jig("sense", 3.0), path, "a card", now)
    assert second is not None
    assert second != kept
    assert second.read_bytes() == odd
    assert keep_old(path) is not None
    assert len(list(tmp_path.glob("jig-*.toml"))) == 3


def test_volts_of_full_scale_must_be_possible(tmp_path: Path) -> None:
    path = tmp_path / "jig.toml"
    path.write_text('[jig]\nwiring = "divider"\nreference_ohm = 10\nfull_scale_v = 0\n', encoding="utf-8")
    with pytest.raises(SettingsFault, match="full_scale_v = 0"):
        read_jig(path)
    write_jig(path, Jig("divider", 10.0), datetime(2026, 3, 1))
    assert read_jig(path).full_scale_v is None
