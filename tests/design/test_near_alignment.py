"""Which published alignment a design is called by."""

from dataclasses import replace

import pytest

from sealtune.design.designed_speaker import designed_speaker
from sealtune.design.losses import Losses
from sealtune.design.near_alignment import near_alignment
from sealtune.design.prediction import predict
from sealtune.physics.air import Air
from sealtune.records.design import Box, Crossover, Design, Driver, Tuning

FS_HZ, VOLUME_M3, QMS = 40.0, 0.03, 5.0


def design(h: float, qt: float, alpha: float) -> Design:
    driver = Driver(fs_hz=FS_HZ, qms=QMS, qes=1 / (1 / qt - 1 / QMS), vas_m3=alpha * VOLUME_M3, re_ohm=6.0)
    return Design("Invented", Box(VOLUME_M3), tuning=Tuning(h * FS_HZ), driver=driver)


def nearest(one: Design, air: Air, ql: float = 7.0) -> tuple[str | None, float, float]:
    speaker = designed_speaker(one, predict(one, air), air, Losses(1 / ql, 0.0, 0.0))
    assert speaker is not None
    found = near_alignment(speaker)
    assert found is not None
    return found.family, found.tuning_ratio, found.compliance_ratio


@pytest.mark.parametrize(
    ("family", "h", "qt", "alpha"),
    [
        # Published for Q_L 7, tables after [Small1973]: B4 and Bessel
        ("B4", 1.0, 0.4048, 1.0613),
        ("Bessel", 0.97354, 0.3312, 1.9076),
        # Independent, for Q_L 7
        ("QB3", 1.5629, 0.25, 4.5822),
        ("QB3", 1.3145, 0.30, 2.8452),
        ("C4", 0.8031, 0.50, 0.4642),
        ("C4", 0.6805, 0.60, 0.2749),
    ],
)
def test_published_alignments_are_recognised(
    family: str, h: float, qt: float, alpha: float, air: Air
) -> None:
    name, ratio, compliance = nearest(design(h, qt, alpha), air)
    assert name == family
    assert (ratio, compliance) == pytest.approx((h, alpha), rel=2e-3)


def test_what_is_no_alignment_gets_no_name(air: Air) -> None:
    # Exact: twice the compliance ratio of QB3 for this driver is far from all of them.
    assert nearest(design(1.3145, 0.30, 2 * 2.8452), air)[0] is None


def test_series_resistance_counts(air: Air) -> None:
    # Exact: a resistance in series raises Q_ES by R/R_E, so that a driver of lower Q makes the same alignment.
    box = design(0.8031, 0.50, 0.4642)
    stronger = replace(box.driver, qes=(box.driver.qes or 0.0) / 1.25)
    assert nearest(replace(box, driver=stronger), air)[1:] != nearest(box, air)[1:]
    behind = replace(box, driver=stronger, crossover=Crossover(series_ohm=1.5))
    assert nearest(behind, air)[0] == nearest(box, air)[0] == "C4"
    assert nearest(behind, air)[1:] == pytest.approx(nearest(box, air)[1:], rel=1e-9)


def test_driver_beyond_all_families(air: Air) -> None:
    # Exact: no QB3 nor C4 of this Q_T; the single alignments lie far away, and none is claimed.
    far = design(0.5, 3.0, 0.5)
    assert nearest(far, air)[0] is None
