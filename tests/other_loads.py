"""Loads that are no vented box with one driver, each by a small model of its own: nothing here is the program's.

Lumped and segmented acoustics from textbooks [Beranek1954]: a driver is R_E, a semi-inductor and a moving mass on a
spring; what stands behind the cone is an acoustic impedance; ducts and horns are chains of short cylinders, each by its
transfer matrix. Units SI, time as exp(j w t).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Rng = np.random.Generator

DENSITY, SPEED = 1.2, 344.0
BULK = DENSITY * SPEED**2


@dataclass(frozen=True)
class Cone:
    """A driver by its data sheet."""

    fs_hz: float
    qms: float
    qes: float
    re_ohm: float
    area_m2: float
    mass_kg: float
    coil: float
    exponent: float

    @property
    def bl(self) -> float:
        """Force factor, T m."""
        return float(np.sqrt(2 * np.pi * self.fs_hz * self.mass_kg * self.re_ohm / self.qes))

    @property
    def vas_m3(self) -> float:
        """Air as springy as the suspension."""
        return float(BULK * self.area_m2**2 / (self.mass_kg * (2 * np.pi * self.fs_hz) ** 2))

    def mechanical(self, s: Complexes) -> Complexes:
        """Mechanical impedance of the moving parts, kg/s."""
        w0 = 2 * np.pi * self.fs_hz
        return self.mass_kg * (s + w0 / self.qms + w0**2 / s)

    def electrical(self, s: Complexes) -> Complexes:
        """Impedance with the cone held, ohm."""
        return np.asarray(self.re_ohm + self.coil * s**self.exponent)

    def impedance(self, s: Complexes, behind: Complexes | float) -> Complexes:
        """Impedance with an acoustic impedance behind (or before) the cone, ohm."""
        return self.electrical(s) + self.bl**2 / (self.mechanical(s) + self.area_m2**2 * behind)


def draw_cone(rng: Rng) -> Cone:
    """Return a driver of 4 to 15 inches; common practice."""
    size = float(rng.random())
    return Cone(
        fs_hz=float(80.0 * 0.35**size * np.exp(rng.normal(0.0, 0.15))),
        qms=float(rng.uniform(2.5, 9.0)),
        qes=float(rng.uniform(0.25, 0.7)),
        re_ohm=float(rng.uniform(3.0, 7.5)),
        area_m2=float(0.005 * 17.0**size),
        mass_kg=float(0.005 * 22.0**size * np.exp(rng.normal(0.0, 0.15))),
        coil=float(np.exp(rng.uniform(np.log(3e-3), np.log(6e-2)))),
        exponent=float(rng.uniform(0.55, 0.8)),
    )


def _spring(s: Complexes, volume_m3: float, q: float = 30.0) -> Complexes:
    """Impedance of enclosed air that loses 1/q of its energy in each radian."""
    return np.asarray(BULK / volume_m3 * (1.0 + 1j / q) / s)


def _mouth(s: Complexes, area_m2: float) -> Complexes:
    """Radiation into half space, by a fit of the piston's functions that is right at both ends."""
    ka = s.imag / SPEED * np.sqrt(area_m2 / np.pi)
    return np.asarray(DENSITY * SPEED / area_m2 * (ka**2 / (2.0 + ka**2) + 0.85j * ka / (1.0 + 0.8 * ka**2)))


def _along(s: Complexes, areas_m2: Reals, length_m: float, end: Complexes, resistivity: float) -> Complexes:
    """Impedance at the beginning of a chain of cylinders that ends in `end`; fill of a flow resistivity, Pa s/m2."""
    each = length_m / areas_m2.size
    density = DENSITY * (1.0 + resistivity / (DENSITY * s)) * (1.0 + 0.01j)
    speed = np.sqrt(BULK / density)
    k = s / (1j * speed)
    for area in areas_m2[::-1]:
        own = density * speed / area
        tangent = 1j * np.tan(k * each)
        end = own * (end + own * tangent) / (own + end * tangent)
    return np.asarray(end)


def closed_box(rng: Rng, s: Complexes, cone: Cone) -> Complexes:
    """A driver in a closed box, stuffed or not."""
    volume_m3 = cone.vas_m3 / float(rng.uniform(0.4, 4.0))
    return cone.impedance(s, _spring(s, volume_m3, float(rng.uniform(3.0, 40.0))))


def free_air(_rng: Rng, s: Complexes, cone: Cone) -> Complexes:
    """A driver on the bench."""
    return cone.impedance(s, 0.0)


