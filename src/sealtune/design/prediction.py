"""What a design predicts of the finished box, and how sure that is."""

from __future__ import annotations

from math import hypot

from sealtune.errors import SettingsFault
from sealtune.physics.air import Air
from sealtune.physics.vent import effective_length_m, tuning_hz, vent_q
from sealtune.records.design import Design, Lining, Prediction

# Standard deviation of the tuning for what end corrections leave open, relative (common practice).
_END_CORRECTION_SPREAD = 0.015
# Real vents against smooth ones: rough walls, rims, bends (common practice; Q_P of 50 to 100 is usual).
_VENT_Q_SHARE = 0.5
# Vent Q where the design does not describe the vent [Small1973, Part I, from memory: 50 to 100].
_USUAL_VENT_Q = 60.0
# What a well-built box still leaks, through the driver's surround and dust cap among others: Q_L
# [Small1973, Part I, from memory: 5 to 20].
_USUAL_LEAKAGE_Q = 20.0
# Absorption Q [Small1973, Part I, from memory: above 100 without lining, 30 to 80 with].
_ABSORPTION_Q: dict[Lining, float] = {"none": 120.0, "walls": 50.0, "filled": 15.0}
# Standard deviation of the logarithm of the total Q among well-built boxes of one design (common practice).
_BOX_Q_SPREAD = 0.35


def predict(design: Design, air: Air) -> Prediction:
    """What box, vent and driver data predict, to hold a measurement against.

    design: with a vent, a target tuning, or both
    air: of the place where the box is measured
    The tolerances of volume and length count as 95 % bounds, those of the driver as standard deviations;
    the spread of the tuning includes 1.5 % for the end corrections. The tuning is that of the resonator without
    losses; friction lowers a real one by about 1 %. The lining is taken as not changing the volume: a box filled
    throughout may tune several per cent lower. Box Q combines a leakage Q of 20, half of the vent's Q by
    smooth-wall friction and a typical absorption Q of the lining; measured totals are mostly 5 to 10 for boxes
    of 25 to 100 L [Small1973, Part III, sec. 11], often with leaks that need not be there.
    Raises SettingsFault where the design has neither vent nor target.
    """
    vent, box = design.vent, design.box
    by_geometry = None if vent is None else tuning_hz(box.volume_m3, vent, air)
    target_hz = design.tuning.target_hz if design.tuning.target_hz is not None else by_geometry
    if target_hz is None:
        raise SettingsFault(
            f"design '{design.name}'",
            ("[vent] and [tuning] target_hz are both missing: nothing says where the box is tuned",),
            "Describe the vent, or give target_hz.",
        )
    volume_spread = box.volume_tolerance / 2.0
    length_m, length_spread, friction_q = None, 0.0, _USUAL_VENT_Q
    if vent is not None:
        length_m = effective_length_m(vent)
        length_spread = vent.length_tolerance_m / 2.0 / length_m
        friction_q = _VENT_Q_SHARE * vent_q(vent, target_hz, air)
    driver = design.driver
    return Prediction(
        target_hz=target_hz,
        low_hz=target_hz * (1.0 - design.tuning.tolerance),
        high_hz=target_hz * (1.0 + design.tuning.tolerance),
        tuning_hz=by_geometry,
        tuning_spread=hypot(volume_spread / 2.0, length_spread / 2.0, _END_CORRECTION_SPREAD),
        compliance_ratio=None if driver.vas_m3 is None else driver.count * driver.vas_m3 / box.volume_m3,
        compliance_spread=hypot(driver.vas_tolerance, volume_spread),
        effective_length_m=length_m,
        box_q=1.0 / (1.0 / friction_q + 1.0 / _ABSORPTION_Q[box.lining] + 1.0 / _USUAL_LEAKAGE_Q),
        box_q_spread=_BOX_Q_SPREAD,
    )
