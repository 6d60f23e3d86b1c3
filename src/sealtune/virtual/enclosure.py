"""A virtual cabinet: what a real box has and a textbook one has not, in physical quantities.

The vent is a transmission line with viscous and thermal walls, leaks are exact viscous ducts, the
suspension creeps, the coil is a semi-inductor, cones and mouths move air and radiate. Nothing here is
shared with the model that is fitted to measurements. Not modelled: standing waves in the box, anything that depends
on level. What is heard of it is in `sound_field`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from sealtune.errors import UsageFault
from sealtune.records.design import Crossover
from sealtune.records.recording import Role
from sealtune.virtual.circuit import Complex, Network
from sealtune.virtual.duct import Air
from sealtune.virtual.parts import Hole, Panel, Slit, VirtualDriver, VirtualVent

Real = NDArray[np.float64]
_CHUNK = 65536


@dataclass(frozen=True)
class Truth:
    """What a perfect measurement of the cabinet would find.

    tuning_hz: where the imaginary part of the box's acoustic admittance is zero; None where it is nowhere
        or the vent is shut or missing
    box_q: omega / Re(y) there, y being the admittance over the air spring's compliance
    leakage_q, absorption_q, vent_q, leak_q: the same of each part alone; None where there is no such part
    compliance_ratio: S^2 C_MS of all drivers over the compliance of the air, at the creep's reference
    fs_hz, qms, qes: a driver in its box, with the compliance at the creep's reference
    res_ohm: resistance of the motional peak, all drivers as wired
    fs_free_air_hz: the same driver outside
    re_ohm: all coils as wired, without crossover and without a bad joint
    volume_m3: net volume of the box
    leak_area_m2: cross-section of all leaks of known shape
    """

    tuning_hz: float | None
    box_q: float | None
    leakage_q: float | None
    absorption_q: float | None
    vent_q: float | None
    leak_q: float | None
    compliance_ratio: float
    fs_hz: float
    fs_free_air_hz: float
    qms: float
    qes: float
    re_ohm: float
    res_ohm: float
    creep: float
    volume_m3: float
    leak_area_m2: float


@dataclass(frozen=True)
class Flows:
    """Volume velocities outwards over the voltage at the terminals, m3/(s V), each of shape (n,).

    cones: of all cones together
    each_cone: of the one before which a microphone stands
    vent: out of the mouths of all vents
    leaks: out of seams, gaps and holes, and by walls that give way
    """

    cones: Complex
    each_cone: Complex
    vent: Complex
    leaks: Complex

    @property
    def total(self) -> Complex:
        """What the whole cabinet sends out, m3/(s V)."""
        return np.asarray(self.cones + self.vent + self.leaks)


@dataclass(frozen=True)
class VirtualCabinet:
    """One finished cabinet.

    volume_m3: net volume of air
    air_spring_factor: times the adiabatic compliance of that air, 1 (empty) to 1.4 (filled, isothermal)
    absorption_pa_s_m3: resistance in series with the air spring, Pa s/m3
    leakage_pa_s_m3: resistance of the pores and seams that no shape is known of; None for none
    vent: None for a closed box
    series_ohm: a bad joint or a thin wire in the lead to the box
    """

    driver: VirtualDriver
    volume_m3: float
    vent: VirtualVent | None
    air_spring_factor: float = 1.0
    absorption_pa_s_m3: float = 0.0
    leakage_pa_s_m3: float | None = None
    leaks: tuple[Slit | Hole, ...] = ()
    panel: Panel | None = None
    crossover: Crossover | None = None
    series_ohm: float = 0.0
    air: Air = field(default_factory=Air)

    @property
    def air_compliance(self) -> float:
        """Compliance of the air in the box, m3/Pa."""
        return self.volume_m3 * self.air_spring_factor / self.air.stiffness_pa

    def impedance(self, frequency_hz: Real, role: Role = "open") -> Complex:
        """Impedance at the terminals, ohm.

        frequency_hz: shape (n,), > 0
        role: "open", "plugged" (vent shut at its outer mouth), or "free-air" (one driver alone, measured
            at its own terminals)
        Raises UsageFault for another role or a frequency that is not above zero.
        """
        frequency_hz = np.atleast_1d(np.asarray(frequency_hz, dtype=np.float64))
        if role not in ("open", "plugged", "free-air"):
            raise UsageFault(
                "virtual cabinet",
                "the role open, plugged or free-air",
                f"{role!r}",
                "Choose one of the three.",
            )
        if not bool(np.all(frequency_hz > 0.0)):
            raise UsageFault(
                "virtual cabinet", "frequencies above 0 Hz", f"{frequency_hz.min():g} Hz", "Leave out 0 Hz."
            )
        pieces = [
            self._impedance(frequency_hz[start : start + _CHUNK], role)
            for start in range(0, frequency_hz.size, _CHUNK)
        ]
        return np.concatenate(pieces) if pieces else np.zeros(0, dtype=np.complex128)

    def acoustic_admittance(self, frequency_hz: Real, plugged: bool = False) -> Complex:
        """Volume velocity into the box over the pressure in it, m3/(Pa s), shape (n,)."""
        return np.asarray(sum(self._branches(frequency_hz, plugged).values()))

    def flows(self, frequency_hz: Real) -> Flows:
        """Return what moves when a voltage stands at the terminals, all openings open.

        frequency_hz: shape (n,), > 0
        """
        pieces = [
            self._flows(frequency_hz[start : start + _CHUNK]) for start in range(0, frequency_hz.size, _CHUNK)
        ]
        names = ("cones", "each_cone", "vent", "leaks")
        return Flows(*(np.concatenate([getattr(piece, name) for piece in pieces]) for name in names))

    def truth(self) -> Truth:
        """Return what a perfect measurement would find."""
        one = self.driver
        omega_s = 1.0 / np.sqrt((one.mass_kg + one.air_mass_kg(self.air, True)) * one.compliance_m_n)
        omega_free = 1.0 / np.sqrt((one.mass_kg + one.air_mass_kg(self.air, False)) * one.compliance_m_n)
        mass = 1.0 / (omega_s**2 * one.compliance_m_n)
        moved = 0.0 if one.antiphase else one.count * one.area_m2**2
        tuning_hz = self._tuning_hz()
        share: dict[str, float | None] = dict.fromkeys(("total", "leakage", "air", "vent", "leaks"))
        if tuning_hz is not None:
            branches = self._branches(np.array([tuning_hz]), False)
            branches["total"] = np.asarray(sum(branches.values()))
            scale = 2.0 * np.pi * tuning_hz * self.air_compliance
            for name, value in branches.items():
                share[name] = scale / float(value[0].real) if value[0].real > 1e-12 * scale else None
        res_of_one = one.bl_tm**2 / one.damping_kg_s
        return Truth(
            tuning_hz=tuning_hz,
            box_q=share["total"],
            leakage_q=share["leakage"],
            absorption_q=share["air"],
            vent_q=share["vent"],
            leak_q=share["leaks"],
            compliance_ratio=moved * one.compliance_m_n / self.air_compliance,
            fs_hz=float(omega_s / (2.0 * np.pi)),
            fs_free_air_hz=float(omega_free / (2.0 * np.pi)),
            qms=float(omega_s * mass / one.damping_kg_s),
            qes=float(omega_s * mass * one.re_ohm / one.bl_tm**2),
            re_ohm=one.together().re_ohm,
            res_ohm=res_of_one * one.together().re_ohm / one.re_ohm,
            creep=one.creep,
            volume_m3=self.volume_m3,
            leak_area_m2=float(sum(leak.area_m2 for leak in self.leaks)),
        )

    def _branches(self, frequency_hz: Real, plugged: bool) -> dict[str, Complex]:
        s = 2j * np.pi * frequency_hz
        spring = s * self.air_compliance
        branches: dict[str, Complex] = {"air": np.asarray(spring / (1.0 + spring * self.absorption_pa_s_m3))}
        if self.leakage_pa_s_m3 is not None:
            branches["leakage"] = np.full(s.shape, 1.0 / self.leakage_pa_s_m3, dtype=np.complex128)
        if self.vent is not None:
            branches["vent"] = self.vent.admittance(frequency_hz, self.air, plugged)
        if self.leaks:
            each = [leak.admittance(frequency_hz, self.air) for leak in self.leaks]
            branches["leaks"] = np.asarray(sum(each))
        if self.panel is not None:
            branches["panel"] = self.panel.admittance(frequency_hz, self.air_compliance)
        return branches

    def _impedance(self, frequency_hz: Real, role: Role) -> Complex:
        if role == "free-air":
            alone = Network(frequency_hz.size, ("coil", "cone"))
            one = replace(self.driver, count=1, wiring="single", antiphase=False)
            one.add_to(alone, frequency_hz, self.air, mounted=False)
            return alone.impedance_at("coil")
        network, before = self._network(frequency_hz, plugged=role == "plugged")
        return before + network.impedance_at("coil")

    def _flows(self, frequency_hz: Real) -> Flows:
        network, before = self._network(frequency_hz, plugged=False)
        by_current = network.potentials("coil")
        volts = before + by_current["coil"]  # for one ampere
        one = self.driver
        each_cone = one.area_m2 * by_current["cone"] / volts
        cones = np.zeros_like(each_cone) if one.antiphase else one.count * each_cone
        # the network counts the flow into the box; outwards the pressure in it has the other sign
        inside = -by_current["box"] / volts
        branches = self._branches(frequency_hz, False)
        none = np.zeros_like(each_cone)
        vent = none if self.vent is None else inside * self.vent.outflow(frequency_hz, self.air)
        leaks = sum(
            (inside * branches[name] for name in ("leakage", "leaks", "panel") if name in branches), none
        )
        return Flows(cones, each_cone, np.asarray(vent), np.asarray(leaks))

    def _network(self, frequency_hz: Real, *, plugged: bool) -> tuple[Network, Complex]:
        """Return driver and box as a network, and the impedance between the terminals and its node "coil", ohm."""
        s = 2j * np.pi * frequency_hz
        network = Network(frequency_hz.size, ("coil", "cone", "box"))
        self.driver.add_to(network, frequency_hz, self.air, mounted=True)
        network.connect("box", "ground", self.acoustic_admittance(frequency_hz, plugged))
        before: Complex = np.full(s.shape, self.series_ohm, dtype=np.complex128)
        if self.crossover is not None:
            parts = self.crossover
            before = before + parts.series_ohm + s * parts.series_h
            if parts.shunt_f is not None or parts.shunt_ohm is not None:
                branch = np.full(s.shape, parts.shunt_ohm or 0.0, dtype=np.complex128)
                if parts.shunt_f is not None:
                    branch = branch + 1.0 / (s * parts.shunt_f)
                network.connect("coil", "ground", 1.0 / branch)
        return network, before

    def _tuning_hz(self) -> float | None:
        if self.vent is None or self.vent.blocked:
            return None
        low, high = 3.0, 300.0
        for _ in range(4):  # each round narrows the bracket 200-fold; the first upward crossing counts
            grid = np.geomspace(low, high, 801)
            sign = self.acoustic_admittance(grid).imag > 0.0
            upward = np.flatnonzero(~sign[:-1] & sign[1:])
            if upward.size == 0:
                return None
            low, high = float(grid[upward[0]]), float(grid[upward[0] + 1])
        return float(np.sqrt(low * high))