def resistive_vent(rng: Rng, s: Complexes, cone: Cone) -> Complexes:
    """A closed box with a flow resistance in its wall."""
    volume_m3 = cone.vas_m3 / float(rng.uniform(0.4, 4.0))
    box = _spring(s, volume_m3)
    resistance = abs(box[s.size // 2]) * float(rng.uniform(0.3, 2.0))
    return cone.impedance(s, 1.0 / (1.0 / box + 1.0 / resistance))


def horn(rng: Rng, s: Complexes, cone: Cone) -> Complexes:
    """An exponential horn before the cone, a closed chamber behind it."""
    throat = cone.area_m2 * float(rng.uniform(0.3, 1.0))
    mouth = throat * float(rng.uniform(5.0, 30.0))
    length_m = float(rng.uniform(0.5, 2.5))
    areas = throat * (mouth / throat) ** ((np.arange(60) + 0.5) / 60)
    before = _along(s, areas, length_m, _mouth(s, mouth), 0.0)
    behind = _spring(s, cone.vas_m3 * float(rng.uniform(0.2, 2.0)))
    return cone.impedance(s, before + behind)


def transmission_line(rng: Rng, s: Complexes, cone: Cone) -> Complexes:
    """A line of a quarter wave near the driver's resonance, tapered, filled, the driver up to a third along it."""
    length_m = SPEED / (4.0 * cone.fs_hz * float(rng.uniform(0.6, 1.3)))
    start = cone.area_m2 * float(rng.uniform(0.8, 2.5))
    finish = start * float(rng.uniform(0.25, 1.2))
    areas = start + (finish - start) * (np.arange(60) + 0.5) / 60
    resistivity = float(rng.choice([0.0, rng.uniform(50.0, 1500.0)]))
    before = int(rng.integers(0, 21))
    onwards = _along(s, areas[before:], length_m * (60 - before) / 60, _mouth(s, finish), resistivity)
    if before == 0:
        return cone.impedance(s, onwards)
    closed = np.full(s.size, 1e12 + 0j)
    stub = _along(s, areas[:before][::-1], length_m * before / 60, closed, resistivity)
    return cone.impedance(s, 1.0 / (1.0 / onwards + 1.0 / stub))


def passive_radiators(rng: Rng, s: Complexes, cone: Cone) -> Complexes:
    """A box with two passive cones, a few percent apart."""
    volume_m3 = cone.vas_m3 / float(rng.uniform(0.5, 3.0))
    wanted_hz = cone.fs_hz * float(rng.uniform(0.65, 1.2))
    own_hz = wanted_hz * float(rng.uniform(0.3, 0.75))
    area = cone.area_m2 * float(rng.uniform(0.8, 1.5))
    # the box's air raises the resonance of both from own_hz to wanted_hz
    mass = 2.0 * area**2 * BULK / volume_m3 / ((2 * np.pi) ** 2 * (wanted_hz**2 - own_hz**2))
    admittance = 1.0 / _spring(s, volume_m3)
    for scatter in rng.normal(1.0, 0.02, 2):
        w0 = 2 * np.pi * own_hz * scatter
        admittance = admittance + area**2 / (mass * (s + w0 / rng.uniform(4.0, 15.0) + w0**2 / s))
    return cone.impedance(s, 1.0 / admittance)


def band_pass(rng: Rng, s: Complexes, cone: Cone) -> Complexes:
    """A band-pass box: a closed chamber behind the cone, one with a vent before it."""
    behind = _spring(s, cone.vas_m3 * float(rng.uniform(0.2, 2.0)))
    volume_m3 = cone.vas_m3 * float(rng.uniform(0.2, 2.0))
    w0 = 2 * np.pi * cone.fs_hz * float(rng.uniform(1.0, 2.5))
    air = BULK / (volume_m3 * w0**2) * (s + w0 / rng.uniform(15.0, 60.0))
    return cone.impedance(s, behind + 1.0 / (1.0 / _spring(s, volume_m3) + 1.0 / air))


def two_drivers(rng: Rng, s: Complexes, cone: Cone) -> Complexes:
    """A guitar cabinet: two unequal drivers in parallel or in series, the back closed or open."""
    other = draw_cone(rng)
    other = replace(
        other,
        fs_hz=cone.fs_hz * float(np.exp(rng.choice([-1, 1]) * rng.uniform(0.1, 0.8))),
        mass_kg=cone.mass_kg * float(rng.uniform(0.6, 1.6)),
        area_m2=cone.area_m2 * float(rng.uniform(0.7, 1.4)),
    )
    is_open = bool(rng.random() < 0.5)
    shared = np.zeros(s.size, complex) if is_open else _spring(s, cone.vas_m3 * float(rng.uniform(0.3, 2.0)))
    in_series = bool(
        rng.random() < 0.5
    )  # then one current flows through both, otherwise one voltage lies on both
    cones = (cone, other)
    held = [one.electrical(s) for one in cones]
    system = np.zeros((s.size, 2, 2), complex)
    force = np.empty((s.size, 2, 1), complex)
    for n, one in enumerate(cones):
        system[:, n, n] = one.mechanical(s) + (0.0 if in_series else one.bl**2 / held[n])
        force[:, n, 0] = one.bl / (1.0 if in_series else held[n])  # of one ampere, or of one volt
        for m, another in enumerate(cones):
            system[:, n, m] += one.area_m2 * another.area_m2 * shared
    speeds = np.linalg.solve(system, force)[:, :, 0]
    own = [one.bl * speeds[:, n] for n, one in enumerate(cones)]
    if in_series:
        return np.asarray(held[0] + own[0] + held[1] + own[1])
    return np.asarray(1.0 / ((1.0 - own[0]) / held[0] + (1.0 - own[1]) / held[1]))


def two_closed_boxes(rng: Rng, s: Complexes, cone: Cone) -> Complexes:
    """Two closed boxes with unlike drivers on one pair of terminals."""
    other = draw_cone(rng)
    pair = (closed_box(rng, s, cone), closed_box(rng, s, other))
    return pair[0] + pair[1] if rng.random() < 0.3 else 1.0 / (1.0 / pair[0] + 1.0 / pair[1])


def resistor(rng: Rng, s: Complexes, _cone: Cone) -> Complexes:
    """A resistor with the inductance of its winding."""
    return np.asarray(float(np.exp(rng.uniform(0.0, 5.0))) + s * float(rng.uniform(0.0, 2e-5)))


def capacitor(rng: Rng, s: Complexes, _cone: Cone) -> Complexes:
    """A capacitor with its loss."""
    farad = float(np.exp(rng.uniform(np.log(1e-6), np.log(2e-3))))
    return np.asarray(float(rng.uniform(0.01, 0.5)) + 1.0 / (s * farad))


def coil(rng: Rng, s: Complexes, _cone: Cone) -> Complexes:
    """A coil with its resistance and the loss of its core."""
    henry = float(np.exp(rng.uniform(np.log(1e-4), np.log(5e-2))))
    return np.asarray(float(rng.uniform(0.1, 2.0)) + henry * s ** float(rng.uniform(0.85, 1.0)))


def crossover(rng: Rng, s: Complexes, _cone: Cone) -> Complexes:
    """A ladder of one to three sections before a resistor or nothing."""
    z = np.full(s.size, float(rng.choice([4.0, 8.0, 1e6])) + 0j)
    for _ in range(int(rng.integers(1, 4))):
        farad = float(np.exp(rng.uniform(np.log(5e-6), np.log(5e-4))))
        henry = float(np.exp(rng.uniform(np.log(2e-4), np.log(2e-2))))
        if rng.random() < 0.5:
            z = 1.0 / (1.0 / z + 1.0 / (0.1 + 1.0 / (s * farad))) + 0.3 + s * henry
        else:
            z = 1.0 / (1.0 / z + 1.0 / (0.3 + s * henry)) + 0.1 + 1.0 / (s * farad)
    return np.asarray(z)


def cable(rng: Rng, s: Complexes, _cone: Cone) -> Complexes:
    """A cable with nothing at its end, or with its ends together."""
    if rng.random() < 0.5:
        return np.asarray(1.0 / (1e-6 + s * float(rng.uniform(1e-10, 2e-9))))
    return np.asarray(float(rng.uniform(0.02, 0.3)) + s * float(rng.uniform(1e-7, 3e-6)))


def smooth(rng: Rng, s: Complexes, _cone: Cone) -> Complexes:
    """Random hills: level and phase each a sum of a few waves over the logarithm of frequency."""
    x = np.log(s.imag)
    parts = []
    for size in (float(rng.uniform(0.2, 1.0)), float(rng.uniform(0.2, 0.8))):
        wave = sum(
            rng.normal() * np.sin(2 * np.pi * (x * turns / 4.0 + rng.random())) / turns
            for turns in range(1, 8)
        )
        parts.append(size * np.asarray(wave))
    phase = np.clip(parts[1], -1.5, 1.5)
    return np.asarray(np.exp(rng.uniform(1.0, 3.5) + parts[0] + 1j * phase))


def resonators(rng: Rng, s: Complexes, _cone: Cone) -> Complexes:
    """Two or three electrical resonators in a row, at random places and with random heights."""
    z = np.full(s.size, float(rng.uniform(2.0, 8.0)) + 0j) + 2e-2 * s**0.7
    for _ in range(int(rng.integers(2, 4))):
        w0, q = (
            2 * np.pi * float(np.exp(rng.uniform(np.log(12.0), np.log(250.0)))),
            float(rng.uniform(1.5, 12.0)),
        )
        z = z + float(rng.uniform(5.0, 60.0)) / (1.0 + q * (s / w0 + w0 / s))
    return np.asarray(z)


Load = Callable[[Rng, Complexes, Cone], Complexes]

LOADS: dict[str, Load] = {
    "closed box": closed_box,
    "free air": free_air,
    "resistive vent": resistive_vent,
    "horn": horn,
    "transmission line": transmission_line,
    "passive radiators": passive_radiators,
    "two unequal drivers": two_drivers,
    "two closed boxes": two_closed_boxes,
    "resistor": resistor,
    "capacitor": capacitor,
    "coil": coil,
    "crossover alone": crossover,
    "cable alone": cable,
    "smooth curve": smooth,
    "resonators": resonators,
    "band-pass box": band_pass,
}
