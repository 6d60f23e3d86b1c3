"""The quantities of the circuit of a driver in a vented box; its formulas are in physics/vented_box.py."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

LeakShape = Literal["slit", "hole"]


@dataclass(frozen=True)
class VentedBox:
    """The parameters of the circuit, all > 0 unless said.

    re_ohm: resistance at direct current, ohm
    coil_ohm, coil_exponent: semi-inductor coil_ohm (s/(2 pi 200))^n, n in 0..1 [Leach2002]
    res_ohm: motional resistance R_ES, ohm
    ws_rad_s, qms: resonance of the driver with the box's air load, rad/s, and its mechanical Q
    coil_h: further inductance in series, H, >= 0
    coil_shunt_s: conductance beside the semi-inductor, siemens, >= 0; with n = 1 that is the coil in series with
        another that a resistor bridges
    volume_m3: net volume, m3, >= 0, for the radiated sound; 0 leaves it out
    creep: lambda of c(s) = 1 - lambda log10(s/w_S), 0..0.3
    alpha: compliance ratio V_AS/V_AB; 0 is the driver in free air
    wb_rad_s: resonance of vent and air spring, rad/s; 0 is a closed box
    leakage, friction, absorption: 1/Q_L, 1/Q_P, 1/Q_A, each >= 0
    plain_share: share of the vent's friction that does not grow with the root of frequency, 0..1
    leak_ratio: inertance of the vent over that of a leaking gap or hole, >= 0
    leak_time_s: h^2 rho / (4 mu) of a slit, r^2 rho / mu of a hole, s
    leak_shape: which of the two
    duct_share: air in the vent's duct over that in the box, >= 0
    panel_ratio: give of a wall that rings over that of the air, >= 0; its branch of y is
        panel_ratio s / (1 + s panel_loss/panel_rad_s + (s/panel_rad_s)^2)
    panel_rad_s, panel_loss: its resonance, rad/s, and 1/Q
    air_load: the driver's resonance in free air over that in the box, about 1.0 to 1.1
    """

    re_ohm: float
    coil_ohm: float
    coil_exponent: float
    res_ohm: float
    ws_rad_s: float
    qms: float
    creep: float
    alpha: float
    wb_rad_s: float
    leakage: float = 0.0
    friction: float = 0.0
    absorption: float = 0.0
    plain_share: float = 0.0
    leak_ratio: float = 0.0
    leak_time_s: float = 1e-3
    leak_shape: LeakShape = "slit"
    coil_h: float = 0.0
    volume_m3: float = 0.0
    coil_shunt_s: float = 0.0
    duct_share: float = 0.0
    air_load: float = 1.0
    panel_ratio: float = 0.0
    panel_rad_s: float = 1000.0
    panel_loss: float = 0.03
