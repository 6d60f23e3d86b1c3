"""What is said of cone and mouth: each sentence on a case that asks for it, and silence where none does.

Exact: the numbers in the sentences are those put in, in percent and whole decibels.
"""

from dataclasses import replace

import numpy as np
import pytest
from tests.fit_by_hand import fit_by_hand

from sealtune.judgement.near_field_verdict import with_near_field
from sealtune.judgement.near_field_words import missing_words, near_field_notes, noise_summary, noise_words
from sealtune.records.interval import Interval
from sealtune.records.near_field import Missing, NearField, OtherLevel, Polarity, Reading, SideNoise
from sealtune.records.recording import Role
from sealtune.records.verdict import Finding, Leak, Result, VerdictWord

HZ = np.array([20.0, 100.0])
CONE = Reading("cone", HZ, np.ones(2, dtype=np.complex128), np.ones(2))
MOUTH = replace(CONE, role="mouth")
TUNED = Interval(44.0, 43.5, 44.6)
RATTLE = SideNoise("rattle", "cone", 30.0, 60.0, 0.02, -12.0)
BLOWING = SideNoise("blowing", "mouth", 25.0, 50.0, 0.01, -12.0)


def judged(verdict: VerdictWord, *findings: Finding) -> Result:
    return Result(
        "box", verdict, "Good: sealed.", None, None, None, None, None, Leak(0.0, None, None), None, None, None,
        findings, (), (),
    )  # fmt: skip


def test_what_stays_open_is_told_where_it_is_heard_and_not_where_it_rounds_to_nothing() -> None:
    told = missing_words(Missing(40.0, -3.0, (("the leak", -1.8),), -1.2))
    assert told == (
        "By the microphone the cabinet gives 3.0 dB less than designed at 40 Hz: -1.8 dB by the leak; "
        "-1.2 dB stay open."
    )
    assert "stay open" in missing_words(Missing(40.0, -1.2, (("the leak", -1.9),), 0.7))
    assert "stay open" not in missing_words(Missing(40.0, -1.8, (("the leak", -1.8),), 0.0))
    assert "2.0 dB more than designed" in missing_words(Missing(40.0, 2.0, (), 2.0))


def test_where_nothing_explains_it_it_is_said_whether_the_impedance_was_asked() -> None:
    bare = Missing(40.0, -3.0, (), -3.0)
    assert missing_words(bare).endswith("nothing that the impedance shows explains it.")
    assert missing_words(bare, judged=False).endswith("the impedance does not tell why.")


def test_the_two_worst_bands_are_told_from_low_to_high() -> None:
    bands = tuple(
        Missing(hz, by, (), by) for hz, by in ((31.5, -4.0), (40.0, 1.5), (63.0, -2.0), (80.0, 5.0))
    )
    notes = near_field_notes(NearField(None, None, missing=bands), None, None)
    assert [note.partition(" at ")[2].split(" Hz")[0] for note in notes] == ["31.5", "80"]


def test_a_tuning_by_the_microphone_alone_is_told_with_its_interval() -> None:
    notes = near_field_notes(NearField(None, None, tuning_hz=TUNED), None, None)
    assert notes == ("By the microphone alone the box is tuned to 44.0 Hz (43.5 to 44.6).",)
    assert near_field_notes(NearField(None, None), None, None) == ()
    assert near_field_notes(NearField(CONE, None), None, None) == ()
    apart, areas = near_field_notes(NearField(CONE, MOUTH), None, None)
    assert "do not go together" in apart
    assert "sd_cm2" in areas


@pytest.mark.parametrize(("agrees", "told"), [(True, False), (False, True)])
def test_a_tuning_that_is_not_the_impedances_is_told_with_both(agrees: bool, told: bool) -> None:
    near = NearField(None, None, tuning_hz=TUNED, agrees=agrees)
    notes = near_field_notes(near, fit_by_hand(), None)
    words = (
        "The microphone disagrees: by cone and mouth alone the box is tuned to 44.0 Hz (43.5 to 44.6), by the "
        "impedance to 40.0 Hz. One of the recordings is of another cabinet or of another state of this one, or the "
        "microphone was not in the middle of cone and mouth."
    )
    assert notes == ((words,) if told else ())


@pytest.mark.parametrize(
    ("excess_db", "words"),
    [
        (3.1, "3 dB louder against the cone"),
        (-3.1, "3 dB softer against the cone"),
        (2.9, ""),
        (-2.9, ""),
        (1.7, ""),
    ],
)
def test_a_mouth_that_is_too_loud_is_told_and_one_a_little_away_is_not(excess_db: float, words: str) -> None:
    # exact: on the axis of a disk of radius a at a/5 the pressure is sqrt(1 + 1/25) - 1/5 = 0.82, or 1.7 dB, less
    (note,) = near_field_notes(NearField(None, None, tuning_hz=TUNED, mouth_excess_db=excess_db), None, None)
    assert ("gain" in note) == bool(words)
    assert words in note
    if words:
        assert ("too far from the cone" if excess_db > 0.0 else "too far from the mouth") in note


