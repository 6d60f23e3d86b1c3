"""What the tolerances of a design make of its tuning and of the curve to expect."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi

import numpy as np
from numpy.typing import NDArray

from sealtune.design.designed_speaker import DesignedSpeaker
from sealtune.design.expected_curve import landmarks
from sealtune.physics.air import moist_air
from sealtune.physics.vent import helmholtz_hz, vent_ends_m
from sealtune.physics.vent_opening import widened
from sealtune.records.design import Design
from sealtune.records.plan import Cause, Expected, Toleranced

Reals = NDArray[np.float64]

DRAWS = 10_000
SEED = 1

END_CORRECTION_SPREAD = 0.015
"""Standard deviation of the tuning for what end corrections leave open, relative (common practice)."""

BOX_Q_SPREAD = 0.25
"""Standard deviation of the logarithm of the total Q among sealed boxes of one design: what the losses of
`design.losses` differ by, each by a third to a half (our own judgement, see docs/decisions/0010)."""

_SMALL_STEP = 0.02
"""Standard deviations that a quantity is moved for its derivative."""


@dataclass(frozen=True)
class Model:
    """How tuning and curve follow from what may be off; all spreads are standard deviations.

    causes: what may be off, the rows of the deviations given to `outcome`
    speaker: None where the driver is not known well enough for a curve
    """

    design: Design
    speaker: DesignedSpeaker | None
    target_hz: float
    causes: tuple[Cause, ...]

    def outcome(self, deviation: Reals) -> dict[Expected, Reals]:
        """Return the quantities, each of shape (n,), in the units of their names.

        deviation: standard normal, shape (causes, n)
        """
        off = dict(zip(self.causes, deviation, strict=True))
        still = np.zeros(deviation.shape[1])
        box = self.design.box
        volume = box.volume_m3 * np.exp(0.5 * box.volume_tolerance * off.get("volume", still))
        found: dict[Expected, Reals] = {}
        tuning = np.full(deviation.shape[1], self.target_hz)
        if self.design.vent is not None:
            tuning = found["tuning_hz"] = self._tuning_hz(volume, off, still)
        driver = None if self.speaker is None else self.speaker.driver
        if self.speaker is None or driver is None or driver.vas_m3 is None:
            return found
        alpha = driver.vas_m3 * np.exp(driver.vas_tolerance * off["driver V_AS"]) / volume
        found["compliance_ratio"] = alpha
        if driver.re_ohm is None:
            return found
        circuit, losses = self.speaker.circuit, np.exp(-BOX_Q_SPREAD * off["box losses"])
        boxes = replace(
            circuit,
            ws_rad_s=circuit.ws_rad_s * np.exp(driver.fs_tolerance * off["driver f_S"]),
            qms=circuit.qms * np.exp(driver.qms_tolerance * off["driver Q_MS"]),
            qes=circuit.qes * np.exp(driver.qes_tolerance * off["driver Q_ES"]),
            alpha=alpha,
            wb_rad_s=2.0 * pi * tuning,
            leakage=circuit.leakage * losses,
            friction=circuit.friction * losses,
            absorption=circuit.absorption * losses,
        )
        w, ohm = landmarks(
            boxes, driver.re_ohm * np.exp(driver.re_tolerance * off["driver R_E"]), self.design.crossover
        )
        hz = w / (2.0 * pi)
        found |= {"lower_peak_hz": hz[0], "saddle_hz": hz[1], "upper_peak_hz": hz[2]}
        found |= {"lower_peak_ohm": ohm[0], "saddle_ohm": ohm[1], "upper_peak_ohm": ohm[2]}
        return found

    def _tuning_hz(self, volume_m3: Reals, off: dict[Cause, Reals], still: Reals) -> Reals:
        vent, climate = self.design.vent, self.design.climate
        assert vent is not None
        length = np.maximum(vent.length_m + 0.5 * vent.length_tolerance_m * off["vent length"], 0.0)
        wider = 0.5 * vent.size_tolerance_m * off["vent opening"]
        # area and ends follow the opening smoothly: five openings tell them for all
        grid = 0.5 * vent.size_tolerance_m * np.linspace(-5.0, 5.0, 5)
        vents = [widened(vent, by) for by in grid]
        ends = [vent_ends_m(one, self.design.box) for one in vents]
        scale = max(vent.size_tolerance_m, 1e-12)

        def at(values: list[float]) -> Reals:
            return np.asarray(
                np.polyval(np.polyfit(grid / scale, values, 3), wider / scale), dtype=np.float64
            )

        area = vent.count * at([one.area_m2 for one in vents])
        kelvin = 0.5 * climate.temperature_tolerance_k * off["temperature"]
        warm, cold = (
            moist_air(climate.temperature_c + by, climate.humidity, climate.pressure_pa).speed_m_s
            for by in (1.0, -1.0)
        )
        speed = 0.5 * (warm + cold) + 0.5 * (warm - cold) * kelvin
        inner, outer = at([one[0] for one in ends]), at([one[1] for one in ends])
        hz = helmholtz_hz(speed, area, length, inner, outer, volume_m3)
        return np.asarray(hz * np.exp(END_CORRECTION_SPREAD * off["end corrections"]))


def model_of(design: Design, speaker: DesignedSpeaker | None, target_hz: float) -> Model:
    """Return the model of a design, with the causes that count for it."""
    causes: list[Cause] = ["volume"]
    if design.vent is not None:
        causes += ["vent length", "vent opening", "end corrections", "temperature"]
    if speaker is not None:
        causes.append("driver V_AS")
        if speaker.driver.re_ohm is not None:
            causes += ["driver f_S", "driver Q_MS", "driver Q_ES", "driver R_E", "box losses"]
    return Model(design, speaker, target_hz, tuple(causes))


def toleranced(model: Model, draws: int = DRAWS, seed: int = SEED) -> dict[Expected, Toleranced]:
    """Return each quantity with what the tolerances make of it, by first order [GUM] and by random draws.

    The tolerances of volume, length, opening and temperature count as 95 % bounds, those of the driver as standard
    deviations. All are taken as normal and as independent of one another; f_S and V_AS of one driver are not: its
    suspension moves both. The intervals of the peaks are rather too wide for that.
    """
    count = len(model.causes)
    drawn = model.outcome(np.random.default_rng(seed).standard_normal((count, draws)))
    found: dict[Expected, Toleranced] = {}
    for name, (value, slope) in _first_order(model).items():
        variance = float(slope @ slope)
        shares = [
            (cause, float(one**2 / variance) if variance else 0.0)
            for cause, one in zip(model.causes, slope, strict=True)
        ]
        low, high = np.quantile(drawn[name], (0.025, 0.975))
        found[name] = Toleranced(
            value=value,
            low=float(low),
            high=float(high),
            linear_spread=float(np.sqrt(variance)),
            drawn_spread=float(np.std(np.log(drawn[name]))),
            shares=tuple(sorted(shares, key=lambda pair: -pair[1])),
        )
    return found


def tuning_spread(design: Design) -> float:
    """Return the standard deviation of ln f_B by box and vent, to first order; 0 without a vent."""
    if design.vent is None:
        return 0.0
    _, slope = _first_order(model_of(design, None, 0.0))["tuning_hz"]
    return float(np.linalg.norm(slope))


def _first_order(model: Model) -> dict[Expected, tuple[float, Reals]]:
    """Return each quantity and the slope of its logarithm by each cause's standard deviation, shape (causes,)."""
    count = len(model.causes)
    stated = model.outcome(np.zeros((count, 1)))
    moved = model.outcome(_SMALL_STEP * np.hstack([np.eye(count), -np.eye(count)]))
    return {
        name: (float(value[0]), np.log(moved[name][:count] / moved[name][count:]) / (2.0 * _SMALL_STEP))
        for name, value in stated.items()
    }
