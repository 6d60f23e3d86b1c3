"""One model for the microphone at the cone and the microphone in the mouth: tuning, losses and crosstalk together.

With M the volume velocity out of the vent over that of the cone, the two readings over the cone's own are

    cone   D_c + k E M + r (1 + M)            mouth   g D_v M + k E + r (1 + M)

    M = -(x/sin x) / [x/tan x + P (s/(1 + s d_A/w_B) + w_B d_L/(1 + s t_L)) / w_B^2],
    P = s + d_P sqrt(2 s w_B),   x = -j s t,
    E = exp(-s T),   r = sum A w_r^2 / [q (s^2 + s w_0/q + w_0^2)].

D = exp(-s a/2c) is the mean way from all over a piston to its middle, t the time that sound takes through the vent
(exact for a duct). g compares the two near fields, k E is the sound of the one opening at the other, the same both
ways, and r the answer of the room to all that the cabinet sends out, w_r being 2 pi ROOM_HZ. The driver, the amplifier
and the microphone cancel: what is fitted is

    H_mouth (D_c + k E M + r (1 + M)) - H_cone (g D_v M + k E + r (1 + M)) = 0.

Without crosstalk and losses the cone's reading would be least at w_B; with them that minimum errs by up to a tenth.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

STEP = 1e-6
"""For slopes by differences of quantities of the order of 1: half of the digits are left."""

LOSSES = slice(1, 4)
ROOMS = 9
"""Places in the vector: of ln d_L, ln d_A, ln d_P, and of the first mode of the room."""

USUAL_HZ, TUNING_SPREAD = 42.0, 0.6
"""Tunings of boxes as built, and the standard deviation of their logarithm (common practice)."""

USUAL_LOSSES = np.array([1.0 / 20.0, 1.0 / 50.0, 1.0 / 60.0])
LOSSES_SPREAD = np.array([0.9, 0.7, 0.7])
"""1/Q_L, 1/Q_A, 1/Q_P of boxes as built, and the standard deviation of their logarithms [Small1973, from memory]."""

LEAK_S, LEAK_SPREAD = 0.4e-3, 1.2
"""Inertance over resistance of what leaks: h^2 rho/(10 mu) of a gap, 0.3 ms at 0.2 mm and 3 ms at 0.7 mm, and the
standard deviation of its logarithm."""

RATIO_SPREAD = 0.08
"""Of ln g: a microphone a tenth of the radius away loses 0.9 dB, and cones are not flat."""

FLIGHT_S, FLIGHT_SPREAD_S = 0.9e-3, 0.7e-3
"""Way of the sound between the openings, 10 to 55 cm."""

CROSSTALK, CROSSTALK_SPREAD = 0.06, 0.9
"""a/(2 d) for an opening d away: 0.02 to 0.2 (own derivation), and the standard deviation of its logarithm."""

THROUGH_SPREAD = 0.25
"""Of the logarithm of the time through the vent: its ends belong to it in part."""

ROOM_Q, ROOM_Q_SPREAD = 12.0, 0.6
"""Of a furnished room's low modes: a reverberation of 0.6 s at 45 Hz (common practice)."""

ROOM_HZ, ROOM_SPREAD = 45.0, 0.15
"""Height of a mode over the cone's near field of the same flow is pi a c^2 q/(V w^2) times the mode's shape: up to 0.4
at ROOM_HZ in rooms of 30 to 80 m3, and an eighth of that at 130 Hz (own derivation; [Morse1968]). A mode ten times as
high could stand for another tuning."""


