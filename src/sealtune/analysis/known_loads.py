"""Whether a clean reading can be of the known load that it is said to be: another load, exchanged or reversed clips."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.jig_faults import LONGEST_LEADS_OHM, OPEN_OHM, standard_faults
from sealtune.analysis.jig_standards import standard_at
from sealtune.records.recording import Jig, Standard, Step
from sealtune.records.verdict import Problem

Reals = NDArray[np.float64]

BAND_HZ = (8.0, 300.0)
"""Where a box is judged, and a known load is."""

ONE_POINT = 0.01
"""Two inputs on one point differ by the same factor at all frequencies within this; coupling capacitors that roll off
at 3 Hz and are 20 % apart make 0.002 above 30 Hz."""

UNEQUAL = 0.1
"""Two inputs set alike by eye differ by less than this."""

SWAP_FITS = 0.1
"""A resistor that reads its value within this with the channels exchanged, and not as they are, tells that they are."""


def implausible(standard: Standard, step: Step, jig: Jig, with_it: Jig, resistor_ohm: float) -> list[Problem]:
    """Return why a reading cannot be of the load that it is said to be; empty where it can.

    standard: the reading, smoothed
    jig: with the known loads measured before
    with_it: the same with this one
    resistor_ohm: of the known resistor, ohm
    """
    value = np.asarray(standard.value)
    if quiet_channel(step, jig) is None and float(np.median(value.real)) < 0.0:
        return [
            Problem(
                "wrong_wiring",
                "Channel 2 is upside down against channel 1.",
                "Exchange the two clips of one input, or the plus and minus of its cable, and measure again.",
            )
        ]
    if step == "balance":
        odd = _not_one_point(standard)
    else:
        ohm, gain = apparent_ohm(standard, step, jig), float(np.median(np.abs(value)))
        odd = _other_load(ohm, gain, step, jig, resistor_ohm)
    if odd:
        return odd
    return [
        Problem(
            "wrong_reference" if fault.standard == "resistor" else "not_impedance", fault.detail, fault.remedy
        )
        for fault in standard_faults(with_it)
    ][:1]


def quiet_channel(step: Step, jig: Jig) -> int | None:
    """Return the channel that hears almost nothing with this load, None where both hear the sweep."""
    if step == "short":
        return 1 if jig.wiring == "divider" else 0
    return 1 if step == "open" and jig.wiring == "sense" else None


def apparent_ohm(standard: Standard, step: Step, jig: Jig) -> float:
    """Return the median magnitude of the impedance that a reading means in a jig without leads and loading, ohm.

    jig: with the gain of both inputs on one point where that is known
    """
    lowest, highest = standard.frequency_hz[0], standard.frequency_hz[-1]
    hz = np.geomspace(max(BAND_HZ[0], lowest), min(BAND_HZ[1], highest), 32)
    value, _ = standard_at(standard, hz)
    gain = np.ones_like(value)
    if jig.standards is not None and jig.standards.balance is not None:
        gain, _ = standard_at(jig.standards.balance, hz)
    if jig.wiring == "divider":
        load = value / _off_zero(gain - value)
    else:
        load = value * gain if step == "short" else gain / _off_zero(value)
    return float(jig.reference_ohm * np.median(np.abs(load)))


def exchanged(detail: str) -> Problem:
    """Return the problem of two inputs that are exchanged."""
    return Problem(
        "channels_swapped",
        detail,
        "Exchange the two input plugs at the sound card and measure again; if both inputs on one point were measured "
        "before, calibrate again from the start.",
    )


def _off_zero(value: NDArray[np.complex128]) -> NDArray[np.complex128]:
    return np.where(np.abs(value) < 1e-9, 1e-9 + 0j, value)


def _not_one_point(standard: Standard) -> list[Problem]:
    hz = np.asarray(standard.frequency_hz)
    centre = (hz > 30.0) & (hz < BAND_HZ[1])
    if not centre.any():
        return []
    size = np.abs(np.asarray(standard.value))[centre]
    low, high, noise = float(size.min()), float(size.max()), float(np.asarray(standard.sigma)[centre].max())
    if high - low <= ONE_POINT * high + 4.0 * noise:
        return []
    return [
        Problem(
            "wrong_wiring",
            f"Channel 2 over channel 1 runs from {low:.3g} to {high:.3g} over frequency; on one point it is the same "
            "everywhere.",
            "Take the box off the clips, put both inputs on the amplifier's output, and measure again.",
        )
    ]


def _other_load(ohm: float, gain: float, step: Step, jig: Jig, resistor_ohm: float) -> list[Problem]:
    if step == "open":
        return _not_open(ohm, gain, jig)
    if step == "short":
        if ohm <= LONGEST_LEADS_OHM:
            return []
        return [
            Problem(
                "not_impedance",
                f"The clips read {ohm:.3g} ohm, which is no short; up to {LONGEST_LEADS_OHM:g} ohm is usual.",
                "Put the clips directly on each other, use short, thick leads, and measure again.",
            )
        ]
    if jig.wiring == "divider":
        return [_louder(gain)] if gain > 1.0 + UNEQUAL else []
    other = jig.reference_ohm**2 / ohm
    if abs(other / resistor_ohm - 1.0) < SWAP_FITS and abs(ohm / resistor_ohm - 1.0) > 2.0 * SWAP_FITS:
        reads = f"The resistor of {resistor_ohm:g} ohm reads {ohm:.3g} ohm"
        return [exchanged(f"{reads}, and {other:.3g} ohm with the channels exchanged.")]
    return []


def _not_open(ohm: float, gain: float, jig: Jig) -> list[Problem]:
    balanced = jig.standards is not None and jig.standards.balance is not None
    if ohm >= OPEN_OHM or (jig.wiring == "divider" and not balanced and abs(gain - 1.0) < UNEQUAL):
        return []
    if jig.wiring == "divider" and gain > 1.0 and not balanced:
        return [_louder(gain)]
    touching = "they touch each other" if ohm < LONGEST_LEADS_OHM else "something is still between them"
    return [
        Problem(
            "not_impedance",
            f"The clips read {ohm:.3g} ohm, not open: {touching}.",
            "Take everything off the clips, keep them apart, and measure again.",
        )
    ]


def _louder(gain: float) -> Problem:
    return exchanged(
        f"Channel 2 reads {gain:.3g} of channel 1, but sits behind the resistor and cannot have more than that unless "
        "the input gains differ."
    )
