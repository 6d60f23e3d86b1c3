"""What makes an impedance curve unfit for a verdict: noise, too few points, a cut band, columns misread."""

from __future__ import annotations

import numpy as np

from sealtune.analysis.phase_faults import phase_problems
from sealtune.records.curve import ImpedanceCurve, Landmarks
from sealtune.records.verdict import Problem

NOISY = 0.05
"""Median noise over |Z| above which no fit is trusted."""

NEGATIVE_SHARE = 0.1
"""A passive load has no negative resistance; measurement error makes it seem so at a few points at most."""

POINTS_PER_OCTAVE = 8.0
"""A resonance of Q = 5 to 10 is narrower than a quarter of an octave and wants at least two points across it."""

GAP_RATIO = 1.25
"""A third of an octave without a point hides a resonance."""

GAP_HZ = (12.0, 160.0)
"""Where boxes have their peaks, and a gap may hide one."""

CENTRE_HZ = (8.0, 300.0)
"""Where the resonances of vented boxes lie."""

EDGE = 1.1
"""A sweep that begins at CENTRE_HZ has its first point a little above."""

FEWEST_POINTS = 6

FALLING = 0.24
"""Fall of ln|Z| over ln f at the beginning of the band that only a peak below it explains: below the lowest peak the
magnitude rises."""

HEAD, CAPACITIVE = 0.25, (0.5, 45.0)
"""Beginning of the band in ln f, and fall of ln|Z| over ln f and lag in degrees there that only a capacitor has."""

PEAKS_APART = 6.0
"""The two peaks of a vented box lie 2 to 5 times apart, by its compliance ratio [Small1973]."""

HIDES_A_PEAK = 0.03
"""Noise over |Z|, exceeded in a tenth of the band, in which a flat second peak would not stand out."""


def is_passive(curve: ImpedanceCurve) -> bool:
    """Return whether the real part is positive within its noise at nearly all frequencies."""
    negative = curve.impedance_ohm.real < -3.0 * curve.sigma_ohm - 1e-3 * np.abs(curve.impedance_ohm)
    return float(np.mean(negative)) < NEGATIVE_SHARE


def _negative_resistance() -> Problem:
    return Problem(
        "not_impedance",
        "The resistance is below zero over a part of the band, which no loudspeaker has.",
        "Check the columns of the table (frequency, ohms, phase in degrees), or the wiring of the jig.",
    )


def curve_problems(curve: ImpedanceCurve, landmarks: Landmarks) -> list[Problem]:
    """Return what makes the curve unfit, gravest first; `noisy` and `too_coarse` may leave the result standing."""
    problems: list[Problem] = []
    z = curve.impedance_ohm
    if not is_passive(curve):
        return [_negative_resistance()]
    lowest, highest = float(curve.frequency_hz[0]), float(curve.frequency_hz[-1])
    centre = (curve.frequency_hz > CENTRE_HZ[0]) & (curve.frequency_hz < CENTRE_HZ[1])
    if centre.sum() < FEWEST_POINTS:
        few = curve.frequency_hz.size < 2 * FEWEST_POINTS
        end = ", as if the frequency were in kHz." if highest < 30.0 and not few else "."
        return [
            Problem(
                "too_coarse" if few else "band_too_narrow",
                f"There are {int(centre.sum())} points between 8 and 300 Hz{end}",
                "Measure from 8 to 300 Hz or wider, with at least 24 points per octave.",
            )
        ]
    capacitor = _capacitor_in_series(curve)
    if capacitor is not None:
        return [capacitor]
    coarse = _gap(curve) or _coarse(curve, landmarks)
    if coarse:  # then neither noise nor a cut band can be read from the points
        return [Problem("too_coarse", coarse, "Measure with at least 24 points per octave and no gap.")]
    share = curve.sigma_ohm[centre] / np.abs(z[centre])
    noise, rough = float(np.median(share)), float(np.percentile(share, 90))
    if noise > NOISY or (len(landmarks.peaks) == 1 and rough > HIDES_A_PEAK):
        problems.append(
            Problem(
                "noisy",
                f"The noise is {100 * rough:.0f} % of the impedance in parts of the band.",
                "Raise the level (peaks at -20 to -6 dB of full scale), keep the cables away from mains leads, and "
                "use a longer sweep.",
            )
        )
    cut = _cut_band(curve, landmarks)
    if cut:
        problems.append(
            Problem(
                "band_too_narrow",
                f"The curve runs from {lowest:.0f} to {highest:.0f} Hz; {cut}.",
                "Measure from 8 Hz or lower to 300 Hz or higher.",
            )
        )
    return problems or phase_problems(curve)


