"""Which of the known loads measured with a jig cannot be what they are said to be."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.jig_correction import impedance_curve
from sealtune.analysis.jig_standards import standard_at
from sealtune.records.recording import Jig, JigStandards, Standard
from sealtune.signals.transfer_function import Ratio

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

SAME = 1e-3
"""Readings that differ by less, of full scale, are of one load: clips put on again differ by half of it."""

BALANCE = (0.5, 2.0)
"""Gains of two equal inputs lie within 6 dB of each other."""

OPEN_DIVIDER = 0.2
"""An open divider reads the gain; 10 kohm of an input beside it take 9 % off where the reference is 1 kohm."""

OPEN_OHM = 1000.0
LONGEST_LEADS_OHM = 1.5
"""Of leads and clips together, 20 m of thin wire; loudspeakers have more (own judgement)."""

BEYOND_TOLERANCE = 3.0
"""Standard deviations between the resistor's value and what the jig reads of it."""

NAMES = {"balance": "both inputs on one point", "open": "leads open", "short": "leads shorted",
         "resistor": "known resistor"}  # fmt: skip


@dataclass(frozen=True)
class StandardFault:
    """A known load whose reading makes no sense.

    standard: "balance", "open", "short" or "resistor"
    detail: what is odd about it
    remedy: what to do
    impossible: True where no correction can be made with it; False where it is only unlikely
    """

    standard: str
    detail: str
    remedy: str
    impossible: bool


def standard_faults(jig: Jig) -> tuple[StandardFault, ...]:
    """Return what is implausible about the known loads of a jig, the impossible first; empty where all is well.

    jig: its standards as `smoothed_standards` or jig.toml gives them
    """
    named = _named(jig.standards)
    if not named:
        return ()
    low = max(standard.frequency_hz[0] for standard in named.values())
    high = min(standard.frequency_hz[-1] for standard in named.values())
    if not low < high:
        return (
            StandardFault(
                next(iter(named)),
                "The known loads were measured over bands of frequencies that do not overlap.",
                "Measure all of them again, one after the other with the same sweep.",
                impossible=True,
            ),
        )
    hz = np.geomspace(low, high, 32)
    impossible = _same_or_exchanged(jig, named, hz)
    return tuple(impossible or _unlikely(jig, named, hz))


def _named(standards: JigStandards | None) -> dict[str, Standard]:
    if standards is None:
        return {}
    found = {
        "balance": standards.balance,
        "open": standards.open_leads,
        "short": standards.shorted_leads,
        "resistor": None if standards.resistor is None else standards.resistor.measured,
    }
    return {name: standard for name, standard in found.items() if standard is not None}


def _pair(jig: Jig, name: str, standard: Standard, hz: Reals) -> tuple[Complexes, Complexes, float]:
    """Return channel 2, channel 1, root of their squares being 1, and the typical noise."""
    value, sigma = standard_at(standard, hz)
    size = np.sqrt(1.0 + np.abs(value) ** 2)
    one = np.ones_like(value) / size
    noise = float(np.median(sigma / size**2))
    if name == "short" and jig.wiring == "sense":
        return one, value / size, noise
    return value / size, one, noise


def _same_or_exchanged(jig: Jig, named: dict[str, Standard], hz: Reals) -> list[StandardFault]:
    pairs = {name: _pair(jig, name, standard, hz) for name, standard in named.items() if name != "balance"}
    order = [name for name in ("short", "resistor", "open") if name in pairs]
    gain = np.ones(hz.size, dtype=np.complex128)
    if "balance" in named:
        gain = standard_at(named["balance"], hz)[0]
        if float(np.min(np.abs(gain))) < SAME:
            return [_silent()]
    faults = []
    for first, second in combinations(order, 2):
        one, other = pairs[first], pairs[second]
        distance = float(np.median(np.abs(one[0] * other[1] - other[0] * one[1])))
        if distance < max(SAME, 5.0 * float(np.hypot(one[2], other[2]))):
            faults.append(
                StandardFault(
                    second,
                    f"The readings for {NAMES[first]} and {NAMES[second]} are the same.",
                    "Change what is between the clips before each of them, with a resistor of about the "
                    "reference's value, and measure both again.",
                    impossible=True,
                )
            )
        elif _apparent(jig, one, gain) >= _apparent(jig, other, gain):
            faults.append(
                StandardFault(
                    second,
                    f"By the readings, {NAMES[first]} has more ohms than {NAMES[second]}.",
                    "Check whether the two were exchanged and whether the wiring is right, and measure both again.",
                    impossible=True,
                )
            )
    return faults


