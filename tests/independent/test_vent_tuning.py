"""The tuning of every shape of vent, against its mouths by quadrature and its duct as a transmission line."""

from dataclasses import replace
from math import pi, sqrt, tan

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ive, kve
from tests.mouth_integral import piston_by_chords

from sealtune.physics.air import Air
from sealtune.physics.vent import (
    helmholtz_hz,
    length_for_tuning_m,
    pipe_resonance_hz,
    tuning_hz,
)
from sealtune.records.design import Box, Vent

AIR = Air(1.2, 344.0, 1.8e-5)
AREA = 3.2e-3


def rectangle(aspect: float) -> Vent:
    height = sqrt(AREA / aspect)
    return Vent("rectangular", AREA, 0.15, width_m=aspect * height, height_m=height)


def polygon(sides: int) -> Vent:
    flats = sqrt(4.0 * AREA / (sides * tan(pi / sides)))
    return Vent("polygon", AREA, 0.15, sides=sides, across_flats_m=flats)


SHAPES = {
    "round": Vent("round", AREA, 0.15, diameter_m=2.0 * sqrt(AREA / pi)),
    "square": rectangle(1.0),
    "2:1": rectangle(2.0),
    "4:1": rectangle(4.0),
    "10:1 slot": rectangle(10.0),
    "triangle": polygon(3),
    "hexagon": polygon(6),
    "octagon": polygon(8),
    "custom": Vent("custom", AREA, 0.15),
}


def corners_of(vent: Vent) -> np.ndarray:
    """Corners of the cross-section as complex numbers, m; a circle as 120 of them."""
    if vent.width_m and vent.height_m:
        w, h = vent.width_m / 2.0, vent.height_m / 2.0
        return np.array([complex(w, h), complex(-w, h), complex(-w, -h), complex(w, -h)])
    count = vent.sides or 120
    corners = np.exp(2j * pi * np.arange(count) / count)
    return np.asarray(corners * sqrt(AREA / (count / 2.0 * np.sin(2.0 * pi / count))))


def free_over_radius() -> float:
    """End of a round free pipe over its radius by the integral of [Levine1948]."""

    def integrand(x: float) -> float:
        return float(-np.log(2.0 * ive(1, x) * kve(1, x))) / x**2

    inner, _ = quad(integrand, 1e-6, 1.0, limit=200)
    outer, _ = quad(lambda u: integrand(1.0 / u) / u**2, 1e-4, 1.0, limit=200)
    return float((inner + outer + (np.log(1e4) + 1.0) / 1e4) / pi)


def line_tuning_hz(volume: float, area: float, length: float, inner: float, outer: float) -> float:
    """Where the reactances of box spring, inner mass, lossless line and outer mass add up to nothing, Hz."""

    def reactance(hz: float) -> float:
        k = 2.0 * pi * hz / AIR.speed_m_s
        t = np.tan(k * length)
        at_inner = (k * outer + t) / (1.0 - k * outer * t)  # over rho c/S
        return float(k * inner + at_inner - area / (k * volume))

    guess = AIR.speed_m_s / (2.0 * pi) * sqrt(area / (volume * (length + inner + outer)))
    return float(brentq(reactance, 0.5 * guess, 1.05 * guess, xtol=1e-9))


def solved_hz(vent: Vent, volume: float) -> float:
    """Tuning with the mouths by quadrature; air speeds up near the rim as it does in a round mouth."""
    mouth = piston_by_chords(corners_of(vent)) * 0.8216 / 0.84883
    inner = mouth * free_over_radius() / 0.8216
    return line_tuning_hz(volume, vent.count * vent.area_m2, vent.length_m, inner, mouth)


@pytest.mark.parametrize("name", SHAPES)
def test_tuning_of_every_shape(name: str) -> None:
    # Independent: mouths by quadrature over their outline, the duct as a transmission line, root found by bisection.
    vent = SHAPES[name]
    assert tuning_hz(Box(0.02), vent, AIR) == pytest.approx(solved_hz(vent, 0.02), rel=3e-4)
    # Exact: the length for that tuning is the vent's own.
    length = length_for_tuning_m(Box(0.02), solved_hz(vent, 0.02), vent, AIR)
    assert length == pytest.approx(vent.length_m, rel=1e-3)
    # Independent: two alike, and a long duct that holds 12 % of the box's air.
    pair = replace(vent, count=2)
    assert tuning_hz(Box(0.05), pair, AIR) == pytest.approx(solved_hz(pair, 0.05), rel=3e-4)
    long = replace(vent, length_m=0.75)
    assert tuning_hz(Box(0.02), long, AIR) == pytest.approx(solved_hz(long, 0.02), rel=5e-4)


def test_shapes_differ_by_their_ends() -> None:
    # Exact: equal area and length, so the longer the mouth's outline the shorter its end and the higher the tuning.
    hz = [
        tuning_hz(Box(0.02), SHAPES[name], AIR)
        for name in ("round", "octagon", "square", "2:1", "4:1", "10:1 slot")
    ]
    assert hz == sorted(hz)
    assert hz[-1] / hz[0] > 1.02
    assert tuning_hz(Box(0.02), SHAPES["custom"], AIR) == hz[0]


@pytest.mark.parametrize("share", [0.005, 0.02, 0.05, 0.1, 0.15, 0.2])
@pytest.mark.parametrize("ends", [(0.0, 0.0), (0.1, 0.14), (0.3, 0.4), (0.02, 0.6), (0.6, 0.02)])
def test_lumped_vent_with_springy_air_against_the_line(share: float, ends: tuple[float, float]) -> None:
    # Independent: transmission line between lumped masses; 0.02 % at a tenth of the box's air, 0.08 % at a fifth.
    length, area = 0.2, 1e-3
    inner, outer = ends[0] * length, ends[1] * length
    volume = area * length / share
    exact = line_tuning_hz(volume, area, length, inner, outer)
    found = float(helmholtz_hz(AIR.speed_m_s, area, length, inner, outer, volume))
    assert found == pytest.approx(exact, rel=1e-3)
    assert found == pytest.approx(exact, rel=0.03 * share**2 + 1e-6)
    # Exact: Rayleigh's principle never gives too low a tuning.
    assert found >= exact * (1.0 - 1e-9)
    # Trap: the lumped mass alone is too high by a sixth of the duct's share, less what the ends take.
    lumped = AIR.speed_m_s / (2.0 * pi) * sqrt(area / (volume * (length + inner + outer)))
    assert lumped / exact - 1.0 > 20.0 * abs(found / exact - 1.0) or share > 0.05


def test_pipe_resonance_against_the_line() -> None:
    # Independent: the duct alone between two masses: tan kL = -k (i + o)/(1 - k^2 i o); c/(2 L') to a few per cent.
    vent = SHAPES["round"]
    radius = sqrt(AREA / pi)
    inner, outer = 0.6127 * radius, 0.8216 * radius

    def reactance(hz: float) -> float:
        k = 2.0 * pi * hz / AIR.speed_m_s
        sine, cosine = np.sin(k * 0.15), np.cos(k * 0.15)
        return float(sine * (1.0 - k**2 * inner * outer) + k * (inner + outer) * cosine)

    exact = brentq(reactance, 500.0, 1150.0)
    assert pipe_resonance_hz(vent, Box(0.02), AIR) == pytest.approx(exact, rel=0.04)
