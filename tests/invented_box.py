"""The boxes that several tests measure; no product stands behind them."""

import numpy as np

from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.enclosure import VirtualCabinet

INVENTED = Design(
    name="invented",
    box=Box(0.018),
    vent=Vent("round", float(np.pi * 0.025**2), 0.13, diameter_m=0.05),
    tuning=Tuning(43.5),
    driver=Driver(fs_hz=48.0, qms=4.2, qes=0.42, vas_m3=0.0175, re_ohm=5.7, sd_m2=0.0132),
)
"""A box of 18 L with a 6.5-inch driver; peaks near 25 and 75 Hz."""

INVENTED_24_L = Design(
    name="invented",
    box=Box(0.024, lining="walls"),
    vent=Vent("round", area_m2=np.pi / 4 * 0.058**2, length_m=0.165, diameter_m=0.058),
    tuning=Tuning(38.5),
    driver=Driver(fs_hz=37.0, qms=3.8, qes=0.38, vas_m3=0.031, re_ohm=6.1, sd_m2=0.021),
)
"""A box of 24 L with an 8-inch driver; the vent's dimensions reach 38.9 Hz."""

SEED = 20260301


def invented() -> VirtualCabinet:
    """Return the box of 18 L as built."""
    return cabinet_from_design(INVENTED, np.random.default_rng(SEED))
