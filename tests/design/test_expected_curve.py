"""Peaks and saddle of many boxes at once, against the reference box and against a search in small steps."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from sealtune.design.expected_curve import landmarks
from sealtune.physics.crossover import impedance_behind
from sealtune.physics.loudspeaker import Loudspeaker, impedance_ratio, lossless_landmarks_rad_s
from sealtune.records.design import Crossover

RE = 6.0
BOX = Loudspeaker(2 * pi * 40.0, 4.0, 0.40, 1.5, 2 * pi * 40.0)


def test_lossless_box() -> None:
    # Exact, closed form: 22.40926 and 71.39906 Hz for f_S = f_B = 40 Hz, alpha = 1.5.
    hz = [float(w) / (2 * pi) for w in lossless_landmarks_rad_s(BOX)]
    assert hz == pytest.approx([22.40926, 40.0, 71.39906], abs=6e-6)


# Independent: extrema of |Z| and |Z|/R_E at the saddle of a reference box with leakage alone, computed elsewhere.
@pytest.mark.parametrize(
    ("fb", "ql", "lower", "saddle", "upper", "ratio"),
    [
        (40, 20, 22.367, 40.000, 71.535, 1.0826),
        (40, 10, 22.328, 40.000, 71.658, 1.1639),
        (40, 7, 22.300, 40.000, 71.749, 1.2326),
        (40, 3, 22.233, 40.000, 71.964, 1.5263),
        (32, 7, 18.632, 32.609, 68.606, 1.1853),
        (50, 7, 26.121, 49.044, 76.754, 1.2849),
    ],
)
def test_reference_box(fb: float, ql: float, lower: float, saddle: float, upper: float, ratio: float) -> None:
    w, ohm = landmarks(replace(BOX, wb_rad_s=2 * pi * fb, leakage=1 / ql), RE, None)
    assert w[:, 0] / (2 * pi) == pytest.approx([lower, saddle, upper], abs=1e-3)
    assert ohm[1, 0] / RE == pytest.approx(ratio, abs=6e-5)


@pytest.mark.parametrize(
    "crossover", [None, Crossover(0.8e-3, 0.5, 15e-6, 3.0)], ids=["straight", "crossover"]
)
def test_many_boxes_at_once(crossover: Crossover | None) -> None:
    # Independent: scipy's bounded search on each box alone.
    rng = np.random.default_rng(5)
    n = 40
    drawn = {
        "ws_rad_s": 2 * pi * rng.uniform(25, 80, n), "qms": rng.uniform(2, 9, n), "qes": rng.uniform(0.25, 0.7, n),
        "alpha": rng.uniform(0.4, 4, n), "leakage": rng.uniform(0.02, 0.15, n),
        "friction": rng.uniform(0.01, 0.05, n), "absorption": rng.uniform(0.005, 0.06, n),
    }  # fmt: skip
    boxes = Loudspeaker(wb_rad_s=drawn["ws_rad_s"] * rng.uniform(0.75, 1.4, n), **drawn)
    w, ohm = landmarks(boxes, RE, crossover)
    for place in range(n):
        one = Loudspeaker(**{name: float(np.asarray(value)[place]) for name, value in vars(boxes).items()})
        for row, sign in enumerate((-1.0, 1.0, -1.0)):

            def height(at: float, box: Loudspeaker = one, sign: float = sign) -> float:
                s = np.array([1j * at])
                return sign * float(abs(impedance_behind(s, crossover, RE * impedance_ratio(s, box))[0]))

            found = minimize_scalar(
                height, bounds=(0.93 * w[row, place], 1.07 * w[row, place]), method="bounded",
                options={"xatol": 1e-7},
            )  # fmt: skip
            assert w[row, place] == pytest.approx(found.x, rel=3e-4)
            assert ohm[row, place] == pytest.approx(abs(found.fun), rel=1e-5)
