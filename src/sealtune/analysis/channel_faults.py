"""What makes two channels unfit to give an impedance: hum, noise, a loose clip, a jig wired otherwise than it says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sealtune.analysis.curve_faults import is_passive
from sealtune.analysis.gain_faults import drift_problems
from sealtune.analysis.impedance import Spectra
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.sweep_faults import sweep_problems
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Jig, Recording, Wiring
from sealtune.records.verdict import Problem
from sealtune.signals.hum import Hum
from sealtune.signals.transfer_function import Ratio

HUM_SHARE = 0.02
"""Hum beyond this share of the sweep's peak in channel 2 is told, though it is taken out (-34 dB)."""

HUM_SPOILS = 0.7
"""Hum this strong (-3 dB) may move the driver itself, and it leaves the input little room."""


def hum_problems(hum: Hum | None, recording: Recording) -> list[Problem]:
    """Return the problem `hum` where mains hum is strong; it spoils the recording only where it rivals the sweep."""
    if hum is None:
        return []
    channel = recording.channels[:, 1]
    peak = float(np.abs(channel - channel.mean()).max())
    share = hum.amplitude / max(peak - hum.amplitude, 0.1 * peak)
    if share < HUM_SHARE:
        return []
    return [
        Problem(
            "hum",
            f"Mains hum at {hum.mains_hz:.2f} Hz is at {20 * np.log10(share):.0f} dB of the sweep's height in channel 2"
            + ("." if share > HUM_SPOILS else "; it was taken out."),
            "Plug computer and amplifier into one socket, keep the leads away from mains leads and transformers.",
            spoils=share > HUM_SPOILS,
        )
    ]


UNRELATED = 0.3
"""Noise over the ratio of the channels beyond which they have nothing in common."""

MUCH_QUIETER = 0.01
"""An open input that hears noise alone is this much quieter than the other one, or more."""

LOW_PEAK = 10.0 ** (-50.0 / 20.0)
"""A noisy recording with peaks below -50 dB of full scale wants more level, before anything else."""

FLAT = 0.01
"""The ratio of a loudspeaker's channels varies by more than this; that of one signal heard twice does not."""


def channel_problems(spectra: Spectra, recording: Recording, jig: Jig) -> list[Problem]:
    """Return what is wrong with the two channels against each other, gravest first."""
    sweep = recording.origin.sweep
    repeated = sweep is not None and sweep.repeats > 1
    problems = _unrelated(spectra.ratio, recording)
    problems = problems or ([*spectra.problems] if repeated else sweep_problems(recording))
    problems += hum_problems(spectra.hum, recording)
    if not any(problem.spoils for problem in problems):
        problems += _one_signal(spectra.ratio) or wiring_problems(spectra.ratio, jig)
    if sweep is not None and not any(problem.spoils for problem in problems):
        problems += drift_problems(spectra.ratio, sweep)
    return problems


def _unrelated(ratio: Ratio, recording: Recording) -> list[Problem]:
    """Return the problem of channels of which one hears noise: an open clip, too low a level, or just noise."""
    centre = (ratio.frequency_hz > 8.0) & (ratio.frequency_hz < 300.0)
    if not centre.any():
        return []
    noise = float(np.median(ratio.sigma[centre] / np.abs(ratio.value[centre])))
    if noise < UNRELATED:
        return []
    samples = recording.channels - recording.channels.mean(axis=0)
    level = np.sqrt(np.mean(samples**2, axis=0))
    quiet = int(np.argmin(level))
    if level[quiet] < MUCH_QUIETER * level[1 - quiet]:
        return [
            Problem(
                "channel_missing",
                f"Channel {quiet + 1} holds noise only, while the other one has the signal.",
                f"Check the clip, cable and input of channel {quiet + 1}, and record again.",
            )
        ]
    peak = float(np.abs(samples).max())
    if peak < LOW_PEAK:
        return [
            Problem(
                "too_quiet",
                f"The loudest sample is at {20 * np.log10(peak):.0f} dB of full scale, and noise covers the sweep.",
                "Raise the input gain or the sweep's level step by step until the peaks reach -20 to -6 dB, and record "
                "again.",
            )
        ]
    return [
        Problem(
            "noisy",
            "The two channels have little but noise in common.",
            "Check that both clips sit well and that the box sounds, raise the level, and record again.",
        )
    ]


def _one_signal(ratio: Ratio) -> list[Problem]:
    """Return the problem of two channels that hear one signal: on the same point, or by crosstalk."""
    centre = (ratio.frequency_hz > 8.0) & (ratio.frequency_hz < 300.0)
    if not centre.any():
        return []
    value = ratio.value[centre]
    mean = complex(value.mean())
    spread = float(np.sqrt(np.mean(np.abs(value - mean) ** 2)))
    noise = float(np.sqrt(2.0 * np.mean(ratio.sigma[centre] ** 2)))
    if spread > max(FLAT * abs(mean), 2.0 * noise):
        return []
    if abs(mean - 1.0) < 2.0 * FLAT and spread < 0.2 * FLAT + 2.0 * noise:
        return [
            Problem(
                "channel_missing",
                "Both channels hear the same voltage.",
                "Put the two clips on either side of the reference resistor, not on one point, and record again.",
            )
        ]
    if 0.01 < abs(mean) < 100.0:
        return []
    name = "Channel 2" if abs(mean) < 1.0 else "Channel 1"
    return [
        Problem(
            "channel_missing",
            f"{name} hears only a faint copy of the other one.",
            f"Check the clip, cable and input of {name.lower()}, and record again.",
        )
    ]


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
    # known loads hold for the jig as it was wired, not for a reading that supposes another wiring
    bare = replace(jig, standards=None)
    other_jig = replace(bare, wiring=other)
    candidates = [
        (problem, reading, read_as)
        for problem, reading, read_as in (
            (exchanged, swapped, bare),
            (rewired, ratio, other_jig),
            (rewired, swapped, other_jig),
            (upside_down, inverted, bare),
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
