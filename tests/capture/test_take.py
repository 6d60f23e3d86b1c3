from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.capture.loop_device import LoopDevice

from sealtune.capture.take import AFTER_S, CLEAN_S, Taken, take
from sealtune.errors import DeviceFault
from sealtune.records.recording import Sweep
from sealtune.records.sound_device import Hearer, Player, StreamFlag
from sealtune.signals.sweep import played_seconds, sweep_samples, sweep_starts

Reals = NDArray[np.float64]

RATE_HZ = 48000.0
SWEEP = Sweep(8.0, 1000.0, 2.0, begins_s=0.5, fade_s=0.05)


def taken(device: LoopDevice, sweep: Sweep = SWEEP, keep: Callable[[Reals], None] | None = None) -> Taken:
    return take(device, sweep, RATE_HZ, -20.0, keep=keep, clock=device.now_s)


def test_the_sweep_comes_back_where_the_metadata_say() -> None:
    # Exact: the loop delays by whole samples and changes nothing else
    result = taken(LoopDevice(delay=4321))
    assert result.delay_s == pytest.approx(4321 / RATE_HZ, abs=1 / RATE_HZ)
    start = round(result.sweep.begins_s * RATE_HZ)
    expected = 0.1 * sweep_samples(SWEEP, RATE_HZ)
    shift = start - sweep_starts(SWEEP, RATE_HZ)[0] - 4321
    assert abs(shift) <= 1
    heard = result.channels[start - shift : start - shift + expected.size]
    np.testing.assert_allclose(heard[:, 0], expected, atol=1e-12)
    np.testing.assert_allclose(heard[:, 1], 0.5 * expected, atol=1e-12)
    assert result.seconds == pytest.approx(SWEEP.begins_s + played_seconds(SWEEP) + AFTER_S, abs=1e-3)
    assert result.flags == ()
    assert result.silent_from_s is None


def test_what_is_kept_is_what_is_returned_block_by_block() -> None:
    kept: list[Reals] = []
    result = taken(LoopDevice(), keep=kept.append)
    assert len(kept) > 100
    np.testing.assert_array_equal(np.concatenate(kept), result.channels)


@pytest.mark.parametrize("repeats", [1, 3])
def test_every_repeat_is_where_the_metadata_say(repeats: int) -> None:
    sweep = Sweep(8.0, 1000.0, 1.0, begins_s=0.5, fade_s=0.05, repeats=repeats, pause_s=0.7)
    result = taken(LoopDevice(delay=100), sweep)
    expected = 0.1 * sweep_samples(sweep, RATE_HZ)
    starts = sweep_starts(result.sweep, RATE_HZ)
    assert len(starts) == repeats
    for start in starts:
        near = result.channels[start - 1 : start + expected.size + 1, 0]
        # Exact: of the three places within a sample of the one named, one holds the sweep itself
        assert min(np.abs(near[n : n + expected.size] - expected).max() for n in (0, 1, 2)) < 1e-12


def test_the_take_waits_until_nothing_is_flagged_for_a_third_of_a_second() -> None:
    last_flagged = 24000

    def flags(frame: int) -> frozenset[StreamFlag]:
        return frozenset({"input_underflow"}) if frame <= last_flagged else frozenset()

    device = LoopDevice(flags=flags)
    result = taken(device)
    out = np.concatenate(device.played)
    first_sound = int(np.flatnonzero(out)[0])
    # Exact: the silence before the sweep begins CLEAN_S after the last flagged block at the earliest
    assert first_sound >= last_flagged + CLEAN_S * RATE_HZ + 0.5 * RATE_HZ
    assert first_sound < last_flagged + CLEAN_S * RATE_HZ + 0.5 * RATE_HZ + 4 * device.block
    assert result.flags == ()