@dataclass(frozen=True)
class NearFieldFit:
    """What explains both readings.

    tuning_hz, tuning_spread: where Im y = 0, Hz, and the standard deviation of its logarithm with what is systematic
    box_q: total box Q at the tuning, far less certain than the tuning
    mouth_over_cone: g
    crosstalk, flight_s: k and T
    rooms: resonance in Hz, q and height at ROOM_HZ of each mode of the room
    residual: root mean square of what is left over the readings
    delays_s: of D_c and D_v
    """

    tuning_hz: float
    tuning_spread: float
    box_q: float
    mouth_over_cone: float
    crosstalk: float
    flight_s: float
    rooms: tuple[tuple[float, float, float], ...]
    residual: float
    delays_s: tuple[float, float]

    def matrix(self, frequency_hz: Reals) -> tuple[Complexes, Complexes, Complexes]:
        """Return what a reading at the cone holds of the cone, what either holds of the other opening, and what a
        reading in the mouth holds of the vent, each over the cone's own near field, shape of frequency_hz."""
        s = np.asarray(2j * np.pi * frequency_hz)
        room: Complexes = np.zeros(s.shape, dtype=np.complex128)
        for mode in self.rooms:
            room = room + room_mode(s, *mode)
        beside = self.crosstalk * np.exp(-s * self.flight_s) + room
        own, mouth = (np.exp(-s * delay) for delay in self.delays_s)
        return np.asarray(own + room), np.asarray(beside), np.asarray(self.mouth_over_cone * mouth + room)


@dataclass(frozen=True)
class Readings:
    """Both readings in the band, with the scale of the distances' prior knowledge."""

    s: Complexes
    cone: Complexes
    mouth: Complexes
    cone_sigma: Reals
    mouth_sigma: Reals
    expected: float | None
    delays_s: tuple[float, float]
    through_s: float

    @cached_property
    def delayed(self) -> tuple[Complexes, Complexes]:
        """What the way to the microphone does to cone and mouth, each shape (n,)."""
        own, mouth = (np.exp(-self.s * delay) for delay in self.delays_s)
        return np.asarray(own), np.asarray(mouth)

    @property
    def frequency_hz(self) -> Reals:
        """The frequencies, Hz, shape (n,)."""
        return np.asarray(self.s.imag / (2.0 * np.pi))


class Terms(NamedTuple):
    """What the readings are put together from, each shape (n,): M, k with its way, and the room's modes."""

    vent: Complexes
    beside: Complexes
    rooms: tuple[Complexes, ...]


@dataclass(frozen=True)
class NearFieldTask:
    """What `descend` fits: logarithms of tuning, losses and |g|; k, T and the room's modes in units of their size."""

    readings: Readings
    weight: Reals
    rooms: int

    def evaluate(self, vector: Reals) -> tuple[Complexes, Complexes]:
        """Return the weighted misfit and its slopes, by differences."""
        terms = near_terms(self.readings, vector)
        here = self._misfit(vector, terms)
        slopes = np.empty((here.size, vector.size), dtype=np.complex128)
        for index in range(vector.size):
            step = np.zeros(vector.size)
            step[index] = STEP
            moved = vector + step
            slopes[:, index] = (
                self._misfit(moved, near_terms(self.readings, moved, terms, index)) - here
            ) / STEP
        return here, slopes

    def misfit(self, vector: Reals) -> Complexes:
        """Return the equation's left side, shape (n,)."""
        return self._misfit(vector, near_terms(self.readings, vector))

    def _misfit(self, vector: Reals, terms: Terms) -> Complexes:
        at_cone, at_mouth = near_parts(self.readings, vector, terms)
        return np.asarray(self.readings.mouth * at_cone - self.readings.cone * at_mouth)

    def prior(self) -> tuple[Reals, Reals]:
        """Return what is known before any reading."""
        expected = self.readings.expected
        mean = [
            np.log(2.0 * np.pi * USUAL_HZ),
            *np.log(USUAL_LOSSES),
            np.log(3.0 if expected is None else expected),
        ]
        known = [
            1.0 / TUNING_SPREAD,
            *(1.0 / LOSSES_SPREAD),
            1.0 / (1.2 if expected is None else RATIO_SPREAD),
        ]
        mean += [np.log(CROSSTALK), 0.0, np.log(self.readings.through_s), np.log(LEAK_S)]
        known += [1.0 / CROSSTALK_SPREAD, 1.0, 1.0 / THROUGH_SPREAD, 1.0 / LEAK_SPREAD]
        for _ in range(self.rooms):
            mean += [0.0, np.log(ROOM_Q), 0.0]
            known += [0.0, 1.0 / ROOM_Q_SPREAD, 1.0 / ROOM_SPREAD]
        return np.array(mean), np.array(known)

    def moved(self, vector: Reals, step: Reals) -> Reals:
        """Return the vector after a step."""
        return vector + step


