"""Extra resistance before the driver, a wrong reference resistor, and neither."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.judgement.resistance import Resistance, weigh_resistance
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover, Design
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.verdict import Result
from sealtune.report.text import summary_text
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.faults import with_slit

Judged = Callable[..., Result]


@pytest.fixture
def fit(design: Design) -> BoxFit:
    """The fit of a cabinet built exactly to the design."""
    hz = np.geomspace(6.0, 600.0, 400)
    curve = ImpedanceCurve(
        hz, cabinet_from_design(design, np.random.default_rng(0)).impedance(hz), np.full(hz.size, 0.01)
    )
    found = fit_vented_box(curve, find_landmarks(curve), design)
    assert found is not None
    return found


def weighed(
    design: Design, fit: BoxFit, *, scale: float = 1.0, added_ohm: float = 0.0, **changes: object
) -> Resistance:
    # exact: a scale multiplies both resistances, one in series adds to R_E alone
    changed = replace(fit, re_ohm=scale * fit.re_ohm + added_ohm, res_ohm=scale * fit.res_ohm, **changes)  # type: ignore[arg-type]
    found = weigh_resistance(design, changed)
    assert found is not None
    return found


@pytest.mark.parametrize("warmer", [0.95, 1.0, 1.1])
def test_what_tolerance_and_warmth_explain_is_not_accused(design: Design, fit: BoxFit, warmer: float) -> None:
    # common practice: R_E scatters by 5 %, 25 K of copper are 10 % more
    found = weighed(design, fit, added_ohm=(warmer - 1.0) * fit.re_ohm)
    assert found.series < 0.05
    assert found.scaled < 0.05
    assert found.finding() is None
    assert found.problem() is None


@pytest.mark.parametrize("added_ohm", [2.0, 3.5])
def test_ohms_in_series(design: Design, fit: BoxFit, added_ohm: float) -> None:
    found = weighed(design, fit, added_ohm=added_ohm)
    assert found.series > 0.8
    assert found.scaled < 0.1
    assert found.series_ohm.holds(added_ohm)
    assert 0.5 * added_ohm < found.series_ohm.value < 1.1 * added_ohm
    assert found.damping_lost
    assert found.problem() is None


@pytest.mark.parametrize("scale", [0.5, 0.6, 0.75, 1.5, 2.0, 10.0])
def test_a_wrong_reference_scales_the_peaks_along(design: Design, fit: BoxFit, scale: float) -> None:
    found = weighed(design, fit, scale=scale)
    assert found.scaled > 0.5
    assert found.scaled > 2.0 * found.series
    assert not found.damping_lost
    problem = found.problem()
    assert problem is not None
    assert problem.problem == "wrong_reference"
    assert problem.spoils


def test_what_cannot_be_told_apart_is_told_as_both(design: Design, fit: BoxFit) -> None:
    # 30 % more on everything: R_E off by three standard deviations after warmth, the motor by not even two
    found = weighed(design, fit, scale=1.3)
    assert 0.15 < found.series < 0.5
    assert 0.15 < found.scaled < 0.5
    assert found.finding() is not None
    problem = found.problem()
    assert problem is not None
    assert not problem.spoils


def test_narrow_tolerances_tell_more(design: Design, fit: BoxFit) -> None:
    narrow = replace(design, driver=replace(design.driver, re_tolerance=0.02, qes_tolerance=0.05))
    assert weighed(narrow, fit, added_ohm=1.0).series > 2.0 * weighed(design, fit, added_ohm=1.0).series
    assert weighed(narrow, fit, scale=1.3).scaled > 0.8


def test_without_q_factors_the_peaks_say_little(design: Design, fit: BoxFit) -> None:
    bare = replace(design, driver=replace(design.driver, qes=None, qms=None))
    found = weighed(bare, fit, added_ohm=2.5)
    assert found.series > 0.3
    assert found.scaled > 2.0 * weighed(design, fit, added_ohm=2.5).scaled


def test_without_the_designed_resistance_nothing_is_claimed(design: Design, fit: BoxFit) -> None:
    bare = replace(design, driver=replace(design.driver, re_ohm=None))
    assert weigh_resistance(bare, fit) is None
    assert weigh_resistance(None, fit) is None
    assert weigh_resistance(design, None) is None


def test_a_told_resistance_is_no_fault(design: Design, fit: BoxFit) -> None:
    # the fit takes what the design tells as known: R_E is then the driver's alone
    told = replace(design, crossover=Crossover(series_ohm=2.0))
    assert weighed(told, fit).series < 0.05
    assert weighed(told, fit, added_ohm=2.5).series > 0.5
    # a coil that is told without its ohms may have some
    coil = replace(design, crossover=Crossover(series_h=2e-3))
    assert weighed(coil, fit, added_ohm=1.0).series < 0.5 * weighed(design, fit, added_ohm=1.0).series


@pytest.mark.parametrize(
    ("series_ohm", "low", "high"), [(0.05, 0.0, 0.02), (0.7, 0.95, 1.0), (2.0, 0.99, 1.0)]
)
def test_the_driver_alone_shows_it_directly(
    design: Design, fit: BoxFit, series_ohm: float, low: float, high: float
) -> None:
    known = Interval(series_ohm, 0.9 * series_ohm, 1.1 * series_ohm)
    found = weighed(design, fit, series_ohm=known)
    assert low <= found.series <= high
    if low:
        assert found.series_ohm.holds(series_ohm)
        assert found.series > weighed(design, fit, added_ohm=series_ohm).series


def test_a_joint_of_less_than_an_ohm_shows_beside_the_driver_alone(design: Design) -> None:
    # a terminal cup of 0.8 ohm, 13 % of R_E: within what tolerance and warmth explain, but not beside free air
    hz = np.geomspace(6.0, 600.0, 400)
    cabinet = replace(cabinet_from_design(design, np.random.default_rng(0)), series_ohm=0.8)
    curve, alone = (
        ImpedanceCurve(hz, cabinet.impedance(hz, role), np.full(hz.size, 0.01))
        for role in ("open", "free-air")
    )
    marks = find_landmarks(curve)
    by_one = weigh_resistance(design, fit_vented_box(curve, marks, design))
    by_both = weigh_resistance(design, fit_vented_box(curve, marks, design, {"free-air": alone}))
    assert by_one is not None
    assert by_one.series < 0.3
    assert by_both is not None
    assert by_both.series > 0.95
    assert by_both.series_ohm.holds(0.8)
    assert by_both.series_ohm.high < 1.2


def test_ohms_before_the_box_are_a_finding_with_a_remedy(design: Design, judged: Judged) -> None:
    result = judged(replace(cabinet_from_design(design, np.random.default_rng(0)), series_ohm=2.5))
    assert result.verdict == "rework"
    assert [finding.fault for finding in result.findings] == ["series_resistance"]
    told = result.findings[0]
    assert told.probability > 0.8
    assert "8.6" in told.evidence  # exact: 6.1 + 2.5 ohm
    assert "6.10 ohm was designed" in told.evidence
    assert "terminal cup" in told.remedy
    assert "ohmmeter" in told.confirm
    assert result.summary.startswith("Rework: there is extra resistance in the wiring")
    assert result.length_change_m is None
    text = summary_text(result)
    assert "REWORK - there is extra resistance in the wiring" in text
    assert "Do         Extra resistance in the wiring" in text


def test_a_leak_and_a_bad_joint_are_both_told(design: Design, judged: Judged) -> None:
    cabinet = with_slit(cabinet_from_design(design, np.random.default_rng(0)), 0.9, 60.0, 15.0)
    result = judged(replace(cabinet, series_ohm=2.5))
    assert result.verdict == "rework"
    assert {finding.fault for finding in result.findings[:2]} == {"leak", "series_resistance"}
    assert "the box leaks" in result.summary
    assert "extra resistance" in result.summary
    text = summary_text(result)
    assert "Also " in text
    assert "Or else    Extra" not in text


@pytest.mark.parametrize(("added_ohm", "re_tolerance"), [(1.2, 0.05), (0.9, 0.01)])
def test_little_or_doubtful_resistance_is_a_remark(
    design: Design, judged: Judged, added_ohm: float, re_tolerance: float
) -> None:
    # 20 and 15 % more, of which a warm coil may have 10: too doubtful, or too little, to open the box for
    known = replace(design, driver=replace(design.driver, re_tolerance=re_tolerance))
    cabinet = replace(cabinet_from_design(design, np.random.default_rng(0)), series_ohm=added_ohm)
    result = judged(cabinet, design=known)
    assert result.verdict == "good"
    assert [finding.fault for finding in result.findings] == ["series_resistance"]
    assert "Watch      Extra resistance in the wiring" in summary_text(result)
