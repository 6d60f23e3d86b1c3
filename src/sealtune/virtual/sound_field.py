"""What a virtual cabinet sounds like: near its cone, in its vent's mouth, and far away.

Cones and mouths are flat pistons in a wall. On the axis of a round one, at the distance r,

    p = rho c v (exp(-j k r) - exp(-j k sqrt(r^2 + a^2)))                    (exact, Rayleigh's integral)

a rectangular mouth is summed over its face; whatever is farther away counts as a small source in that wall,
p = j w rho U exp(-j k d) / (2 pi d). One mode of the room answers to all that the cabinet sends out [Morse1968].
Nothing here is shared with the part that makes sense of such recordings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.virtual.circuit import Complex
from sealtune.virtual.duct import Air
from sealtune.virtual.enclosure import Flows, VirtualCabinet
from sealtune.virtual.parts import VirtualVent

Real = NDArray[np.float64]

_FACE_POINTS = 48


@dataclass(frozen=True)
class RoomMode:
    """One mode of the room.

    resonance_hz, q: of the mode
    volume_m3: of the room
    coupling: product of the mode's shape at cabinet and microphone over its mean square, -4 to 4 in a corner of
        an oblong room
    """

    resonance_hz: float
    q: float
    volume_m3: float
    coupling: float

    def pressure(self, frequency_hz: Real, air: Air) -> Complex:
        """Pressure over volume velocity, Pa s/m3, shape (n,)."""
        s = 2j * np.pi * frequency_hz
        rest = 2.0 * np.pi * self.resonance_hz
        swing = s**2 + s * rest / self.q + rest**2
        return np.asarray(s * air.stiffness_pa * self.coupling / (self.volume_m3 * swing))


@dataclass(frozen=True)
class Placement:
    """Where the microphone stands, and what else it hears.

    cone_distance_m, mouth_distance_m: from the cone's plane, and from the mouth's
    apart_m: way of the sound from the mouth to the cone
    shading: what the cabinet leaves of the sound on that way, 0..1; 1 where both lie in one wall
    rooms: modes of the room
    """

    cone_distance_m: float = 0.005
    mouth_distance_m: float = 0.0
    apart_m: float = 0.25
    shading: float = 1.0
    rooms: tuple[RoomMode, ...] = ()


def near_cone(cabinet: VirtualCabinet, frequency_hz: Real, place: Placement) -> Complex:
    """Pressure at the microphone before one cone over the voltage at the terminals, Pa/V, shape (n,)."""
    flows = cabinet.flows(frequency_hz)
    driver = cabinet.driver
    own = on_axis(frequency_hz, driver.radius_m, place.cone_distance_m, cabinet.air) / driver.area_m2
    # of several cones the microphone stands before one; each moves its share
    beside = _far(frequency_hz, place.apart_m, cabinet.air) * place.shading
    pressure = flows.each_cone * own + (flows.vent + flows.leaks) * beside
    return pressure + flows.total * _room(frequency_hz, place, cabinet.air)


def near_mouth(cabinet: VirtualCabinet, frequency_hz: Real, place: Placement) -> Complex:
    """Pressure at the microphone in one vent's mouth over the voltage at the terminals, Pa/V, shape (n,)."""
    flows = cabinet.flows(frequency_hz)
    vent = cabinet.vent
    if vent is None:
        raise ValueError("a closed box has no mouth")
    own = _before_mouth(frequency_hz, vent, place.mouth_distance_m, cabinet.air) / vent.area_m2
    beside = _far(frequency_hz, place.apart_m, cabinet.air) * place.shading
    pressure = flows.vent / vent.count * own + flows.cones * beside
    return pressure + flows.total * _room(frequency_hz, place, cabinet.air)


def far_field(cabinet: VirtualCabinet, frequency_hz: Real, distance_m: float = 1.0) -> Complex:
    """Pressure far before the cabinet in half space over the voltage at the terminals, Pa/V, shape (n,).

    All openings count as equally far; the delay of the way is left out.
    """
    total = cabinet.flows(frequency_hz).total
    reach = cabinet.air.density_kg_m3 * 1j * frequency_hz / distance_m
    return np.asarray(reach * total)


def on_axis(frequency_hz: Real, radius_m: float, distance_m: float, air: Air) -> Complex:
    """Pressure on a round piston's axis over its velocity, Pa s/m, shape (n,)."""
    k = 2.0 * np.pi * frequency_hz / air.sound_speed_m_s
    edge_m = np.hypot(distance_m, radius_m)
    stiff = air.density_kg_m3 * air.sound_speed_m_s
    return np.asarray(stiff * (np.exp(-1j * k * distance_m) - np.exp(-1j * k * edge_m)))


def on_axis_of_rectangle(
    frequency_hz: Real, sides_m: tuple[float, float], distance_m: float, air: Air
) -> Complex:
    """Pressure before the middle of a rectangular piston over its velocity, Pa s/m, shape (n,).

    Rayleigh's integral in polar coordinates about the middle: along each direction the ring's share is exact.
    """
    k = 2.0 * np.pi * frequency_hz / air.sound_speed_m_s
    a, b = 0.5 * sides_m[0], 0.5 * sides_m[1]
    nodes, weights = np.polynomial.legendre.leggauss(_FACE_POINTS)
    total = np.zeros(frequency_hz.shape, dtype=np.complex128)
    for near, far in ((a, b), (b, a)):  # from the middle of one side to the corner
        span = np.arctan(far / near)
        angle = 0.5 * span * (nodes + 1.0)
        edge = np.hypot(distance_m, near / np.cos(angle))
        share = 0.5 * span * weights / (0.5 * np.pi)
        ring = np.exp(-1j * k * distance_m) - np.exp(-1j * np.outer(edge, k))
        total += share @ ring
    return np.asarray(air.density_kg_m3 * air.sound_speed_m_s * total)


def _before_mouth(frequency_hz: Real, vent: VirtualVent, distance_m: float, air: Air) -> Complex:
    if vent.sides_m is not None:
        return on_axis_of_rectangle(frequency_hz, vent.sides_m, distance_m, air)
    return on_axis(frequency_hz, float(np.sqrt(vent.area_m2 / np.pi)), distance_m, air)


def _far(frequency_hz: Real, distance_m: float, air: Air) -> Complex:
    k = 2.0 * np.pi * frequency_hz / air.sound_speed_m_s
    source = 1j * frequency_hz * air.density_kg_m3 / distance_m
    return np.asarray(source * np.exp(-1j * k * distance_m))


def _room(frequency_hz: Real, place: Placement, air: Air) -> Complex:
    none = np.zeros(frequency_hz.shape, dtype=np.complex128)
    return np.asarray(sum((mode.pressure(frequency_hz, air) for mode in place.rooms), none))


__all__ = ["Flows", "Placement", "RoomMode", "far_field", "near_cone", "near_mouth", "on_axis"]
