from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from sealtune.errors import UsageFault
from sealtune.records.recording import Jig, Origin, Recording, Sweep
from sealtune.records.verdict import ProblemName
from sealtune.signals.sweep import sweep_starts
from sealtune.virtual.cabinet import VirtualCabinet
from sealtune.virtual.measurement_faults import MEASUREMENT_FAULTS, spoil
from sealtune.virtual.sound_card import record

SWEEP = Sweep(5.0, 1000.0, 6.0, begins_s=1.0, fade_s=0.1)


@pytest.fixture
def take(cabinet: VirtualCabinet, rng: np.random.Generator) -> Recording:
    return record(cabinet.impedance, Jig("divider", 10.0), SWEEP, "open", rng, rate_hz=6000.0)


def test_every_fault_leaves_a_recording(take: Recording, rng: np.random.Generator) -> None:
    for fault in MEASUREMENT_FAULTS:
        for strength in (0.0, 1.0):
            spoilt = spoil(take, fault.name, strength, rng)
            assert np.isfinite(spoilt.channels).all()
            assert spoilt.channels.shape[1] == 2
            assert np.abs(spoilt.channels).max() <= 1.0
            same = spoilt.channels.shape == take.channels.shape and np.array_equal(
                spoilt.channels, take.channels
            )
            assert not (same and spoilt.origin == take.origin), fault.name
        assert fault.problem is None or fault.problem in get_args(ProblemName)


def test_clipped_samples_stand_at_full_scale(take: Recording, rng: np.random.Generator) -> None:
    for strength, least in ((0.0, 100), (1.0, 5000)):
        full = np.abs(spoil(take, "clipped", strength, rng).channels) >= 1 - 2 * take.step
        assert full.sum() > least
    assert (np.abs(take.channels) >= 1 - 2 * take.step).sum() == 0


def test_quiet_is_quiet_by_the_decibels_it_says(take: Recording, rng: np.random.Generator) -> None:
    sweep = slice(6000, 36000)
    quiet = spoil(take, "too_quiet", 0.0, rng)
    # exact: 40 dB down is a hundredth
    assert quiet.channels[sweep, 0].std() == pytest.approx(take.channels[sweep, 0].std() / 100, rel=0.02)


@pytest.mark.parametrize(("strength", "decibels"), [(0.0, -40.0), (1.0, 0.0)])
def test_noise_has_its_level(
    take: Recording, rng: np.random.Generator, strength: float, decibels: float
) -> None:
    added = spoil(take, "noisy", strength, rng).channels - take.channels
    signal = take.channels[6000:36000, 1].std()
    if strength == 0.0:  # at full strength the converter clips part of it
        assert 20 * np.log10(added[:, 1].std() / signal) == pytest.approx(decibels, abs=0.7)
    else:
        assert added[:, 1].std() > 0.5 * signal


def test_hum_sits_in_channel_two(take: Recording, rng: np.random.Generator) -> None:
    added = spoil(take, "hum", 0.5, rng).channels - take.channels
    assert np.abs(added[:, 0]).max() == 0.0
    spectrum = np.abs(np.fft.rfft(added[:, 1]))
    assert np.argmax(spectrum) * 6000.0 / added.shape[0] == pytest.approx(50.0, abs=0.3)


def test_dropouts_are_runs_of_zeros(take: Recording, rng: np.random.Generator) -> None:
    gap = spoil(take, "dropout", 0.0, rng).channels
    gone = np.flatnonzero((gap == 0.0).all(axis=1) & (take.channels != 0.0).any(axis=1))
    assert gone.size == pytest.approx(30, abs=2)  # exact: 5 ms at 6000 samples per second


def test_slip_and_truncation_take_samples_away(take: Recording, rng: np.random.Generator) -> None:
    frames = take.channels.shape[0]
    slipped = spoil(take, "slipped", 0.0, rng)
    assert slipped.channels.shape[0] == frames - 1
    assert slipped.expected_frames == frames - 1  # the file does not know
    cut = spoil(take, "truncated", 0.5, rng)
    assert cut.channels.shape[0] == pytest.approx(frames / 2, abs=1)
    assert cut.expected_frames == frames  # the file's header promised more


