"""The table of numbers of a result, as data."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sealtune.records.curve import Landmark
from sealtune.records.interval import Interval
from sealtune.records.verdict import Result
from sealtune.report.content import (
    change_words,
    clean,
    decimals_for,
    deviation_percent,
    hz_decimals,
    number,
    span,
)
from sealtune.report.remarks import fitted_together

LITRES = 1000.0
MILLIMETRES = 1000.0

LEAST_LEADS_OHM = 0.01
"""Leads and joints that may have less than this cannot be told from none."""


@dataclass(frozen=True)
class Row:
    """One line of the table: what, its value, its 95 % interval, the designed one, whether it stands out."""

    name: str
    value: str
    interval: str = ""
    designed: str = ""
    stands_out: bool = False


def scaled(interval: Interval, factor: float) -> Interval:
    """The interval in another unit: value and both ends times `factor` (> 0)."""
    return Interval(interval.value * factor, interval.low * factor, interval.high * factor)


def _signed(value: float) -> str:
    """A number with its sign and one decimal; "not known" where it is not finite."""
    return f"{value:+.1f}" if math.isfinite(value) else "not known"


def _about(value: float, spread: float, decimals: int, deviations: float = 1.96) -> str:
    """A designed value with its range of so many logarithmic standard deviations; 1.96 holds 95 %."""
    if not spread > 0.0:
        return number(value, decimals)
    factor = math.exp(deviations * min(spread, 10.0))
    low, high = number(value / factor, decimals), number(value * factor, decimals)
    return f"{number(value, decimals)} ({low} to {high})"


def _tuning_rows(result: Result) -> list[Row]:
    fit, prediction = result.fit, result.prediction
    designed = band = ""
    if prediction is not None:
        designed = (
            f"{number(prediction.target_hz, 1)} Hz "
            f"({number(prediction.low_hz, 1)} to {number(prediction.high_hz, 1)})"
        )
        if prediction.target_hz > 0.0:
            low, high = (
                100.0 * (edge / prediction.target_hz - 1.0)
                for edge in (prediction.low_hz, prediction.high_hz)
            )
            band = f"{_signed(low)} to {_signed(high)} %"
    if fit is None:
        return [Row("Tuning", "not known", "", designed)]
    tuning = fit.tuning_hz
    places = hz_decimals(tuning)
    outside = prediction is not None and not prediction.low_hz <= tuning.value <= prediction.high_hz
    rows = [Row("Tuning", f"{number(tuning.value, places)} Hz", span(tuning, places), designed, outside)]
    deviation = deviation_percent(result)
    if deviation is not None and prediction is not None:
        low, high = (100.0 * (edge / prediction.target_hz - 1.0) for edge in (tuning.low, tuning.high))
        rows.append(
            Row(
                "Deviation from the design",
                f"{_signed(deviation)} %",
                f"{_signed(low)} to {_signed(high)}",
                band,
                outside,
            )
        )
    return rows


def _box_rows(result: Result) -> list[Row]:
    fit, prediction, design = result.fit, result.prediction, result.design
    rows: list[Row] = []
    if fit is not None:
        places = min(1, decimals_for(fit.box_q))
        typical = _about(prediction.box_q, prediction.box_q_spread, 0, 1.645) if prediction else ""
        low = prediction is not None and fit.box_q.high < prediction.box_q * math.exp(
            -1.645 * prediction.box_q_spread
        )
        rows.append(Row("Box Q", number(fit.box_q.value, places), span(fit.box_q, places), typical, low))
        ratio = ""
        if prediction is not None and prediction.compliance_ratio is not None:
            ratio = _about(prediction.compliance_ratio, prediction.compliance_spread, 2)
        rows.append(
            Row(
                "Compliance ratio",
                number(fit.compliance_ratio.value, 2),
                span(fit.compliance_ratio, 2),
                ratio,
            )
        )
    if result.volume_m3 is not None:
        litres = scaled(result.volume_m3, LITRES)
        meant = f"{number(design.box.volume_m3 * LITRES, 1)} litres" if design else ""
        rows.append(Row("Net volume", f"{number(litres.value, 1)} litres", span(litres, 1), meant))
    if result.effective_length_m is not None:
        meant = ""
        if prediction is not None and prediction.effective_length_m is not None:
            meant = f"{number(prediction.effective_length_m * MILLIMETRES, 0)} mm"
        measured = f"{number(result.effective_length_m * MILLIMETRES, 0)} mm"
        rows.append(Row("Vent length, end corrections included", measured, "", meant))
    if result.length_change_m is not None and result.leak.probability < 0.5:
        words, _, ends = change_words(result.length_change_m).partition(" (")
        rows.append(Row("Vent length to reach the design", words, ends.removesuffix(")"), "", True))
    if result.leak.area_mm2 is not None:
        area = result.leak.area_mm2
        places = min(1, decimals_for(area))
        rows.append(
            Row(
                "Leak, open area",
                f"{number(area.value, places)} mm²",
                span(area, places),
                "",
                result.leak.probability >= 0.5,
            )
        )
    return rows


def _curve_rows(result: Result) -> list[Row]:
    marks = result.landmarks
    if marks is None:
        return []

    def at(mark: Landmark) -> str:
        return f"{number(mark.hz, 1)} Hz, {number(mark.ohm, 1)} Ω"

    if marks.lower is not None and marks.saddle is not None and marks.upper is not None:
        return [
            Row("Lower peak", at(marks.lower)),
            Row("Saddle", at(marks.saddle)),
            Row("Upper peak", at(marks.upper)),
        ]
    if not marks.peaks:
        return [Row("Peaks", "none")]
    return [Row(f"Peak {place}", at(peak)) for place, peak in enumerate(marks.peaks[:4], start=1)]


def _series_row(result: Result) -> list[Row]:
    """The resistance of leads and joints, where the driver's own curve told it."""
    series = result.fit.series_ohm if result.fit is not None else None
    if series is None:
        return []
    if series.low < LEAST_LEADS_OHM:  # a logarithm's interval reaches down for ever
        return [Row("Resistance of leads and joints", f"at most {number(series.high, 2)} Ω")]
    return [Row("Resistance of leads and joints", f"{number(series.value, 2)} Ω", span(series, 2))]


