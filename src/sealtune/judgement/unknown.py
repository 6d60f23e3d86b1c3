"""What the design leaves out, and how much wider the answer is for it."""

from __future__ import annotations

from math import exp, sqrt

from sealtune.analysis.intervals import COVERAGE
from sealtune.design.terminals import effective_driver
from sealtune.design.tolerance import BOX_Q_SPREAD
from sealtune.judgement.quantities import ANY_VOLUME
from sealtune.judgement.signs import suspension_covariance
from sealtune.records.design import Design, Prediction

USUAL_Q_SPREAD = 0.45
"""Standard deviation of ln of the total box Q of sealed boxes of which no design tells; our own judgement."""


def factor(spread: float) -> float:
    """Return the factor within which 95 % lie, up or down, by the standard deviation of the logarithm."""
    return exp(COVERAGE * spread)


def without_design() -> str:
    """Return in half a sentence how much less a leak shows without a design."""
    return (
        f"what a sealed box loses is then known to a factor of {factor(USUAL_Q_SPREAD):.1f} instead of "
        f"{factor(BOX_Q_SPREAD):.1f}"
    )


def unknowns(design: Design | None, prediction: Prediction | None) -> tuple[str, ...]:
    """Return a sentence for each thing that the design leaves out, without capital letter and full stop."""
    if design is None or prediction is None:
        return (
            f"no design was found: the tuning is held against nothing, and {without_design()}",
            "without the box's volume the area of a leak is known to a factor of "
            f"{factor(ANY_VOLUME):.0f} at best, and what it is like is not told",
        )
    driver, told = effective_driver(design), []
    if prediction.tuning_hz is None:
        told.append("the design has no vent: what a wrong tuning means in millimetres is not told")
    if driver.vas_m3 is None:
        by_tuning = 2.0 * (
            design.tuning.tolerance / 2.0 if prediction.tuning_hz is None else prediction.tuning_spread
        )
        told.append(
            "the design has no V_AS: the volume of air shows in the tuning alone, to a factor of "
            f"{factor(by_tuning):.2f} and only if the vent is right; a wrong volume cannot be told from a wrong vent"
        )
    elif driver.fs_hz is None:
        scatter = driver.vas_tolerance * driver.fs_tolerance
        alike = suspension_covariance(driver) / max(scatter, 1e-12)
        told.append(
            "the design has no f_S: V_AS is then known to a factor of "
            f"{factor(driver.vas_tolerance):.2f} instead of "
            f"{factor(driver.vas_tolerance * sqrt(1.0 - alike**2)):.2f}"
        )
    if driver.re_ohm is None:
        told.append(
            "the design has no R_E of the box's drivers: extra resistance, a wrong reference resistor and wrong wiring "
            "cannot be told"
        )
    return tuple(told)
