"""The figures: texts are texts, ids are their own, bytes are the same every time."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib import rc_context

from sealtune.records.curve import ImpedanceCurve, Landmark, Landmarks
from sealtune.records.interval import Interval
from sealtune.records.verdict import Result
from sealtune.report.drawing import Format, settings
from sealtune.report.figures import draw_impedance, impedance_figure
from sealtune.report.look import DARK, LIGHT, style_sheet
from sealtune.report.scale import round_places, tuning_scale_figure


def texts(svg: str) -> list[str]:
    return ["".join(node.itertext()) for node in ElementTree.fromstring(svg).iter("text")]


def place_percent(svg: str, attributes: str) -> float:
    found = re.search(rf'x1?="([\d.]+)%"[^>]*{attributes}', svg)
    assert found is not None
    return float(found.group(1))


def test_impedance_figure_carries_its_texts(leaking: Result) -> None:
    svg = impedance_figure(leaking)
    found = " | ".join(texts(svg))
    assert leaking.landmarks is not None
    for mark in leaking.landmarks.peaks:
        assert f"{mark.hz:.1f} Hz, {mark.ohm:.1f} Ω" in found
    for words in (
        "lower peak",
        "saddle",
        "upper peak",
        "measured",
        "fitted circuit",
        "frequency, Hz",
        "impedance, Ω",
        "phase",
        "designed tuning 42.6 to 45.4 Hz",
        "measured tuning 47.2 Hz",
    ):
        assert words in found
    assert "Impedance of right" in svg
    assert "http" not in svg


def test_the_curve_can_be_read_by_script(leaking: Result) -> None:
    svg = impedance_figure(leaking)
    assert leaking.curve is not None
    found = re.search(r'data-curve="([^"]*)" data-plot="([^"]*)"', svg)
    assert found is not None
    hz, ohm, degrees = np.array([row.split() for row in found[1].split(";")], dtype=float).T
    assert 100 < hz.size <= 360
    # exact: a point of the measured curve itself each, to the digits that are shown
    z = leaking.curve.impedance_ohm[:, None]
    near = np.abs(leaking.curve.frequency_hz[:, None] - hz) <= np.where(hz < 100.0, 0.051, 0.51)
    near &= np.abs(np.abs(z) - ohm) <= 0.0051
    near &= np.abs(np.degrees(np.angle(z)) - degrees) <= 0.051
    assert near.any(axis=0).all()
    x0, x1, low_hz, high_hz, top, foot, end, most = map(float, found[2].split())
    assert 0.0 < x0 < x1 < 360.0
    assert 0.0 < top < foot < end < 310.0
    assert low_hz <= hz[0]
    assert hz[-1] <= high_hz * 1.01
    assert most > ohm.max()


@pytest.mark.parametrize("lower_ohm", [20.0, 26.0, 33.0])
def test_labels_of_low_peaks_and_saddle_are_clear_of_each_other(good: Result, lower_ohm: float) -> None:
    # independent: matplotlib's own measure of the drawn texts, at the size the figure has on paper
    assert good.landmarks is not None
    low, saddle, up = Landmark(25.7, lower_ohm), Landmark(43.6, 8.8), Landmark(73.4, 39.0)
    result = replace(good, landmarks=Landmarks((low, up), low, saddle, up))
    size = Format(3.87, 3.03, 7.5, 2, narrow=True)
    with rc_context(settings(7.5)):
        figure = size.figure()
        assert draw_impedance(figure, result, size)
        figure.draw_without_rendering()
        boxes = [text.get_window_extent() for text in figure.axes[0].texts]
    assert len(boxes) == 3
    for place, one in enumerate(boxes):
        for other in boxes[:place]:
            assert not one.overlaps(other)


def test_figure_without_design_or_fit_claims_neither(undesigned: Result) -> None:
    assert "designed tuning" not in impedance_figure(undesigned)
    bare = impedance_figure(replace(undesigned, fit=None))
    assert "measured tuning" not in bare
    assert "fitted circuit" not in bare
    assert "lower peak" in bare


def test_one_peak_is_labelled_as_one(undesigned: Result) -> None:
    marks = Landmarks((Landmark(67.5, 40.0),), None, None, None)
    found = texts(impedance_figure(replace(undesigned, landmarks=marks, fit=None)))
    assert "peak 1" in found
    assert "saddle" not in found


def test_no_curve_no_figure(remeasure: Result) -> None:
    assert impedance_figure(remeasure) == ""


def test_unusable_points_are_left_out(undesigned: Result) -> None:
    hz = np.array([10.0, 20.0, 40.0, 80.0])
    curve = ImpedanceCurve(hz, np.array([6.0, np.nan, 8.0 + 1j, 7.0]), np.full(4, 0.1))
    svg = impedance_figure(replace(undesigned, curve=curve, fit=None, landmarks=None))
    assert "nan" not in svg
    lost = ImpedanceCurve(hz, np.full(4, np.nan + 0j), np.full(4, 0.1))
    assert impedance_figure(replace(undesigned, curve=lost, fit=None, landmarks=None)) == ""


def test_same_result_same_bytes_and_prefix_keeps_ids_apart(good: Result, leaking: Result) -> None:
    assert impedance_figure(good, prefix="a-") == impedance_figure(good, prefix="a-")
    ids = re.findall(
        r'\bid="([^"]+)"', impedance_figure(good, prefix="a-") + impedance_figure(leaking, prefix="b-")
    )
    assert len(ids) == len(set(ids))
    svg = impedance_figure(good, prefix="a-")
    targets = re.findall(r'href="#([^"]+)"', svg) + re.findall(r"url\(#([^)]+)\)", svg)
    assert targets
    assert set(targets) <= set(re.findall(r'\bid="([^"]+)"', svg))


def test_colours_follow_the_page(good: Result) -> None:
    svg = impedance_figure(good)
    loose = set(re.findall(r"(?<![,\w])#[0-9a-f]{6}", svg))
    assert loose == set()
    used = set(re.findall(r"var\(--(\w+),", svg + tuning_scale_figure(good)))
    assert {"dot", "fit", "band", "mark", "ink"} <= used <= set(LIGHT)
    assert set(LIGHT) == set(DARK)
    assert all(
        f"--{name}:{value}" in style_sheet() for palette in (LIGHT, DARK) for name, value in palette.items()
    )


def luminance(colour: str) -> float:
    """Relative luminance of WCAG 2.1, section "relative luminance" (published)."""
    channels = [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return float(np.dot(linear, (0.2126, 0.7152, 0.0722)))


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_every_text_can_be_read(palette: dict[str, str]) -> None:
    # published: WCAG 2.1 success criterion 1.4.3, 4.5 to 1 for text; 1.4.11, 3 to 1 for lines
    for name in ("ink", "soft", "good", "rework", "remeasure"):
        assert contrast(palette[name], palette["card"]) >= 4.5, name
    assert contrast(palette["ink"], palette["wood"]) >= 4.5
    assert contrast(palette["soft"], palette["ground"]) >= 4.5
    for name in ("good", "rework", "remeasure"):
        assert contrast(palette["onverdict"], palette[name]) >= 4.5, name
    for name in ("dot", "fit", "band", "mark"):
        assert contrast(palette[name], palette["card"]) >= 3.0, name


def test_contrast_itself() -> None:
    # published: WCAG, black on white is 21 to 1
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


def test_scale_puts_values_where_they_belong(leaking: Result) -> None:
    svg = tuning_scale_figure(leaking, prefix="p-")
    found = " | ".join(texts(svg))
    assert "designed 44.0 Hz" in found
    assert "measured 47.2 Hz" in found
    assert "42.6 to 45.4 Hz is within tolerance" in found
    # exact: the scale is linear, so equal steps in Hz are equal steps in per cent of the width
    ticks = {
        float(hz): float(place) for place, hz in re.findall(r'<text x="([\d.]+)%" y="77"[^>]*>([\d.]+)<', svg)
    }
    low, high = min(ticks), max(ticks)
    slope = (ticks[high] - ticks[low]) / (high - low)
    mark = place_percent(svg, 'y1="33" y2="62"')
    pointer = place_percent(svg, 'y="88"')
    assert mark == pytest.approx(ticks[low] + slope * (44.0 - low), abs=0.05)
    assert pointer == pytest.approx(ticks[low] + slope * (47.2 - low), abs=0.05)
    assert 0.0 < mark < pointer < 100.0


@pytest.mark.parametrize("hz", [5.0, 43.99, 44.0, 400.0])
def test_scale_holds_any_tuning(good: Result, hz: float) -> None:
    assert good.fit is not None
    fit = replace(good.fit, tuning_hz=Interval(hz, 0.99 * hz, 1.01 * hz))
    svg = tuning_scale_figure(replace(good, fit=fit))
    assert all(0.0 <= float(place) <= 100.0 for place in re.findall(r'x\d?="([\d.-]+)%"', svg))
    assert f"measured {hz:.{2 if hz < 10.0 else 1}f} Hz" in " ".join(texts(svg))
    assert 4 <= len(re.findall(r'y="77"', svg)) <= 12


def test_texts_of_the_scale_fit_a_telephone(good: Result) -> None:
    assert good.fit is not None
    for hz in np.linspace(42.7, 45.3, 27):
        fit = replace(good.fit, tuning_hz=Interval(hz, hz - 0.03, hz + 0.03))
        svg = tuning_scale_figure(replace(good, fit=fit))
        for place, anchor, size, text in re.findall(
            r'<text x="([\d.]+)%"[^>]*?text-anchor="(\w+)"(?: font-size="(\d+)")?[^>]*>([^<]+)<', svg
        ):
            # common practice: a letter is half as wide as it is high; the card is 330 pixels wide on a telephone
            wide, left = 0.5 * float(size or 14) * len(text), 3.3 * float(place)
            left -= {"start": 0.0, "middle": 0.5 * wide, "end": wide}[anchor]
            assert left > -4.0, text
            assert left + wide < 334.0, text


def test_the_rule_on_paper_has_round_numbers() -> None:
    # exact: whole Hz over 3.6 Hz, as on the page; none at the very ends
    assert round_places(41.4, 45.6) == [42.0, 43.0, 44.0, 45.0]


def test_scale_without_anything_is_empty(remeasure: Result, undesigned: Result) -> None:
    assert tuning_scale_figure(remeasure) == ""
    assert "designed" not in " ".join(texts(tuning_scale_figure(undesigned)))
