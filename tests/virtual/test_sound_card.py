from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.records.recording import Jig, Recording, Sweep, Wiring
from sealtune.signals.sweep import sweep_samples, sweep_starts
from sealtune.virtual.cabinet import VirtualCabinet
from sealtune.virtual.circuit import Complex
from sealtune.virtual.faults import with_hole
from sealtune.virtual.sound_card import IDEAL, SoundCard, hum, pink_noise, record

RATE_HZ = 6000.0
SWEEP = Sweep(4.0, 1000.0, 12.0, begins_s=1.0, fade_s=0.1)


def _impedance_of(take: Recording) -> tuple[NDArray[np.float64], Complex]:
    """Divide the two channels' spectra, the whole recording at once, and undo the jig."""
    jig = take.origin.jig
    assert jig is not None
    padded = 1 << (take.channels.shape[0] - 1).bit_length() + 1
    first, second = (np.fft.rfft(take.channels[:, n], padded) for n in (0, 1))
    frequency_hz = np.asarray(np.fft.rfftfreq(padded, 1 / take.rate_hz))
    band = (frequency_hz > 8.0) & (frequency_hz < 700.0)
    first, second, frequency_hz = first[band], second[band], frequency_hz[band]
    if jig.wiring == "divider":
        ratio = second / first
        return frequency_hz, np.asarray(jig.reference_ohm * ratio / (1 - ratio))
    return frequency_hz, np.asarray(jig.reference_ohm * first / second)


@pytest.mark.parametrize("wiring", ["divider", "sense"])
def test_ideal_card_gives_the_impedance_back(
    cabinet: VirtualCabinet, rng: np.random.Generator, wiring: Wiring
) -> None:
    # the leaky box rings longest; two seconds are recorded after the sweep
    box = with_hole(cabinet, 6.0, 15.0)
    card = replace(IDEAL, silence_after_s=3.0)
    take = record(box.impedance, Jig(wiring, 10.0), SWEEP, "open", rng, card=card, rate_hz=RATE_HZ)
    frequency_hz, z = _impedance_of(take)
    # exact but for the ringing that is cut off
    np.testing.assert_allclose(z, box.impedance(frequency_hz), rtol=2e-4)


def test_roll_off_and_source_cancel_when_both_channels_see_them(
    cabinet: VirtualCabinet, rng: np.random.Generator
) -> None:
    card = replace(IDEAL, roll_off_hz=5.0, source_ohm=0.5, silence_after_s=3.0)
    take = record(cabinet.impedance, Jig("divider", 10.0), SWEEP, "open", rng, card=card, rate_hz=RATE_HZ)
    frequency_hz, z = _impedance_of(take)
    np.testing.assert_allclose(z, cabinet.impedance(frequency_hz), rtol=5e-4)


