"""The model of cone and mouth fitted to both readings, with as many modes of the room as pay for themselves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.least_squares import descend
from sealtune.analysis.near_field_model import (
    FLIGHT_S,
    FLIGHT_SPREAD_S,
    LEAK_S,
    ROOMS,
    USUAL_LOSSES,
    NearFieldFit,
    NearFieldTask,
    Readings,
    near_parts,
    room_mode,
    tuning_and_q,
    vent_over_cone,
    vent_over_cone_at,
)

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

LOWEST_HZ, HIGHEST_HZ = 12.0, 180.0
"""Tunings of boxes as built; nothing else is looked for."""

BAND = (0.45, 2.6)
"""Band over the tuning: below, the two readings say the same; above, walls and the air in the vent ring."""

FLOOR = 0.002
"""Error of the model beside the noise, over the readings: the air in the vent's duct, cones that are not flat."""

SYSTEMATIC = 0.0035
"""Of the tuning, one standard deviation: how the losses are made up shifts it by up to 0.2 % at Q = 8."""

MADE_UP, GOOD_Q = 0.3, 12.0
"""More loss than a good box has may sit in the leak or in the vent: between the two the tuning differs by half of the
excess over Q (own derivation)."""

MOST_ROOMS = 3

WORTH, NOISE_ALONE = 0.95, 1.0
"""A further mode of the room stays where it leaves less than this share of the sum of squares; none is looked for where
the sum is this many times what noise alone leaves, or less."""

MOST_CROSSTALK = 0.4
"""The other opening is never so near; a fit that wants more makes both sides of the equation vanish."""

LEAST_Q, MOST_SPREAD, HIGHEST_ROOM = 1.0, 0.2, 0.75
"""A fit beyond one of these explains readings that are none of a vented box in a room: losses with which nothing
resonates, a tuning known to a factor only, a mode twice as high as rooms make it. A mouth upside down may be made to
fit by all three together."""

FEWEST_POINTS = 24

FIRST_LOOK, FOLLOWED, SAME = 10, 4, 0.015
"""Steps for each place to begin with a mode of the room; how many of those places are followed to the end, if their
tunings lie farther apart than this share."""

FAR = 1.25
"""A tuning farther from where it was looked for needs a band of its own."""

