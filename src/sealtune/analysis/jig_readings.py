"""One known load as it was just recorded: what the channels read of it, and whether it can be what it should be."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.channel_faults import hum_problems
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_standards import smoothed
from sealtune.analysis.known_loads import BAND_HZ, apparent_ohm, exchanged, implausible, quiet_channel
from sealtune.analysis.sample_faults import sample_problems
from sealtune.analysis.sweep_faults import sweep_problems
from sealtune.records.recording import Jig, JigStandards, KnownResistor, Recording, Standard, Step
from sealtune.records.verdict import Problem

MOST_NOISE = 3e-4
"""Standard deviation of a known load's smoothed ratio, of full scale, that is still of use: in the wiring "divider",
6 R is then known to (1 + 6)^2/6 times that, 0.25 %."""

LOST_IN_NOISE = 0.05
"""Noise of the ratio before it is smoothed, of full scale, in which no load can be told from another."""

EXCHANGED = 10.0
"""A channel that should be the quiet one, and is this many times louder than the other, is the other one."""


@dataclass(frozen=True)
class Reading:
    """What the channels read of a known load.

    standard: smoothed; None where the recording is of no use
    ohm: median magnitude of the impedance that this would be in a jig without leads and loading; None for both
        inputs on one point
    gain: channel 2 over channel 1, median magnitude; of interest for both inputs on one point
    noise: largest standard deviation of the standard between 8 and 300 Hz
    problems: what is wrong with it; those that spoil it refuse it
    """

    standard: Standard | None
    ohm: float | None
    gain: float
    noise: float
    problems: tuple[Problem, ...] = ()

    @property
    def refused(self) -> tuple[Problem, ...]:
        """Return the problems for which it must be measured again."""
        return tuple(problem for problem in self.problems if problem.spoils)


def read_load(
    recording: Recording, step: Step, jig: Jig, resistor_ohm: float = 0.0, resistor_uncertainty: float = 0.01
) -> Reading:
    """Return what a recording says of a known load.

    recording: with the sweep in its origin
    step: which load is said to be there
    jig: with the standards that were measured before, which this one is held against
    resistor_ohm, resistor_uncertainty: of the known resistor, ohm and relative
    """
    quiet = quiet_channel(step, jig)
    problems = _exchanged_by_level(recording, quiet)
    loud = recording if quiet is None else _both_loud(recording, quiet)
    if not problems:
        problems = [_renamed(problem, quiet) for problem in sample_problems(loud)]
    if any(problem.spoils for problem in problems):
        return Reading(None, None, 0.0, 0.0, tuple(problems))
    problems += [_renamed(problem, quiet) for problem in sweep_problems(loud)]
    spectra = measure_ratio(loud)
    ratio = spectra.ratio if quiet is None else replace(spectra.ratio, value=spectra.ratio.value - 1.0)
    problems += hum_problems(spectra.hum, loud)
    standard = smoothed(ratio)
    gain = float(np.median(np.abs(_inside(standard, standard.value))))
    size = max(1.0, gain)
    inside = (ratio.frequency_hz >= BAND_HZ[0]) & (ratio.frequency_hz <= BAND_HZ[1])
    raw = float(np.median(ratio.sigma[inside])) / size
    noise = float(np.max(_inside(standard, standard.sigma).real)) / size
    if raw > LOST_IN_NOISE:
        problems.append(_noisy(raw))
    ohm = None if step == "balance" else apparent_ohm(standard, step, jig)
    reading = Reading(standard, ohm, gain, noise, tuple(problems))
    if reading.refused:
        return reading
    with_it = with_reading(jig, step, standard, resistor_ohm, resistor_uncertainty)
    problems += implausible(standard, step, jig, with_it, resistor_ohm)
    if noise > MOST_NOISE and not any(problem.spoils for problem in problems):
        # smoothing leaves less than the noise of a smooth function, and more of one that is not
        problems.append(_noisy(noise) if noise < raw else _uneven(noise))
    return replace(reading, problems=tuple(problems))


def with_reading(
    jig: Jig, step: Step, standard: Standard, ohm: float = 0.0, uncertainty: float = 0.01
) -> Jig:
    """Return the jig with one more known load.

    ohm, uncertainty: of the known resistor, ohm and relative
    """
    known = jig.standards or JigStandards()
    if step == "balance":
        known = replace(known, balance=standard)
    elif step == "open":
        known = replace(known, open_leads=standard)
    elif step == "short":
        known = replace(known, shorted_leads=standard)
    else:
        known = replace(known, resistor=KnownResistor(ohm, standard, uncertainty))
    return replace(jig, standards=known)


def _both_loud(recording: Recording, quiet: int) -> Recording:
    """Return the loud channel, and the loud channel with the quiet one on top.

    Their ratio less 1 is that of the quiet channel to the loud one; both can be looked at for lost samples.
    """
    loud = recording.channels[:, 1 - quiet]
    return replace(recording, channels=np.stack([loud, loud + recording.channels[:, quiet]], axis=1))


def _renamed(problem: Problem, quiet: int | None) -> Problem:
    """Return the problem with the name of the channel that can have it, of the two that `_both_loud` made."""
    if quiet is None:
        return problem
    named, other = f"channel {2 - quiet}", f"channel {quiet + 1}"
    return replace(
        problem, detail=problem.detail.replace(other, named), remedy=problem.remedy.replace(other, named)
    )


def _exchanged_by_level(recording: Recording, quiet: int | None) -> list[Problem]:
    if quiet is None:
        return []
    samples = recording.channels - recording.channels.mean(axis=0)
    level = np.sqrt(np.mean(samples**2, axis=0))
    if level[quiet] < EXCHANGED * level[1 - quiet] or level[quiet] < 1e-4:
        return []
    detail = f"Channel {quiet + 1} is loud and channel {2 - quiet} hears almost nothing; it should be the other way."
    return [exchanged(detail)]


def _inside(standard: Standard, values: tuple[complex, ...] | tuple[float, ...]) -> NDArray[np.complex128]:
    hz = np.asarray(standard.frequency_hz)
    inside = (hz >= BAND_HZ[0]) & (hz <= BAND_HZ[1])
    return np.asarray(values, dtype=np.complex128)[inside if inside.any() else slice(None)]


def _uneven(noise: float) -> Problem:
    return Problem(
        "not_impedance",
        f"The reading changes with frequency as no resistor and no lead does ({100.0 * noise:.2g} %).",
        "See that no loudspeaker is on the clips and that none of them is loose, and measure again.",
    )


def _noisy(noise: float) -> Problem:
    return Problem(
        "noisy",
        f"Noise leaves the reading unsure by {100.0 * noise:.2g} %; at most {100.0 * MOST_NOISE:.2g} % is of use.",
        "Raise the input gain or the level, check that the clips sit well, or take a longer sweep (--seconds), and "
        "measure again.",
    )
