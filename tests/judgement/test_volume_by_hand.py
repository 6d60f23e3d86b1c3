"""Litres and millimetres by a fit put in by hand.

Exact: V_AS over the compliance ratio, Helmholtz's formula as `physics.vent` has it, and means weighed by variances.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot, log, sqrt

import numpy as np
import pytest
from tests.fit_by_hand import exactly, fit_by_hand
from tests.invented_box import INVENTED_24_L

from sealtune.design.prediction import predict
from sealtune.judgement.quantities import vent_length
from sealtune.judgement.volume import VolumeOff, frictionless_hz, volume_off
from sealtune.physics.air import standard_air
from sealtune.physics.vent import effective_length_m, tuning_hz
from sealtune.records.design import Design, Tuning, Vent
from sealtune.records.fit import BoxFit, Losses
from sealtune.records.interval import Interval

AIR = standard_air()
DESIGN = replace(INVENTED_24_L, tuning=Tuning(38.9, 0.04))
BARE = replace(DESIGN, driver=replace(DESIGN.driver, vas_m3=None))
VENT_Q = 80.0
TUNING, ALPHA = 3e-3, 0.02


def fitted(volume_m3: float, alpha: float = 1.0) -> BoxFit:
    """The fit of a box with the design's vent and so much air; its vent's friction lowers the tuning by 1/(2 Q_P)."""
    lossless_hz = tuning_hz(replace(DESIGN.box, volume_m3=volume_m3), vent_of(DESIGN), AIR)
    return fit_by_hand(
        tuning_hz=exactly(lossless_hz * (1.0 - 0.5 / VENT_Q)), compliance_ratio=exactly(alpha),
        losses=Losses(vent_q=exactly(VENT_Q)), log_covariance=np.diag([TUNING, 0.05, ALPHA, 1e-3]) ** 2,
    )  # fmt: skip


def vent_of(design: Design) -> Vent:
    assert design.vent is not None
    return design.vent


def off(design: Design, fit: BoxFit) -> VolumeOff:
    found = volume_off(design, predict(design, AIR), fit, AIR)
    assert found is not None
    return found


def spread(one: Interval) -> float:
    assert log(one.value / one.low) == pytest.approx(log(one.high / one.value))
    return log(one.high / one.value) / 1.96


def by_tuning(design: Design) -> float:
    """Twice the spread of what the vent lets expect, the volume's own left out, and of what was measured."""
    prediction = predict(design, AIR)
    return 2.0 * sqrt(prediction.tuning_spread**2 - (0.25 * design.box.volume_tolerance) ** 2 + TUNING**2)


def test_by_the_tuning_alone() -> None:
    found = off(BARE, fitted(0.030))
    assert found.volume_m3.value == pytest.approx(0.030, rel=2e-3)
    assert found.excess_m3.value == pytest.approx(found.volume_m3.value - 0.024)
    assert found.excess_m3.low == pytest.approx(found.volume_m3.low - 0.024)
    assert found.excess_m3.high == pytest.approx(found.volume_m3.high - 0.024)
    assert not found.by_peaks
    assert spread(found.volume_m3) == pytest.approx(by_tuning(BARE))


def test_by_the_peaks_alone() -> None:
    design = replace(DESIGN, vent=None)
    found = off(design, fitted(0.024, alpha=1.55))
    assert found.volume_m3.value == pytest.approx(0.031 / 1.55)  # V_AS is 31 litres, known to 15 %
    assert spread(found.volume_m3) == pytest.approx(hypot(0.15, ALPHA))
    assert (found.by_peaks, found.length_change_m) == (True, None)
    assert volume_off(replace(BARE, vent=None), predict(DESIGN, AIR), fitted(0.024), AIR) is None


def test_both_are_weighed_by_their_variances() -> None:
    found = off(DESIGN, fitted(0.020, alpha=1.25))
    weights = np.array([by_tuning(DESIGN), hypot(0.15, ALPHA)]) ** -2.0
    centre = weights @ np.log([0.020, 0.031 / 1.25]) / weights.sum()
    assert found.volume_m3.value == pytest.approx(exp(centre), rel=2e-3)
    assert spread(found.volume_m3) == pytest.approx(weights.sum() ** -0.5)


@pytest.mark.parametrize("volume_m3", [0.018, 0.030])
def test_the_vent_that_would_do_in_the_box_as_it_is(volume_m3: float) -> None:
    found = off(BARE, fitted(volume_m3))
    change = found.length_change_m
    assert change is not None
    vent, box = vent_of(BARE), replace(BARE.box, volume_m3=volume_m3)
    reached = tuning_hz(box, replace(vent, length_m=vent.length_m + change.value), AIR)
    assert reached == pytest.approx(38.9 / (1.0 - 0.5 / VENT_Q), rel=3e-3)
    # what is not known of the volume changes it in proportion, of the tuning by twice as much of the whole length
    length = effective_length_m(vent, BARE.box)
    reach = 1.96 * hypot(by_tuning(BARE) * change.value, 2.0 * TUNING * length)
    assert change.high - change.value == pytest.approx(reach, rel=0.02)
    assert change.value - change.low == pytest.approx(reach, rel=0.02)


def test_no_vent_is_shortened_to_nothing() -> None:
    # a target above what the bare opening reaches, and one within reach
    high = replace(BARE, tuning=Tuning(80.0, 0.04))
    assert off(high, fitted(0.030)).length_change_m is None
    assert off(replace(BARE, tuning=Tuning(45.0, 0.04)), fitted(0.030)).length_change_m is not None


def test_friction_lowers_a_tuning_as_far_as_walls_can() -> None:
    # Exact: 1/(2 Q_P); beyond twice the usual friction it is cloth, which weighs nothing
    plain = fitted(0.024)
    assert frictionless_hz(40.0, DESIGN, plain, AIR) == pytest.approx(40.0 / (1.0 - 0.5 / VENT_Q))
    lined, untold = (replace(plain, losses=Losses(vent_q=q)) for q in (exactly(5.0), None))
    usual = 1.0 - 40.0 / frictionless_hz(40.0, DESIGN, untold, AIR)
    assert 0.003 < usual < 0.02
    assert 1.0 - 40.0 / frictionless_hz(40.0, DESIGN, lined, AIR) == pytest.approx(2.0 * usual)


def test_the_length_that_explains_the_tuning() -> None:
    fit = replace(fitted(0.024), tuning_hz=Interval(36.0, 35.5, 36.5))
    found = vent_length(DESIGN, predict(DESIGN, AIR), fit, AIR)
    assert found is not None
    length, change = found
    # 1/f^2 is in proportion to the length, and to the air's mass at its ends, which stay
    assert (length + change.value) / length == pytest.approx((36.0 / 38.9) ** 2, rel=5e-3)
    reach = hypot(length * 2.0 * 0.5 / 36.0, 1.96 * 2.0 * predict(DESIGN, AIR).tuning_spread * change.value)
    assert change.high - change.value == pytest.approx(reach, rel=0.02)
    assert change.value - change.low == pytest.approx(reach, rel=0.02)
    assert vent_length(replace(DESIGN, vent=None), predict(DESIGN, AIR), fit, AIR) is None
