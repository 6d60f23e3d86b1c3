"""What a recorded sweep tells of the recording: whether it is the sweep that was played, and whether it was bent.

Divided by the sweep that was played, a channel becomes its impulse response. What the sweep's harmonics make of
it arrives earlier by L ln k for the k-th one [Novak2015]; a wrong sample rate smears it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft

from sealtune.records.recording import Recording, Sweep
from sealtune.records.verdict import Problem
from sealtune.signals.sweep import sweep_rate, sweep_samples, sweep_seconds

Reals = NDArray[np.float64]

WINDOW_S = 0.05
"""Half the length of an impulse response: reverberation is not in it, and a roll-off at 3 Hz is over by then."""

COMPACT = 0.5
"""Less of the energy than this within the window is another sweep, or another clock."""

BENT = 0.02
"""A third harmonic beyond this share is far from small signals; the fundamental is then bent by three times as much."""


def sweep_problems(recording: Recording) -> list[Problem]:
    """Return what is wrong with the sweep as recorded; nothing where the metadata name none."""
    sweep = recording.origin.sweep
    if sweep is None or 2.0 * sweep.stop_hz > recording.rate_hz:
        return []
    compact, harmonic = zip(
        *(_shares(channel, recording.rate_hz, sweep) for channel in recording.channels.T), strict=True
    )
    if max(compact) < COMPACT:
        return [
            Problem(
                "dropout",
                f"The sound is not the sweep from {sweep.start_hz:g} to {sweep.stop_hz:g} Hz in "
                f"{sweep_seconds(sweep):.1f} s that the file's metadata tell of: samples were lost, or the sample rate is "
                f"not the {recording.rate_hz:.0f} Hz that the file says.",
                "Set the sound card and the recording program to the same sample rate, and record again.",
            )
        ]
    worst = int(np.argmax(harmonic))
    if harmonic[worst] > BENT:
        return [
            Problem(
                "clipped",
                f"The sweep comes back bent in channel {worst + 1} ({100 * harmonic[worst]:.0f} % of third harmonic): an "
                "input, the amplifier or the driver is driven too hard.",
                "Turn the amplifier, and then the input gain, down by 6 dB or more, and record again.",
            )
        ]
    return []


def _shares(channel: Reals, rate_hz: float, sweep: Sweep) -> tuple[float, float]:
    """Return the energy near the impulse response's peak over all of it, and the third harmonic's amplitude share."""
    played = sweep_samples(sweep, rate_hz)
    length = next_fast_len(channel.size + played.size, real=True)
    reference = rfft(played, length)
    hz = np.fft.rfftfreq(length, 1.0 / rate_hz)
    used = (hz > 1.05 * sweep.start_hz) & (hz < 0.95 * sweep.stop_hz)
    power = np.abs(reference) ** 2
    answer = np.where(
        used, rfft(channel - channel.mean(), length) * np.conj(reference) / np.where(used, power, 1.0), 0.0
    )
    energy = irfft(answer, length) ** 2
    half = round(WINDOW_S * rate_hz)
    around = np.cumsum(np.concatenate([energy[-half:], energy, energy[: half + 1]]))
    near = around[2 * half + 1 :] - around[: -2 * half - 1]
    peak = int(np.argmax(near))
    third = (peak - round(sweep_rate(sweep) * np.log(3.0) * rate_hz)) % length
    total = max(float(energy.sum()), 1e-300)
    return float(near[peak]) / total, float(np.sqrt(near[third % near.size] / max(near[peak], 1e-300)))