@pytest.mark.parametrize(
    ("now", "then", "level_db", "words"),
    [
        ((RATTLE,), (), -12.0, "Played 12 dB softer (soft.wav), the rattle is gone"),
        ((), (RATTLE,), 6.0, "Played 6 dB louder (soft.wav), the rattle is heard"),
        ((RATTLE,), (replace(RATTLE, share=0.005),), -12.0, "the rattle has 0.5 % of the sound, not 2 %"),
        ((replace(BLOWING, role="cone"),), (), -12.0, "the blowing of the vent is gone"),
        ((replace(RATTLE, role="mouth"),), (), -12.0, ""),  # another place says nothing of this one
        ((), (), -12.0, ""),
    ],
)
def test_how_a_noise_goes_with_the_level(
    now: tuple[SideNoise, ...], then: tuple[SideNoise, ...], level_db: float, words: str
) -> None:
    near = NearField(None, None, noises=now, other_levels=(OtherLevel("cone", "soft.wav", level_db, then),))
    told = [note for note in near_field_notes(near, None, None) if note.startswith("Played")]
    assert len(told) == bool(words)
    assert words in "".join(told)


def test_noises_are_told_once_for_each_kind_with_their_widest_band_and_largest_share() -> None:
    both = (RATTLE, replace(RATTLE, role="mouth", low_hz=22.0, high_hz=55.0, share=0.03), BLOWING)
    rattle, blowing = noise_words(both)
    assert "before the cone and in the mouth, while 22 to 60 Hz are played" in rattle
    assert "at least 3 % of the sound" in rattle
    assert blowing.startswith("The vent blows: in the mouth, while 25 to 50 Hz are played")
    assert "at least 1 % of the sound" in blowing
    assert noise_summary(both) == "something rattles at 22 to 60 Hz and the vent blows at 25 to 50 Hz"
    assert noise_summary(()) == ""
    assert noise_words(()) == []


def test_a_rattle_in_the_voltage_is_not_said_to_be_heard_by_a_microphone() -> None:
    loud = replace(RATTLE, role="open", low_hz=28.0, share=0.05)
    (told,) = noise_words((loud, replace(loud, low_hz=35.0, high_hz=70.0, share=0.01)))
    assert "voltage across the box" in told
    assert "28 to 70 Hz" in told
    assert "at least 5 % of it" in told


def test_what_was_not_looked_for_and_what_is_not_clear_is_said() -> None:
    roles: tuple[Role, ...] = ("cone", "mouth")
    near = NearField(None, None, polarity=Polarity("unclear", 0.5), not_searched=roles)
    searched, polarity = near_field_notes(near, None, None)
    assert "not looked for in cone and mouth" in searched
    assert "polarity is not clear" in polarity
    clear = replace(near, polarity=Polarity("normal", 0.9), not_searched=())
    assert near_field_notes(clear, None, None) == ()


def test_only_a_good_verdict_is_turned_by_the_polarity_and_the_likeliest_finding_stays_first() -> None:
    turned = NearField(None, None, polarity=Polarity("reversed", 0.9))
    found = with_near_field(judged("good"), turned)
    assert (found.verdict, [one.fault for one in found.findings]) == ("rework", ["polarity"])
    assert found.summary == (
        "Rework: the driver is connected the wrong way round. The box itself is as it should be: sealed."
    )
    contradicting = with_near_field(judged("good"), replace(turned, polarity=Polarity("contradictory", 0.9)))
    assert contradicting.summary.startswith("Rework: cone and mouth contradict each other. ")
    leak = Finding("leak", 0.99, "E.", "R.", "C.")
    spoilt = with_near_field(judged("remeasure", leak), turned)
    assert (spoilt.verdict, spoilt.summary) == ("remeasure", "Good: sealed.")
    assert [one.fault for one in spoilt.findings] == ["leak", "polarity"]
    doubtful = with_near_field(judged("rework", replace(leak, probability=0.6)), turned)
    assert [one.fault for one in doubtful.findings] == ["polarity", "leak"]


def test_a_noise_is_added_to_the_summary_of_a_good_box_alone() -> None:
    noisy = NearField(None, None, polarity=Polarity("normal", 0.9), noises=(RATTLE,))
    assert with_near_field(judged("good"), noisy).summary == (
        "Good: sealed. But something rattles at 30 to 60 Hz."
    )
    assert with_near_field(judged("rework"), noisy).summary == "Good: sealed."
    assert with_near_field(judged("good"), replace(noisy, noises=())).summary == "Good: sealed."
