"""What listening says."""

import pytest

from sealtune.records.listening import Heard, ListeningTone, Place
from sealtune.report.listening import (
    CELLS,
    after_listening,
    beep_every_s,
    before_listening,
    marked,
    moment,
)

TONE = ListeningTone(45.2, 2.0, "travel", "measured", travel_share=0.25, tuning_hz=43.1)


def heard(hiss_db: float | None, *, sure: bool = True, channel: int | None = 1, lost: int = 0) -> Heard:
    return Heard(12.3, hiss_db, sure, channel, lost)


def test_before_it_begins_the_dangers_are_named() -> None:
    text = before_listening(TONE, -20.0, virtual=False)
    for word in (
        "45.2 Hz",
        "43.1 Hz",
        "2 V",
        "25 %",
        "hearing",
        "cone",
        "vent",
        "Amplifier at zero",
        "rattles",
    ):
        assert word in text
    assert max(len(line) for line in text.splitlines()) <= 79
    assert "simulated" not in text
    assert "simulated" in before_listening(TONE, -20.0, virtual=True)


@pytest.mark.parametrize("basis", ["nothing", "you", "design"])
def test_where_the_tone_comes_from_is_said(basis: str) -> None:
    tone = ListeningTone(70.0, 0.5, "travel unknown", basis, tuning_hz=50.0)  # type: ignore[arg-type]
    text = before_listening(tone, -20.0, virtual=False)
    assert "0.5 V" in text
    assert "be careful" in text
    assert ("nothing is known" in " ".join(text.split())) == (basis == "nothing")


def test_a_moment_fits_a_terminal_and_the_bar_grows_with_the_hiss() -> None:
    lengths = []
    for hiss_db in (-30.0, -20.0, -5.0, 0.0, 10.0, 20.0, 35.0):
        line = moment(heard(hiss_db), Place(0, "", 1234.0, 21.0))
        assert len(line) <= 79
        assert "LEAK" in line
        lengths.append(line.count("#"))
    assert lengths == sorted(lengths)
    assert lengths[0] >= 1
    assert lengths[3] == CELLS // 2
    assert lengths[-1] == CELLS


def test_words_of_a_moment() -> None:
    assert "nothing" in moment(heard(None, sure=False), None)
    assert "no tone" in moment(heard(None, sure=False, channel=None), None)
    assert "room" in moment(Heard(-1.0, None, False, None, 0), None)
    unsure = moment(heard(-8.0, sure=False), None)
    assert "leak?" in unsure
    assert "#" not in unsure
    assert "-" * 9 in unsure
    assert "most +3 dB, 8 s" in moment(heard(None, sure=False), Place(0, "", 8.2, 3.0))


def test_beeps_quicken_towards_the_leak_and_come_for_sure_ones_only() -> None:
    times_s = [beep_every_s(heard(hiss_db)) for hiss_db in (-20.0, 0.0, 20.0, 40.0)]
    assert times_s[0] == pytest.approx(1.0)
    assert times_s[2] == times_s[3] == pytest.approx(0.1)
    assert times_s[1] is not None
    assert 0.1 < times_s[1] < 1.0
    assert beep_every_s(heard(5.0, sure=False)) is None
    assert beep_every_s(heard(None)) is None


def test_at_the_end_the_places_stand_from_loud_to_quiet() -> None:
    marks = [
        Place(1, "left seam", 5.0, -3.0),
        Place(2, "", 9.0, None),
        Place(3, "driver", 12.0, 7.4),
    ]
    text = after_listening(Place(0, "", 11.5, 8.0), marks, heard(None))
    assert "Loudest: +8 dB at 11.5 s" in text
    assert text.index("driver") < text.index("left seam") < text.index("nothing heard")
    assert "putty" in text
    assert marked(marks[0]) == "Place 1 (left seam): -3 dB"
    assert marked(marks[1]) == "Place 2: nothing heard"


def test_the_end_without_a_leak_or_without_a_tone() -> None:
    assert "No hiss" in after_listening(None, [], heard(None, sure=False))
    assert "nothing can be said" in after_listening(None, [], heard(None, sure=False, channel=None))
    assert "lost samples 3 times" in after_listening(None, [], heard(None, lost=3))
    assert "No hiss" in after_listening(None, [], None)
