"""The virtual sound device against the offline virtual sound card, and its own faults."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.errors import DeviceFault, UsageFault
from sealtune.records.recording import Jig, Role, Sweep, Wiring
from sealtune.records.sound_device import StreamFlag
from sealtune.signals.sweep import sweep_samples
from sealtune.virtual.bench import Bench, Connection
from sealtune.virtual.block_filter import BlockFilter
from sealtune.virtual.cabinet import VirtualCabinet
from sealtune.virtual.device_name import is_virtual, virtual_device, virtual_settings
from sealtune.virtual.sound_card import IDEAL, SoundCard, record
from sealtune.virtual.sound_device import DeviceFaults, VirtualSoundDevice

Reals = NDArray[np.float64]
RATE_HZ = 48000.0
QUIET = replace(SoundCard(), noise_dbfs=None, pink_dbfs=None, hum_dbfs=None, offset=0.0, bits=0)


class Heard:
    """Plays samples into a device and keeps what comes back."""

    def __init__(self, device: VirtualSoundDevice, samples: Reals, rate_hz: float = RATE_HZ) -> None:
        self.blocks: list[Reals] = []
        self.flags: list[frozenset[StreamFlag]] = []
        self.at = 0
        self.samples = samples
        self.error: DeviceFault | None = None
        try:
            device.exchange(rate_hz, self._play, self._hear)
        except DeviceFault as fault:
            self.error = fault
        self.channels = np.concatenate(self.blocks) if self.blocks else np.zeros((0, 2))

    def _play(self, frames: int) -> Reals | None:
        if self.at >= self.samples.size:
            return None
        block = self.samples[self.at : self.at + frames]
        self.at += frames
        return np.pad(block, (0, frames - block.size))

    def _hear(self, samples: Reals, flags: frozenset[StreamFlag]) -> None:
        self.blocks.append(samples.copy())
        self.flags.append(flags)


def heard_of(bench: Bench, connection: Connection, card: SoundCard = IDEAL) -> NDArray[np.complex128]:
    """Return the ratio of the channels at 40 Hz, from the impulse responses."""
    device = VirtualSoundDevice(bench, card)
    device.connect(connection)
    taps = device.impulse_responses(RATE_HZ)
    turns = np.exp(-2j * np.pi * 40.0 / RATE_HZ * np.arange(taps.shape[1]))
    return np.asarray(taps @ turns)


@pytest.mark.parametrize("wiring", ["divider", "sense"])
@pytest.mark.parametrize("role", ["open", "plugged", "free-air"])
def test_what_it_records_is_what_the_offline_sound_card_records(
    cabinet: VirtualCabinet, wiring: Wiring, role: Role, rng: np.random.Generator
) -> None:
    sweep = Sweep(4.0, 1000.0, 4.0, begins_s=0.25, fade_s=0.05)
    impedance = partial(cabinet.impedance, role=role)
    expected = record(impedance, Jig(wiring, 10.0), sweep, role, rng, card=QUIET).channels
    device = VirtualSoundDevice(Bench(cabinet.impedance, wiring, 10.0), QUIET, latency_frames=700)
    device.connect(role)
    tone = 10.0 ** (QUIET.level_dbfs / 20.0) * sweep_samples(sweep, RATE_HZ)
    heard = Heard(device, np.concatenate([np.zeros(12000), tone, np.zeros(60000)])).channels
    # independent: one Fourier transform over the whole recording, instead of filters block by block
    late = heard[700 : 700 + expected.shape[0]]
    error = np.sqrt(np.mean((late - expected) ** 2) / np.mean(expected**2))
    assert error < 1e-4
    assert np.abs(heard[:690]).max() < 1e-4  # nothing comes back before the delay


def test_block_filter_convolves(rng: np.random.Generator) -> None:
    taps, signal = rng.standard_normal((2, 1000)), rng.standard_normal(4096)
    blocks = BlockFilter(taps, 256)
    found = np.concatenate([blocks(signal[at : at + 256]) for at in range(0, 4096, 256)], axis=1)
    # exact: the definition of a convolution
    for n in (0, 1):
        np.testing.assert_allclose(found[n], np.convolve(signal, taps[n])[:4096], atol=1e-9)


@pytest.mark.parametrize("wiring", ["divider", "sense"])
def test_known_loads_read_as_the_circuit_says(cabinet: VirtualCabinet, wiring: Wiring) -> None:
    bench = Bench(cabinet.impedance, wiring, 10.0, leads_ohm=1.0, loading_ohm=20_000.0)

    def beside(one: float, other: float) -> float:
        return one * other / (one + other)

    # exact: resistors in series and side by side
    for connection, load in (("leads open", np.inf), ("leads shorted", 1.0), (33.0, 34.0)):
        seen = 20_000.0 if np.isinf(load) else beside(load, 20_000.0)
        first, second = heard_of(bench, connection)  # type: ignore[arg-type]
        if wiring == "divider":
            assert second / first == pytest.approx(seen / (10.0 + seen), rel=1e-6)
        else:
            assert first / second == pytest.approx(seen / beside(10.0, 20_000.0), rel=1e-6)
    first, second = heard_of(bench, "balance", replace(IDEAL, mismatch_db=0.2))
    assert second / first == pytest.approx(10.0 ** (0.2 / 20.0), rel=1e-9)
    swapped = heard_of(replace(bench, swapped=True), 33.0)
    np.testing.assert_allclose(swapped[::-1], heard_of(bench, 33.0), rtol=1e-9)


def test_microphone_hears_the_pressure_and_channel_1_stays_on_the_amplifier(cabinet: VirtualCabinet) -> None:
    def pressure(hz: Reals, role: Role) -> NDArray[np.complex128]:
        high_passed = 1j * hz / (50.0 + 1j * hz)
        return np.asarray(2.0 + 0j * hz if role == "cone" else 3.0 * high_passed)

    bench = Bench(cabinet.impedance, "divider", 10.0, pressure=pressure)
    hz = np.array([40.0])
    # exact: 0.05 V per pascal, so many pascals per volt at the box, which hangs on the amplifier itself; 10 V of the
    # amplifier, 5 V full scale
    roles: tuple[Role, ...] = ("cone", "mouth")
    for role in roles:
        first, second = heard_of(bench, role)
        expected = 0.05 * pressure(hz, role)[0]
        assert second / first == pytest.approx(expected, rel=3e-4)  # the answer is kept for 6 s
        assert abs(first) == pytest.approx(2.0, rel=1e-4)
    with pytest.raises(UsageFault, match="microphone"):
        heard_of(replace(bench, pressure=None), "cone")


def test_a_microphone_of_its_own_hears_the_played_blocks_as_late_as_channel_1(
    cabinet: VirtualCabinet,
) -> None:
    device = VirtualSoundDevice(
        Bench(cabinet.impedance), IDEAL, latency_frames=300, microphone=lambda volts: 0.5 * volts
    )
    pulse = np.zeros(10000)
    pulse[5000] = 0.1
    heard = Heard(device, pulse).channels
    assert int(np.argmax(heard[:, 0])) == 5300
    # exact: 0.1 of 10 V, halved
    assert heard[5300, 1] == pytest.approx(0.5)
    assert np.count_nonzero(heard[:, 1]) == 1


def test_noise_and_hum_have_the_levels_they_are_called_by(cabinet: VirtualCabinet) -> None:
    def level(card: SoundCard) -> Reals:
        found = Heard(VirtualSoundDevice(Bench(cabinet.impedance), card, seed=4), np.zeros(480_000)).channels
        return np.asarray(np.sqrt(np.mean(found**2, axis=0)))

    # exact: the levels asked for; the pink noise's 1 Hz and its neighbours are few samples of chance
    assert level(replace(QUIET, noise_dbfs=-80.0)) == pytest.approx([1e-4, 1e-4], rel=0.01)
    assert level(replace(QUIET, pink_dbfs=-80.0)) == pytest.approx([1e-4, 1e-4], rel=0.1)
    humming = 1e-3 * np.sqrt(sum(0.25**n for n in range(5)) / 2.0)
    assert level(replace(QUIET, hum_dbfs=-60.0)) == pytest.approx([humming / 4.0, humming], rel=0.01)


def test_same_seed_same_samples_and_every_exchange_its_own_noise(cabinet: VirtualCabinet) -> None:
    def device(seed: int) -> VirtualSoundDevice:
        return VirtualSoundDevice(Bench(cabinet.impedance), seed=seed)

    one, other = device(3), device(3)
    first, again = Heard(one, np.zeros(8192)).channels, Heard(one, np.zeros(8192)).channels
    np.testing.assert_array_equal(first, Heard(other, np.zeros(8192)).channels)
    assert not np.array_equal(first, again)
    assert not np.array_equal(first, Heard(device(4), np.zeros(8192)).channels)


def test_samples_are_rounded_and_stop_at_full_scale(cabinet: VirtualCabinet) -> None:
    card = replace(QUIET, bits=16)
    tone = np.sin(2.0 * np.pi * 100.0 / RATE_HZ * np.arange(24_000))
    heard = Heard(VirtualSoundDevice(Bench(cabinet.impedance), card), 5.0 * tone).channels
    steps = heard * 2.0**15
    np.testing.assert_array_equal(steps, np.round(steps))
    # exact: 10 V into inputs that stand 5 V
    assert (heard[:, 0].max(), heard[:, 0].min()) == (1.0 - 2.0**-15, -1.0)


def test_faults_of_the_device(cabinet: VirtualCabinet) -> None:
    tone = 0.2 * np.sin(2.0 * np.pi * 50.0 / RATE_HZ * np.arange(81_920))
    slept: list[float] = []

    def heard(faults: DeviceFaults) -> Heard:
        device = VirtualSoundDevice(
            Bench(cabinet.impedance), QUIET, latency_frames=600, faults=faults, sleep=slept.append
        )
        return Heard(device, tone)

    whole = heard(DeviceFaults()).channels
    assert whole.shape[0] == 81_920
    gone = heard(DeviceFaults(vanishes_at=30_001))
    assert gone.error is not None
    assert gone.error.exit_code == 4
    np.testing.assert_array_equal(gone.channels, whole[:30_001])
    still = heard(DeviceFaults(stalls_at=30_001, stall_s=2.5))
    assert still.error is not None
    assert "2.5 s" in str(still.error)
    assert slept == [2.5]
    np.testing.assert_array_equal(still.channels, whole[:30_001])
    lost = heard(DeviceFaults(drops_at=(40_960,)))
    assert lost.error is None
    assert lost.channels.shape == whole.shape
    np.testing.assert_array_equal(lost.channels[:40_960], whole[:40_960])
    assert np.abs(lost.channels[40_960:50_000] - whole[40_960:50_000]).max() > 0.1
    flagged = heard(DeviceFaults(flags=((41_000, "input_overflow"),)))
    assert [at for at, flags in enumerate(flagged.flags) if flags] == [10]
    zeros = heard(DeviceFaults(zeros_from=50_000)).channels
    np.testing.assert_array_equal(zeros[:50_000], whole[:50_000])
    assert not np.any(zeros[50_000:])


def test_in_real_time_it_takes_its_time(cabinet: VirtualCabinet) -> None:
    now = [100.0]

    def sleep(seconds: float) -> None:
        now[0] += seconds

    device = VirtualSoundDevice(
        Bench(cabinet.impedance), QUIET, real_time=True, clock=lambda: now[0], sleep=sleep
    )
    Heard(device, np.zeros(48_128))
    assert now[0] - 100.0 == pytest.approx(48_128 / RATE_HZ, abs=1e-9)  # exact: 47 blocks of 1024
    quick = VirtualSoundDevice(Bench(cabinet.impedance), QUIET)
    before = quick.now_s()
    Heard(quick, np.zeros(40_960))
    assert quick.now_s() - before == pytest.approx(40_960 / RATE_HZ)


def test_an_unknown_rate_is_refused(cabinet: VirtualCabinet) -> None:
    refused = Heard(VirtualSoundDevice(Bench(cabinet.impedance)), np.zeros(100), rate_hz=22050.0)
    assert refused.error is not None
    assert "44100" in str(refused.error)


def test_the_name_tells_the_settings() -> None:
    settings = virtual_settings("virtual:fault=leak, severity=0.5,seed=3,design=a,b/design.toml")
    assert settings == {"fault": "leak", "severity": "0.5", "seed": "3", "design": "a,b/design.toml"}
    assert virtual_settings("virtual") == virtual_settings("virtual:") == {}
    assert [is_virtual(name) for name in ("virtual", "virtual:seed=1", "Virtual", "virtual cable", "hw:0")] == [
        True, True, True, False, False,
    ]  # fmt: skip
    device = virtual_device(
        virtual_settings("virtual:gain_percent=3,leads_ohm=1,loading_ohm=20000,wiring=sense")
    )
    assert device.card.mismatch_db == pytest.approx(20.0 * np.log10(1.03))
    assert (device.bench.leads_ohm, device.bench.loading_ohm, device.bench.wiring) == (1.0, 20_000.0, "sense")
    leaky = virtual_device({"fault": "leak", "seed": "3"}).bench.impedance(np.array([45.0]), "open")
    sound = virtual_device({"seed": "3"}).bench.impedance(np.array([45.0]), "open")
    assert abs(leaky[0] / sound[0]) > 1.02


def test_all_that_is_wrong_with_a_name_is_told_together() -> None:
    with pytest.raises(UsageFault) as told:
        virtual_settings("virtual:falt=leak,severity=2,seed=1.5,pace=slow,nonsense")
    for words in (
        "did you mean fault",
        "severity=2: must be a number from 0 to 1",
        "seed=1.5",
        "fast or real",
    ):
        assert words in str(told.value)
