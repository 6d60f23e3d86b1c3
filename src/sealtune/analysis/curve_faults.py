"""What makes an impedance curve unfit for a verdict: noise, too few points, a cut band, columns misread."""

from __future__ import annotations

import numpy as np

from sealtune.records.curve import ImpedanceCurve, Landmarks
from sealtune.records.verdict import Problem

NOISY = 0.05
"""Median noise over |Z| above which no fit is trusted."""

NEGATIVE_SHARE = 0.1
"""A passive load has no negative resistance; measurement error makes it seem so at a few points at most."""

POINTS_PER_OCTAVE = 8.0
"""A resonance of Q = 5 to 10 is narrower than a quarter of an octave and wants at least two points across it."""

FINAL_SLOPE = 0.06


def is_passive(curve: ImpedanceCurve) -> bool:
    """Return whether the real part is positive within its noise at nearly all frequencies."""
    negative = curve.impedance_ohm.real < -3.0 * curve.sigma_ohm - 1e-3 * np.abs(curve.impedance_ohm)
    return float(np.mean(negative)) < NEGATIVE_SHARE


def curve_problems(curve: ImpedanceCurve, landmarks: Landmarks) -> list[Problem]:
    """Return what makes the curve unfit, gravest first; `noisy` and `too_coarse` may leave the result standing."""
    problems: list[Problem] = []
    z = curve.impedance_ohm
    if not is_passive(curve):
        return [
            Problem(
                "not_impedance",
                "The resistance is below zero over a part of the band, which no loudspeaker has.",
                "Check the columns of the table (frequency, ohms, phase in degrees), or the wiring of the jig.",
            )
        ]
    centre = (curve.frequency_hz > 8.0) & (curve.frequency_hz < 300.0)
    if centre.sum() < 6:
        return [
            Problem(
                "too_coarse" if curve.frequency_hz.size < 12 else "band_too_narrow",
                f"There are {int(centre.sum())} points between 8 and 300 Hz.",
                "Measure from 8 to 300 Hz or wider, with at least 24 points per octave.",
            )
        ]
    noise = float(np.median(curve.sigma_ohm[centre] / np.abs(z[centre])))
    if noise > NOISY:
        problems.append(
            Problem(
                "noisy",
                f"The noise is {100 * noise:.0f} % of the impedance.",
                "Raise the level (peaks at -20 to -6 dB of full scale), keep the cables away from mains leads, and use a "
                "longer sweep.",
            )
        )
    lowest, highest = float(curve.frequency_hz[0]), float(curve.frequency_hz[-1])
    cut = _cut_band(curve, landmarks)
    if cut:
        problems.append(
            Problem(
                "band_too_narrow",
                f"The curve runs from {lowest:.0f} to {highest:.0f} Hz; {cut}.",
                "Measure from 8 Hz or lower to 300 Hz or higher.",
            )
        )
    reach = (_edge(landmarks, 0, lowest) / 1.4, _edge(landmarks, -1, highest) * 1.4)
    part = curve.frequency_hz[(curve.frequency_hz >= reach[0]) & (curve.frequency_hz <= reach[1])]
    if part.size < 2 or (part.size - 1) / np.log2(part[-1] / part[0]) < POINTS_PER_OCTAVE:
        problems.append(
            Problem(
                "too_coarse",
                f"There are only {part.size} points around the peaks, {lowest:.0f} to {highest:.0f} Hz.",
                "Measure with at least 24 points per octave.",
            )
        )
    return problems


def _edge(landmarks: Landmarks, index: int, otherwise: float) -> float:
    return landmarks.peaks[index].hz if landmarks.peaks else otherwise


def _cut_band(curve: ImpedanceCurve, landmarks: Landmarks) -> str:
    """Return in words which peak the band leaves out, empty if none."""
    lowest, highest = float(curve.frequency_hz[0]), float(curve.frequency_hz[-1])
    size = np.abs(curve.impedance_ohm)
    log_f = np.log(curve.frequency_hz)
    head = log_f <= log_f[0] + 0.25
    tail = log_f >= log_f[-1] - 0.25
    floor = float(np.percentile(size, 10))
    if lowest > 8.0 and head.sum() >= 3:
        slope = float(np.polyfit(log_f[head], np.log(size[head]), 1)[0])
        if slope < -FINAL_SLOPE * 4 and size[head][0] > 1.3 * floor:
            return "it falls from its very beginning, so a peak lies below"
    if landmarks.lower is not None and lowest > landmarks.lower.hz / 1.25:
        return "it begins too close to the lower peak"
    if tail.sum() >= 3 and highest < 300.0:
        slope = float(np.polyfit(log_f[tail], np.log(size[tail]), 1)[0])
        if slope > 0.6 and len(landmarks.peaks) < 2:
            return "it still rises at its end, so a peak lies above"
    if landmarks.upper is not None and highest < landmarks.upper.hz * 1.25:
        return "it ends too close to the upper peak"
    return ""