def _capacitor_in_series(curve: ImpedanceCurve) -> Problem | None:
    """Return the problem of a capacitor before the driver, None where the curve begins too high to tell, or has none.

    Below its lowest peak a driver is a resistance and the suspension's inductance; only a capacitor lets the
    impedance fall there, with a phase towards -90 degrees.
    """
    hz, z = curve.frequency_hz, curve.impedance_ohm
    head = hz <= hz[0] * np.exp(HEAD)
    if hz[0] > CENTRE_HZ[0] or head.sum() < 3:
        return None
    slope = float(np.polyfit(np.log(hz[head]), np.log(np.abs(z[head])), 1)[0])
    if slope > -CAPACITIVE[0] or float(np.median(np.angle(z[head], deg=True))) > -CAPACITIVE[1]:
        return None
    farad = float(np.median(-1.0 / (2.0 * np.pi * hz[head] * z[head].imag)))
    return Problem(
        "not_impedance",
        f"A capacitor of about {1e6 * farad:.0f} uF lies in series with the driver, as in a crossover: below the "
        "peaks the impedance falls, and its phase is near -90 degrees.",
        "Measure at the driver's own terminals, with the crossover disconnected.",
    )


def companion_problems(curve: ImpedanceCurve) -> list[Problem]:
    """Return what makes a curve unfit to be fitted beside the open vent's: it is no impedance, or has no points."""
    if not is_passive(curve):
        return [_negative_resistance()]
    centre = (curve.frequency_hz > CENTRE_HZ[0]) & (curve.frequency_hz < CENTRE_HZ[1])
    octaves = np.log2(CENTRE_HZ[1] / CENTRE_HZ[0])
    if centre.sum() < POINTS_PER_OCTAVE * octaves:
        return [
            Problem(
                "too_coarse",
                f"There are only {int(centre.sum())} points between 8 and 300 Hz.",
                "Measure from 8 to 300 Hz or wider, with at least 24 points per octave.",
            )
        ]
    return []


def _gap(curve: ImpedanceCurve) -> str:
    """Return in words where points are missing that lie close elsewhere, empty if nowhere."""
    points = curve.frequency_hz[(curve.frequency_hz > GAP_HZ[0]) & (curve.frequency_hz < GAP_HZ[1])]
    steps = np.diff(np.log(points))
    if steps.size == 0 or steps.max() < max(np.log(GAP_RATIO), 3.0 * float(np.median(steps))):
        return ""
    widest = int(np.argmax(steps))
    return f"There is no point between {points[widest]:.0f} and {points[widest + 1]:.0f} Hz."


def _coarse(curve: ImpedanceCurve, landmarks: Landmarks) -> str:
    """Return in words where points are missing around the peaks, empty if nowhere."""
    hz = curve.frequency_hz
    first, last = (landmarks.peaks[0].hz, landmarks.peaks[-1].hz) if landmarks.peaks else (hz[0], hz[-1])
    part = hz[(hz >= first / 1.4) & (hz <= last * 1.4)]
    if part.size < 2 or (part.size - 1) / np.log2(part[-1] / part[0]) < POINTS_PER_OCTAVE:
        return (
            f"There are only {part.size} points around the peaks, {first / 1.4:.0f} to {last * 1.4:.0f} Hz."
        )
    return ""


def _cut_band(curve: ImpedanceCurve, landmarks: Landmarks) -> str:
    """Return in words which peak the band leaves out, empty if none."""
    lowest, highest = float(curve.frequency_hz[0]), float(curve.frequency_hz[-1])
    size = np.abs(curve.impedance_ohm)
    log_f = np.log(curve.frequency_hz)
    head = log_f <= log_f[0] + 0.25
    floor = float(np.percentile(size, 10))
    if lowest > 8.0 and head.sum() >= 3:
        slope = float(np.polyfit(log_f[head], np.log(size[head]), 1)[0])
        if slope < -FALLING and size[head][0] > 1.3 * floor:
            return "it falls from its very beginning, so a peak lies below"
    if landmarks.lower is not None and lowest > landmarks.lower.hz / 1.25:
        return "it begins too close to the lower peak"
    if landmarks.peaks and landmarks.lower is None:  # ripples beside the one peak are no second one
        peak = max(landmarks.peaks, key=lambda one: one.ohm).hz
        if highest < CENTRE_HZ[1]:
            return "there is one peak, and the other may lie above"
        if lowest > max(peak / PEAKS_APART, EDGE * CENTRE_HZ[0]):
            return "there is one peak, and the other may lie below"
    if not landmarks.peaks and highest < CENTRE_HZ[1]:
        return "there is no peak yet, and both may lie above"
    if landmarks.upper is not None and highest < landmarks.upper.hz * 1.25:
        return "it ends too close to the upper peak"
    return ""
