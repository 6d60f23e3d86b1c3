"""A design, and the chain from a virtual cabinet to its verdict without files."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from tests.invented_box import INVENTED_24_L

from sealtune.analysis.curve_faults import curve_problems
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.design.prediction import predict
from sealtune.judgement.evidence import Evidence
from sealtune.judgement.judge import judge
from sealtune.physics.air import standard_air
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Design
from sealtune.records.verdict import Result
from sealtune.virtual.enclosure import VirtualCabinet

Judged = Callable[..., Result]


@pytest.fixture
def design() -> Design:
    """An invented box of 24 L with an 8-inch driver; the vent's dimensions reach 38.9 Hz."""
    return INVENTED_24_L


@pytest.fixture
def judged(design: Design) -> Judged:
    """Return the verdict on a virtual cabinet, measured with a little noise; `known=False` leaves the design out."""

    def result(
        cabinet: VirtualCabinet, *, known: bool = True, seed: int = 1, design: Design = design
    ) -> Result:
        rng = np.random.default_rng(seed)
        hz = np.geomspace(6.0, 600.0, 800)
        noise = 0.01 * (rng.normal(size=hz.size) + 1j * rng.normal(size=hz.size))
        curve = ImpedanceCurve(hz, cabinet.impedance(hz) + noise, np.full(hz.size, 0.01))
        marks = find_landmarks(curve)
        evidence = Evidence("box", curve=curve, landmarks=marks, problems=tuple(curve_problems(curve, marks)))
        evidence = replace(evidence, fit=fit_vented_box(curve, marks, design if known else None))
        if known:
            evidence = replace(evidence, design=design, prediction=predict(design, standard_air()))
        return judge(evidence, standard_air())

    return result
