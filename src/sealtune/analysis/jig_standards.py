"""Known loads measured with a jig: from noisy ratios to smooth values on a few frequencies, and back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from sealtune.records.recording import JigStandards, KnownResistor, Standard
from sealtune.signals.transfer_function import Ratio

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

GRID_POINTS = 16
"""Frequencies that a smoothed standard is kept on, evenly spread over their logarithm."""

FEWEST_RATIOS = 8

OUTSIDE_PER_OCTAVE = 0.002
"""Relative standard deviation that a standard gains per octave beyond its frequencies, on top of the change it
would have gone through at the slope of its last step."""


@dataclass(frozen=True)
class MeasuredStandards:
    """The ratios of the channels with known loads, as they were measured; None for those that were not.

    balance, open_leads, shorted_leads, resistor: channel 2 over channel 1; but `shorted_leads` in the wiring
        "sense" is channel 1 over channel 2 (exchange the channels before the ratio is formed), because
        channel 1 is almost nothing there
    resistor_ohm: value of the known resistor, ohm, > 0; needed where `resistor` is given
    resistor_uncertainty: relative standard deviation of that
    """

    balance: Ratio | None = None
    open_leads: Ratio | None = None
    shorted_leads: Ratio | None = None
    resistor: Ratio | None = None
    resistor_ohm: float = 0.0
    resistor_uncertainty: float = 0.01


def smoothed_standards(measured: MeasuredStandards, points: int = GRID_POINTS) -> JigStandards:
    """Return the standards as smooth functions on a few frequencies.

    points: frequencies of the grid, at least 4
    Raises ValueError where a ratio has fewer than 8 frequencies or the known resistor has no value.
    """
    resistor = None
    if measured.resistor is not None:
        if not measured.resistor_ohm > 0.0:
            raise ValueError("the known resistor needs its value in ohm")
        resistor = KnownResistor(
            measured.resistor_ohm, smoothed(measured.resistor, points), measured.resistor_uncertainty
        )
    balance, opened, shorted = (
        None if ratio is None else smoothed(ratio, points)
        for ratio in (measured.balance, measured.open_leads, measured.shorted_leads)
    )
    return JigStandards(balance, opened, shorted, resistor)


def smoothed(ratio: Ratio, points: int = GRID_POINTS) -> Standard:
    """Return the smooth function through a measured ratio: the cubic spline on the grid of least squares.

    points: frequencies of the grid, at least 4
    The standard deviation is that of the spline's values; it is raised where the spline leaves more than the
    noise. Holds for functions without features narrower than a step of the grid.
    """
    if ratio.frequency_hz.size < FEWEST_RATIOS:
        raise ValueError("a standard needs at least 8 frequencies")
    points = max(4, min(points, ratio.frequency_hz.size // 2))
    grid = np.geomspace(ratio.frequency_hz[0], ratio.frequency_hz[-1], points)
    basis = np.asarray(CubicSpline(np.log(grid), np.eye(points))(np.log(ratio.frequency_hz)))
    floor = max(1e-12 * float(np.abs(ratio.value).max()), 1e-15)
    weight = 1.0 / np.maximum(ratio.sigma, floor)
    inverse = np.linalg.pinv(basis * weight[:, None])
    value = inverse @ (ratio.value * weight)
    rest = np.abs((basis @ value - ratio.value) * weight) ** 2
    excess = float(np.sqrt(0.5 * rest.sum() / max(ratio.frequency_hz.size - points, 1)))
    sigma = np.sqrt(np.sum(inverse**2, axis=1)) * max(excess, 1.0)
    return Standard(
        tuple(float(x) for x in grid), tuple(complex(x) for x in value), tuple(float(x) for x in sigma)
    )


def standard_at(standard: Standard, frequency_hz: Reals) -> tuple[Complexes, Reals]:
    """Return value and standard deviation of a standard, both shape (n,).

    frequency_hz: shape (n,), > 0
    Between its frequencies a cubic spline over the logarithm of frequency (a straight line where there are fewer
    than four); beyond them the last value, with a standard deviation that grows with the distance.
    """
    position = np.log2(np.asarray(standard.frequency_hz))
    value = np.asarray(standard.value, dtype=np.complex128)
    wanted = np.log2(frequency_hz)
    inside = np.clip(wanted, position[0], position[-1])
    sigma = np.interp(inside, position, np.asarray(standard.sigma))
    if position.size >= 4:
        found = np.asarray(CubicSpline(position, value)(inside), dtype=np.complex128)
    else:
        found = np.interp(inside, position, value.real) + 1j * np.interp(inside, position, value.imag)
    beyond = np.abs(wanted - inside)
    if beyond.any():
        steps = np.abs(np.diff(value) / np.diff(position))
        per_octave = np.where(wanted < position[0], steps[0], steps[-1]) + OUTSIDE_PER_OCTAVE * np.abs(found)
        sigma = np.hypot(sigma, beyond * per_octave)
    return found, sigma