def _driver_rows(result: Result) -> list[Row]:
    fit = result.fit
    if fit is None:
        return []
    driver = result.design.driver if result.design else None
    wiring = {"single": 1.0, "parallel": 1.0, "series": 1.0}
    factor = 1.0
    if driver is not None:
        wiring = {"single": 1.0, "parallel": 1.0 / max(driver.count, 1), "series": float(driver.count)}
        factor = wiring[driver.wiring]

    def meant(value: float | None, decimals: int, unit: str = "", times: float = 1.0) -> str:
        return "" if value is None else f"{number(value * times, decimals)}{unit}"

    places = hz_decimals(fit.fs_hz)
    return [
        Row(
            "Driver resonance",
            f"{number(fit.fs_hz.value, places)} Hz",
            span(fit.fs_hz, places),
            meant(driver.fs_hz, 1, " Hz") if driver else "",
        ),
        Row("Driver Q, mechanical", number(fit.qms, 2), "", meant(driver.qms, 2) if driver else ""),
        Row("Driver Q, electrical", number(fit.qes, 2), "", meant(driver.qes, 2) if driver else ""),
        Row(
            "Resistance at direct current",
            f"{number(fit.re_ohm, 2)} Ω",
            "",
            meant(driver.re_ohm, 2, " Ω", factor) if driver else "",
        ),
        *_series_row(result),
        Row("Suspension creep", number(fit.creep, 2)),
    ]


def rows(result: Result) -> tuple[Row, ...]:
    """The table of numbers: tuning, box, curve and driver, as far as they are known.

    result: any result, however incomplete
    returns: at least one row; values in the units of the workshop (Hz, litres, mm, ohm)
    """
    return tuple(_tuning_rows(result) + _box_rows(result) + _curve_rows(result) + _driver_rows(result))


def quality_rows(result: Result) -> tuple[Row, ...]:
    """How far the recording can be trusted, in words and numbers."""
    found: list[Row] = []
    fit, curve = result.fit, result.curve
    if curve is not None and curve.frequency_hz.size:
        low, high = float(curve.frequency_hz[0]), float(curve.frequency_hz[-1])
        found.append(
            Row(
                "Measured band",
                f"{number(low, 1)} to {number(high, 0)} Hz",
                f"{curve.frequency_hz.size} points",
            )
        )
    if result.jig_words:
        wired, _, corrected = clean(result.jig_words).partition(": ")
        found.append(Row("Jig", wired, corrected))
    used, left_out = fitted_together(result)
    if used:
        found.append(Row("Fitted together", used, left_out))
    if fit is not None:
        noise = 100.0 * fit.noise
        words = (
            "quiet" if noise < 0.5 else "some noise" if noise < 3.0 else "noisy: take the numbers with care"
        )
        found.append(Row("Noise", f"{number(noise, 2)} %", words))
        residual = 100.0 * fit.residual
        words = (
            "close" if residual < 3.0 else "fair" if residual < 8.0 else "poor: take the numbers with care"
        )
        found.append(Row("Distance of the fitted curve", f"{number(residual, 1)} %", words))
        found.append(Row("Fitted band", f"{number(fit.band_hz[0], 1)} to {number(fit.band_hz[1], 0)} Hz", ""))
        if fit.closed_box_misfit < 100.0:
            worse = f"{number(fit.closed_box_misfit, 0)} times worse"
        else:
            worse = "over 100 times worse"
        found.append(Row("A box without a vent would fit", worse, ""))
        if not fit.converged:
            found.append(
                Row("Search for the best fit", "did not settle", "take the numbers with care", "", True)
            )
    if result.skipped_lines:
        found.append(
            Row(
                "Lines of the table passed over", str(result.skipped_lines), "they do not begin with a number"
            )
        )
    return tuple(found)
