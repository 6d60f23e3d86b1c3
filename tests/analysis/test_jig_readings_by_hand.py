"""What is wrong with a reading of a known load, on channels made by hand: the sweep in one, a share of it in the other.

Exact: the numbers in the sentences are those put in.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

from sealtune.analysis.jig_readings import Reading, read_load
from sealtune.records.recording import Jig, Origin, Recording, Step, Sweep, Wiring
from sealtune.signals.sweep import sweep_samples

Reals = NDArray[np.float64]
SWEEP = Sweep(5.0, 1000.0, 3.0, begins_s=0.3, fade_s=0.05)
RATE_HZ = 6000.0


def played() -> Reals:
    silence = np.zeros(int(0.3 * RATE_HZ))
    return np.concatenate([silence, 0.5 * sweep_samples(SWEEP, RATE_HZ), silence])


def read(first: Reals, second: Reals, step: Step, wiring: Wiring = "divider", ohm: float = 0.0) -> Reading:
    channels = np.stack([first, second], axis=1)
    return read_load(Recording(channels, RATE_HZ, origin=Origin(sweep=SWEEP)), step, Jig(wiring, 10.0), ohm)


def noise(height: float, seed: int = 3) -> Reals:
    return np.asarray(height * np.random.default_rng(seed).standard_normal(played().size))


@pytest.mark.parametrize(("wiring", "step", "quiet"), [
    ("divider", "short", 2), ("sense", "short", 1), ("sense", "open", 2),
])  # fmt: skip
@pytest.mark.parametrize(("times", "named"), [(11.0, True), (9.0, False)])
def test_the_channel_that_should_be_quiet_is_the_loud_one(
    wiring: Wiring, step: Step, quiet: int, times: float, named: bool
) -> None:
    # ten times louder, by the root of the mean square
    channels = [played() / times, played()]
    first, second = channels if quiet == 2 else channels[::-1]
    details = [problem.detail for problem in read(first, second, step, wiring).problems]
    told = (
        f"Channel {quiet} is loud and channel {3 - quiet} hears almost nothing; it should be the other way."
    )
    assert (told in details) == named


@pytest.mark.parametrize(("wiring", "loud"), [("divider", 1), ("sense", 2)])
def test_a_click_in_the_quiet_channel_and_nothing_in_the_other(wiring: Wiring, loud: int) -> None:
    # with a short the channel across the clips is quiet; a click of 0.01 is less than 1e-4 on the average
    click = np.zeros(played().size)
    click[9000] = 0.01
    silent = np.zeros(click.size)
    found = read(*(silent, click) if loud == 1 else (click, silent), "short", wiring)
    assert [(one.problem, one.detail, one.remedy) for one in found.problems] == [
        (
            "channel_missing", f"There is no signal in channel {loud}, while the other one has it.",
            f"Check the clip, cable and input of channel {loud}, and record again.",
        )
    ]  # fmt: skip
    assert found.standard is None


def test_noise_and_what_changes_with_frequency_are_told_apart() -> None:
    # twice the noise leaves the reading unsure by twice as much; 0.03 % are of use, six ohms are known to 0.25 % then
    sounding = np.abs(played()) > 0.0
    shares = []
    for height in (0.02, 0.04):
        noisy = read(played(), 0.5 * played() + noise(height) * sounding, "resistor", ohm=10.0)
        (problem,) = noisy.problems
        assert problem.problem == "noisy"
        assert problem.detail == (
            f"Noise leaves the reading unsure by {100.0 * noisy.noise:.2g} %; at most 0.03 % is of use."
        )
        assert problem.remedy == (
            "Raise the input gain or the level, check that the clips sit well, or take a longer sweep (--seconds), and "
            "measure again."
        )
        shares.append(noisy.noise)
    assert shares[1] == pytest.approx(2.0 * shares[0], rel=0.01)
    # noise in which no load can be told is told by itself, and a resonance of Q 30 at 80 Hz is no resistor's
    lost = read(played(), 0.5 * played() + noise(0.8) * sounding, "resistor", ohm=10.0)
    assert [problem.problem for problem in lost.refused] == ["noisy"]
    assert float(lost.problems[0].detail.split()[6]) > 100.0 * 0.05
    w = 2.0 * np.pi * 80.0 / RATE_HZ
    pole = (1.0 - w / 60.0) * np.exp(1j * w)
    rings = lfilter([1.0, 0.0, -1.0], [1.0, -2.0 * pole.real, abs(pole) ** 2], played()) * w / 60.0
    uneven = read(played(), 0.5 * played() + 0.3 * rings, "resistor", ohm=10.0)
    assert [problem.problem for problem in uneven.problems] == ["not_impedance"]
    assert uneven.problems[0].detail.startswith(
        "The reading changes with frequency as no resistor and no lead does ("
    )
    assert uneven.problems[0].remedy == (
        "See that no loudspeaker is on the clips and that none of them is loose, and measure again."
    )


def test_a_clean_reading_is_what_was_put_in() -> None:
    # Ohm's law: a half of the voltage across the load is as many ohms as the reference has
    found = read(played(), 0.5 * played() + noise(1e-6), "resistor", ohm=10.0)
    assert found.problems == ()
    assert found.ohm == pytest.approx(10.0, rel=1e-3)
    assert found.gain == pytest.approx(0.5, rel=1e-3)
    assert found.noise < 1e-3
    both = read(played(), 1.02 * played() + noise(1e-6), "balance")
    assert both.ohm is None
    assert both.gain == pytest.approx(1.02, rel=1e-3)
