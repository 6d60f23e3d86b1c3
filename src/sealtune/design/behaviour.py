"""How the designed box sounds, how far its cone travels and how fast the air in its vent moves."""

from __future__ import annotations

from collections.abc import Callable
from math import pi

import numpy as np
from numpy.typing import NDArray

from sealtune.design.designed_speaker import DesignedSpeaker
from sealtune.physics.crossover import source
from sealtune.physics.loudspeaker import Motion, motion, passband_level_db
from sealtune.records.plan import Behaviour, LimitWord

Reals = NDArray[np.float64]

LOWEST_HZ, HIGHEST_HZ = 5.0, 500.0
"""Band of the curves: from where the suspension alone holds the cone to where the cone begins to beam."""

MOST_POWER_W = 500.0
"""Power that no coil is asked to take where the data sheet gives none, W for each driver (our own judgement)."""

FAST_AIR = 0.05
"""Air in the vent faster than this share of the speed of sound (peak) is heard [Small1973, Part II, from memory]."""


def curve_frequencies(points: int = 600) -> Reals:
    """Return the frequencies of the curves, Hz, evenly spread over the logarithm."""
    return np.geomspace(LOWEST_HZ, HIGHEST_HZ, points)


def moved(
    speaker: DesignedSpeaker, frequency_hz: Reals, *, closed: bool = False, behind_ohm: float = 0.0
) -> Motion:
    """Return the motion behind the crossover and a further resistor, shape of frequency_hz.

    closed: the same driver in the same box without its vent
    behind_ohm: resistance in series at the amplifier, ohm; needs R_E, as a crossover does; without R_E both are
        left out
    """
    s = np.asarray(2j * pi * frequency_hz, dtype=np.complex128)
    crossover, re_ohm = speaker.design.crossover, speaker.driver.re_ohm
    if re_ohm is None or (crossover is None and behind_ohm == 0.0):
        return motion(s, speaker.circuit, closed=closed)
    u, z = source(s, crossover, behind_ohm)
    return motion(s, speaker.circuit, closed=closed, feed=(u, re_ohm / (re_ohm + z)))


def behaviour(speaker: DesignedSpeaker, frequency_hz: Reals, *, closed: bool = False) -> Behaviour:
    """Return response, travel, air speed and the highest level at each frequency, shape (n,).

    frequency_hz: rising, Hz
    closed: the same driver in a closed box of the same volume
    """
    seen = moved(speaker, frequency_hz, closed=closed)
    relative_db = 20.0 * np.log10(np.abs(seen.sound))
    driver, circuit = speaker.driver, speaker.circuit
    assert driver.vas_m3 is not None
    assert driver.qes is not None
    passband_db = passband_level_db(float(circuit.ws_rad_s), driver.qes, driver.vas_m3, speaker.air)
    peak = np.sqrt(2.0) * speaker.volume_m3_w
    travel = None if driver.sd_m2 is None else peak * np.abs(seen.cone) / driver.sd_m2
    vent = speaker.design.vent
    speed = None if closed or vent is None else peak * np.abs(seen.vent) / (vent.count * vent.area_m2)
    level_db = passband_db + relative_db
    power, by = _allowed_power(speaker, frequency_hz.size, travel, speed)
    return Behaviour(
        relative_db=relative_db,
        group_delay_s=_group_delay_s(speaker, frequency_hz, closed=closed),
        f3_hz=half_power_hz(lambda hz: np.abs(moved(speaker, hz, closed=closed).sound), frequency_hz),
        level_db=level_db,
        travel_m=travel,
        air_speed_m_s=speed,
        highest_db=None if power is None else level_db + 10.0 * np.log10(power),
        limited_by=by,
    )


def _allowed_power(
    speaker: DesignedSpeaker, size: int, travel: Reals | None, speed: Reals | None
) -> tuple[Reals | None, tuple[LimitWord, ...]]:
    """Return the power that keeps all known limits, W, shape (size,), and which of them binds at each frequency."""
    driver = speaker.driver
    powers: dict[LimitWord, Reals] = {}
    if travel is not None and driver.xmax_m is not None:
        powers["travel"] = (driver.xmax_m / travel) ** 2
    if not powers and driver.power_w is None:
        return None, ()
    rated = MOST_POWER_W * speaker.design.driver.count if driver.power_w is None else driver.power_w
    powers["power"] = np.full(size, rated)
    if speed is not None:
        powers["vent air"] = (FAST_AIR * speaker.air.speed_m_s / speed) ** 2
    table = np.array(list(powers.values()))
    names = tuple(powers)
    return table.min(axis=0), tuple(names[place] for place in table.argmin(axis=0))


def _group_delay_s(speaker: DesignedSpeaker, frequency_hz: Reals, *, closed: bool) -> Reals:
    """Return -d(phase)/dw, s, by the derivative of ln H, which needs no unwrapping."""
    step = 1e-5
    up = moved(speaker, frequency_hz * (1.0 + step), closed=closed).sound
    down = moved(speaker, frequency_hz * (1.0 - step), closed=closed).sound
    return np.asarray(-np.angle(up / down) / (4.0 * pi * step * frequency_hz))


def half_power_hz(response: Callable[[Reals], Reals], frequency_hz: Reals) -> float | None:
    """Return where a high-pass response last rises through half of the passband's power, Hz.

    response: magnitude over that of the passband, of frequencies in Hz
    frequency_hz: where to look, rising; None where it never rises through it there
    """
    over = response(frequency_hz) ** 2 >= 0.5
    crossings = np.flatnonzero(~over[:-1] & over[1:])
    if not crossings.size:
        return None
    low, high = frequency_hz[crossings[-1]], frequency_hz[crossings[-1] + 1]
    for _ in range(6):  # each round divides the stretch by 64
        stretch = np.linspace(low, high, 65)
        above = int(np.argmax(response(stretch) ** 2 >= 0.5))
        low, high = stretch[max(above - 1, 0)], stretch[max(above, 1)]
    return float(0.5 * (low + high))
