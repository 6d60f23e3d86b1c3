"""Rattles and blowing vents in a microphone's recording, told from the room's noise and from the amplifier's.

What hits the cone or rubs at the coil moves the coil, and a coil makes a voltage of every movement: where a resistor
lies before the box, as for the impedance, a rattle of the driver is in the voltage across the box too.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.records.near_field import SideNoise
from sealtune.records.recording import MICROPHONE_ROLES, Recording, Role
from sealtune.signals.orders import Recurring, order_phasors, recurring
from sealtune.signals.sweep import sweep_starts

Reals = NDArray[np.float64]

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

    recording: of the role cone or mouth, channel 2 being the microphone; or of the role open, made with a jig, where
        all that recurs is a rattle
    """
    sweep, role = recording.origin.sweep, recording.origin.role
    by_microphone = role in MICROPHONE_ROLES
    if sweep is None or role is None or not (by_microphone or role == "open"):
        return ()
    starts = sweep_starts(sweep, recording.rate_hz)

    def heard(samples: Reals, least_share: float) -> tuple[Recurring, ...]:
        found = recurring(
            np.ascontiguousarray(samples), recording.rate_hz, sweep, starts, np.random.default_rng(SEED),
            least_share=least_share,
        )  # fmt: skip
        return tuple(one for one in found if one.stands_out > STANDS_OUT)

    loud = heard(recording.channels[:, 1], LEAST_SHARE)
    if not loud:
        return ()
    step = _step(recording.channels[:, 1])
    loud = tuple(one for one in loud if one.share * one.level > step)
    by_amplifier = {one.low_hz: one.share for one in heard(_amplifier(recording), 0.0)}
    loud = tuple(one for one in loud if by_amplifier.get(one.low_hz, 0.0) < AMPLIFIER * one.share)
    found = []
    for blowing in (False, True):
        alike = [one for one in loud if (by_microphone and one.twice > TWICE) is blowing]
        if alike:
            best = max(alike, key=lambda one: one.stands_out)
            found.append(_told(alike, best, blowing, role, recording.origin.level_dbfs))
    return tuple(found)


def _amplifier(recording: Recording) -> Reals:
    """Return the amplifier's voltage; with the resistor behind the box it is the sum of both."""
    jig = recording.origin.jig
    if recording.origin.role == "open" and jig is not None and jig.wiring == "sense":
        return np.asarray(recording.channels.sum(axis=1))
    return np.asarray(recording.channels[:, 0])


def _step(samples: Reals) -> float:
    """Return the smallest difference between two samples; rounding to coarse steps recurs in each turn too."""
    between = np.diff(np.unique(samples))
    return float(between.min()) if between.size else 0.0


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

    Of channel 2, without what the amplifier's voltage has of it; None where no sweep is known.
    """
    sweep = recording.origin.sweep
    if sweep is None:
        return None
    at_hz = tuning_hz * 2.0 ** np.arange(-1.0, 1.01, 0.25)
    starts = sweep_starts(sweep, recording.rate_hz)
    shares = []
    for channel in (_amplifier(recording), recording.channels[:, 1]):
        samples = np.ascontiguousarray(channel)
        phasors = np.abs(order_phasors(samples, recording.rate_hz, sweep, starts, at_hz, 3))
        shares.append(phasors[:, 1:] / np.maximum(phasors[:, :1], 1e-300))
    own = shares[1] - shares[0]
    return float(max(np.nanmax(own), 0.0)) if np.isfinite(own).any() else None
