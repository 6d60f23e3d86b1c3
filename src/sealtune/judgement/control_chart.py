"""Whether a production holds its measures: control limits of single values, and the trend over the batch."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.records.batch import ControlLimits, Trend
from sealtune.records.interval import Interval

Reals = NDArray[np.float64]

FEWEST = 8
"""Values from which on limits are drawn; below 20 they are provisional (common practice)."""

D2, D4 = 1.128, 3.267
"""Mean range of two values of a normal distribution over its standard deviation, and the limit of the moving range over
its mean [Shewhart1931], [Montgomery2009, table VI, from memory]."""

SIDED_95, SIDED_99 = 0.975, 0.995


def control_limits(values: Reals) -> ControlLimits:
    """Return the limits of single values by their moving range: mean +- 3 MR/1.128 = mean +- 2.66 MR [Montgomery2009].

    values: shape (n,), n >= 2, in the order in which they were made
    The moving range hardly feels a slow drift, so that the limits stay narrow where one goes on.
    """
    moving = np.abs(np.diff(values))
    centre, spread = float(np.mean(values)), float(np.mean(moving))
    reach = 3.0 * spread / D2
    return ControlLimits(centre, centre - reach, centre + reach, spread, D4 * spread)


def trend(values: Reals) -> Trend | None:
    """Return the change from first to last by a straight line through all, None with fewer than FEWEST values.

    values: shape (n,), in order, evenly apart
    The errors count as independent and normal (exact for such).
    """
    from scipy.special import stdtrit

    count = values.size
    if count < FEWEST:
        return None
    place = np.arange(count) - 0.5 * (count - 1)
    square = float(place @ place)
    slope = float(place @ values) / square
    left_over = values - values.mean() - slope * place
    spread = float(np.sqrt(left_over @ left_over / (count - 2) / square))
    change, sigma = slope * (count - 1), spread * (count - 1)
    reach = float(stdtrit(count - 2, SIDED_95)) * sigma
    certain = abs(change) > float(stdtrit(count - 2, SIDED_99)) * sigma
    return Trend(Interval(change, change - reach, change + reach), certain)
