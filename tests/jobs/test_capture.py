"""The capture as a job, over a loop in place of a device: roles of the microphone, what ends it, what is kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.capture.loop_device import LoopDevice

from sealtune.errors import DeviceFault, UsageFault
from sealtune.files.sound_file import read_recording
from sealtune.jobs import capture_order
from sealtune.jobs.capture import Captured, Listener, capture
from sealtune.jobs.capture_order import CaptureOptions, CaptureOrder, settled
from sealtune.jobs.recordings import CheckOptions
from sealtune.records.interval import Interval
from sealtune.records.recording import Role

Reals = NDArray[np.float64]
NOW = datetime(2026, 11, 25, 10, 15, tzinfo=UTC)
DIVIDER = CheckOptions(reference_ohm=10.0, wiring="divider")
OPTIONS = CaptureOptions(level_dbfs=-20.0, seconds=1.0, repeats=1)


def quiet_noise(seed: int = 1) -> LoopDevice:
    rng = np.random.default_rng(seed)
    return LoopDevice(spoil=lambda _, block: block + 1e-5 * rng.standard_normal(block.shape))


def order_for(
    role: Role, folder: Path, device: LoopDevice, options: CaptureOptions, monkeypatch: pytest.MonkeyPatch
) -> CaptureOrder:
    monkeypatch.setattr(capture_order, "open_device", lambda *_, **__: device)
    return settled(role, folder, options)


@pytest.mark.parametrize("role", ["cone", "mouth"])
def test_a_microphone_s_recording_needs_no_jig_and_tells_of_none(
    tmp_path: Path, role: Role, monkeypatch: pytest.MonkeyPatch
) -> None:
    order = order_for(role, tmp_path / "left", quiet_noise(), OPTIONS, monkeypatch)
    done = capture(order, Listener(), NOW)
    recording = read_recording(done.path)
    assert done.path.name == f"{role}-2026-11-25T101500.wav"
    origin = recording.origin
    assert (origin.role, origin.jig, origin.complete, origin.simulated) == (role, None, True, False)
    assert origin.sweep is not None
    assert done.result is None
    assert done.weighed.problems == ()
    # Exact: the loop halves channel 2, polarity kept
    sounding = recording.channels[round(origin.sweep.begins_s * 48000) :]
    assert np.vdot(sounding[:, 0], sounding[:, 1]) / np.vdot(sounding[:, 0], sounding[:, 0]) == pytest.approx(
        0.5, 1e-3
    )


def test_an_impedance_wants_to_know_the_jig_before_any_sound(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    device = quiet_noise()
    with pytest.raises(UsageFault, match=r"calibrate.*--reference-ohm and --wiring"):
        order_for("open", tmp_path / "left", device, OPTIONS, monkeypatch)
    assert device.played == []
    assert not (tmp_path / "left").exists()


def test_a_device_that_dies_leaves_what_came_and_says_where(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    device = replace(quiet_noise(), dies_after=96000)
    order = order_for("open", tmp_path / "left", device, replace(OPTIONS, check=DIVIDER), monkeypatch)
    kept: list[Path] = []
    with pytest.raises(DeviceFault):
        capture(order, Listener(kept=kept.append), NOW)
    assert [path.name for path in kept] == ["open-2026-11-25T101500.partial.wav"]
    assert read_recording(kept[0]).channels.shape[0] > 48000


def test_cut_short_in_the_second_sweep_the_first_is_still_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    device = quiet_noise()
    order = order_for(
        "open", tmp_path / "left", device, replace(OPTIONS, repeats=3, check=DIVIDER), monkeypatch
    )
    kept: list[Path] = []

    def watch(done_s: float, _total_s: float) -> None:
        if device.now_s() > 6.0:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        capture(order, Listener(watch=watch, kept=kept.append), NOW)
    recording = read_recording(kept[0])
    assert recording.origin.sweep is not None
    assert recording.origin.sweep.repeats == 2
    assert not recording.origin.complete


def test_two_takes_of_one_second_are_both_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    paths = []
    for seed in (1, 2):
        order = order_for("cone", tmp_path, quiet_noise(seed), OPTIONS, monkeypatch)
        paths.append(capture(order, Listener(), NOW).path)
    assert [path.name for path in paths] == ["cone-2026-11-25T101500.wav", "cone-2026-11-25T101500-2.wav"]
    assert not np.array_equal(read_recording(paths[0]).channels, read_recording(paths[1]).channels)


def test_flags_go_into_the_metadata(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    device = replace(
        quiet_noise(),
        flags=lambda frame: frozenset({"input_overflow"} if frame == 96000 - 96000 % 256 else ()),
    )
    order = order_for("cone", tmp_path, device, OPTIONS, monkeypatch)
    done: Captured = capture(order, Listener(), NOW)
    # Exact: the take begins with the block after a third of a second of silence, 16384 frames into the stream
    assert done.flags == (f"input overflow at {(96000 - 96000 % 256 - 16384 + 256) / 48000:.2f} s",)
    assert "input overflow" in (read_recording(done.path).origin.note or "")


def test_a_quarter_of_the_design_s_tolerance_is_enough(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    design = tmp_path / "design.toml"
    design.write_text(
        "[box]\nvolume_l = 18\n[tuning]\ntarget_hz = 43.0\ntolerance_percent = 8.0\n", encoding="utf-8"
    )
    order = order_for("open", tmp_path / "left", quiet_noise(), replace(OPTIONS, check=DIVIDER), monkeypatch)
    assert order.enough == pytest.approx(0.02)  # Exact: a quarter of 8 %
    design.unlink()
    order = order_for("open", tmp_path / "left", quiet_noise(), replace(OPTIONS, check=DIVIDER), monkeypatch)
    assert order.enough == 0.005
    assert Interval(40.0, 39.0, 41.0).holds(40.0)
