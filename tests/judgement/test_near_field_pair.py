"""Two cabinets by the microphone: opposite drivers in one sentence, levels, and what one of them alone does."""

from dataclasses import replace

import numpy as np
import pytest

from sealtune.judgement.near_field_pair import near_field_pair
from sealtune.records.interval import Interval
from sealtune.records.near_field import AcousticSum, NearField, Polarity, Reading, SideNoise, SumBand

HZ = np.array([20.0, 100.0])


def heard(level_db: float, common_db: float = 0.0) -> NearField:
    bands = (SumBand(40.0, level_db, None), SumBand(100.0, 0.0, None))
    sound = AcousticSum(HZ, HZ, None, bands, 800.0, HZ, HZ, True, common_db)
    return NearField(
        None, None, polarity=Polarity("normal", 0.9), tuning_hz=Interval(44.0, 43.5, 44.5), sound=sound
    )


def test_alike() -> None:
    found = near_field_pair(("left", "right"), heard(-6.0), heard(-6.5))
    assert (found.polarity, found.words) == ("alike", ())
    assert found.bands == ((40.0, 0.5), (100.0, 0.0))
    assert found.tuning_percent == 0.0


def test_opposite_drivers_are_named_in_one_sentence() -> None:
    turned = replace(heard(-6.0), polarity=Polarity("reversed", 0.9))
    for order, names in ((0, ("left", "right")), (1, ("right", "left"))):
        pair = (turned, heard(-6.0)) if order else (heard(-6.0), turned)
        found = near_field_pair(names, *pair)
        assert found.polarity == "opposite"
        assert len(found.words) == 1
        assert "right is connected the wrong way round" in found.words[0]


def test_level_and_noises() -> None:
    rattle = SideNoise("rattle", "cone", 30.0, 60.0, 0.01, -12.0)
    found = near_field_pair(("left", "right"), replace(heard(-9.0, 2.0), noises=(rattle,)), heard(-6.0))
    assert found.apart_db == 2.0
    assert found.words == ("At 40 Hz left plays 3.0 dB softer than right.", "left rattles, right does not.")


def test_what_is_not_known() -> None:
    unknown = NearField(None, None)
    found = near_field_pair(("left", "right"), unknown, heard(-6.0))
    assert (found.polarity, found.bands, found.apart_db, found.tuning_percent) == ("unclear", (), None, None)


def test_differences_have_their_intervals() -> None:
    found = near_field_pair(("left", "right"), heard(-6.0), heard(-6.5))
    # exact: two independent sums, each within 0.28 dB in 95 % (the near field's benchmark); two tunings of 1 Hz in 44
    assert found.within_db == pytest.approx(np.sqrt(2.0) * 0.28, rel=0.03)
    assert found.within_percent == pytest.approx(100.0 * np.sqrt(2.0) * 0.5 / 44.0, rel=0.01)
    reading = Reading("cone", HZ, np.array([1.0 + 0j, 1.0]), np.array([0.02, 0.02]))
    noisy = near_field_pair(("left", "right"), replace(heard(-6.0), cone=reading), heard(-6.5))
    # exact: 2 % of noise are 0.17 dB
    assert noisy.within_db == pytest.approx(np.sqrt(2.0 * 0.28**2 + (1.96 * 0.1737) ** 2), rel=0.03)
    alone = near_field_pair(("left", "right"), NearField(None, None), heard(-6.0))
    assert (alone.within_db, alone.within_percent) == (None, None)


def test_what_either_does_alone_is_said_of_it() -> None:
    rattle, blowing = (SideNoise(kind, "cone", 30.0, 60.0, 0.01, -12.0) for kind in ("rattle", "blowing"))
    found = near_field_pair(
        ("left", "right"), replace(heard(-6.0), noises=(blowing,)), replace(heard(-6.0), noises=(rattle,))
    )
    assert found.words == ("right rattles, left does not.", "left blows in its vent, right does not.")
    both = replace(heard(-6.0), noises=(rattle,))
    assert near_field_pair(("left", "right"), both, both).words == ()
    # 1 dB is told, of the side that is softer
    for first, second, words in (
        (-6.0, -4.9, ("At 40 Hz left plays 1.1 dB softer than right.",)),
        (-4.9, -6.0, ("At 40 Hz right plays 1.1 dB softer than left.",)), (-6.0, -5.1, ()),
    ):  # fmt: skip
        assert near_field_pair(("left", "right"), heard(first), heard(second)).words == words
