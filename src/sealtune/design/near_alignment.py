"""The published alignment that lies nearest to a design: a name for orientation, no aim."""

from __future__ import annotations

from math import hypot, log

from sealtune.design.designed_speaker import DesignedSpeaker
from sealtune.physics.alignment import Alignment, Family, align
from sealtune.records.plan import NearAlignment

NEAR = 0.12
"""Distance in ln h, ln alpha and ln Q_T within which a design is called by an alignment's name (our own judgement)."""


def near_alignment(speaker: DesignedSpeaker) -> NearAlignment | None:
    """Return the nearest of B4, Bessel, QB3 and C4 for this driver's Q_T, all losses of the box as leakage.

    None where no family reaches this Q_T. Q_T counts the resistance of the crossover with the coil's.
    """
    circuit, driver, crossover = speaker.circuit, speaker.driver, speaker.design.crossover
    qms, qes = float(circuit.qms), float(circuit.qes)
    if crossover is not None and driver.re_ohm is not None:
        qes *= 1.0 + crossover.series_ohm / driver.re_ohm
    qt = qms * qes / (qms + qes)
    h = float(circuit.wb_rad_s) / float(circuit.ws_rad_s)
    alpha = float(circuit.alpha)
    ql = 1.0 / float(circuit.leakage + circuit.friction + circuit.absorption)

    def distance(one: Alignment) -> float:
        return hypot(log(one.tuning_ratio / h), log(one.compliance_ratio / alpha), log(one.qt / qt))

    known: list[tuple[Family, Alignment]] = [("B4", align("B4", ql=ql)), ("Bessel", align("Bessel", ql=ql))]
    by_qt: tuple[Family, ...] = ("QB3", "C4")
    for family in by_qt:
        try:
            known.append((family, align(family, qt, ql)))
        except ValueError:  # the family does not reach this Q_T
            continue
    sound = [(family, one) for family, one in known if one.compliance_ratio > 0.0]
    if not sound:
        return None
    family, nearest = min(sound, key=lambda pair: distance(pair[1]))
    named = family if distance(nearest) <= NEAR else None
    return NearAlignment(named, nearest.tuning_ratio, nearest.compliance_ratio)
