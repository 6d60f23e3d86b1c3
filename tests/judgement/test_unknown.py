"""What a design leaves out, and how much wider the answer is said to be."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sealtune.design.prediction import predict
from sealtune.judgement.unknown import factor, unknowns
from sealtune.physics.air import standard_air
from sealtune.records.design import Design, Driver
from sealtune.records.verdict import Result
from sealtune.report.remarks import remarks
from sealtune.virtual.cabinet import cabinet_from_design

AIR = standard_air()
Judged = Callable[..., Result]


def told(design: Design) -> tuple[str, ...]:
    return unknowns(design, predict(design, AIR))


def test_a_whole_design_leaves_nothing_out(design: Design) -> None:
    assert told(design) == ()


def test_each_gap_is_told_with_how_much_wider_it_makes_the_answer(design: Design) -> None:
    # Exact: 95 % of a normal logarithm lie within exp(1.96 sigma); 15 % are 1.34.
    assert factor(0.15) == pytest.approx(1.342, abs=1e-3)
    (no_fs,) = told(replace(design, driver=replace(design.driver, fs_hz=None)))
    # By hand: 0.8 of the suspension's 15 % and half of it in f_S's 10 % are alike to -0.6; 0.15 x 0.8 = 0.12.
    assert "factor of 1.34 instead of 1.27" in no_fs
    (no_vent,) = told(replace(design, vent=None))
    assert "millimetres" in no_vent
    bare = told(replace(design, driver=Driver()))
    assert len(bare) == 2
    assert "no V_AS" in bare[0]
    assert "no R_E" in bare[1]
    assert len(told(replace(design, driver=Driver(), vent=None))) == 3


def test_without_a_design_the_summary_says_how_much_wider(design: Design, judged: Judged) -> None:
    result = judged(cabinet_from_design(design, np.random.default_rng(0), scatter=0.5), known=False)
    # By hand: exp(1.96 x 0.45) = 2.42 and exp(1.96 x 0.25) = 1.63.
    assert result.summary.endswith("known to a factor of 2.4 instead of 1.6.")
    assert any(remark.startswith("no design was found") for remark in remarks(result))


def test_the_volume_is_wider_indeed_where_nothing_tells_v_as(design: Design, judged: Judged) -> None:
    """The verdict follows what is said: with V_AS a wrong volume is told from a wrong vent, without it is not."""
    cabinet = replace(cabinet_from_design(design, np.random.default_rng(0)), volume_m3=0.65 * 0.024)
    whole, bare = (
        judged(cabinet, design=each)
        for each in (design, replace(design, driver=replace(design.driver, vas_m3=None)))
    )
    chances = [{one.fault: one.probability for one in result.findings} for result in (whole, bare)]
    assert chances[0]["volume_small"] > 2.0 * chances[1].get("volume_small", 0.0)
    assert whole.volume_m3 is not None
    assert bare.volume_m3 is None
