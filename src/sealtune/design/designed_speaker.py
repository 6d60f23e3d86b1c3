"""The driver in the box as the design means them, ready for the textbook circuit."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from sealtune.design.losses import Losses, usual_losses
from sealtune.design.terminals import effective_driver
from sealtune.physics.air import Air
from sealtune.physics.loudspeaker import Loudspeaker, static_volume_m3
from sealtune.records.design import Design, Driver, Prediction


@dataclass(frozen=True)
class DesignedSpeaker:
    """A design with enough driver data to say how it sounds.

    circuit: of driver and box
    driver: all drivers of the box as one
    volume_m3_w: S_D x_0, what the cone moves at direct current, m3 per root of a watt, root mean square
    """

    design: Design
    circuit: Loudspeaker
    driver: Driver
    volume_m3_w: float
    air: Air

    @property
    def tuning_hz(self) -> float:
        """Tuning of the circuit, Hz."""
        return float(self.circuit.wb_rad_s) / (2.0 * pi)


def designed_tuning_hz(prediction: Prediction) -> float:
    """Return the tuning that box and vent predict, or the target where no vent is described, Hz."""
    return prediction.target_hz if prediction.tuning_hz is None else prediction.tuning_hz


def designed_speaker(
    design: Design, prediction: Prediction, air: Air, losses: Losses | None = None
) -> DesignedSpeaker | None:
    """Return the driver in its box, None where f_S, Q_MS, Q_ES or V_AS is missing.

    losses: of the box; None for the usual ones
    """
    driver = effective_driver(design)
    if driver.fs_hz is None or driver.qms is None or driver.qes is None or driver.vas_m3 is None:
        return None
    tuning_hz = designed_tuning_hz(prediction)
    losses = usual_losses(design, tuning_hz, air) if losses is None else losses
    ws = 2.0 * pi * driver.fs_hz
    circuit = Loudspeaker(
        ws_rad_s=ws,
        qms=driver.qms,
        qes=driver.qes,
        alpha=driver.vas_m3 / design.box.volume_m3,
        wb_rad_s=2.0 * pi * tuning_hz,
        leakage=losses.leakage,
        friction=losses.friction,
        absorption=losses.absorption,
    )
    return DesignedSpeaker(design, circuit, driver, static_volume_m3(ws, driver.qes, driver.vas_m3, air), air)
