"""What the text, the page and the JSON say of what a box costs."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from sealtune.files.json_text import dumps
from sealtune.files.result_json import result_json
from sealtune.records.cost import BandCost, Compared, Cost
from sealtune.records.interval import Interval
from sealtune.records.verdict import Result
from sealtune.report.cost_words import audible_words, cost_note, cost_rows, cost_words, figure_words
from sealtune.report.page import page
from sealtune.report.text import summary_text

BANDS = (20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0)


def costing(*difference_db: float, reach: float = 0.4) -> Cost:
    """An invented cost; the two lowest bands are not heard."""
    return Cost(
        against="design",
        bands=tuple(
            BandCost(hz, -4.0, -4.0 + d, Interval(d, d - reach, d + reach), hz > 26.0)
            for hz, d in zip(BANDS, difference_db, strict=True)
        ),
        f3_hz=Compared(44.13, 38.2),
        travel_w=Compared(59.4, 75.2),
        usable_w=Compared(59.4, 75.2),
        air_speed_m_s=Compared(48.2, 37.4),
        excess="leakage",
        excess_matters_db=0.36,
    )


LOSING = costing(-9.0, -8.0, -2.2, -3.2, 0.3, 1.4, 0.6, 0.2, 0.1, 0.1, 0.0)
NOTHING = replace(
    costing(-3.0, -2.0, -0.9, -0.5, 0.3, 0.4, 0.6, 0.2, 0.1, 0.1, 0.0),
    usable_w=Compared(80.0, 75.2),
    air_speed_m_s=Compared(),
)


def test_the_sentence_names_band_change_and_instrument() -> None:
    assert cost_words(LOSING) == (
        "3.2 dB less at 40 Hz: clearly audible on bass guitar and double bass (low E, 41 Hz); "
        "1.4 dB more at 63 Hz: hardly audible on kick drum and cello (low C, 65 Hz); "
        "stands 59 W instead of 75 W; air in the vent up to 48 m/s instead of 37 m/s"
    )


def test_nothing_is_made_of_what_cannot_be_heard() -> None:
    assert cost_words(NOTHING) == "nothing that can be heard, under 1 dB from 20 to 200 Hz"


def test_a_change_that_may_be_none_is_called_so() -> None:
    assert cost_words(costing(*([0.0] * 3), -1.5, *([0.0] * 7), reach=2.0)).startswith("perhaps 1.5 dB less")


def test_a_loss_at_the_upper_end_is_one_of_all_that_is_played() -> None:
    assert "200 Hz and above: clearly audible on all that it plays" in cost_words(
        costing(*([0.0] * 10), -3.1)
    )


@pytest.mark.parametrize(
    ("difference_db", "words"),
    [
        (-0.94, "not audible"),
        (-0.99, "hardly audible"),  # printed as 1.0
        (1.0, "hardly audible"),  # common practice: 1 dB hardly, 3 dB clearly
        (-2.5, "audible"),
        (-3.0, "clearly audible"),
        (7.0, "heard at once"),
    ],
)
def test_how_well_a_change_is_heard(difference_db: float, words: str) -> None:
    assert audible_words(difference_db) == words


def test_the_text_has_a_line_where_something_is_lost(leaking: Result, good: Result) -> None:
    lines = summary_text(replace(leaking, cost=LOSING)).splitlines()
    assert len(lines) <= 15
    assert any(line.startswith("Costs      3.2 dB less at 40 Hz") for line in lines)
    assert "Costs      Nothing that can be heard" in summary_text(replace(leaking, cost=NOTHING))
    assert "Costs" not in summary_text(replace(good, cost=NOTHING)), "a good box needs no such line"
    assert "Costs" in summary_text(replace(good, cost=LOSING))
    assert "Costs" not in summary_text(leaking)


def test_what_the_driver_is_off_is_not_counted(leaking: Result) -> None:
    words = "; what the driver itself is off is not counted"
    losing = replace(leaking, cost=replace(LOSING, bands=LOSING.bands[:4]))
    off = replace(losing, findings=(replace(leaking.findings[0], fault="driver_off"),))
    assert words in " ".join(summary_text(off, width=400).split())
    assert words not in " ".join(summary_text(losing, width=400).split())


def test_the_page_shows_every_band_and_the_limits(leaking: Result) -> None:
    html = page([replace(leaking, cost=LOSING)], made_at=datetime(2026, 1, 2), program="sealtune")
    section = html[html.index("What it costs") :]
    section = section[: section.index("</section>")].replace("\N{NO-BREAK SPACE}", " ")
    assert section.count("<svg") == 2
    for told in ("40 Hz -3.2 dB (-3.6 to -2.8)", "44.1 Hz", "38.2 Hz", "59 W", "48 m/s", "0.4 dB at most"):
        assert told in section
    assert "What it costs" not in page([leaking], made_at=datetime(2026, 1, 2), program="sealtune")


def test_the_same_result_gives_the_same_page(leaking: Result) -> None:
    once, again = (
        page([replace(leaking, cost=LOSING)], made_at=datetime(2026, 1, 2), program="sealtune") for _ in "ab"
    )
    assert once == again


def test_rows_leave_out_what_is_not_known() -> None:
    assert [row.value for row in cost_rows(LOSING)] == ["44.1 Hz", "59 W", "59 W", "48 m/s"]
    assert len(cost_rows(NOTHING)) == 3
    assert figure_words(NOTHING).count("dB (") == 11
    assert "any other kind" not in cost_note(replace(NOTHING, excess_matters_db=0.1))


def test_the_json_tells_the_bands_and_both_sides(leaking: Result) -> None:
    told = result_json(replace(leaking, cost=LOSING))
    dumps(told)  # finite or null
    found = told["cost"]
    assert isinstance(found, dict)
    assert found["bands_hz"] == list(BANDS)
    assert found["difference_db"][3] == -3.2
    assert found["difference_low_db"][3] == -3.6
    assert found["difference_high_db"][3] == -2.8
    assert (found["worst_hz"], found["worst_db"]) == (40.0, -3.2)
    assert (found["usable_w"], found["designed_usable_w"]) == (59.4, 75.2)
    assert (found["f3_hz"], found["designed_f3_hz"]) == (44.13, 38.2)
    assert result_json(leaking)["cost"] is None
