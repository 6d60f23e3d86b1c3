"""One model for the microphone at the cone and the microphone in the mouth: tuning, losses and crosstalk together.

With M the volume velocity out of the vent over that of the cone, the two readings over the cone's own are

    cone   D_c + k E M + r (1 + M)            mouth   g D_v M + k E + r (1 + M)

    M = -(x/sin x) / [x/tan x + P (s/(1 + s d_A/w_B) + w_B d_L/(1 + s t_L)) / w_B^2],
    P = s + d_P sqrt(2 s w_B),   x = -j s t,
    E = exp(-s T),   r = sum A w_0^2 / [q (s^2 + s w_0/q + w_0^2)],

D = exp(-s a/2c) is the mean way from all over a piston to its middle, t is the time that sound takes through the vent (exact for a
duct), g compares the two near fields, k E is the sound of the one opening at the other, the same both ways, and r the answer
of the room to all that the cabinet sends out. The driver, the amplifier and the microphone cancel: what is fitted is

    H_mouth (D_c + k E M + r (1 + M)) - H_cone (g D_v M + k E + r (1 + M)) = 0.

Without crosstalk and losses the cone's reading would be least at w_B; with them that minimum errs by up to a tenth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.least_squares import descend

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

LOWEST_HZ, HIGHEST_HZ = 12.0, 180.0
"""Tunings of boxes as built; nothing else is looked for."""

BAND = (0.45, 2.6)
"""Band over the tuning: below, the two readings say the same; above, walls and the air in the vent ring."""

FLOOR = 0.002
"""Error of the model beside the noise, over the readings: the air in the vent's duct, cones that are not flat."""

SYSTEMATIC = 0.0025
"""Of the tuning, one standard deviation: how the losses are made up shifts it by up to 0.2 % at Q = 8."""

MADE_UP, GOOD_Q = 0.3, 12.0
"""More loss than a good box has may sit in the leak or in the vent: between the two the tuning differs by half of the
excess over Q (own derivation)."""

MOST_ROOMS = 3
WORTH, NOISE_ALONE = 0.88, 1.15
"""A mode of the room stays where it leaves less than this share of the sum of squares; none is looked for where the
sum is this many times what noise alone leaves, or less."""

FEWEST_POINTS = 24
STEP = 1e-6
"""For slopes by differences of quantities of the order of 1: half of the digits are left."""

LOSSES = slice(1, 4)
ROOMS = 9
"""Places in the vector: of ln d_L, ln d_A, ln d_P, and of the first mode of the room."""

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

ROOM_Q = 12.0
"""Of a furnished room's low modes: a reverberation of 0.6 s at 45 Hz (common practice)."""


@dataclass(frozen=True)
class NearFieldFit:
    """What explains both readings.

    tuning_hz, tuning_spread: where Im y = 0, Hz, and the standard deviation of its logarithm with what is systematic
    box_q: total box Q at the tuning, far less certain than the tuning
    mouth_over_cone: g
    crosstalk, flight_s: k and T
    rooms: resonance in Hz, q and height of each mode of the room
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
        room = sum((_mode(s, *mode) for mode in self.rooms), np.zeros_like(s))
        beside = self.crosstalk * np.exp(-s * self.flight_s) + room
        own, mouth = (np.exp(-s * delay) for delay in self.delays_s)
        return own + room, beside, self.mouth_over_cone * mouth + room


@dataclass(frozen=True)
class _Readings:
    """Both readings in the band, with the scale of the distances' prior knowledge."""

    s: Complexes
    cone: Complexes
    mouth: Complexes
    cone_sigma: Reals
    mouth_sigma: Reals
    expected: float | None
    delays_s: tuple[float, float]
    through_s: float

    @property
    def frequency_hz(self) -> Reals:
        return np.asarray(self.s.imag / (2.0 * np.pi))