Fitted = tuple[Reals, NearFieldTask, float]
"""A vector, its task and the sum of squares there."""


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
    near_hz: a place to begin beside those that the readings suggest, None for none
    """
    inside = (frequency_hz >= 0.5 * LOWEST_HZ) & (frequency_hz <= BAND[1] * HIGHEST_HZ)
    whole = Readings(
        np.asarray(2j * np.pi * frequency_hz[inside]), cone[inside], mouth[inside],
        cone_sigma[inside], mouth_sigma[inside], expected_ratio, delays_s,
        through_s,
    )  # fmt: skip
    if whole.s.size < FEWEST_POINTS:
        return None
    start = _start(whole)
    if start is None:
        return None
    centre = start[0] if near_hz is None else near_hz
    best = _best(whole, centre, _vectors(whole, start, near_hz))
    if best is not None and not 1.0 / FAR < _wb_hz(best) / centre < FAR:
        centre = _wb_hz(best)
        best = _best(whole, centre, _vectors(whole, start, centre)) or best
    return None if best is None else told(best[1], best[0])


def _best(whole: Readings, centre_hz: float, vectors: list[Reals]) -> Fitted | None:
    """Return the fit that leaves least in the band around a frequency, from all places to begin; None without one."""
    band = _within(whole, centre_hz)
    if band.s.size < FEWEST_POINTS:
        return None
    plain = [one for vector in vectors if (one := _descended(band, vector, 0)) is not None]
    least = min(plain, key=lambda one: one[2], default=None)
    if least is not None and least[2] < NOISE_ALONE * 2 * band.s.size:
        return least  # nothing is left but noise: no room is needed
    with_room = (
        _descended(band, one, 1, FIRST_LOOK) for vector in vectors for one in _candidates(band, vector)
    )
    tries = sorted([*plain, *(one for one in with_room if one is not None)], key=lambda one: one[2])
    followed: list[Fitted] = []
    for one in tries:
        if len(followed) < FOLLOWED and all(abs(one[0][0] - other[0][0]) > SAME for other in followed):
            followed.append(one)
    refined = (_descended(band, one[0], one[1].rooms) for one in followed)
    return min(
        (_with_rooms(*one) for one in refined if one is not None), key=lambda one: one[2], default=None
    )


def _wb_hz(found: Fitted) -> float:
    return float(np.exp(found[0][0])) / (2.0 * np.pi)


def _vectors(
    readings: Readings, start: tuple[float, float, float, float], near_hz: float | None
) -> list[Reals]:
    """Return where to begin: the grid's best, the hint, and the cone's minimum as crosstalk of three sizes moves it."""
    tuning_hz, times, gain, own = start
    places = [(tuning_hz, times, gain, float(np.clip(own, 0.02, 0.2)))]
    usual = gain if readings.expected is None else readings.expected
    centre = tuning_hz
    if near_hz is not None:
        places.append((near_hz, 1.0, usual, 0.08))
        centre = near_hz
    null_hz = bare_null_hz(readings.frequency_hz, readings.cone, (0.6 * centre, 1.6 * centre))
    if null_hz is not None:
        places += [(null_hz / float(np.sqrt(1.0 - k)), 1.0, usual, k) for k in (0.03, 0.1, 0.18)]
    return [
        np.array(
            [np.log(2.0 * np.pi * hz), *np.log(factor * USUAL_LOSSES), np.log(ratio), np.log(k), 0.0,
             np.log(readings.through_s), np.log(LEAK_S)]
        )
        for hz, factor, ratio, k in places
    ]  # fmt: skip


def _within(readings: Readings, tuning_hz: float) -> Readings:
    hz = readings.frequency_hz
    kept = (hz >= BAND[0] * tuning_hz) & (hz <= BAND[1] * tuning_hz)
    return Readings(
        readings.s[kept], readings.cone[kept], readings.mouth[kept], readings.cone_sigma[kept],
        readings.mouth_sigma[kept], readings.expected, readings.delays_s,
        readings.through_s,
    )  # fmt: skip


def _start(readings: Readings) -> tuple[float, float, float, float] | None:
    """Return tuning, losses over the usual ones, g and k of the best of a grid; g and k by linear least squares."""
    tried: list[tuple[float, tuple[float, float, float, float]]] = []
    for tuning_hz in np.geomspace(LOWEST_HZ, HIGHEST_HZ, 80):
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
            if parts[0] > 0.0:
                tried.append((left, (float(tuning_hz), times, float(parts[0]), float(parts[1]))))
    return min(tried)[1] if tried else None


def _weight(readings: Readings, vector: Reals) -> Reals:
    at_cone, at_mouth = near_parts(readings, vector)
    noise = (readings.mouth_sigma * np.abs(at_cone)) ** 2 + (readings.cone_sigma * np.abs(at_mouth)) ** 2
    floor = 0.5 * FLOOR**2 * (np.abs(readings.mouth * at_cone) ** 2 + np.abs(readings.cone * at_mouth) ** 2)
    around = float(np.median(floor))
    return np.asarray(1.0 / np.sqrt(noise + floor + 0.05 * around + 1e-300))


def _descended(readings: Readings, vector: Reals, rooms: int, most_steps: int = 25) -> Fitted | None:
    """Return the best vector near a start, None where nothing is finite."""
    task = NearFieldTask(readings, _weight(readings, vector), rooms)
    for tolerance in (1e-3, 1e-5):
        found = descend(
            task,
            np.zeros(readings.s.size, dtype=np.complex128),
            task.weight,
            vector,
            tolerance,
            most_steps=most_steps,
        )
        if found is None:
            return None
        vector = found[0]
        task = NearFieldTask(readings, _weight(readings, vector), rooms)
    return vector, task, _cost(task, vector)


def _cost(task: NearFieldTask, vector: Reals) -> float:
    mean, known = task.prior()
    return float(
        np.sum(np.abs(task.misfit(vector) * task.weight) ** 2) + np.sum(((vector - mean) * known) ** 2)
    )


def _with_rooms(vector: Reals, task: NearFieldTask, cost: float) -> Fitted:
    """Return the fit with as many modes of the room as pay for themselves."""
    readings = task.readings
    for rooms in range(task.rooms + 1, MOST_ROOMS + 1):
        best: Fitted | None = None
        for start in _candidates(readings, vector):
            found = _descended(readings, start, rooms)
            if found is not None and (best is None or found[2] < best[2]):
                best = found
        if best is None or best[2] > WORTH * cost:
            break
        vector, task, cost = best
    return vector, task, cost


def _candidates(readings: Readings, vector: Reals) -> list[Reals]:
    """Return the vector with each of the modes of the room that explain most of what is left, at most two."""
    task = NearFieldTask(readings, _weight(readings, vector), 0)
    s, hz = readings.s, readings.frequency_hz
    moved = vent_over_cone_at(s, vector)
    by_room = (readings.mouth - readings.cone) * (1.0 + moved) * task.weight
    left = task.misfit(vector) * task.weight
    found: list[tuple[float, Reals]] = []
    for rest_hz in np.geomspace(0.85 * hz[0], 1.15 * hz[-1], 36):
        for q in (6.0, 15.0):
            column = by_room * room_mode(s, float(rest_hz), q, 1.0)
            power = float(np.sum(np.abs(column) ** 2))
            height = -float(np.sum((np.conj(column) * left).real)) / max(power, 1e-300)
            found.append((height**2 * power, np.array([np.log(2.0 * np.pi * rest_hz), np.log(q), height])))
    found.sort(key=lambda one: -one[0])
    chosen: list[Reals] = []
    for _, mode in found:
        if all(abs(mode[0] - other[0]) > 0.15 for other in chosen):
            chosen.append(mode)
        if len(chosen) == 2:
            break
    return [np.concatenate([vector, mode]) for mode in chosen]


def told(task: NearFieldTask, vector: Reals) -> NearFieldFit | None:
    """Return what a fit tells, None where it explains readings that are none of a vented box in a room."""
    readings = task.readings
    if np.exp(vector[5]) > MOST_CROSSTALK:
        return None
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
    if not covariance[0, 0] > 0.0:
        return None
    # what the model does not explain is no noise: neighbours err together over about a tenth of the band
    together = max(readings.s.size / 10.0, 1.0) if per_point > 2.0 else 1.0
    tuning_hz, box_q = tuning_and_q(vector)
    systematic = SYSTEMATIC + MADE_UP / box_q * max(1.0 / box_q - 1.0 / GOOD_Q, 0.0)
    spread = float(np.sqrt(covariance[0, 0] * max(per_point, 1.0) * together + systematic**2))
    highest = max((abs(float(vector[place + 2])) for place in range(ROOMS, vector.size, 3)), default=0.0)
    if box_q < LEAST_Q or spread > MOST_SPREAD or highest > HIGHEST_ROOM:
        return None
    at_cone, at_mouth = near_parts(readings, vector)
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
