"""The ladder and the fit on a box whose extrema are known, and the closed forms of the lossless box.

The box: R_E 6 ohm, no inductance, f_S 40 Hz, Q_ES 0.40, Q_MS 4.0, alpha 1.5, leakage Q_L alone, no creep, no
radiated sound. [Thiele1971], [Small1973]
"""

from math import sqrt

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.physics.vented_box import VentedBox, impedance
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Role

ALPHA, FS_HZ, QES, QMS, RE_OHM = 1.5, 40.0, 0.40, 4.0, 6.0

# independent: computed from the circuit before this program was written; f_B, Q_L, then the extrema of |Z|, Hz,
# f_L, f_M, f_H, and |Z(f_M)| / R_E
ROWS = [
    (40.0, 20.0, 22.367, 40.000, 71.535, 1.0826),
    (40.0, 10.0, 22.328, 40.000, 71.658, 1.1639),
    (40.0, 7.0, 22.300, 40.000, 71.749, 1.2326),
    (40.0, 3.0, 22.233, 40.000, 71.964, 1.5263),
    (32.0, 7.0, 18.632, 32.609, 68.606, 1.1853),
    (50.0, 7.0, 26.121, 49.044, 76.754, 1.2849),
]


def _box(fb_hz: float, ql: float, alpha: float = ALPHA) -> VentedBox:
    return VentedBox(
        re_ohm=RE_OHM, coil_ohm=0.0, coil_exponent=0.7, res_ohm=RE_OHM * QMS / QES, ws_rad_s=2 * np.pi * FS_HZ,
        qms=QMS, creep=0.0, alpha=alpha, wb_rad_s=2 * np.pi * fb_hz, leakage=1.0 / ql,
    )  # fmt: skip


def _magnitude(frequency_hz: float, box: VentedBox, role: Role = "open") -> float:
    return float(abs(impedance(2j * np.pi * np.array([frequency_hz]), box, role)[0]))


def _extremum_hz(box: VentedBox, low_hz: float, high_hz: float, sign: float, role: Role = "open") -> float:
    found = minimize_scalar(
        lambda hz: sign * _magnitude(hz, box, role),
        bounds=(low_hz, high_hz),
        method="bounded",
        options={"xatol": 1e-7},
    )
    return float(found.x)


# The closed forms of the lossless box [Thiele1971], [Small1973, Part II], by the two peaks with the vent open.


def _tuning_from_closed_vent_hz(lower_hz: float, upper_hz: float, closed_hz: float) -> float:
    return sqrt(lower_hz**2 + upper_hz**2 - closed_hz**2)


def _driver_resonance_hz(lower_hz: float, upper_hz: float, tuning_hz: float) -> float:
    return lower_hz * upper_hz / tuning_hz


def _compliance_ratio(lower_hz: float, upper_hz: float, tuning_hz: float) -> float:
    return (upper_hz**2 - tuning_hz**2) * (tuning_hz**2 - lower_hz**2) / (upper_hz * lower_hz) ** 2


@pytest.mark.parametrize(("fb", "ql", "low", "saddle", "high", "ratio"), ROWS)
def test_extrema_of_the_ladder(
    fb: float, ql: float, low: float, saddle: float, high: float, ratio: float
) -> None:
    box = _box(fb, ql)
    assert _extremum_hz(box, 0.9 * low, 1.1 * low, -1.0) == pytest.approx(low, abs=0.0006)
    assert _extremum_hz(box, 0.9 * saddle, 1.1 * saddle, 1.0) == pytest.approx(saddle, abs=0.0006)
    assert _extremum_hz(box, 0.9 * high, 1.1 * high, -1.0) == pytest.approx(high, abs=0.0006)
    assert _magnitude(saddle, box) / RE_OHM == pytest.approx(ratio, abs=6e-5)


@pytest.mark.parametrize("noise", [1e-6, 1e-3])
@pytest.mark.parametrize(("fb", "ql", "low", "saddle", "high", "ratio"), ROWS)
def test_fit_returns_the_box(
    fb: float, ql: float, low: float, saddle: float, high: float, ratio: float, noise: float
) -> None:
    # exact: what went in. Reading the saddle instead errs by 1.9 % at f_B = 32 and 50 Hz.
    frequency_hz = np.geomspace(5.0, 1000.0, 1500)
    z = impedance(2j * np.pi * frequency_hz, _box(fb, ql))
    rng = np.random.default_rng(1)
    error = noise * np.abs(z) * (rng.standard_normal(1500) + 1j * rng.standard_normal(1500))
    curve = ImpedanceCurve(frequency_hz, z + error, noise * np.abs(z))
    fit = fit_vented_box(curve, find_landmarks(curve))
    assert fit is not None
    assert fit.tuning_hz.value == pytest.approx(fb, rel=1e-3)
    assert fit.tuning_hz.holds(fb)
    assert fit.box_q.value == pytest.approx(ql, rel=0.03)
    assert fit.box_q.holds(ql)
    # absorption and friction, which this box has not, take a share of its losses and bend the rest a little
    assert fit.compliance_ratio.value == pytest.approx(ALPHA, rel=0.02)
    assert fit.fs_hz.value == pytest.approx(FS_HZ, rel=0.01)
    assert fit.re_ohm == pytest.approx(RE_OHM, rel=0.01)
    assert fit.closed_box_misfit > 50.0


