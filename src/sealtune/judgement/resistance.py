"""Extra resistance before the driver told from a wrong reference resistor, drivers wired otherwise than designed, and
either from the driver's tolerances.

A wrong reference scales the whole curve: R_E, the peaks and the coil. Drivers in series instead of parallel do the same
by the square of their number, no more and no less. A bad joint, a thin wire or a forgotten resistor
adds to R_E alone, and so does a warm coil. What of the peaks neither friction nor the box touches is
R_ES / Q_MS = R_E / Q_ES of the data sheet, the strength of the motor [Small1972]. The likelihood of a cause is the
average, over the sizes it may have, of the likelihood of what was measured, as for the faults of the box [MacKay2003].
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, log

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.intervals import COVERAGE
from sealtune.design.terminals import effective_driver
from sealtune.judgement.evidence import PROBABLE
from sealtune.judgement.remedy import Facts, finding
from sealtune.records.design import Crossover, Design, Driver
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.verdict import Finding, Problem

Reals = NDArray[np.float64]

DESIGNED, SERIES, SCALED, WIRED = 0.92, 0.04, 0.04, 0.04
"""How often each is met at the bench before anything is measured, the last among boxes of several drivers; common
practice, no statistics known."""

BEFORE_THE_BOX = 0.2
"""Share of extra resistances that lie before the clips, where the driver's own curve has them too; our judgement."""

SERIES_OHM = (0.3, 6.0)
"""Sizes of an extra resistance, evenly in the logarithm: from a long thin cable to a forgotten attenuator."""

WRONG_SCALE = (1.1, 4.0)
"""How many times a reference resistor is wrong, up or down, evenly in the logarithm: from a neighbouring value to a
misread ring."""

WARM = (0.0, 0.025, 0.05, 0.075, 0.10)
WARM_SHARE = (0.4, 0.25, 0.175, 0.1, 0.075)
"""How much warmth adds to R_E, and how often: 25 K are 10 % of copper; a sweep hardly warms, music before it does."""

UNTOLD_COIL_OHM = (0.1, 0.3, 0.5, 0.8)
"""A crossover's coil whose resistance the design does not tell (common practice)."""

LEADS_OHM = 0.05
"""Standard deviation of leads and clips that nobody counts, ohm; common practice."""

SERIES_TOLD = 0.10
"""Relative standard deviation of a resistance that the design tells, such as a coil's; common practice."""

MEASURED_R, MEASURED_STRENGTH = 0.015, 0.04
"""How well one curve tells R_E and R_ES / Q_MS: scatter over 100 virtual cabinets, a jig with its usual errors."""

MOUNTED = -0.03
"""ln of what the air that moves along with a mounted cone does to R_ES / Q_MS: a few % more mass [Rayleigh1896]."""

OWN_TAKE = 0.015
"""A coil's R_E from one take to the next, in ln: some kelvin of copper (common practice)."""

USUAL_QES, USUAL_QES_SPREAD = 0.4, 0.4
"""Electrical Q where the design does not tell it, and its standard deviation in ln: 0.2 to 0.9 (common practice)."""

FREEDOM = 8.0
"""Tails heavier than Gaussian (Student, 8 degrees of freedom): no tolerance is known that well."""

TOLD = 0.15
"""What is at least this probable is told."""

DOUBTFUL = 0.2
"""What is less probable than this is doubted, whatever else it may be."""

COSTS_DAMPING = 0.10
"""Extra resistance over R_E beyond which Q_ES rises by more than data sheets scatter: worth opening the box."""

SIZES = 120


