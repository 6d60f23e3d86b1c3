"""A virtual sound device: plays into a virtual bench and records from it block by block, without hardware."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from sealtune.errors import DeviceFault
from sealtune.records.sound_device import DeviceInfo, Hearer, Player, StreamFlag
from sealtune.virtual.bench import AtRole, Bench, Connection, Real
from sealtune.virtual.block_filter import BlockFilter, Disturbance
from sealtune.virtual.sound_card import SoundCard, input_response, quantised, round_length, sampled_impedance

VIRTUAL = "virtual"
"""The name it goes by."""

RESPONSE_S = 6.0
"""The bench's answer is kept for so long: a resonance of Q = 10 at 8 Hz has died away to exp(-15)."""

SILENT_S = 5.0
"""Added to that before the transform, so that what rings on does not come round again."""

SOLVED_TO_HZ = 4000.0

RATES_HZ = (44100.0, 48000.0, 88200.0, 96000.0)

Microphone = Callable[[Real], Real]
"""Turns the volts inside the amplifier, the next block of frames, into what the second input hears, full scale 1.0;
keeps its own state from block to block."""


@dataclass(frozen=True)
class DeviceFaults:
    """What goes wrong with the device; frames count from the stream's start.

    vanishes_at: the plug is pulled at this frame
    stalls_at: from this frame on nothing comes; after `stall_s` the device gives up
    drops_at: the block with each of these frames is lost: silence goes out, what comes in then is not heard
    flags: what the device says of the block with this frame
    zeros_from: from this frame on the inputs deliver exact zeros
    """

    vanishes_at: int | None = None
    stalls_at: int | None = None
    stall_s: float = 3.0
    drops_at: tuple[int, ...] = ()
    flags: tuple[tuple[int, StreamFlag], ...] = ()
    zeros_from: int | None = None


@dataclass
class VirtualSoundDevice:
    """A sound device with a virtual bench on its other side.

    bench: what it plays into
    card: amplifier, inputs and their disturbance; its level, silence and the driver's distortion do not count here
    seed: of noise and hum, which differ from one exchange to the next
    block_frames: what is played and heard at once; by default 4096, and 1024 in real time
    latency_frames: how late what is played comes back
    real_time: whether it takes its time; otherwise as fast as the processor allows
    microphone: hears in place of the second input, None for the bench's own voltage there
    """

    bench: Bench
    card: SoundCard = field(default_factory=SoundCard)
    seed: int = 0
    block_frames: int | None = None
    latency_frames: int = 1217
    real_time: bool = False
    faults: DeviceFaults = DeviceFaults()
    microphone: Microphone | None = None
    name: str = VIRTUAL
    clock: Callable[[], float] = time.monotonic
    sleep: Callable[[float], None] = time.sleep
    connection: Connection = field(default="open", init=False)

    def __post_init__(self) -> None:
        self._rng = np.random.default_rng(self.seed)
        self._played_s = 0.0
        self._answers: dict[tuple[float, Connection], Real] = {}

    @property
    def info(self) -> DeviceInfo:
        """Return what it is."""
        return DeviceInfo(self.name, None, "built in", 2, 1, 48000.0, RATES_HZ)

    def now_s(self) -> float:
        """Return its own time, s: in real time the clock's, otherwise what it has played so far.

        Who waits by this time waits for the same number of samples on every computer.
        """
        return self.clock() if self.real_time else self._played_s

    def connect(self, connection: Connection) -> None:
        """Put the clips on something else, as the person at the bench does between two exchanges."""
        self.connection = connection

    def exchange(self, rate_hz: float, play: Player, hear: Hearer) -> None:
        """Play what `play` gives, hand what comes back to `hear`, until `play` returns None; both in this thread.

        Raises DeviceFault for a rate that it has not, and where its faults say so.
        """
        if rate_hz not in RATES_HZ:
            rates = ", ".join(f"{rate:g}" for rate in RATES_HZ)
            raise DeviceFault(
                self.name,
                f"a rate of {rates} samples per second",
                f"{rate_hz:g}",
                "Choose one of these with --rate.",
            )
        frames = self.block_frames or (1024 if self.real_time else 4096)
        at = (rate_hz, self.connection)
        if at not in self._answers:
            self._answers[at] = self.impulse_responses(rate_hz)
        circuit = BlockFilter(self._answers[at], frames)
        disturbance = Disturbance(self.card, rate_hz, frames, self._rng)
        late = np.zeros(self.latency_frames)
        began, frame = self.clock(), 0
        while (played := play(frames)) is not None:
            lost = any(frame <= at < frame + frames for at in self.faults.drops_at)
            for block in ([np.zeros(frames)] if lost else []) + [np.clip(played, -1.0, 1.0)]:
                heard = circuit(block).T
                late = np.concatenate([late, block])
                if self.microphone is not None:
                    heard[:, 1] = self.microphone(self.card.amplifier_v * late[:frames])
                late = late[frames:]
                heard = quantised(heard + disturbance.next(frames), self.card.step)
            if self.real_time:
                self.sleep(max(0.0, began + (frame + frames) / rate_hz - self.clock()))
            self._played_s += frames / rate_hz
            self._deliver(heard, frame, hear)
            frame += frames

    def impulse_responses(self, rate_hz: float) -> Real:
        """Return what either input makes of one sample of full scale, full scale 1.0, shape (2, frames)."""
        card = self.card
        length = round_length(round((RESPONSE_S + SILENT_S) * rate_hz))
        hz = np.asarray(np.fft.rfftfreq(length, 1.0 / rate_hz), dtype=np.float64)
        above_zero = np.maximum(hz, hz[1])

        def sampled(quantity: AtRole) -> AtRole:
            return lambda at, role: sampled_impedance(lambda each: quantity(each, role), at, SOLVED_TO_HZ)

        heard = self.bench.pressure
        bench = replace(
            self.bench,
            impedance=sampled(self.bench.impedance),
            pressure=None if heard is None else sampled(heard),
        )
        volts = bench.voltages(self.connection, above_zero, card.source_ohm)
        late = np.exp(-2j * np.pi * hz * self.latency_frames / rate_hz)
        responses = [
            volts[n]
            * input_response(hz, rate_hz, card, second=n == 1)
            * late
            * card.amplifier_v
            / card.input_v
            for n in (0, 1)
        ]
        taps = np.fft.irfft(np.stack(responses), length, axis=1)
        return np.asarray(taps[:, : round(RESPONSE_S * rate_hz)])

    def _deliver(self, heard: Real, frame: int, hear: Hearer) -> None:
        faults, end = self.faults, frame + heard.shape[0]
        flags = frozenset(flag for at, flag in faults.flags if frame <= at < end)
        if faults.zeros_from is not None:
            heard[max(faults.zeros_from - frame, 0) :] = 0.0
        stops = [at for at in (faults.vanishes_at, faults.stalls_at) if at is not None and at < end]
        if not stops:
            hear(heard, flags)
            return
        if min(stops) > frame:
            hear(heard[: min(stops) - frame], flags)
        if faults.vanishes_at != min(stops):
            self.sleep(faults.stall_s)
            raise DeviceFault(
                self.name,
                "sound to go on coming in",
                f"nothing for {faults.stall_s:g} s",
                "Check the plug and whether another program holds the device, then try again.",
            )
        raise DeviceFault(
            self.name, "a device that stays", "it is gone", "Check its plug and its power, then try again."
        )
