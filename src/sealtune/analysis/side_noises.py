"""Rattles and blowing vents in a microphone's recording, told from the room's noise and from the amplifier's."""

from __future__ import annotations

import numpy as np

from sealtune.records.near_field import SideNoise
from sealtune.records.recording import MICROPHONE_ROLES, Recording, Role
from sealtune.signals.orders import Recurring, order_phasors, recurring
from sealtune.signals.sweep import sweep_starts

STANDS_OUT = 6.0
"""Standard deviations; quiet cabinets stay below 5 in some hundred recordings."""

LEAST_SHARE = 2e-4
"""Less than -74 dB of what is played is nobody's rattle (own judgement)."""

AMPLIFIER = 0.3
"""A channel 1 that holds so large a part of it has made it."""

TWICE = 1.6
"""Air blows both ways in each turn; a part is hit once."""

SEED = 7


def side_noises(recording: Recording) -> tuple[SideNoise, ...]:
    """Return what recurs in each turn of the sweep, at most one of each kind; nothing without a known sweep.

    recording: of the role cone or mouth, channel 2 being the microphone
    """
    sweep, role = recording.origin.sweep, recording.origin.role
    if sweep is None or role not in MICROPHONE_ROLES:
        return ()
    starts = sweep_starts(sweep, recording.rate_hz)

    def heard(channel: int) -> tuple[Recurring, ...]:
        samples = np.ascontiguousarray(recording.channels[:, channel])
        return recurring(samples, recording.rate_hz, sweep, starts, np.random.default_rng(SEED))

    loud = [one for one in heard(1) if one.stands_out > STANDS_OUT and one.share > LEAST_SHARE]
    if not loud:
        return ()
    by_amplifier = {one.low_hz: one.share for one in heard(0) if one.stands_out > STANDS_OUT}
    loud = [one for one in loud if by_amplifier.get(one.low_hz, 0.0) < AMPLIFIER * one.share]
    found = []
    for blowing in (False, True):
        alike = [one for one in loud if (one.twice > TWICE) is blowing]
        if alike:
            best = max(alike, key=lambda one: one.stands_out)
            found.append(_told(alike, best, blowing, role, recording.origin.level_dbfs))
    return tuple(found)


def _told(
    alike: list[Recurring], best: Recurring, blowing: bool, role: Role, level_dbfs: float | None
) -> SideNoise:
    """Return the noise with the stretches that hang together with its strongest one."""
    low, high = best.low_hz, best.high_hz
    for one in sorted(alike, key=lambda one: abs(np.log(one.low_hz / best.low_hz))):
        if one.low_hz <= high and one.high_hz >= low:
            low, high = min(low, one.low_hz), max(high, one.high_hz)
    share = max(one.share for one in alike if low <= one.low_hz and one.high_hz <= high)
    return SideNoise("blowing" if blowing else "rattle", role, low, high, share, level_dbfs)


def distortion(recording: Recording, tuning_hz: float) -> float | None:
    """Return the higher of second and third harmonic over the fundamental, at most an octave from the tuning.

    Of the microphone, without what the amplifier's voltage has of it; None where no sweep is known.
    """
    sweep = recording.origin.sweep
    if sweep is None:
        return None
    at_hz = tuning_hz * 2.0 ** np.arange(-1.0, 1.01, 0.25)
    starts = sweep_starts(sweep, recording.rate_hz)
    shares = []
    for channel in (0, 1):
        samples = np.ascontiguousarray(recording.channels[:, channel])
        phasors = np.abs(order_phasors(samples, recording.rate_hz, sweep, starts, at_hz, 3))
        shares.append(phasors[:, 1:] / np.maximum(phasors[:, :1], 1e-300))
    own = shares[1] - shares[0]
    return float(max(np.nanmax(own), 0.0)) if np.isfinite(own).any() else None