@pytest.mark.parametrize("fb", [30.0, 40.0, 52.0])
@pytest.mark.parametrize("alpha", [0.5, 1.5, 4.0])
def test_closed_forms_of_the_lossless_box(fb: float, alpha: float) -> None:
    # exact: f_SB = f_L f_H / f_B, f_B^2 = f_L^2 + f_H^2 - f_C^2, alpha = (f_H^2 - f_B^2)(f_B^2 - f_L^2)/(f_L f_H)^2
    # [Thiele1971], [Small1973], for a box without losses, f_C = f_S sqrt(1 + alpha)
    box = _box(fb, 1e9, alpha)
    sum_of_squares = fb**2 + FS_HZ**2 * (1.0 + alpha)
    root = sqrt(sum_of_squares**2 - 4.0 * (fb * FS_HZ) ** 2)
    low, high = sqrt((sum_of_squares - root) / 2.0), sqrt((sum_of_squares + root) / 2.0)
    found_low = _extremum_hz(box, 0.98 * low, 1.02 * low, -1.0)
    found_high = _extremum_hz(box, 0.98 * high, 1.02 * high, -1.0)
    assert (found_low, found_high) == pytest.approx((low, high), rel=1e-6)
    closed = _extremum_hz(
        box, 0.9 * FS_HZ * sqrt(1.0 + alpha), 1.1 * FS_HZ * sqrt(1.0 + alpha), -1.0, "plugged"
    )
    assert closed == pytest.approx(FS_HZ * sqrt(1.0 + alpha), rel=1e-6)
    assert _driver_resonance_hz(found_low, found_high, fb) == pytest.approx(FS_HZ, rel=1e-5)
    assert _tuning_from_closed_vent_hz(found_low, found_high, closed) == pytest.approx(fb, rel=1e-5)
    assert _compliance_ratio(found_low, found_high, fb) == pytest.approx(alpha, rel=1e-4)
    # exact: both peaks reach R_E + R_ES = 66 ohm, and the saddle is R_E at f_B
    assert _magnitude(found_low, box) == pytest.approx(66.0, rel=1e-6)
    assert _magnitude(found_high, box) == pytest.approx(66.0, rel=1e-6)
    assert _magnitude(fb, box) == pytest.approx(RE_OHM, rel=1e-6)


# independent: the peak with the vent closed of boxes with leakage only, from a computation of the circuit, then what
# the closed forms return by the saddle (f_S, alpha) and by the closed vent (f_B, f_S, alpha). They err by up to 7 %.
@pytest.mark.parametrize(
    ("fb", "ql", "closed", "by_saddle", "by_closed"),
    [
        (40.0, 20.0, 63.323, (40.000, 1.511), (40.097, 39.903, 1.518)),
        (40.0, 7.0, 63.413, (40.000, 1.528), (40.299, 39.703, 1.551)),
        (32.0, 7.0, 63.393, (39.199, 1.597), (32.175, 39.728, 1.546)),
        (50.0, 7.0, 63.428, (40.880, 1.494), (50.501, 39.700, 1.553)),
    ],
)
def test_closed_forms_err_on_boxes_with_losses(
    fb: float,
    ql: float,
    closed: float,
    by_saddle: tuple[float, float],
    by_closed: tuple[float, float, float],
) -> None:
    box = _box(fb, ql)
    low, high = _extremum_hz(box, 15.0, 30.0, -1.0), _extremum_hz(box, 60.0, 90.0, -1.0)
    saddle = _extremum_hz(box, 0.9 * fb, 1.1 * fb, 1.0)
    found = _extremum_hz(box, 55.0, 70.0, -1.0, "plugged")
    assert found == pytest.approx(closed, abs=0.0006)
    assert _driver_resonance_hz(low, high, saddle) == pytest.approx(by_saddle[0], abs=3e-3)
    assert _compliance_ratio(low, high, saddle) == pytest.approx(by_saddle[1], abs=1e-3)
    tuning = _tuning_from_closed_vent_hz(low, high, found)
    assert tuning == pytest.approx(by_closed[0], abs=4e-3)
    assert _driver_resonance_hz(low, high, tuning) == pytest.approx(by_closed[1], abs=4e-3)
    assert _compliance_ratio(low, high, tuning) == pytest.approx(by_closed[2], abs=1e-3)


@pytest.mark.parametrize("ql", [3.0, 7.0, 10.0, 20.0])
def test_leakage_by_the_height_at_the_tuning(ql: float) -> None:
    # exact at f_B = f_S: Q_L = h / alpha [1 / (Q_ES (|Z| / R_E - 1)) - 1 / Q_MS] [Small1973, Part II]
    rise = _magnitude(FS_HZ, _box(FS_HZ, ql)) / RE_OHM - 1.0
    assert 1.0 / ALPHA * (1.0 / (QES * rise) - 1.0 / QMS) == pytest.approx(ql, rel=1e-9)


def test_peaks_of_the_lossless_table_box() -> None:
    # independent: f_B = 40 Hz: f_L 22.40926, f_H 71.39906 Hz
    assert _extremum_hz(_box(40.0, 1e9), 20.0, 25.0, -1.0) == pytest.approx(22.40926, abs=2e-5)
    assert _extremum_hz(_box(40.0, 1e9), 65.0, 80.0, -1.0) == pytest.approx(71.39906, abs=2e-5)
