"""From the ratio of two channels to an impedance curve, and what of the jig remains unknown.

A jig of linear parts turns the impedance Z into the ratio of its channels by a bilinear function. With the gain g
of channel 2 over channel 1, the reference resistor R, the admittance Y of the inputs beside the box and the
resistance r of the leads, in units of R:

    a = g/m - 1 (divider), a = m/g (sense): the admittance beyond the reference, m = channel 2 over channel 1
    w = 1 / (a - R Y),  Z = R w - r

The open leads give R Y, the shorted ones r, a known resistor gives R, both inputs on one point give g; the open
divider gives g without its loading. With open, short and resistor g drops out, and Z is the cross-ratio
R0 (m - m_s)(m_o - m_r) / ((m_o - m)(m_r - m_s)). What was not measured is taken as in an ideal jig (g = 1, Y = 0,
r = 0, R as marked) and its uncertainty becomes a row of `ImpedanceCurve.jig_slopes_ohm`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.jig_standards import standard_at
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Jig, JigStandards, Standard
from sealtune.signals.transfer_function import Ratio

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

GAIN_UNCERTAINTY = 0.006
"""Relative standard deviation of one input's gain against the other's, 0.05 dB, not calibrated (common practice)."""

GAIN_DRIFT = 0.0005
"""The same between calibration and measurement, 0.004 dB (common practice for one sound card left switched on)."""

DRIFT_IN_TAKE = 0.0058
"""The same from the begin of a sweep to its end, 0.05 dB (own judgement: inputs that are warm drift by thousandths of
a dB in some seconds; a plug or clip that settles, by some hundredths)."""

LEADS_OHM = 0.03
"""Standard deviation of the resistance of leads and clips, not calibrated: 1 m of 1.5 mm2 both ways has 0.023 ohm,
a clip some thousandths (common practice)."""

CONTACT_OHM = 0.005
"""The same of clips taken off and put on again after the calibration (common practice)."""

LOADING_S = 6e-5
"""Standard deviation of the inputs' conductance beside the box, not calibrated: line inputs have 10 kohm (1e-4 S) or
more, instrument inputs 1 Mohm; the root mean square of a uniform spread from 0 to 1e-4 S (common practice)."""

SMALLEST_DIVIDER = 1e-9
SMALLEST_SENSE = 1e-12


@dataclass(frozen=True)
class _Loads:
    """The standards on the curve's frequencies; value and standard deviation, None for those not measured."""

    balance: tuple[Complexes, Reals] | None
    open_leads: tuple[Complexes, Reals] | None
    short: tuple[Complexes, Reals] | None
    resistor: tuple[Complexes, Reals] | None
    resistor_ohm: float

    @classmethod
    def on(cls, frequency_hz: Reals, standards: JigStandards | None) -> _Loads:
        def at(standard: Standard | None) -> tuple[Complexes, Reals] | None:
            return None if standard is None else standard_at(standard, frequency_hz)

        known = standards or JigStandards()
        resistor = known.resistor
        return cls(
            at(known.balance),
            at(known.open_leads),
            at(known.shorted_leads),
            at(None if resistor is None else resistor.measured),
            1.0 if resistor is None else resistor.ohm,
        )


@dataclass(frozen=True)
class _Bilinear:
    """w = (A m + B) / (C m + D), from the ratio m = channel 2 over channel 1 to the load over R."""

    a: float
    b: Complexes
    c: Complexes
    d: Complexes
    smallest: float

    @classmethod
    def of(cls, wiring: str, gain: Complexes, loads: _Loads) -> _Bilinear:
        one = np.ones_like(gain)
        opened = 0.0 * one if loads.open_leads is None else loads.open_leads[0]
        if wiring == "sense":
            return cls(0.0, gain, one, -opened, SMALLEST_SENSE)
        return cls(
            1.0, 0.0 * one, -one if loads.open_leads is None else -gain / opened, gain, SMALLEST_DIVIDER
        )

    def at(self, m: Complexes) -> tuple[Complexes, Complexes]:
        """Return w and dw/dm for channel 2 over channel 1."""
        below = self.c * m + self.d
        below = np.where(np.abs(below) < self.smallest, self.smallest + 0j, below)
        return (self.a * m + self.b) / below, (self.a * self.d - self.b * self.c) / below**2

    def at_reciprocal(self, m: Complexes) -> tuple[Complexes, Complexes]:
        """Return w and dw/dm for channel 1 over channel 2."""
        below = self.c + self.d * m
        return (self.a + self.b * m) / below, (self.b * self.c - self.a * self.d) / below**2


