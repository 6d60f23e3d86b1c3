"""Peaks and saddle of curves whose extrema are known."""

from collections.abc import Callable

import numpy as np
import pytest

from sealtune.analysis.landmarks import find_landmarks
from sealtune.physics.vented_box import VentedBox, impedance
from sealtune.records.curve import ImpedanceCurve, Landmarks

MakeCurve = Callable[..., ImpedanceCurve]
FREQUENCY_HZ = np.geomspace(5.0, 900.0, 1500)
NOTHING = Landmarks((), None, None, None)


def _table_box(fb_hz: float, ql: float, alpha: float = 1.5) -> VentedBox:
    return VentedBox(
        re_ohm=6.0, coil_ohm=0.0, coil_exponent=0.7, res_ohm=60.0, ws_rad_s=2 * np.pi * 40.0, qms=4.0, creep=0.0,
        alpha=alpha, wb_rad_s=2 * np.pi * fb_hz, leakage=1.0 / ql,
    )  # fmt: skip


@pytest.mark.parametrize(
    # independent: extrema of the ladder R_E 6, f_S 40, Q_ES 0.4, Q_MS 4, alpha 1.5 with Q_L alone, computed
    # before this program was written: f_B, Q_L, f_L, f_M, f_H, |Z(f_M)| / R_E
    ("fb", "ql", "low", "saddle", "high", "ratio"),
    [
        (40.0, 20.0, 22.367, 40.000, 71.535, 1.0826),
        (40.0, 7.0, 22.300, 40.000, 71.749, 1.2326),
        (32.0, 7.0, 18.632, 32.609, 68.606, 1.1853),
        (50.0, 7.0, 26.121, 49.044, 76.754, 1.2849),
    ],
)
def test_extrema_of_the_lossy_box(
    noisy_curve: MakeCurve, fb: float, ql: float, low: float, saddle: float, high: float, ratio: float
) -> None:
    z = impedance(2j * np.pi * FREQUENCY_HZ, _table_box(fb, ql))
    marks = find_landmarks(noisy_curve(FREQUENCY_HZ, z, 1e-3))
    assert marks.lower is not None
    assert marks.saddle is not None
    assert marks.upper is not None
    assert marks.lower.hz == pytest.approx(low, rel=2e-3)
    assert marks.saddle.hz == pytest.approx(saddle, rel=5e-3)
    assert marks.upper.hz == pytest.approx(high, rel=2e-3)
    assert marks.saddle.ohm == pytest.approx(6.0 * ratio, rel=5e-3)
    assert marks.peaks == (marks.lower, marks.upper)


def test_noise_makes_no_peaks(noisy_curve: MakeCurve) -> None:
    z = impedance(2j * np.pi * FREQUENCY_HZ, _table_box(40.0, 7.0))
    for seed in range(10):
        marks = find_landmarks(noisy_curve(FREQUENCY_HZ, z, 0.03, seed))
        assert len(marks.peaks) == 2
        assert marks.saddle is not None
        assert marks.saddle.hz == pytest.approx(40.0, rel=0.08)


def test_closed_box_has_one_peak_and_no_saddle(noisy_curve: MakeCurve) -> None:
    # exact: without vent and losses f_C = f_S, and R_E + R_ES = 66 ohm, when alpha is 0
    z = impedance(2j * np.pi * FREQUENCY_HZ, _table_box(40.0, 7.0, alpha=0.0))
    marks = find_landmarks(noisy_curve(FREQUENCY_HZ, z, 1e-4))
    assert (marks.lower, marks.saddle, marks.upper) == (None, None, None)
    assert len(marks.peaks) == 1
    assert marks.peaks[0].hz == pytest.approx(40.0, rel=1e-3)
    assert marks.peaks[0].ohm == pytest.approx(66.0, rel=5e-3)


def test_panel_is_no_partner_of_a_closed_boxs_peak(noisy_curve: MakeCurve) -> None:
    z = impedance(2j * np.pi * FREQUENCY_HZ, _table_box(40.0, 7.0, alpha=0.0))
    panel = 1.0 + 0.08 / (1.0 + 30j * (FREQUENCY_HZ / 210.0 - 210.0 / FREQUENCY_HZ))
    marks = find_landmarks(noisy_curve(FREQUENCY_HZ, z * panel, 1e-4))
    assert len(marks.peaks) == 2  # it is seen, and yet not taken for an impedance peak of the box
    assert marks.saddle is None


def test_panel_is_no_partner_where_the_box_has_two(noisy_curve: MakeCurve) -> None:
    z = impedance(2j * np.pi * FREQUENCY_HZ, _table_box(40.0, 7.0))
    panel = 1.0 + 0.08 / (1.0 + 30j * (FREQUENCY_HZ / 210.0 - 210.0 / FREQUENCY_HZ))
    marks = find_landmarks(noisy_curve(FREQUENCY_HZ, z * panel, 1e-4))
    assert len(marks.peaks) == 3
    assert marks.upper is not None
    assert marks.upper.hz == pytest.approx(71.749, rel=3e-3)  # independent: as above


def test_flat_curve_has_nothing(noisy_curve: MakeCurve) -> None:
    assert find_landmarks(noisy_curve(FREQUENCY_HZ, np.full(1500, 6.0 + 0.5j), 0.02)) == NOTHING


@pytest.mark.parametrize(("low", "high"), [(40.0, 44.0), (600.0, 900.0), (1.0, 3.0)])
def test_band_without_a_box_has_nothing(noisy_curve: MakeCurve, low: float, high: float) -> None:
    frequency_hz = np.geomspace(low, high, 50)
    z = impedance(2j * np.pi * frequency_hz, _table_box(40.0, 7.0))
    assert find_landmarks(noisy_curve(frequency_hz, z, 1e-3)) == NOTHING


def test_few_points_are_no_error(noisy_curve: MakeCurve) -> None:
    frequency_hz = np.array([10.0, 22.3, 40.0, 71.7, 200.0])
    marks = find_landmarks(
        noisy_curve(frequency_hz, impedance(2j * np.pi * frequency_hz, _table_box(40.0, 7.0)), 0.01)
    )
    assert marks.lower is not None
    assert marks.lower.hz == pytest.approx(22.3, rel=0.02)
