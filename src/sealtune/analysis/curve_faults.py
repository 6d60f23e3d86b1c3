"""What makes an impedance curve unfit for a verdict: noise, too few points, a cut band, a jig wired otherwise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sealtune.analysis.impedance import impedance_curve
from sealtune.analysis.landmarks import find_landmarks
from sealtune.records.curve import ImpedanceCurve, Landmarks
from sealtune.records.recording import Jig, Recording, Wiring
from sealtune.records.verdict import Problem
from sealtune.signals.hum import Hum
from sealtune.signals.transfer_function import Ratio

NOISY = 0.05
"""Median noise over |Z| above which no fit is trusted."""

NEGATIVE_SHARE = 0.1
"""A passive load has no negative resistance; measurement error makes it seem so at a few points at most."""

POINTS_PER_OCTAVE = 8.0
"""A resonance of Q = 5 to 10 is narrower than a quarter of an octave and wants at least two points across it."""

FINAL_SLOPE = 0.06


HUM_SHARE = 0.02
"""Hum beyond this share of channel 2's peak is told, though it is taken out (-34 dB)."""

HUM_SPOILS = 0.5
"""Hum this strong moves the driver itself; what is left of it bends the curve."""


def hum_problems(hum: Hum | None, recording: Recording) -> list[Problem]:
    """Return the problem `hum` where mains hum is strong; it spoils the recording only where it rivals the sweep."""
    if hum is None:
        return []
    channel = recording.channels[:, 1]
    share = hum.amplitude / max(float(np.abs(channel - channel.mean()).max()), 1e-12)
    if share < HUM_SHARE:
        return []
    return [
        Problem(
            "hum",
            f"Mains hum at {hum.mains_hz:.2f} Hz is {20 * np.log10(share):.0f} dB against the sweep in channel 2; "
            "it was taken out.",
            "Plug computer and amplifier into one socket, keep the leads away from mains leads and transformers.",
            spoils=share > HUM_SPOILS,
        )
    ]


def is_passive(curve: ImpedanceCurve) -> bool:
    """Return whether the real part is positive within its noise at nearly all frequencies."""
    negative = curve.impedance_ohm.real < -3.0 * curve.sigma_ohm - 1e-3 * np.abs(curve.impedance_ohm)
    return float(np.mean(negative)) < NEGATIVE_SHARE


def wiring_problems(ratio: Ratio, jig: Jig) -> list[Problem]:
    """Return the problem of a jig that is wired otherwise than it says: swapped channels, the other wiring.

    Each of the four ways to read the two channels is tried; only where the stated one cannot be a loudspeaker
    and another one can is it named.
    """
    other: Wiring = "sense" if jig.wiring == "divider" else "divider"
    if _like_loudspeaker(ratio, jig):
        return []
    swapped = Ratio(
        ratio.frequency_hz,
        1.0 / ratio.value,
        ratio.sigma / np.abs(ratio.value) ** 2,
        ratio.power * np.abs(ratio.value) ** 2,
    )
    inverted = replace(ratio, value=-ratio.value)
    exchanged = Problem(
        "channels_swapped",
        "The impedance makes sense only with channel 1 and channel 2 exchanged.",
        f"Exchange the two input plugs so that {_clips(jig.wiring)}, and record again.",
    )
    rewired = Problem(
        "wrong_wiring",
        f'The jig says "{jig.wiring}", but the channels look like "{other}".',
        f'Set wiring = "{other}" in jig.toml (or --wiring {other}) if that is how the clips sit; otherwise '
        f"wire it so that {_clips(jig.wiring)}, and record again.",
    )
    upside_down = Problem(
        "wrong_wiring",
        "One of the two channels is upside down.",
        "Exchange the two clips of one input (the ground clip goes to the same point for both), and record again.",
    )
    other_jig = replace(jig, wiring=other)
    candidates = [
        (problem, reading, read_as)
        for problem, reading, read_as in (
            (exchanged, swapped, jig),
            (rewired, ratio, other_jig),
            (rewired, swapped, other_jig),
            (upside_down, inverted, jig),
        )
        if _like_loudspeaker(reading, read_as)
    ]
    if candidates:
        return [min(candidates, key=lambda candidate: _source_roughness(candidate[1], candidate[2]))[0]]
    if not is_passive(impedance_curve(ratio, jig)):
        return [
            Problem(
                "not_impedance",
                "The two channels together give a resistance below zero, which no loudspeaker has.",
                f"Check that {_clips(jig.wiring)} and that nothing else is connected, and record again.",
            )
        ]
    return []


def _clips(wiring: Wiring) -> str:
    if wiring == "divider":
        return "channel 1 sits on the amplifier's side of the resistor and channel 2 across the box"
    return "channel 1 sits across the box and channel 2 across the resistor"


def _source_roughness(ratio: Ratio, jig: Jig) -> float:
    """Return how unevenly the amplifier's own voltage would run over frequency, in nepers.

    An amplifier holds its voltage whatever hangs on it, so of two readings that both look like a loudspeaker
    the one with the smoother source is right.
    """
    source = ratio.power * (1.0 if jig.wiring == "divider" else np.abs(1.0 + ratio.value) ** 2)
    level = 0.5 * np.log(np.maximum(source, 1e-300))
    position = np.log(ratio.frequency_hz)
    return float(np.std(level - np.polyval(np.polyfit(position, level, 2), position)))


def _like_loudspeaker(ratio: Ratio, jig: Jig) -> bool:
    """Return whether the impedance is passive and rises from its resistance to peaks, as a driver's does.

    The reciprocal of a driver's impedance has dips where that has peaks: its highest values lie at the ends
    and in the saddle, and its phase falls where the other one rises.
    """
    curve = impedance_curve(ratio, jig)
    if not is_passive(curve):
        return False
    trusted = curve.sigma_ohm < 0.2 * np.abs(curve.impedance_ohm)
    if trusted.sum() < 8:
        return True
    part = ImpedanceCurve(curve.frequency_hz[trusted], curve.impedance_ohm[trusted], curve.sigma_ohm[trusted])
    upright, reciprocal = (
        _peak_height(part),
        _peak_height(
            ImpedanceCurve(
                part.frequency_hz, 1.0 / part.impedance_ohm, part.sigma_ohm / np.abs(part.impedance_ohm) ** 2
            )
        ),
    )
    return upright >= reciprocal


def _peak_height(curve: ImpedanceCurve) -> float:
    """Return how far the highest peak stands above the median magnitude, as a ratio."""
    marks = find_landmarks(curve)
    median = float(np.median(np.abs(curve.impedance_ohm)))
    return max((peak.ohm / median for peak in marks.peaks), default=0.0)


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
