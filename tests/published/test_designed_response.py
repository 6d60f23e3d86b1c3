"""The published alignments through the program's own response: each reaches the cutoff its table prints."""

from math import inf, pi

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.design.behaviour import half_power_hz
from sealtune.physics.alignment import Alignment, Family, align
from sealtune.physics.loudspeaker import Loudspeaker, motion

FS_HZ = 40.0
FREQUENCY_HZ = np.geomspace(5.0, 500.0, 600)


def rad_s(hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    return np.asarray(2j * pi * hz, dtype=np.complex128)


TABLE: list[tuple[Family, float, float | None, float, int]] = [
    # family, Q_L, Q_T, f3/f_S as printed, and its digits behind the point
    # Published [Thiele1971], table I no. 5: exact
    ("B4", inf, None, 1.0, 4),
    # Published: tables after [Small1973], "Qts=0.4048, Vas/Vb=1.0613, F3/Fs=1.0, Fb/Fs=1.0"
    ("B4", 7.0, None, 1.0, 4),
    # Published: the same tables, "Qts=0.3312, Vas/Vb=1.9076, F3/Fs=1.4941, Fb/Fs=0.97354"
    ("Bessel", 7.0, None, 1.4941, 4),
    # [Thiele1971], table I nos. 1 to 4 and 6 to 9, from memory; the digits are an independent computation at
    # those Q_T
    ("QB3", inf, 0.180, 2.679, 3),
    ("QB3", inf, 0.209, 2.274, 3),
    ("QB3", inf, 0.259, 1.772, 3),
    ("QB3", inf, 0.303, 1.448, 3),
    ("C4", inf, 0.415, 0.8663, 4),
    ("C4", inf, 0.466, 0.7260, 4),
    ("C4", inf, 0.518, 0.6414, 4),
    ("C4", inf, 0.557, 0.6001, 4),
    # Independent: QB3 and C4 with Q_L = 7, by the method of the tables
    ("QB3", 7.0, 0.20, 2.5289, 4),
    ("QB3", 7.0, 0.25, 1.9667, 4),
    ("QB3", 7.0, 0.30, 1.5732, 4),
    ("QB3", 7.0, 0.35, 1.2702, 4),
    ("QB3", 7.0, 0.40, 1.0214, 4),
    ("C4", 7.0, 0.45, 0.8348, 4),
    ("C4", 7.0, 0.50, 0.7155, 4),
    ("C4", 7.0, 0.60, 0.5884, 4),
]


def aligned(box: Alignment, ql: float, qms: float) -> Loudspeaker:
    # Exact: 1/Q_T = 1/Q_MS + 1/Q_ES; the response depends on Q_T alone
    ws = 2 * pi * FS_HZ
    qes = 1.0 / (1.0 / box.qt - 1.0 / qms)
    return Loudspeaker(ws, qms, qes, box.compliance_ratio, ws * box.tuning_ratio, leakage=1.0 / ql)


@pytest.mark.parametrize("qms", [2.0, 8.0])
@pytest.mark.parametrize(("family", "ql", "qt", "cutoff", "digits"), TABLE)
def test_cutoff_of_published_alignments(
    family: Family, ql: float, qt: float | None, cutoff: float, digits: int, qms: float
) -> None:
    speaker = aligned(align(family, qt, ql), ql, qms)
    f3 = half_power_hz(lambda hz: np.abs(motion(rad_s(hz), speaker).sound), FREQUENCY_HZ)
    assert f3 is not None
    assert f3 / FS_HZ == pytest.approx(cutoff, abs=0.6 * 10.0**-digits)


def test_b4_is_maximally_flat() -> None:
    # Exact: |H|^2 = 1/(1 + (f_3/f)^8) for Butterworth's fourth order.
    speaker = aligned(align("B4"), inf, 5.0)
    hz = np.geomspace(10.0, 400.0, 50)
    seen = np.abs(motion(rad_s(hz), speaker).sound) ** 2
    assert seen == pytest.approx(1.0 / (1.0 + (FS_HZ / hz) ** 8), rel=1e-9)


def test_closed_box_is_a_second_order_high_pass() -> None:
    # Exact [Small1972]: f_C = f_S sqrt(1 + alpha), Q_TC = Q_TS sqrt(1 + alpha), level Q_TC at f_C.
    speaker = Loudspeaker(2 * pi * FS_HZ, 4.0, 0.5, 3.0, 2 * pi * 30.0)
    seen = np.abs(motion(rad_s(np.array([2.0 * FS_HZ])), speaker, closed=True).sound)
    assert seen == pytest.approx([2.0 / (1 / 4.0 + 1 / 0.5)], rel=1e-12)
