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
from sealtune.physics.landmark_formulas import (
    compliance_ratio,
    driver_resonance_hz,
    tuning_from_closed_vent_hz,
)
from sealtune.physics.vented_box import VentedBox, impedance
from sealtune.records.curve import ImpedanceCurve

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


def _magnitude(frequency_hz: float, box: VentedBox) -> float:
    return float(abs(impedance(2j * np.pi * np.array([frequency_hz]), box)[0]))


def _extremum_hz(box: VentedBox, low_hz: float, high_hz: float, sign: float) -> float:
    found = minimize_scalar(
        lambda hz: sign * _magnitude(hz, box),
        bounds=(low_hz, high_hz),
        method="bounded",
        options={"xatol": 1e-7},
    )
    return float(found.x)


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
    assert driver_resonance_hz(found_low, found_high, fb) == pytest.approx(FS_HZ, rel=1e-5)
    assert tuning_from_closed_vent_hz(found_low, found_high, FS_HZ * sqrt(1.0 + alpha)) == pytest.approx(
        fb, rel=1e-5
    )
    assert compliance_ratio(found_low, found_high, fb) == pytest.approx(alpha, rel=1e-4)
    # exact: both peaks reach R_E + R_ES = 66 ohm, and the saddle is R_E at f_B
    assert _magnitude(found_low, box) == pytest.approx(66.0, rel=1e-6)
    assert _magnitude(found_high, box) == pytest.approx(66.0, rel=1e-6)
    assert _magnitude(fb, box) == pytest.approx(RE_OHM, rel=1e-6)


def test_peaks_of_the_lossless_table_box() -> None:
    # independent: f_B = 40 Hz: f_L 22.40926, f_H 71.39906 Hz
    assert _extremum_hz(_box(40.0, 1e9), 20.0, 25.0, -1.0) == pytest.approx(22.40926, abs=2e-5)
    assert _extremum_hz(_box(40.0, 1e9), 65.0, 80.0, -1.0) == pytest.approx(71.39906, abs=2e-5)
