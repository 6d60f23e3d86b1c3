"""The circuit of a driver in a vented box as a network of resistors, coils and capacitors alone.

Seen from the terminals, with the driver's gyrator carried through [Small1973]: the cone's mass is a capacitor, its
suspension a coil, and behind them lies the box turned about: its air is a coil, the vent's air a capacitor, leakage a
resistor, one after the other. A mass that radiates is a capacitor with a further one through a resistor beside it.
What follows no polynomial in s becomes a chain or a comb of parts by `relaxations`; every part is positive, so that the
network is passive in whatever it is built into.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from sealtune.physics.leak import hole_flow, slit_flow
from sealtune.physics.relaxations import Relaxations, relaxations
from sealtune.physics.suspension import creep_factor
from sealtune.physics.vented_box import OPEN_DUCT, REFERENCE_RAD_S, VentedBox, radiation_growth_s3
from sealtune.records.design import Crossover

Kind = Literal["R", "L", "C"]
Group = Literal[
    "crossover",
    "wire",
    "coil",
    "damping",
    "mass",
    "spring",
    "cone_sound",
    "air",
    "leakage",
    "vent",
    "wall",
    "leak",
]

_EXACT_CORNERS = 4
"""Of a leak; the higher ones lie close enough for a grid."""

_SOUND_CORNER_S = 1.0 / (2.0 * np.pi * 4000.0)
"""1/w up to which radiated sound grows with the square of frequency; the cone's own size ends it about there."""


@dataclass(frozen=True)
class Part:
    """A resistor (ohm), coil (H) or capacitor (F) between two nodes, and what it stands for."""

    kind: Kind
    group: Group
    first: str
    second: str
    value: float


@dataclass
class _Builder:
    """Gathers the parts; nodes between the pins get numbers in turn."""

    parts: list[Part] = field(default_factory=list)
    nodes: int = 0

    def node(self) -> str:
        self.nodes += 1
        return str(self.nodes)

    def add(self, kind: Kind, group: Group, first: str, second: str, value: float) -> None:
        self.parts.append(Part(kind, group, first, second, value))

    def behind(self, kind: Kind, group: Group, node: str, value: float) -> str:
        """Add a part in series and return the node behind it; none where it would be nothing."""
        if value <= 0.0:
            return node
        further = self.node()
        self.add(kind, group, node, further, value)
        return further

    def chain(
        self, kind: Kind, group: Group, first: str, second: str, factor: float, sum_: Relaxations
    ) -> None:
        """Add factor times the sum as an impedance in ohm (kind "C"), or in ohm over s (kind "L").

        One pair side by side for each term, one after the other: a resistor with a capacitor or with a coil.
        """
        terms: list[tuple[float, float | None]] = [
            (factor * size, corner) for size, corner in zip(sum_.sizes, sum_.corners_rad_s, strict=True)
        ]
        if sum_.constant > 0.0:
            terms.append((factor * sum_.constant, None))
        for place, (size, corner) in enumerate(terms):
            last = place == len(terms) - 1
            further = second if last else self.node()
            if kind == "L":
                self.add("L", group, first, further, size)
                if corner is not None:
                    self.add("R", group, first, further, size * corner)
            else:
                self.add("R", group, first, further, size)
                if corner is not None:
                    self.add("C", group, first, further, 1.0 / (size * corner))
            first = further

    def comb(self, group: Group, first: str, second: str, factor: float, sum_: Relaxations) -> None:
        """Add factor s times the sum as an admittance in siemens: a capacitor behind a resistor for each term."""
        if sum_.constant > 0.0:
            self.add("C", group, first, second, factor * sum_.constant)
        for size, corner in zip(sum_.sizes, sum_.corners_rad_s, strict=True):
            between = self.node()
            self.add("R", group, first, between, 1.0 / (factor * size * corner))
            self.add("C", group, between, second, factor * size)

    def mass(self, group: Group, sound: Group, first: str, second: str, farad: float, growth: float) -> None:
        """Add a mass that radiates: a capacitor and a conductance growth w^2, siemens s^2."""
        if growth <= 0.0:
            self.add("C", group, first, second, farad)
            return
        corner_s = max(2.0 * growth / farad, _SOUND_CORNER_S)
        aside = growth / corner_s
        self.add("C", group, first, second, farad - aside)
        between = self.node()
        self.add("R", sound, first, between, corner_s / aside)
        self.add("C", sound, between, second, aside)