def test_mismatch_shows_in_the_ratio_as_asked(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    card = replace(IDEAL, mismatch_db=0.1, delay_samples=0.5, silence_after_s=3.0)
    take = record(cabinet.impedance, Jig("sense", 10.0), SWEEP, "open", rng, card=card, rate_hz=RATE_HZ)
    frequency_hz, z = _impedance_of(take)
    # exact: channel 2 is 0.1 dB louder and half a sample late, so Z comes out smaller and early
    seen = cabinet.impedance(frequency_hz) / z
    np.testing.assert_allclose(np.abs(seen), 10 ** (0.1 / 20), rtol=5e-4)
    np.testing.assert_allclose(np.angle(seen), -2 * np.pi * frequency_hz * 0.5 / RATE_HZ, atol=5e-4)


def test_ordinary_card_errs_by_its_mismatch_and_little_noise(
    cabinet: VirtualCabinet, rng: np.random.Generator
) -> None:
    card = SoundCard(silence_after_s=2.0)
    take = record(cabinet.impedance, Jig("divider", 10.0), SWEEP, "open", rng, card=card, rate_hz=RATE_HZ)
    frequency_hz, z = _impedance_of(take)
    away = np.abs((frequency_hz + 25.0) % 50.0 - 25.0) > 2.0  # beside the hum
    truth = cabinet.impedance(frequency_hz)
    # exact: channel 2 is 0.02 dB louder and 0.02 samples late, which the divider's formula bends
    late = 10 ** (0.02 / 20) * np.exp(-2j * np.pi * frequency_hz * 0.02 / RATE_HZ)
    seen = late * truth / (10.0 + truth)
    bent = 10.0 * seen / (1 - seen)
    error = np.abs(z / bent - 1)[away]
    assert np.median(error) < 0.003  # hum's skirts and noise on the whole recording at once
    assert np.median(error) > 1e-6  # and the card is not an ideal one
    assert np.median(np.abs(bent / truth - 1)) > 0.002


def test_levels_are_what_they_are_called(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    sweep = replace(SWEEP, begins_s=4.0)
    quiet = replace(IDEAL, noise_dbfs=-80.0)
    take = record(cabinet.impedance, Jig("divider", 10.0), sweep, "open", rng, card=quiet, rate_hz=RATE_HZ)
    silence = take.channels[: int(3.5 * RATE_HZ)]
    # exact: -80 dBFS root mean square is 1e-4
    assert silence.std(axis=0) == pytest.approx([1e-4, 1e-4], rel=0.03)
    # exact: 10 V x -12 dB over 5 V full scale is 0.5024
    assert np.abs(take.channels[:, 0]).max() == pytest.approx(0.5024, rel=0.01)
    humming = replace(IDEAL, hum_dbfs=-60.0, offset=0.01)
    take = record(cabinet.impedance, Jig("divider", 10.0), sweep, "open", rng, card=humming, rate_hz=RATE_HZ)
    silence = take.channels[: int(3.0 * RATE_HZ)]
    assert silence.mean(axis=0) == pytest.approx([0.01, 0.01], rel=0.01)
    # exact: peak 1e-3, harmonics halving: root mean square 1e-3 sqrt((1 + 1/4 + ... 1/256) / 2)
    expected = 1e-3 * np.sqrt(sum(0.25**n for n in range(5)) / 2)
    assert silence.std(axis=0) == pytest.approx([expected / 4, expected], rel=0.01)


def test_hum_is_at_the_mains_frequency(rng: np.random.Generator) -> None:
    spectrum = np.abs(np.fft.rfft(hum(60000, 6000.0, 60.0, 3, rng)))
    strongest = np.argsort(spectrum)[-3:] / 10.0
    assert sorted(strongest) == pytest.approx([60.0, 120.0, 180.0])


def test_pink_noise_falls_three_decibels_per_octave(rng: np.random.Generator) -> None:
    power = np.abs(np.fft.rfft(pink_noise(1 << 18, 48000.0, rng))) ** 2
    hz = np.fft.rfftfreq(1 << 18, 1 / 48000.0)
    low = power[(hz > 100) & (hz < 200)].mean()
    high = power[(hz > 6400) & (hz < 12800)].mean()
    assert 10 * np.log10(low / high) == pytest.approx(
        18.06, abs=1.0
    )  # exact: six octaves, 64 times the power


def test_driver_distortion_adds_harmonics_but_no_linear_change(
    cabinet: VirtualCabinet, rng: np.random.Generator
) -> None:
    jig = Jig("divider", 10.0)
    clean = record(cabinet.impedance, jig, SWEEP, "open", rng, card=IDEAL, rate_hz=RATE_HZ)
    dirty = record(
        cabinet.impedance, jig, SWEEP, "open", rng, card=replace(IDEAL, driver_second=0.02), rate_hz=RATE_HZ
    )
    # exact: without source resistance channel 1 is the amplifier alone
    np.testing.assert_allclose(dirty.channels[:, 0], clean.channels[:, 0], atol=1e-12)
    change = np.abs(dirty.channels - clean.channels).max(axis=0)
    assert 0.002 < change[1] / np.abs(clean.channels[:, 1]).max() < 0.04


def test_samples_lie_on_the_steps_of_the_converter(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    card = SoundCard(bits=16, level_dbfs=0.0)  # 10 V into 5 V: clips
    take = record(cabinet.impedance, Jig("divider", 10.0), SWEEP, "open", rng, card=card, rate_hz=RATE_HZ)
    assert take.step == 2.0**-15
    steps = take.channels / take.step
    np.testing.assert_array_equal(steps, np.round(steps))
    assert take.channels.max() == 1.0 - 2.0**-15
    assert take.channels.min() == -1.0


def test_metadata_tell_the_whole_measurement(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    when = datetime(2026, 3, 1, 10, 15, tzinfo=UTC)
    take = record(
        cabinet.impedance,
        Jig("sense", 12.0),
        SWEEP,
        "plugged",
        rng,
        rate_hz=RATE_HZ,
        recorded_at=when,
        note="fault none, seed 7",
    )
    origin = take.origin
    assert origin.simulated
    assert origin.complete
    assert (origin.role, origin.jig, origin.sweep) == ("plugged", Jig("sense", 12.0), SWEEP)
    assert (origin.recorded_at, origin.note, origin.level_dbfs) == (when, "fault none, seed 7", -12.0)
    assert origin.program is not None
    assert origin.program.startswith("sealtune ")
    assert take.expected_frames == take.channels.shape[0]


def test_same_seed_same_samples(cabinet: VirtualCabinet) -> None:
    def take(seed: int) -> NDArray[np.float64]:
        generator = np.random.default_rng(seed)
        return record(
            cabinet.impedance, Jig("divider", 10.0), SWEEP, "open", generator, rate_hz=RATE_HZ
        ).channels

    np.testing.assert_array_equal(take(3), take(3))
    assert not np.array_equal(take(3), take(4))


def test_repeats_are_the_same_sweep_over_and_over(cabinet: VirtualCabinet, rng: np.random.Generator) -> None:
    sweep = Sweep(10.0, 1000.0, 2.0, begins_s=0.5, fade_s=0.1, repeats=3, pause_s=4.0)
    take = record(cabinet.impedance, Jig("divider", 10.0), sweep, "open", rng, card=IDEAL, rate_hz=RATE_HZ)
    assert take.origin.sweep == sweep
    starts = sweep_starts(sweep, RATE_HZ)
    length = sweep_samples(sweep, RATE_HZ).size
    assert take.channels.shape[0] == starts[-1] + length + 6000  # exact: one second of silence behind
    first, second, third = (take.channels[start : start + length] for start in starts)
    assert np.abs(first).max() > 0.1
    # exact but for the box's ringing into the next sweep, which four seconds still
    np.testing.assert_allclose(second, first, atol=1e-6)
    np.testing.assert_allclose(third, second, atol=1e-6)