def room_mode(s: Complexes, resonance_hz: float, q: float, height: float) -> Complexes:
    """Return one term of r, shape of s; `height` is what it would be high at ROOM_HZ, falling as 1/w^2."""
    rest = 2.0 * np.pi * resonance_hz
    return np.asarray(height / q * (2.0 * np.pi * ROOM_HZ) ** 2 / (s**2 + s * rest / q + rest**2))


def vent_over_cone(
    s: Complexes, wb_rad_s: float, losses: Reals, through_s: float, leak_s: float = LEAK_S
) -> Complexes:
    """Return M; losses: d_L, d_A, d_P; through_s, leak_s: t and t_L, s."""
    air, plug, x = _box(s, wb_rad_s, losses, through_s, leak_s)
    return np.asarray(-(x / np.sin(x)) / (x / np.tan(x) + plug * air / wb_rad_s**2))


def _box(
    s: Complexes, wb_rad_s: float, losses: Reals, through_s: float, leak_s: float
) -> tuple[Complexes, Complexes, Reals]:
    """Return the admittance of air and leak, P, and x."""
    leakage, absorption, friction = losses
    air = s / (1.0 + s * absorption / wb_rad_s) + wb_rad_s * leakage / (1.0 + s * leak_s)
    plug = s + friction * np.sqrt(2.0 * s * wb_rad_s)
    # no duct is followed beyond a quarter of the wave, where it would ring by itself
    return np.asarray(air), np.asarray(plug), np.minimum(s.imag * through_s, 1.5)


def vent_over_cone_at(s: Complexes, vector: Reals) -> Complexes:
    """Return M at a vector of the task, shape of s."""
    wb, through, leak = (float(np.exp(vector[place])) for place in (0, 7, 8))
    return vent_over_cone(s, wb, np.exp(vector[LOSSES]), through, leak)


def _beside(s: Complexes, vector: Reals) -> Complexes:
    way = np.exp(-s * (FLIGHT_S + FLIGHT_SPREAD_S * vector[6]))
    return np.asarray(np.exp(vector[5]) * way)


def near_terms(
    readings: Readings, vector: Reals, known: Terms | None = None, index: int | None = None
) -> Terms:
    """Return the terms at a vector; `known` are those at another one that differs in `index` alone."""
    s, rooms = readings.s, []
    vent = vent_over_cone_at(s, vector) if known is None or index in (0, 1, 2, 3, 7, 8) else known.vent
    beside = _beside(s, vector) if known is None or index in (5, 6) else known.beside
    for number, place in enumerate(range(ROOMS, vector.size, 3)):
        if known is None or index in range(place, place + 3):
            rest_hz, q = np.exp(vector[place]) / (2.0 * np.pi), np.exp(vector[place + 1])
            rooms.append(room_mode(s, float(rest_hz), float(q), float(vector[place + 2])))
        else:
            rooms.append(known.rooms[number])
    return Terms(vent, beside, tuple(rooms))


def near_parts(readings: Readings, vector: Reals, terms: Terms | None = None) -> tuple[Complexes, Complexes]:
    """Return the readings at cone and mouth over the cone's own; `terms` are those at this vector."""
    own, mouth = readings.delayed
    moved, beside, rooms = terms or near_terms(readings, vector)
    gain = np.exp(vector[4])
    room = np.zeros_like(readings.s)
    for mode in rooms:
        room = room + mode
    whole = room * (1.0 + moved)
    return own + beside * moved + whole, gain * mouth * moved + beside + whole


def tuning_and_q(vector: Reals) -> tuple[float, float]:
    """Return where Im y = 0, Hz, and w/Re y there."""
    wb, through, leak = (float(np.exp(vector[place])) for place in (0, 7, 8))
    low, high = 0.6 * wb, 1.8 * wb
    for _ in range(4):
        w = np.linspace(low, high, 61)
        air, plug, x = _box(np.asarray(1j * w), wb, np.exp(vector[LOSSES]), through, leak)
        y = air + wb**2 / plug * (x / np.tan(x))
        place = int(np.argmin(np.abs(y.imag)))
        low, high = float(w[max(place - 1, 0)]), float(w[min(place + 1, w.size - 1)])
    return float(w[place]) / (2.0 * np.pi), float(w[place] / y[place].real)
