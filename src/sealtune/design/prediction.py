"""What a design predicts of the finished box, and how sure that is."""

from __future__ import annotations

from math import hypot

from sealtune.design.losses import usual_losses
from sealtune.design.tolerance import BOX_Q_SPREAD, tuning_spread
from sealtune.errors import SettingsFault
from sealtune.physics.air import Air
from sealtune.physics.vent import effective_length_m, tuning_hz
from sealtune.records.design import Design, Prediction


def predict(design: Design, air: Air) -> Prediction:
    """What box, vent and driver data predict, to hold a measurement against.

    design: with a vent, a target tuning, or both
    air: of the place where the box is measured
    The tolerances of volume, length, opening and temperature count as 95 % bounds, those of the driver as standard
    deviations; the spread of the tuning includes 1.5 % for the end corrections. The tuning is that of the resonator
    without losses; friction lowers a real one by about 1 %. The lining is taken as not changing the volume: a box
    filled throughout may tune several per cent lower. Box Q: see `losses.usual_losses`.
    Raises SettingsFault where the design has neither vent nor target.
    """
    vent, box = design.vent, design.box
    by_geometry = None if vent is None else tuning_hz(box, vent, air)
    target_hz = design.tuning.target_hz if design.tuning.target_hz is not None else by_geometry
    if target_hz is None:
        raise SettingsFault(
            f"design '{design.name}'",
            ("[vent] and [tuning] target_hz are both missing: nothing says where the box is tuned",),
            "Describe the vent, or give target_hz.",
        )
    driver = design.driver
    return Prediction(
        target_hz=target_hz,
        low_hz=target_hz * (1.0 - design.tuning.tolerance),
        high_hz=target_hz * (1.0 + design.tuning.tolerance),
        tuning_hz=by_geometry,
        tuning_spread=tuning_spread(design),
        compliance_ratio=None if driver.vas_m3 is None else driver.count * driver.vas_m3 / box.volume_m3,
        compliance_spread=hypot(driver.vas_tolerance, box.volume_tolerance / 2.0),
        effective_length_m=None if vent is None else effective_length_m(vent, box),
        box_q=usual_losses(design, target_hz, air).box_q,
        box_q_spread=BOX_Q_SPREAD,
    )