@dataclass(frozen=True)
class Resistance:
    """What R_E and the motor's strength say of resistance in series and of the reference resistor.

    series, scaled, wired: probabilities of extra resistance, of a wrong reference and of drivers that are wired
        otherwise than designed; the rest is as designed
    wired_scale: how many times the design's resistance they then have, the likeliest of what their number allows
    series_ohm: the extra resistance if there is one, ohm, after what a warm coil may add
    measured_ohm, designed_ohm: R_E at the terminals, with what the design tells lies before the driver
    """

    series: float
    scaled: float
    wired: float
    wired_scale: float
    series_ohm: Interval
    measured_ohm: float
    designed_ohm: float

    @property
    def damping_lost(self) -> bool:
        """Whether extra resistance is probable, and so large that the driver loses damping by it."""
        return self._likeliest(self.series) and self.series_ohm.value > COSTS_DAMPING * self.designed_ohm

    def _likeliest(self, cause: float) -> bool:
        """Return whether a cause is probable, or the likeliest where it can hardly be as designed."""
        causes = (self.series, self.scaled, self.wired)
        return cause > PROBABLE or (cause == max(causes) and sum(causes) > 1.0 - DOUBTFUL)

    @property
    def miswired(self) -> bool:
        """Whether it is probable that the drivers are wired otherwise than designed."""
        return self._likeliest(self.wired)

    def wiring_finding(self, driver: Driver) -> Finding | None:
        """Return the finding of drivers wired otherwise than designed, None where that is too improbable to be told."""
        if self.wired < TOLD:
            return None
        facts = Facts(
            re_ohm=self.measured_ohm,
            designed_ohm=self.designed_ohm,
            drivers=driver.count,
            wiring=driver.wiring,
            wired_scale=self.wired_scale,
        )
        return finding("driver_wiring", self.wired, facts)

    def finding(self) -> Finding | None:
        """Return the finding of extra resistance, None where it is too improbable to be told."""
        if self.series < TOLD:
            return None
        facts = Facts(re_ohm=self.measured_ohm, designed_ohm=self.designed_ohm, series_ohm=self.series_ohm)
        return finding("series_resistance", self.series, facts)

    def problem(self) -> Problem | None:
        """Return the problem of a wrong reference, None where it is too improbable to be told.

        Tuning and box Q stand all the same; where it is not probable, so does the recording.
        """
        if self.scaled < TOLD:
            return None
        probable = self._likeliest(self.scaled)
        return Problem(
            "wrong_reference",
            f"The driver seems to have {self.measured_ohm:.2f} ohm where the design says {self.designed_ohm:.2f} ohm"
            + (
                ", and its peaks are off alike."
                if probable
                else "; the reference resistor may be another one."
            ),
            "Measure the reference resistor with a multimeter and correct reference_ohm (a table: check its unit); "
            "check re_ohm in design.toml and how many drivers it counts.",
            spoils=probable,
        )


def weigh_resistance(design: Design | None, fit: BoxFit | None) -> Resistance | None:
    """Return how probable extra resistance and a wrong reference are; None where the design does not tell R_E.

    The driver's tolerances count as standard deviations. With the driver's own curve fitted along, what lies between
    clips and driver is known directly; otherwise it shows as R_E alone.
    """
    if design is None or fit is None:
        return None
    driver = effective_driver(design)
    if driver.re_ohm is None:
        return None
    told_ohm = design.crossover.series_ohm if design.crossover is not None else 0.0
    before_ohm = told_ohm if fit.series_ohm is None else fit.series_ohm.value
    measured, designed = fit.with_hidden_ohm + before_ohm, driver.re_ohm + told_ohm
    qes, qes_spread = driver.qes or USUAL_QES, driver.qes_tolerance if driver.qes else USUAL_QES_SPREAD
    strength = fit.res_ohm / fit.qms / (driver.re_ohm / qes)  # over what the design says
    observed = [log(measured / designed), log(strength) - MOUNTED]
    own = driver.re_tolerance * driver.re_ohm / designed
    leads = hypot(LEADS_OHM, SERIES_TOLD * told_ohm) / designed
    cross = own * driver.re_tolerance
    covariance = np.array(
        [
            [own**2 + MEASURED_R**2 + leads**2, cross],
            [cross, driver.re_tolerance**2 + qes_spread**2 + MEASURED_STRENGTH**2],
        ]
    )
    if fit.series_ohm is not None:
        observed.append((fit.series_ohm.value - told_ohm) / designed)
        known = (fit.series_ohm.high - fit.series_ohm.value) / COVERAGE / designed
        covariance = np.pad(covariance, (0, 1))
        covariance[2, 2] = known**2 + OWN_TAKE**2 + leads**2
        covariance[0, 2] = covariance[2, 0] = leads**2
    coils = UNTOLD_COIL_OHM if _has_untold_coil(design.crossover, fit) else (0.0,)
    wired = np.array(other_wirings(design.driver))
    return _weighed(np.array(observed), covariance, np.array(coils) / designed, measured, designed, wired)