@dataclass(frozen=True)
class _Task:
    """What `descend` fits: logarithms of tuning, losses and |g|; k, T and the room's modes in units of their size."""

    readings: _Readings
    weight: Reals
    rooms: int

    def evaluate(self, vector: Reals) -> tuple[Complexes, Complexes]:
        """Return the weighted misfit and its slopes, by differences."""
        here = self.misfit(vector)
        slopes = np.empty((here.size, vector.size), dtype=np.complex128)
        for index in range(vector.size):
            step = np.zeros(vector.size)
            step[index] = STEP
            slopes[:, index] = (self.misfit(vector + step) - here) / STEP
        return here, slopes

    def misfit(self, vector: Reals) -> Complexes:
        """Return the equation's left side, shape (n,)."""
        at_cone, at_mouth = _parts(self.readings, vector)
        return np.asarray(self.readings.mouth * at_cone - self.readings.cone * at_mouth)

    def prior(self) -> tuple[Reals, Reals]:
        """Return what is known before any reading."""
        expected = self.readings.expected
        mean = [0.0, *np.log(USUAL_LOSSES), np.log(3.0 if expected is None else expected)]
        known = [0.0, *(1.0 / LOSSES_SPREAD), 1.0 / (1.2 if expected is None else RATIO_SPREAD)]
        mean += [np.log(CROSSTALK), 0.0, np.log(self.readings.through_s), np.log(LEAK_S)]
        known += [1.0 / CROSSTALK_SPREAD, 1.0, 1.0 / THROUGH_SPREAD, 1.0 / LEAK_SPREAD]
        for _ in range(self.rooms):
            mean += [0.0, np.log(ROOM_Q), 0.0]
            known += [0.0, 1.0 / 0.6, 1.0]
        return np.array(mean), np.array(known)

    def moved(self, vector: Reals, step: Reals) -> Reals:
        """Return the vector after a step."""
        return vector + step


def _mode(s: Complexes, resonance_hz: float, q: float, height: float) -> Complexes:
    rest = 2.0 * np.pi * resonance_hz
    return np.asarray(height / q * rest**2 / (s**2 + s * rest / q + rest**2))


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


def _moved(s: Complexes, vector: Reals) -> Complexes:
    wb, through, leak = (float(np.exp(vector[place])) for place in (0, 7, 8))
    return vent_over_cone(s, wb, np.exp(vector[LOSSES]), through, leak)


def _parts(readings: _Readings, vector: Reals) -> tuple[Complexes, Complexes]:
    """Return the readings at cone and mouth over the cone's own."""
    s = readings.s
    own, mouth = (np.exp(-s * delay) for delay in readings.delays_s)
    moved = _moved(s, vector)
    gain = np.exp(vector[4])
    beside = np.exp(vector[5]) * np.exp(-s * (FLIGHT_S + FLIGHT_SPREAD_S * vector[6]))
    room = np.zeros_like(s)
    for place in range(ROOMS, vector.size, 3):
        rest_hz, q = np.exp(vector[place]) / (2.0 * np.pi), np.exp(vector[place + 1])
        room = room + _mode(s, float(rest_hz), float(q), float(vector[place + 2]))
    whole = room * (1.0 + moved)
    return own + beside * moved + whole, gain * mouth * moved + beside + whole


def fit_near_field(
    frequency_hz: Reals,
    cone: Complexes,
    mouth: Complexes,
    cone_sigma: Reals,
    mouth_sigma: Reals,
    expected_ratio: float | None = None,
    delays_s: tuple[float, float] = (0.0, 0.0),
    through_s: float = 0.6e-3,
    *,
    near_hz: float | None = None,
) -> NearFieldFit | None:
    """Return the model that explains the readings, None where none does.

    frequency_hz: shape (n,), rising
    cone, mouth: readings over the amplifier's voltage, shape (n,), in the same unit
    cone_sigma, mouth_sigma: standard deviation of real and of imaginary part, shape (n,)
    expected_ratio: g by the areas of cone and vent, None where they are not known
    delays_s: a/2c of cone and mouth, s
    through_s: time that sound takes through the vent, s
    near_hz: where to begin, None to look everywhere
    """
    inside = (frequency_hz >= 0.5 * LOWEST_HZ) & (frequency_hz <= BAND[1] * HIGHEST_HZ)
    whole = _Readings(
        np.asarray(2j * np.pi * frequency_hz[inside]), cone[inside], mouth[inside],
        cone_sigma[inside], mouth_sigma[inside], expected_ratio, delays_s,
        through_s,
    )  # fmt: skip
    if whole.s.size < FEWEST_POINTS:
        return None
    start = _start(whole, near_hz)
    if start is None:
        return None
    tuning_hz, times, gain, crosstalk = start
    vector = np.array(
        [np.log(2.0 * np.pi * tuning_hz), *np.log(times * USUAL_LOSSES), np.log(gain),
         np.log(np.clip(crosstalk, 0.02, 0.2)), 0.0, np.log(through_s), np.log(LEAK_S)]
    )  # fmt: skip
    for _ in range(2):  # the band goes with the tuning
        band = _within(whole, float(np.exp(vector[0])) / (2.0 * np.pi))
        if band.s.size < FEWEST_POINTS:
            return None
        found = _descended(band, vector, 0)
        if found is None:
            return None
        vector = found[0]
    vector, task = _with_rooms(band, vector)
    return _told(task, vector)