def part_network(box: VentedBox, crossover: Crossover | None = None) -> tuple[Part, ...]:
    """Return the parts between the pins "plus" and "minus" that have the impedance of the box, vent open.

    box: with alpha and wb_rad_s above zero; creep below zero gives power and counts as none
    crossover: what lies before the driver
    Follows `vented_box.impedance` to a few thousandths from 2 Hz to 2 kHz, as far as the circuit itself holds.
    """
    builder = _Builder()
    node = _before(builder, crossover)
    node = builder.behind("R", "wire", node, box.re_ohm)
    node = builder.behind("L", "coil", node, box.coil_h)
    cone = builder.node()
    exponent = box.coil_exponent
    lossy = relaxations(lambda s: (s / REFERENCE_RAD_S) ** (exponent - 1.0))
    builder.chain("L", "coil", node, cone, box.coil_ohm / REFERENCE_RAD_S, lossy)
    if box.coil_shunt_s > 0.0:
        builder.add("R", "coil", node, cone, 1.0 / box.coil_shunt_s)
    _cone(builder, cone, box)
    _box(builder, cone, box)
    return tuple(builder.parts)


def _before(builder: _Builder, crossover: Crossover | None) -> str:
    """Add the crossover and return the node behind it."""
    if crossover is None:
        return "plus"
    node = builder.behind("R", "crossover", "plus", crossover.series_ohm)
    node = builder.behind("L", "crossover", node, crossover.series_h)
    if crossover.shunt_f is not None:
        between = builder.behind("R", "crossover", node, crossover.shunt_ohm or 0.0)
        builder.add("C", "crossover", between, "minus", crossover.shunt_f)
    elif crossover.shunt_ohm:
        builder.add("R", "crossover", node, "minus", crossover.shunt_ohm)
    return node


def _cone(builder: _Builder, cone: str, box: VentedBox) -> None:
    """Add what moves with the cone, side by side: damping, mass with its sound, suspension with its creep."""
    stiffness = box.qms * box.ws_rad_s / box.res_ohm
    builder.add("R", "damping", cone, "minus", box.res_ohm)
    builder.mass(
        "mass",
        "cone_sound",
        cone,
        "minus",
        box.qms / (box.res_ohm * box.ws_rad_s),
        box.alpha * stiffness * radiation_growth_s3(box.volume_m3),
    )
    if box.creep > 0.0:
        give = relaxations(lambda s: creep_factor(s, box.creep, box.ws_rad_s))
        builder.chain("L", "spring", cone, "minus", 1.0 / stiffness, give)
    else:
        builder.add("L", "spring", cone, "minus", 1.0 / stiffness)


def _box(builder: _Builder, cone: str, box: VentedBox) -> None:
    """Add the box, one after the other: air, leakage, ringing wall, leak, vent."""
    scale = box.alpha * box.ws_rad_s * box.qms / box.res_ohm
    wb = box.wb_rad_s
    air = (1.0 + box.duct_share * OPEN_DUCT) / scale
    node = builder.behind("L", "air", cone, air)
    if box.absorption > 0.0:
        builder.add("R", "air", cone, node, air * wb / box.absorption)
    node = builder.behind("R", "leakage", node, wb * box.leakage / scale)
    if box.panel_ratio > 0.0:
        wall = node
        node = builder.behind("L", "wall", wall, box.panel_ratio / scale)
        builder.add("C", "wall", wall, node, scale / (box.panel_ratio * box.panel_rad_s**2))
        if box.panel_loss > 0.0:
            builder.add("R", "wall", wall, node, box.panel_ratio * box.panel_rad_s / (scale * box.panel_loss))
    if box.leak_ratio > 0.0:
        gap, node = node, builder.node()
        size = wb**2 * box.leak_ratio * box.leak_time_s / scale
        builder.chain("C", "leak", gap, node, size, _leak_flow(box))
    builder.mass("vent", "vent", node, "minus", scale / wb**2, scale * radiation_growth_s3(box.volume_m3))
    plain = scale * box.friction * box.plain_share / wb
    if plain > 0.0:
        builder.add("R", "vent", node, "minus", 1.0 / plain)
    layer = scale * box.friction * (1.0 - box.plain_share) * np.sqrt(2.0 * wb) / wb**2
    if layer > 0.0:
        drag = relaxations(lambda s: np.asarray((s / wb) ** -0.5))
        builder.comb("vent", node, "minus", layer / np.sqrt(wb), drag)


def _leak_flow(box: VentedBox) -> Relaxations:
    """Return the flow through a leak as in `physics.leak`.

    Its corners are the squares of the zeros of the cosine for a slit, of the Bessel function J0 for a hole (exact).
    """
    from scipy.special import jn_zeros

    slit, time_s = box.leak_shape == "slit", box.leak_time_s
    zeros = (np.arange(_EXACT_CORNERS) + 0.5) * np.pi if slit else jn_zeros(0, _EXACT_CORNERS)
    flow = slit_flow if slit else hole_flow
    return relaxations(lambda s: flow(np.asarray(s * time_s)), (zeros**2 / time_s).tolist())
