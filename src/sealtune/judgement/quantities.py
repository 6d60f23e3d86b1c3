"""What follows from the fit in numbers: size of the leak, net volume, length of the vent."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.intervals import COVERAGE
from sealtune.design.terminals import effective_driver
from sealtune.judgement.causes import Weighed
from sealtune.judgement.leak_family import DEPTH_SPREAD
from sealtune.judgement.volume import frictionless_hz
from sealtune.physics.air import Air
from sealtune.physics.vent import effective_length_for_tuning_m
from sealtune.records.design import Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.verdict import FaultName, Leak

SIZED = 1.0 / 3.0
"""From this probability on a leak is given a size of its own."""

ANY_VOLUME = 0.7
"""Standard deviation of the logarithm of the net volume where no design tells it: 8 to 120 litres in 95 of 100."""

ALIKE = 0.1
"""Standard deviation of the logarithm of areas that count as the same."""


def leak_size(weighed: Weighed, probability: float, *, volume_known: bool = True) -> Leak:
    """Return area and likeness of the leak; where none is probable, the area that may have stayed unnoticed.

    volume_known: else the box that was assumed may hold more or less by ANY_VOLUME, and the area goes with it
    """
    unknown = 0.0 if volume_known else COVERAGE * ANY_VOLUME
    order = np.argsort(weighed.leaks.area_m2)
    area = weighed.leaks.area_m2[order] * 1e6
    if probability < SIZED:
        hidden = weighed.hidden_share[order]
        cumulative = 1.0 - hidden.sum() + np.cumsum(hidden)
        most = _quantile(area, cumulative, 0.975) * float(np.exp(unknown))
        return Leak(probability, Interval(0.0, 0.0, most), None)
    cumulative = np.cumsum(weighed.leak_share[order])
    low, middle, high = (_quantile(area, cumulative, level) for level in (0.025, 0.5, 0.975))
    own = np.hypot(COVERAGE * DEPTH_SPREAD, unknown)
    down, up = (float(np.hypot(np.log(end / middle), own)) for end in (low, high))
    return Leak(
        probability,
        Interval(middle, middle * float(np.exp(-down)), middle * float(np.exp(up))),
        weighed.leaks.likeness(_typical(weighed, middle)) if volume_known else None,
    )


def _typical(weighed: Weighed, area_mm2: float) -> int:
    """Return the likeliest of the leaks about as large as the area that is told."""
    off = np.log(1e6 * weighed.leaks.area_m2 / area_mm2)
    return int(np.argmax(weighed.leak_share * np.exp(-0.5 * (off / ALIKE) ** 2)))


def _quantile(area: NDArray[np.float64], cumulative: NDArray[np.float64], level: float) -> float:
    """Return the area below which a share `level` of the probability lies; 0 where no leak at all holds it."""
    if cumulative[0] >= level and cumulative[-1] > 0.0 and level > 0.9:
        return 0.0
    return float(area[min(int(np.searchsorted(cumulative, level)), area.size - 1)])


def vent_change(
    faults: Mapping[FaultName, float], by_vent: Interval, by_volume: Interval | None
) -> Interval | None:
    """Return the change of the vent's length that reaches the target, m, whether vent or volume is off.

    by_vent, by_volume: the change if the vent, or the volume alone, is off; the latter None where no length does it
    The mean of the two, each with its probability, leaves the least error where either may be true.
    """
    volume = sum(faults.get(name, 0.0) for name in ("volume_small", "volume_large"))
    vent = sum(faults.values()) - volume
    share = volume / max(vent + volume, 1e-12)
    if by_volume is None:
        return None if share > 0.5 else by_vent
    mean = (1.0 - share) * by_vent.value + share * by_volume.value
    reach = COVERAGE * np.sqrt(
        sum(
            each * (((one.high - one.low) / (2.0 * COVERAGE)) ** 2 + (one.value - mean) ** 2)
            for each, one in ((1.0 - share, by_vent), (share, by_volume))
        )
    )
    return Interval(mean, mean - float(reach), mean + float(reach))


def net_volume(design: Design, fit: BoxFit) -> Interval | None:
    """Return the net volume by V_AS over the compliance ratio, m3; None where the design gives no V_AS."""
    driver = effective_driver(design)
    if driver.vas_m3 is None:
        return None
    alpha = fit.compliance_ratio
    spread = float(np.exp(COVERAGE * driver.vas_tolerance))
    value = driver.vas_m3 / alpha.value
    return Interval(value, driver.vas_m3 / alpha.high / spread, driver.vas_m3 / alpha.low * spread)


def vent_length(
    design: Design, prediction: Prediction, fit: BoxFit, air: Air
) -> tuple[float, Interval] | None:
    """Return the effective length that explains the tuning, and the change that reaches the target, m.

    None where the design has no vent. The volume is taken as designed; what the design leaves open of box and
    vent counts in proportion to the change. Friction lowers both tunings and is taken off; left in, it would make the
    change some 2 % too large. Of several vents, each has this length and this change.
    """
    if design.vent is None:
        return None

    def length_m(tuning_hz: float) -> float:
        assert design.vent is not None
        lossless_hz = frictionless_hz(tuning_hz, design, fit, air)
        return effective_length_for_tuning_m(design.box, lossless_hz, design.vent, air)

    tuning = fit.tuning_hz
    length = length_m(tuning.value)
    change = length_m(prediction.target_hz) - length
    by_tuning = 0.5 * (length_m(tuning.low) - length_m(tuning.high))
    by_design = COVERAGE * 2.0 * prediction.tuning_spread * abs(change)
    reach = float(np.hypot(by_tuning, by_design))
    return length, Interval(change, change - reach, change + reach)