def _within(readings: _Readings, tuning_hz: float) -> _Readings:
    hz = readings.frequency_hz
    kept = (hz >= BAND[0] * tuning_hz) & (hz <= BAND[1] * tuning_hz)
    return _Readings(
        readings.s[kept], readings.cone[kept], readings.mouth[kept], readings.cone_sigma[kept],
        readings.mouth_sigma[kept], readings.expected, readings.delays_s,
        readings.through_s,
    )  # fmt: skip


def _start(readings: _Readings, near_hz: float | None) -> tuple[float, float, float, float] | None:
    """Return tuning, losses over the usual ones, g and k of the best of a grid; g and k follow by linear least squares."""
    low, high = (LOWEST_HZ, HIGHEST_HZ) if near_hz is None else (0.75 * near_hz, 1.33 * near_hz)
    best: tuple[float, tuple[float, float, float, float]] | None = None
    for tuning_hz in np.geomspace(low, high, 80 if near_hz is None else 24):
        band = _within(readings, float(tuning_hz))
        if band.s.size < FEWEST_POINTS:
            continue
        flight = np.exp(-band.s * FLIGHT_S)
        scale = float(np.sum(np.abs(band.mouth) ** 2))
        for times in (0.6, 1.4, 3.0):
            moved = vent_over_cone(
                band.s, 2.0 * np.pi * float(tuning_hz), times * USUAL_LOSSES, band.through_s
            )
            columns = np.stack([band.cone * moved, band.cone * flight - band.mouth * flight * moved], axis=1)
            tall = np.concatenate([columns.real, columns.imag])
            aim = np.concatenate([band.mouth.real, band.mouth.imag])
            parts, *_ = np.linalg.lstsq(tall, aim, rcond=None)
            left = float(np.sum((tall @ parts - aim) ** 2)) / max(scale, 1e-300)
            if parts[0] > 0.0 and (best is None or left < best[0]):
                best = left, (float(tuning_hz), times, float(parts[0]), float(parts[1]))
    return None if best is None else best[1]


def _weight(readings: _Readings, vector: Reals) -> Reals:
    at_cone, at_mouth = _parts(readings, vector)
    noise = (readings.mouth_sigma * np.abs(at_cone)) ** 2 + (readings.cone_sigma * np.abs(at_mouth)) ** 2
    floor = 0.5 * FLOOR**2 * (np.abs(readings.mouth * at_cone) ** 2 + np.abs(readings.cone * at_mouth) ** 2)
    around = float(np.median(floor))
    return np.asarray(1.0 / np.sqrt(noise + floor + 0.05 * around + 1e-300))


def _descended(readings: _Readings, vector: Reals, rooms: int) -> tuple[Reals, _Task, float] | None:
    """Return the best vector near a start, its task and the sum of squares there."""
    task = _Task(readings, _weight(readings, vector), rooms)
    for tolerance in (1e-3, 1e-5):
        found = descend(
            task,
            np.zeros(readings.s.size, dtype=np.complex128),
            task.weight,
            vector,
            tolerance,
            most_steps=25,
        )
        if found is None:
            return None
        vector = found[0]
        task = _Task(readings, _weight(readings, vector), rooms)
    return vector, task, _cost(task, vector)


def _cost(task: _Task, vector: Reals) -> float:
    mean, known = task.prior()
    return float(
        np.sum(np.abs(task.misfit(vector) * task.weight) ** 2) + np.sum(((vector - mean) * known) ** 2)
    )


def _with_rooms(readings: _Readings, vector: Reals) -> tuple[Reals, _Task]:
    """Return the fit with as many modes of the room as pay for themselves."""
    first = _descended(readings, vector, 0)
    assert first is not None
    vector, task, cost = first
    for rooms in range(1, MOST_ROOMS + 1):
        if cost < NOISE_ALONE * 2 * readings.s.size:  # nothing is left but noise
            break
        best: tuple[Reals, _Task, float] | None = None
        for mode in _candidates(task, vector):
            found = _descended(readings, np.concatenate([vector, mode]), rooms)
            if found is not None and (best is None or found[2] < best[2]):
                best = found
        if best is None or best[2] > WORTH * cost:
            break
        vector, task, cost = best
    return vector, task