def other_wirings(driver: Driver) -> tuple[float, ...]:
    """Return how many times the designed resistance drivers have that are wired otherwise; empty for a single one.

    All in series instead of in parallel, or the other way round; of four, two by two as well.
    """
    if driver.count < 2 or driver.wiring == "single":
        return ()
    all_other = float(driver.count**2)
    scales = (all_other, 4.0) if driver.count == 4 else (all_other,)
    return scales if driver.wiring == "parallel" else tuple(1.0 / scale for scale in scales)


def _has_untold_coil(crossover: Crossover | None, fit: BoxFit) -> bool:
    if crossover is None:
        return fit.hidden_crossover is not None
    return crossover.series_h > 0.0 and crossover.series_ohm == 0.0


def _weighed(
    observed: Reals, covariance: Reals, coils: Reals, measured: float, designed: float, wired: Reals
) -> Resistance:
    """Return the causes weighed; observed: ln of R_E and of the motor's strength, series over R_E if known."""
    precision = np.linalg.inv(covariance)
    warmth = np.repeat(np.log1p(WARM), coils.size)
    often = np.repeat(WARM_SHARE, coils.size) / coils.size
    coil = np.tile(coils, len(WARM))
    size = np.geomspace(*SERIES_OHM, SIZES)
    added = size / designed
    one = np.zeros(1)

    def likelihood(added: Reals, scale: Reals, *, seen: bool) -> Reals:
        """Return the likelihood of each size, averaged over warmth and coils; seen: between the two curves' clips."""
        before = coil[:, None] + added if seen else np.broadcast_to(coil[:, None], (coil.size, added.size))
        total = np.log1p(coil[:, None] + added) + warmth[:, None] + scale
        shift = np.stack([total, np.broadcast_to(scale, total.shape), before * np.exp(scale)], axis=-1)
        rest = observed - shift[..., : observed.size]
        distance = np.einsum("...i,ij,...j->...", rest, precision, rest)
        return often @ (1.0 + distance / FREEDOM) ** (-0.5 * (FREEDOM + observed.size))  # type: ignore[no-any-return]

    wrong = np.log(np.geomspace(*WRONG_SCALE, SIZES))
    wrong = np.concatenate([-wrong[::-1], wrong])
    by_size = (1.0 - BEFORE_THE_BOX) * likelihood(added, one, seen=True)
    by_size = by_size + BEFORE_THE_BOX * likelihood(added, one, seen=False)
    by_wiring = likelihood(np.zeros(wired.size), np.log(wired), seen=False)
    evidence = np.array(
        [
            DESIGNED * likelihood(one, one, seen=False)[0],
            SERIES * by_size.mean(),
            SCALED * likelihood(np.zeros(wrong.size), wrong, seen=False).mean(),
            WIRED * by_wiring.mean() if wired.size else 0.0,
        ]
    )
    _, series, scaled, otherwise = (evidence / evidence.sum()).tolist()
    cumulated = np.cumsum(by_size) / by_size.sum()
    low, value, high = (float(size[np.searchsorted(cumulated, share)]) for share in (0.025, 0.5, 0.975))
    scale = float(wired[np.argmax(by_wiring)]) if wired.size else 1.0
    return Resistance(series, scaled, otherwise, scale, Interval(value, low, high), measured, designed)