def test_a_device_that_always_complains_is_used_and_its_flags_are_told() -> None:
    device = LoopDevice(flags=lambda frame: frozenset({"output_underflow"} if frame % 4096 == 0 else ()))
    result = taken(device)
    assert {flag.flag for flag in result.flags} == {"output_underflow"}
    assert 0.2 < np.mean([flag.in_sweep for flag in result.flags]) < 0.8
    assert [flag.at_s for flag in result.flags] == sorted(flag.at_s for flag in result.flags)


def test_a_flag_in_the_sweep_is_told_with_its_moment() -> None:
    # CLEAN_S of silence, begins_s, then a second of the sweep
    moment = round((CLEAN_S + 0.5 + 1.0) * RATE_HZ) // 256 * 256
    device = LoopDevice(flags=lambda frame: frozenset({"input_overflow"} if frame == moment else ()))
    result = taken(device)
    assert [flag.flag for flag in result.flags] == ["input_overflow"]
    assert result.flags[0].in_sweep
    assert result.flags[0].at_s == pytest.approx(1.5, abs=0.02)


def test_zeros_in_the_sweep_are_a_drop_out_though_nothing_is_flagged() -> None:
    moment = (CLEAN_S + 0.5 + 1.0) * RATE_HZ

    def dead(frame: int, block: Reals) -> Reals:
        return block if frame < moment else np.zeros_like(block)

    result = taken(LoopDevice(spoil=dead))
    assert result.silent_from_s == pytest.approx(1.5, abs=0.02)


def test_silence_all_along_is_no_drop_out_and_has_no_delay() -> None:
    result = taken(LoopDevice(spoil=lambda frame, block: np.zeros_like(block)))
    assert result.silent_from_s is None
    assert result.delay_s is None
    assert result.sweep.begins_s == 0.5


def test_noise_has_no_delay() -> None:
    rng = np.random.default_rng(5)
    result = taken(LoopDevice(spoil=lambda frame, block: 0.1 * rng.standard_normal(block.shape)))
    assert result.delay_s is None


def test_a_sweep_in_noise_louder_than_itself_has_its_delay() -> None:
    rng = np.random.default_rng(6)
    device = LoopDevice(delay=2000, spoil=lambda frame, block: block + 0.1 * rng.standard_normal(block.shape))
    assert taken(device).delay_s == pytest.approx(2000 / RATE_HZ, abs=5e-4)


def test_what_came_before_the_device_vanished_was_kept() -> None:
    kept: list[Reals] = []
    with pytest.raises(DeviceFault):
        taken(LoopDevice(dies_after=96000), keep=kept.append)
    seconds = sum(block.shape[0] for block in kept) / RATE_HZ
    assert seconds == pytest.approx(2.0 - CLEAN_S, abs=0.02)


def test_what_keep_raises_comes_out() -> None:
    def full(block: Reals) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        taken(LoopDevice(), keep=full)


def test_the_peak_is_the_level_and_never_beyond_full_scale() -> None:
    device = LoopDevice()
    taken(device)
    assert np.abs(np.concatenate(device.played)).max() == pytest.approx(0.1, rel=1e-3)
    loud = LoopDevice()
    take(loud, SWEEP, RATE_HZ, 30.0, clock=loud.now_s)
    assert np.abs(np.concatenate(loud.played)).max() <= 1.0


class Losing(LoopDevice):
    """Plays all and hands on the first 299 blocks."""

    def exchange(self, rate_hz: float, play: Player, hear: Hearer) -> None:
        heard = 0

        def first(block: Reals, flags: frozenset[StreamFlag]) -> None:
            nonlocal heard
            heard += 1
            if heard < 300:
                hear(block, flags)

        super().exchange(rate_hz, play, first)


def test_a_device_that_hands_on_less_than_was_played_is_told() -> None:
    with pytest.raises(DeviceFault, match="Close other programs that use the device, and try again") as met:
        taken(Losing())
    # exact: 299 blocks of 256 frames, less CLEAN_S before the take
    assert f"{299 * 256 / RATE_HZ - CLEAN_S:.1f} s of them" in str(met.value)