def _silent() -> StandardFault:
    return StandardFault(
        "balance",
        "With both inputs on one point, channel 2 hears nothing.",
        "Put both inputs on the amplifier's output and measure again.",
        impossible=True,
    )


def _apparent(jig: Jig, pair: tuple[Complexes, Complexes, float], gain: Complexes) -> float:
    """Return the median magnitude of the impedance that a jig without leads and loading would mean by a reading."""
    second, first = pair[0], pair[1] * gain
    above, below = (second, first - second) if jig.wiring == "divider" else (first, second)
    return float(jig.reference_ohm * np.median(np.abs(above) / np.maximum(np.abs(below), 1e-12)))


def _unlikely(jig: Jig, named: dict[str, Standard], hz: Reals) -> list[StandardFault]:
    faults = []
    gain = np.ones(hz.size, dtype=np.complex128)
    if "balance" in named:
        gain = standard_at(named["balance"], hz)[0]
        size = float(np.median(np.abs(gain)))
        if not BALANCE[0] <= size <= BALANCE[1] or float(np.median(gain.real)) < 0.0:
            faults.append(
                StandardFault(
                    "balance",
                    f"With both inputs on one point, channel 2 reads {size:.3g} of channel 1"
                    + (", upside down." if float(np.median(gain.real)) < 0.0 else "."),
                    "Set both inputs to the same gain, check their clips, and measure again.",
                    impossible=False,
                )
            )
    if "open" in named:
        faults += _odd_open(jig, named["open"], gain, hz)
    if "short" in named:
        if jig.wiring == "divider" and "balance" not in named and "open" in named:
            gain = standard_at(named["open"], hz)[0]
        leads_ohm = _apparent(jig, _pair(jig, "short", named["short"], hz), gain)
        if leads_ohm > LONGEST_LEADS_OHM:
            faults.append(
                StandardFault(
                    "short",
                    f"The shorted leads have {leads_ohm:.3g} ohm; up to {LONGEST_LEADS_OHM:g} ohm was expected.",
                    "Put the clips directly on each other, use short, thick leads, and measure again.",
                    impossible=False,
                )
            )
    return faults + _odd_resistor(jig)


def _odd_open(jig: Jig, opened: Standard, gain: Complexes, hz: Reals) -> list[StandardFault]:
    pair = _pair(jig, "open", opened, hz)
    remedy = "Take everything off the clips, keep them apart, and measure again."
    if jig.wiring == "divider":
        share = np.median(np.abs(pair[0] / pair[1] / gain - 1.0))
        if share > OPEN_DIVIDER:
            read = float(np.median(np.abs(pair[0] / pair[1] / gain)))
            detail = f"With the leads open, channel 2 reads {read:.3g} of channel 1; about 1 was expected."
            return [StandardFault("open", detail, remedy, impossible=False)]
    elif (ohm := _apparent(jig, pair, gain)) < OPEN_OHM:
        detail = f"With the leads open, the jig reads {ohm:.3g} ohm; more than {OPEN_OHM:g} ohm was expected."
        return [StandardFault("open", detail, remedy, impossible=False)]
    return []


def _odd_resistor(jig: Jig) -> list[StandardFault]:
    if jig.standards is None or jig.standards.resistor is None:
        return []
    resistor = jig.standards.resistor
    hz = np.asarray(resistor.measured.frequency_hz)
    value, sigma = standard_at(resistor.measured, hz)
    without = replace(jig, standards=replace(jig.standards, resistor=None))
    curve = impedance_curve(Ratio(hz, value, sigma, np.ones(hz.size)), without)
    spread = 2.0 * curve.sigma_ohm**2 + (resistor.uncertainty * resistor.ohm) ** 2
    if curve.jig_slopes_ohm is not None:
        spread = spread + np.sum(np.abs(curve.jig_slopes_ohm) ** 2, axis=0)
    off = float(np.median(np.abs(curve.impedance_ohm - resistor.ohm) / np.sqrt(spread)))
    if off <= BEYOND_TOLERANCE:
        return []
    read = float(np.median(np.abs(curve.impedance_ohm)))
    known = jig.standards.balance or (jig.standards.open_leads if jig.wiring == "divider" else None)
    gains = (
        ""
        if known
        else " Unequal gains of the inputs do this too: put both on one point and measure that first."
    )
    return [
        StandardFault(
            "resistor",
            f"The resistor of {resistor.ohm:g} ohm reads {read:.3g} ohm, beyond what the tolerances allow.",
            "Check the values of both resistors with a multimeter, correct reference_ohm or the resistor's value, "
            f"and measure again.{gains}",
            impossible=False,
        )
    ]
