"""From two channels to an impedance curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import next_fast_len, rfft

from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Jig, Recording
from sealtune.signals.hum import Hum, remove_hum
from sealtune.signals.sweep import sweep_seconds
from sealtune.signals.transfer_function import Ratio, group_bins

BAND_HZ = (3.0, 1000.0)
"""Below lies no box, above no information on it."""

GAIN_UNCERTAINTY = 0.006
"""Relative standard deviation of one input's gain against the other's, 0.05 dB, not calibrated (common practice)."""

SILENT_EDGE = 0.01
"""A record whose ends hold less than this share of its loudest stretch needs no taper."""

LINE_BINS = 1.0
"""Bins closer than this to a line of mains hum that was taken out are left aside."""

USABLE_POWER = 1e-7
"""Bins with less than this share of the band's strongest power in channel 1 carry no stimulus."""


@dataclass(frozen=True)
class Spectra:
    """Both channels' Fourier integrals on the bins of the band, hum taken out of their ratio.

    ratio: channel 2 over channel 1
    hum: what was taken out, None if nothing
    tapered: True where the record did not begin and end in silence
    """

    ratio: Ratio
    hum: Hum | None
    tapered: bool


def measure_ratio(recording: Recording) -> Spectra:
    """Return the ratio of the recording's two channels between 3 Hz and 1 kHz.

    The sound card's roll-off, its coupling capacitors and the level are the same in both and cancel.
    """
    samples = recording.channels
    frames, rate = samples.shape[0], recording.rate_hz
    taper = _taper(samples)
    length = next_fast_len(frames, real=True)
    first, last = (max(1, int(np.ceil(edge * length / rate))) for edge in BAND_HZ)
    last = min(last, length // 2)
    spectra = []
    for channel in samples.T:
        centred = channel - channel.mean()
        if taper is not None:
            centred *= taper
        spectra.append(rfft(centred, length)[first:last] / rate)
    frequency = np.arange(first, last) * (rate / length)
    fade_s = 0.0 if taper is None else _fade_frames(frames) / rate
    cleaned, hum = remove_hum(frequency, spectra[0], spectra[1], frames / rate, fade_s)
    used = _stimulated(frequency, spectra[0], recording)
    if hum is not None:
        # what is left of a line sits in the bins beside it, where no noise estimate would expect it
        used &= np.all(np.abs(frequency[:, None] - hum.lines_hz) > LINE_BINS * rate / frames, axis=1)
    return Spectra(group_bins(frequency[used], spectra[0][used], cleaned[used]), hum, taper is not None)


def impedance_curve(ratio: Ratio, jig: Jig) -> ImpedanceCurve:
    """Return the impedance from the ratio of channel 2 to channel 1.

    divider: Z = R T / (1 - T); sense: Z = R / T. A gain error of the channels bends the divider's impedance by
    Z (1 + Z/R) per unit and scales that of the sense wiring.
    """
    t, r = ratio.value, jig.reference_ohm
    if jig.wiring == "divider":
        rest = np.where(np.abs(1.0 - t) < 1e-9, 1e-9, 1.0 - t)
        z, slope = r * t / rest, r / rest**2
    else:
        t = np.where(np.abs(t) < 1e-12, 1e-12, t)
        z, slope = r / t, -r / t**2
    sigma = np.maximum(ratio.sigma * np.abs(slope), 1e-6 * np.abs(z))
    gain_slope = np.asarray(slope * t * GAIN_UNCERTAINTY)
    return ImpedanceCurve(ratio.frequency_hz, z, np.maximum(sigma, 1e-9), gain_slope_ohm=gain_slope)


def _taper(samples: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Return a window that fades 5 % at either end, None where the record begins and ends in silence."""
    edge = max(1, samples.shape[0] // 100)
    blocks = samples[: samples.shape[0] // edge * edge].reshape(-1, edge, 2)
    power = ((blocks - samples.mean(axis=0)) ** 2).mean(axis=1).max(axis=1)
    if max(power[0], power[-1]) <= SILENT_EDGE * power.max():
        return None
    fade = _fade_frames(samples.shape[0])
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / fade)
    window = np.ones(samples.shape[0])
    window[:fade] = ramp
    window[-fade:] = ramp[::-1]
    return window


def _fade_frames(frames: int) -> int:
    return max(1, frames // 20)


def _stimulated(
    frequency: NDArray[np.float64], spectrum: NDArray[np.complex128], recording: Recording
) -> NDArray[np.bool_]:
    """Return which bins the stimulus reaches."""
    sweep = recording.origin.sweep
    if sweep is not None and sweep_seconds(sweep) <= recording.channels.shape[0] / recording.rate_hz:
        used = (frequency >= sweep.start_hz * 1.05) & (frequency <= sweep.stop_hz * 0.95)
        if used.sum() >= 16:
            return np.asarray(used)
    power = np.abs(spectrum) ** 2
    octave_third = np.maximum(
        1, np.searchsorted(frequency, frequency * 2 ** (1 / 3)) - np.arange(frequency.size)
    )
    total = np.concatenate([[0.0], np.cumsum(power)])
    stop = np.minimum(np.arange(frequency.size) + octave_third, frequency.size)
    local = (total[stop] - total[:-1]) / (stop - np.arange(frequency.size))
    return np.asarray(local >= USABLE_POWER * local.max())