def _candidates(task: _Task, vector: Reals) -> list[Reals]:
    """Return the modes of the room that explain most of what is left, at most three."""
    readings = task.readings
    s, hz = readings.s, readings.frequency_hz
    moved = _moved(s, vector)
    by_room = (readings.mouth - readings.cone) * (1.0 + moved) * task.weight
    left = task.misfit(vector) * task.weight
    found: list[tuple[float, Reals]] = []
    for rest_hz in np.geomspace(0.85 * hz[0], 1.15 * hz[-1], 36):
        for q in (6.0, 15.0):
            column = by_room * _mode(s, float(rest_hz), q, 1.0)
            power = float(np.sum(np.abs(column) ** 2))
            height = -float(np.sum((np.conj(column) * left).real)) / max(power, 1e-300)
            found.append((height**2 * power, np.array([np.log(2.0 * np.pi * rest_hz), np.log(q), height])))
    found.sort(key=lambda one: -one[0])
    chosen: list[Reals] = []
    for _, mode in found:
        if all(abs(mode[0] - other[0]) > 0.15 for other in chosen):
            chosen.append(mode)
        if len(chosen) == 3:
            break
    return chosen


def _told(task: _Task, vector: Reals) -> NearFieldFit | None:
    readings = task.readings
    _, slopes = task.evaluate(vector)
    tall = np.concatenate([slopes.real, slopes.imag]) * np.tile(task.weight, 2)[:, None]
    _, known = task.prior()
    square = tall.T @ tall + np.diag(known**2)
    misfit = task.misfit(vector)
    per_point = float(np.sum(np.abs(misfit * task.weight) ** 2)) / max(2 * readings.s.size - vector.size, 1)
    try:
        covariance = np.linalg.inv(square)
    except np.linalg.LinAlgError:
        return None
    # what the model does not explain is no noise: neighbours err together over about a tenth of the band
    together = max(readings.s.size / 10.0, 1.0) if per_point > 2.0 else 1.0
    tuning_hz, box_q = _tuning_and_q(vector)
    systematic = SYSTEMATIC + MADE_UP / box_q * max(1.0 / box_q - 1.0 / GOOD_Q, 0.0)
    spread = float(np.sqrt(covariance[0, 0] * max(per_point, 1.0) * together + systematic**2))
    at_cone, at_mouth = _parts(readings, vector)
    size = 0.5 * (np.abs(readings.mouth * at_cone) ** 2 + np.abs(readings.cone * at_mouth) ** 2)
    rooms = tuple(
        (
            float(np.exp(vector[place]) / (2.0 * np.pi)),
            float(np.exp(vector[place + 1])),
            float(vector[place + 2]),
        )
        for place in range(ROOMS, vector.size, 3)
    )
    return NearFieldFit(
        tuning_hz=tuning_hz,
        tuning_spread=spread,
        box_q=box_q,
        mouth_over_cone=float(np.exp(vector[4])),
        crosstalk=float(np.exp(vector[5])),
        flight_s=float(FLIGHT_S + FLIGHT_SPREAD_S * vector[6]),
        rooms=rooms,
        residual=float(np.sqrt(np.sum(np.abs(misfit) ** 2) / np.sum(size))),
        delays_s=readings.delays_s,
    )


def _tuning_and_q(vector: Reals) -> tuple[float, float]:
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


def bare_null_hz(frequency_hz: Reals, cone: Complexes, span_hz: tuple[float, float]) -> float | None:
    """Return where the reading at the cone is least within a span, Hz, None where that is at its edge [Keele1974].

    For comparison: losses and crosstalk pull this away from the tuning.
    """
    inside = np.flatnonzero((frequency_hz >= span_hz[0]) & (frequency_hz <= span_hz[1]))
    if inside.size < 5:
        return None
    level = np.log(np.abs(cone[inside]))
    least = int(np.argmin(level))
    if least in (0, inside.size - 1):
        return None
    near = slice(max(least - 2, 0), least + 3)
    x = np.log(frequency_hz[inside][near])
    bend, slope, _ = np.polyfit(x - x.mean(), level[near], 2)
    if bend <= 0.0:
        return float(frequency_hz[inside][least])
    return float(np.exp(np.clip(x.mean() - 0.5 * slope / bend, x[0], x[-1])))