def impedance_curve(ratio: Ratio, jig: Jig) -> ImpedanceCurve:
    """Return the impedance from the ratio of channel 2 to channel 1, corrected by the known loads of the jig.

    The noise of the ratio and that of the standards make `sigma_ohm`. The rows of `jig_slopes_ohm`, each one
    standard deviation, are in this order, those without any effect left out: gain (not calibrated), gain drift
    (since the calibration), scale (reference or known resistor), leads (no short), contact (since short or
    resistor), loading (no open), drift of the gain while the sweep ran (where it is known when which frequency was
    played; `drift_row` points to it).
    """
    m = ratio.value
    loads = _Loads.on(ratio.frequency_hz, jig.standards)
    gain = np.ones_like(m)
    if loads.balance is not None:
        gain = loads.balance[0]
    elif jig.wiring == "divider" and loads.open_leads is not None:
        gain = loads.open_leads[0]
    bilinear = _Bilinear.of(jig.wiring, gain, loads)
    w, dw = bilinear.at(m)
    short, dshort, known, dknown = _read_standards(bilinear, jig, loads)
    span = known - short
    scale_ohm = jig.reference_ohm if loads.resistor is None else loads.resistor_ohm / span
    z = np.asarray(scale_ohm * (w - short), dtype=np.complex128)
    # relative change of Z by a change of all w: by a factor 1 + w for the gain of a divider, by w for the loading
    bend = w + short if loads.resistor is None else w - known
    stretch = 1.0 + bend if loads.resistor is None else bend

    by_ratio = np.asarray(scale_ohm * dw * m)
    rows = _rows(jig, loads, z, scale_ohm, bend, stretch, by_ratio)
    drift_row, lag_ohm, played = None, None, ratio.played
    if played is not None:
        drift_row = rows.shape[0]
        rows = np.concatenate([rows, DRIFT_IN_TAKE * (played.when * by_ratio)[None, :]])
        lag_ohm = np.asarray(-2j * np.pi * ratio.frequency_hz * played.sample_s * by_ratio)
    variance = (np.abs(scale_ohm * dw) * ratio.sigma) ** 2
    if loads.short is not None:
        share = 1.0 if loads.resistor is None else 1.0 - z / loads.resistor_ohm
        variance = variance + (np.abs(scale_ohm * share * dshort) * loads.short[1]) ** 2
    if loads.resistor is not None:
        variance = variance + (np.abs(z / span * dknown) * loads.resistor[1]) ** 2
    variance = variance + _noise_of_open_and_balance(jig, loads, z, gain, bend, stretch)
    sigma = np.maximum(np.sqrt(variance), 1e-6 * np.abs(z))
    sigma = np.maximum(sigma, 1e-9)
    rate_s, sample_s = (None, None) if played is None else (played.rate_s, played.sample_s)
    return ImpedanceCurve(
        ratio.frequency_hz, z, sigma,
        jig_slopes_ohm=rows, drift_row=drift_row, lag_ohm=lag_ohm, sweep_rate_s=rate_s, sample_s=sample_s,
    )  # fmt: skip


def correction_in_words(jig: Jig) -> str:
    """Say which known loads correct the jig, for the report."""
    known = jig.standards or JigStandards()
    loads = [
        words
        for words, standard in (
            ("both inputs on one point", known.balance),
            ("leads open", known.open_leads),
            ("leads shorted", known.shorted_leads),
        )
        if standard is not None
    ]
    if known.resistor is not None:
        loads.append(f"a resistor of {known.resistor.ohm:g} ohm")
    if not loads:
        return "not corrected by known loads"
    last = loads[-1] if len(loads) == 1 else f"{', '.join(loads[:-1])} and {loads[-1]}"
    return f"corrected by {last}"


def _read_standards(
    bilinear: _Bilinear, jig: Jig, loads: _Loads
) -> tuple[Complexes, Complexes, Complexes, Complexes]:
    """Return w and its derivative for the shorted leads and for the known resistor; 0 where not measured."""
    nothing = np.zeros_like(bilinear.c)
    short = dshort = known = dknown = nothing
    if loads.short is not None:
        reading = bilinear.at_reciprocal if jig.wiring == "sense" else bilinear.at
        short, dshort = reading(loads.short[0])
    if loads.resistor is not None:
        known, dknown = bilinear.at(loads.resistor[0])
    return short, dshort, known, dknown


def _rows(
    jig: Jig,
    loads: _Loads,
    z: Complexes,
    scale_ohm: Complexes | float,
    bend: Complexes,
    stretch: Complexes,
    by_ratio: Complexes,
) -> Complexes:
    """Return the change of Z per standard deviation of each unknown that is left, shape (k, n)."""
    divider, with_resistor = jig.wiring == "divider", loads.resistor is not None
    rows: list[Complexes] = []
    gain_known = loads.balance is not None or (loads.open_leads is not None if divider else with_resistor)
    if not gain_known:
        rows.append(GAIN_UNCERTAINTY * (z * stretch if divider else -z))
    if gain_known or with_resistor:
        rows.append(GAIN_DRIFT * by_ratio)
    if with_resistor:
        resistor = jig.standards.resistor if jig.standards is not None else None
        scale = 0.0 if resistor is None else resistor.uncertainty
    else:
        loading_as_gain = divider and loads.open_leads is not None and loads.balance is None
        scale = float(np.hypot(jig.reference_uncertainty, jig.reference_ohm * LOADING_S * loading_as_gain))
    rows.append(scale * z)
    if loads.short is None:
        rows.append(LEADS_OHM * (1.0 - z / loads.resistor_ohm if with_resistor else np.ones_like(z)))
    if loads.short is not None or with_resistor:
        rows.append(CONTACT_OHM * np.ones_like(z))
    if loads.open_leads is None:
        rows.append(-LOADING_S * scale_ohm * z * bend)
    return np.stack([row for row in rows if np.any(row)])


def _noise_of_open_and_balance(
    jig: Jig, loads: _Loads, z: Complexes, gain: Complexes, bend: Complexes, stretch: Complexes
) -> Reals:
    """Return the variance of the real part of Z from the noise of these two standards, ohm^2."""
    divider, with_resistor = jig.wiring == "divider", loads.resistor is not None
    variance = np.zeros(z.shape)
    if loads.open_leads is not None:
        value, sigma = loads.open_leads
        if not divider:
            by_open = z * bend / gain
        elif loads.balance is None:
            by_open = z * stretch / value
        else:
            by_open = z * bend * gain / value**2
        variance = variance + (np.abs(by_open) * sigma) ** 2
    if loads.balance is not None:
        by_gain = np.zeros_like(z) if with_resistor else z
        if divider and loads.open_leads is None:
            by_gain = z * stretch
        variance = variance + (np.abs(by_gain / gain) * loads.balance[1]) ** 2
    return np.asarray(variance)