def test_channels_and_polarity(take: Recording, rng: np.random.Generator) -> None:
    np.testing.assert_array_equal(spoil(take, "channels_swapped", 1.0, rng).channels, take.channels[:, ::-1])
    np.testing.assert_array_equal(spoil(take, "polarity", 1.0, rng).channels[:, 1], -take.channels[:, 1])
    for strength, missing in ((0.2, 1), (0.8, 0)):
        spoilt = spoil(take, "channel_missing", strength, rng).channels
        assert spoilt[:, missing].std() < 1e-4
        np.testing.assert_array_equal(spoilt[:, 1 - missing], take.channels[:, 1 - missing])


def test_metadata_faults_touch_only_the_metadata(take: Recording, rng: np.random.Generator) -> None:
    wiring = spoil(take, "wrong_wiring", 0.5, rng)
    assert wiring.origin.jig == Jig("sense", 10.0)
    reference = spoil(take, "wrong_reference", 1.0, rng)
    assert reference.origin.jig is not None
    assert reference.origin.jig.reference_ohm == pytest.approx(100.0)
    np.testing.assert_array_equal(reference.channels, take.channels)


def test_bump_is_a_low_thump(take: Recording, rng: np.random.Generator) -> None:
    added = spoil(take, "bump", 0.5, rng).channels[:, 1] - take.channels[:, 1]
    spectrum = np.abs(np.fft.rfft(added))
    assert np.argmax(spectrum) * 6000.0 / added.size == pytest.approx(12.0, abs=1.5)


@pytest.mark.parametrize("strength", [0.0, 1.0])
def test_gains_change_as_said(take: Recording, rng: np.random.Generator, strength: float) -> None:
    decibels = 0.1 + 0.9 * strength  # exact: as the faults' meanings say
    frames = take.channels.shape[0]
    loud = np.abs(take.channels[:, 1]) > 0.05
    parts = [loud & (np.arange(frames) // (frames // 4) == quarter) for quarter in (0, 3)]
    for name, steps_db, both in (
        ("gain_drift", 0.75, False),
        ("gain_drift_both", 0.75, True),
        ("gain_step", -1.0, False),
    ):
        spoilt = spoil(take, name, strength, rng).channels
        gain_db = np.zeros(2)
        for k in (0, 1):
            early, late = (np.mean(spoilt[part, k] / take.channels[part, k]) for part in parts)
            gain_db[k] = 20 * np.log10(late / early)
        # the loud samples of the first quarter lie late in it, of the last one early: less than three quarters
        assert np.sort(np.abs(gain_db))[1] == pytest.approx(abs(steps_db) * decibels, rel=0.25)
        assert np.all(np.abs(gain_db) > 0.01) == both
        assert np.sign(gain_db[np.argmax(np.abs(gain_db))]) == np.sign(steps_db)


def test_bump_stays_in_one_repeat(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    sweep = replace(SWEEP, seconds=3.0, repeats=3, pause_s=1.0)
    take = record(cabinet.impedance, Jig("divider", 10.0), sweep, "open", rng, rate_hz=6000.0)
    seen = set()
    for seed in range(20):
        added = spoil(take, "bump_in_one_repeat", 0.5, np.random.default_rng(seed)).channels - take.channels
        assert np.abs(added[:, 0]).max() < 1e-12
        energy = [float(np.sum(part**2)) for part in np.split(added[:, 1], sweep_starts(sweep, 6000.0)[1:])]
        assert max(energy) > 0.99 * sum(energy) > 0.0
        seen.add(int(np.argmax(energy)))
    assert seen == {0, 1, 2}


def test_wrong_use_is_refused(take: Recording, rng: np.random.Generator) -> None:
    with pytest.raises(UsageFault, match="clipped"):
        spoil(take, "cliped", 0.5, rng)
    with pytest.raises(UsageFault, match="0 to 1"):
        spoil(take, "hum", -0.1, rng)
    nameless = replace(take, origin=Origin())
    with pytest.raises(UsageFault, match="jig"):
        spoil(nameless, "wrong_reference", 0.5, rng)
    assert spoil(nameless, "dropout", 0.5, rng).channels.shape == take.channels.shape


def test_a_jig_that_nobody_named_cannot_be_wired_wrongly() -> None:
    bare = Recording(np.zeros((100, 2)), 8000.0)
    with pytest.raises(UsageFault, match="a recording that names its jig") as met:
        spoil(bare, "wrong_wiring", 0.5, np.random.default_rng(0))
    assert "Record it with metadata." in str(met.value)
