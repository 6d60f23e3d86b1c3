"""Which of the stretches that are heard are told, on stretches put in by hand.

Exact: the numbers that are told are those put in, either side of what each limit means.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.side_noises import distortion, side_noises
from sealtune.records.near_field import SideNoise
from sealtune.records.recording import Jig, Origin, Recording, Role, Sweep
from sealtune.signals.orders import Recurring

Reals = NDArray[np.float64]
Heard = Callable[..., tuple[SideNoise, ...]]
SWEEP = Sweep(8.0, 1000.0, 1.0)
STEP = 1e-6


def take(role: Role | None, jig: Jig | None = None) -> Recording:
    """Channel 1 holds steps of 1 and channel 2 steps of 1e-6: by that they are told apart below."""
    first, second = np.arange(100.0), STEP * np.arange(100.0)
    origin = Origin(role=role, sweep=SWEEP, jig=jig, level_dbfs=-12.0)
    return Recording(np.stack([first, second], axis=1), 8000.0, origin=origin)


def one(
    low_hz: float, share: float = 0.01, *, stands_out: float = 9.0, twice: float = 1.0, level: float = 0.1
) -> Recurring:
    return Recurring(low_hz, low_hz * 2.0**0.5, share, level, stands_out, twice)


@pytest.fixture
def heard(monkeypatch: pytest.MonkeyPatch) -> Heard:
    def with_stretches(
        *loud: Recurring, amplifier: tuple[Recurring, ...] = (), role: Role | None = "cone", jig: Jig | None = None
    ) -> tuple[SideNoise, ...]:  # fmt: skip
        def recurring(samples: Reals, *_: object, least_share: float) -> tuple[Recurring, ...]:
            of_box = samples[1] == STEP
            assert least_share == (2e-4 if of_box else 0.0)
            if not of_box:
                assert samples[1] == (1.0 + STEP if jig is not None and jig.wiring == "sense" else 1.0)
            return loud if of_box else amplifier

        monkeypatch.setattr("sealtune.analysis.side_noises.recurring", recurring)
        return side_noises(take(role, jig))

    return with_stretches


def test_what_is_told_of_a_noise(heard: Heard) -> None:
    assert heard(one(30.0)) == (SideNoise("rattle", "cone", 30.0, 30.0 * 2.0**0.5, 0.01, -12.0),)
    assert heard() == ()
    assert heard(one(30.0), role="plugged") == ()
    assert heard(one(30.0), role=None) == ()
    assert heard(one(30.0), role="mouth")[0].role == "mouth"


def test_it_has_to_stand_out_and_to_be_more_than_a_step(heard: Heard) -> None:
    # six deviations; share times level against a step of 1e-6
    assert heard(one(30.0, stands_out=5.9)) == ()
    assert len(heard(one(30.0, stands_out=6.1))) == 1
    assert heard(one(30.0, 1e-3, level=0.9e-3)) == ()
    assert len(heard(one(30.0, 1e-3, level=1.1e-3))) == 1


def test_what_the_amplifier_has_a_good_part_of_is_its_own(heard: Heard) -> None:
    # three tenths, in the same stretch; what does not stand out there is not there
    assert heard(one(30.0), amplifier=(one(30.0, 0.0031),)) == ()
    assert len(heard(one(30.0), amplifier=(one(30.0, 0.0029),))) == 1
    assert len(heard(one(30.0), amplifier=(one(42.0, 0.01),))) == 1
    assert len(heard(one(30.0), amplifier=(one(30.0, 0.01, stands_out=5.0),))) == 1


def test_behind_the_box_the_amplifier_is_the_sum_of_both(heard: Heard) -> None:
    for wiring in ("divider", "sense"):
        jig = Jig(wiring, 10.0)
        assert heard(one(30.0), amplifier=(one(30.0, 0.01),), role="open", jig=jig) == ()


def test_air_blows_twice_a_turn_and_is_told_beside_what_rattles(heard: Heard) -> None:
    found = heard(one(30.0, twice=1.5), one(60.0, 0.02, twice=1.7))
    assert [(each.kind, each.low_hz) for each in found] == [("rattle", 30.0), ("blowing", 60.0)]
    # in the voltage across the box all that recurs is a rattle: the one that stands out most
    (alone,) = heard(one(30.0), one(100.0, twice=1.7, stands_out=12.0), role="open", jig=Jig("divider", 10.0))
    assert (alone.kind, alone.low_hz) == ("rattle", 100.0)


def test_stretches_that_overlap_the_strongest_are_told_as_one(heard: Heard) -> None:
    # 30 to 42.4, 40 to 56.6 and 55 to 77.8 Hz hang together, 20 to 28.3 Hz do not; the largest share of them is told
    (found,) = heard(one(20.0, 0.5), one(55.0, 0.03), one(30.0, 0.02), one(40.0, 0.01, stands_out=20.0))
    assert found.low_hz == 30.0
    assert found.high_hz == pytest.approx(55.0 * 2.0**0.5)
    assert found.share == 0.03
    (apart,) = heard(one(30.0, 0.02, stands_out=20.0), one(43.0, 0.05))
    assert (apart.low_hz, apart.share) == (30.0, 0.02)


@pytest.mark.parametrize(
    ("amplifier", "box", "found"),
    [
        ((0.0, 0.0), (0.03, 0.01), 0.03), ((0.0, 0.0), (0.01, 0.03), 0.03), ((0.01, 0.0), (0.03, 0.01), 0.02),
        ((0.05, 0.05), (0.03, 0.01), 0.0), ((np.nan, np.nan), (0.03, 0.01), None), ((0.0, np.nan), (0.03, 0.01), 0.03),
    ],
)  # fmt: skip
def test_distortion_is_the_higher_harmonic_less_the_amplifiers(
    amplifier: tuple[float, float],
    box: tuple[float, float],
    found: float | None,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # of fundamentals of 2 and 0.5; tried in quarters of an octave, from one below the tuning to one above
    def phasors(samples: Reals, *others: object) -> NDArray[np.complex128]:
        assert others[3] == pytest.approx(40.0 * 2.0 ** np.linspace(-1.0, 1.0, 9))
        of_box = samples[1] == STEP
        size = 0.5 if of_box else 2.0
        row = size * np.array([1.0, *(box if of_box else amplifier)]) * np.exp([1j, 2j, 3j])
        return np.asarray(np.tile(row, (9, 1)))

    monkeypatch.setattr("sealtune.analysis.side_noises.order_phasors", phasors)
    told = distortion(take("cone"), 40.0)
    assert told == (None if found is None else pytest.approx(found))
