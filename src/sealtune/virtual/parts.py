"""The parts of a virtual cabinet as physical quantities: driver, vent, leaks, panel."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sealtune.records.design import DriverWiring
from sealtune.virtual.circuit import Complex, Network
from sealtune.virtual.duct import (
    FLANGED,
    Air,
    hole_impedance,
    line_parameters,
    mass_impedance,
    orifice_impedance,
    radiation_resistance,
    rectangle_end_m,
    slit_impedance,
)

Real = NDArray[np.float64]


@dataclass(frozen=True)
class VirtualDriver:
    """One driver, or several alike; every quantity is of one driver.

    re_ohm: resistance of the coil at direct current, ohm
    coil_k, coil_n: semi-inductor K (j omega)^n, ohm s^n, 0 < n <= 1 [Leach2002]
    coil_h: further lossless inductance, H
    bl_tm: force factor, T m
    mass_kg: moving mass without any air
    damping_kg_s: mechanical loss, kg/s
    compliance_m_n: of the suspension at the frequency creep_reference_hz, m/N
    creep: lambda of c(s) = 1 - lambda log10(s / omega_ref), the compliance's frequency factor [Knudsen1993]
    area_m2: effective cone area
    count, wiring: drivers that share the box
    antiphase: True where half of them move against the others, so that the box sees no net volume
    """

    re_ohm: float
    coil_k: float
    coil_n: float
    coil_h: float
    bl_tm: float
    mass_kg: float
    damping_kg_s: float
    compliance_m_n: float
    creep: float
    creep_reference_hz: float
    area_m2: float
    count: int = 1
    wiring: DriverWiring = "single"
    antiphase: bool = False

    @property
    def radius_m(self) -> float:
        """Radius of the round cone of this area, m."""
        return float(np.sqrt(self.area_m2 / np.pi))

    def air_mass_kg(self, air: Air, mounted: bool) -> float:
        """Air that moves with one cone, kg: 8/3 rho a^3 for a free disc, both sides together (exact);
        8/3 rho a^3 for each side when mounted (piston in a wall outside, the same assumed inside)."""
        return (2.0 if mounted else 1.0) * 8.0 / 3.0 * air.density_kg_m3 * self.radius_m**3

    def blocked_ohm(self, frequency_hz: Real) -> Complex:
        """Impedance of one coil that is held fast, ohm, shape (n,)."""
        s = 2j * np.pi * frequency_hz
        return np.asarray(self.re_ohm + self.coil_k * s**self.coil_n + s * self.coil_h)

    def mechanical_kg_s(self, frequency_hz: Real, air: Air, mounted: bool) -> Complex:
        """Force over velocity of one cone without coil and box, kg/s, shape (n,)."""
        s = 2j * np.pi * frequency_hz
        softening = 1.0 - self.creep * np.log10(s / (2.0 * np.pi * self.creep_reference_hz))
        suspension = self.damping_kg_s + 1.0 / (s * self.compliance_m_n * softening)
        moving = s * (self.mass_kg + self.air_mass_kg(air, mounted))
        if mounted:
            sound = radiation_resistance(frequency_hz, self.area_m2, True, air) * self.area_m2**2
        else:
            # a disc that swings in the open is a dipole: k^2 F^2/(24 pi rho c) radiated by the force of its
            # 8/3 rho a^3 of air, rho c S 16/(27 pi^2) (ka)^4 (exact for small ka)
            reach = 2.0 * np.pi * frequency_hz / air.sound_speed_m_s * self.radius_m
            stiff = air.density_kg_m3 * air.sound_speed_m_s * self.area_m2
            sound = stiff * 16.0 / (27.0 * np.pi**2) * reach**4
        return np.asarray(suspension + moving + sound)

    def together(self) -> VirtualDriver:
        """The one driver that does the same as all of them: N cones, coils in parallel or in series."""
        if self.count == 1:
            return self
        electrical = float(self.count) if self.wiring == "series" else 1.0 / self.count
        return replace(
            self,
            re_ohm=self.re_ohm * electrical,
            coil_k=self.coil_k * electrical,
            coil_h=self.coil_h * electrical,
            bl_tm=self.bl_tm * (self.count if self.wiring == "series" else 1),
        )

    def add_to(self, network: Network, frequency_hz: Real, air: Air, mounted: bool) -> None:
        """Put the drivers between the nodes "coil" and "cone" of a network, and on "box" when mounted."""
        one = self.together()
        load = self.mechanical_kg_s(frequency_hz, air, mounted) * self.count
        network.transformer("coil", "cone", one.bl_tm, 1.0 / one.blocked_ohm(frequency_hz))
        network.connect("cone", "ground", load)
        if mounted:
            network.gyrator("cone", "box", 0.0 if self.antiphase else self.area_m2 * self.count)


@dataclass(frozen=True)
class VirtualVent:
    """One vent, or several alike; mouths far enough from each other not to matter.

    area_m2, hydraulic_radius_m: cross-section, and 2 area / perimeter
    length_m: of the straight duct
    outer_end_m, inner_end_m: end corrections
    outer_flanged: whether the outer mouth lies in a wall
    loss_factor: times the drag of smooth walls, >= 1
    sides_m: width and height of a rectangular one, for the sound before its mouth; None for a round one
    resistance_rayl: flow resistance of material in or over the vent, Pa s/m; 0 for none
    opening_m: radius of a hole in a plate 3 mm thick that stops the rest of the vent; None for a clear vent
    blocked: True where the outer mouth is shut airtight
    """

    area_m2: float
    hydraulic_radius_m: float
    length_m: float
    outer_end_m: float
    inner_end_m: float
    outer_flanged: bool = True
    count: int = 1
    loss_factor: float = 1.0
    resistance_rayl: float = 0.0
    opening_m: float | None = None
    blocked: bool = False
    sides_m: tuple[float, float] | None = None

    @property
    def effective_length_m(self) -> float:
        """Length with end corrections, m."""
        return self.length_m + self.outer_end_m + self.inner_end_m

    def admittance(self, frequency_hz: Real, air: Air, plugged: bool) -> Complex:
        """Volume velocity into all vents over the pressure in the box, m3/(Pa s), shape (n,).

        plugged: the outer mouth is shut with a bung; the air in the duct stays part of the box
        """
        network, _ = self._network(frequency_hz, air, plugged)
        return self.count / network.impedance_at("inside")

    def outflow(self, frequency_hz: Real, air: Air) -> Complex:
        """Volume velocity out of all outer mouths over the pressure in the box, m3/(Pa s), shape (n,)."""
        network, mouth = self._network(frequency_hz, air, plugged=False)
        potentials = network.potentials("inside")
        return np.asarray(self.count * mouth * potentials["outer"] / potentials["inside"])

    def _network(self, frequency_hz: Real, air: Air, plugged: bool) -> tuple[Network, Complex]:
        """Return one vent as a network, and the admittance from its outer end to the open air."""
        network = Network(frequency_hz.size, ("inside", "inner", "outer"))
        entry = mass_impedance(frequency_hz, self.inner_end_m, self.area_m2, air)
        entry = entry + self.resistance_rayl / self.area_m2
        if self.opening_m is not None:
            radius = float(np.sqrt(self.area_m2 / np.pi))
            entry = entry + orifice_impedance(frequency_hz, self.opening_m, radius, 0.003, air)
        network.connect("inside", "inner", 1.0 / entry)
        same, across = line_parameters(
            frequency_hz, self.area_m2, self.hydraulic_radius_m, self.length_m, self.loss_factor, air
        )
        network.two_port("inner", "outer", same, across)
        mouth = np.zeros(frequency_hz.shape, dtype=np.complex128)
        if not (plugged or self.blocked):
            exit_mass = mass_impedance(frequency_hz, self.outer_end_m, self.area_m2, air)
            sound = radiation_resistance(frequency_hz, self.area_m2, self.outer_flanged, air)
            mouth = 1.0 / (exit_mass + sound)
            network.connect("outer", "ground", mouth)
        return network, mouth


@dataclass(frozen=True)
class Slit:
    """A gap: height, long side and depth through the wall, m."""

    gap_m: float
    width_m: float
    depth_m: float

    @property
    def area_m2(self) -> float:
        """Cross-section, m2."""
        return self.gap_m * self.width_m

    def admittance(self, frequency_hz: Real, air: Air) -> Complex:
        """Volume velocity over pressure, both mouths in a wall, m3/(Pa s), shape (n,)."""
        end_m = rectangle_end_m(self.gap_m, self.width_m)
        ends = mass_impedance(frequency_hz, 2.0 * end_m, self.area_m2, air)
        return 1.0 / (slit_impedance(frequency_hz, self.gap_m, self.width_m, self.depth_m, air) + ends)


@dataclass(frozen=True)
class Hole:
    """A round hole: diameter and depth through the wall, m."""

    diameter_m: float
    depth_m: float

    @property
    def area_m2(self) -> float:
        """Cross-section, m2."""
        return float(np.pi * self.diameter_m**2 / 4.0)

    def admittance(self, frequency_hz: Real, air: Air) -> Complex:
        """Volume velocity over pressure, both mouths in a wall, m3/(Pa s), shape (n,)."""
        ends = mass_impedance(frequency_hz, FLANGED * self.diameter_m, self.area_m2, air)
        return 1.0 / (hole_impedance(frequency_hz, self.diameter_m / 2.0, self.depth_m, air) + ends)


@dataclass(frozen=True)
class Panel:
    """A wall that gives way a little and resonates.

    resonance_hz, q: of the panel alone
    compliance_share: its compliance at rest over that of the box's air, 0.001 to 0.03 on wooden boxes
        (assumed)
    """

    resonance_hz: float
    q: float
    compliance_share: float

    def admittance(self, frequency_hz: Real, air_compliance: float) -> Complex:
        """Volume velocity over pressure, m3/(Pa s), shape (n,); air_compliance of the box in m3/Pa."""
        ratio = frequency_hz / self.resonance_hz
        rest = 2j * np.pi * frequency_hz * self.compliance_share * air_compliance
        return np.asarray(rest / (1.0 - ratio**2 + 1j * ratio / self.q))
