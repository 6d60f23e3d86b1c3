"""What the readings at cone and mouth say of a cabinet, held against its design and its impedance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log, log10, sqrt

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.acoustic_sum import apart, band_levels_db, piston_droop, plainly
from sealtune.analysis.intervals import COVERAGE
from sealtune.analysis.near_field_fit import bare_null_hz, fit_near_field
from sealtune.analysis.near_field_model import NearFieldFit
from sealtune.analysis.polarity import polarity
from sealtune.judgement.expected_sound import ExpectedSound, expected_sound
from sealtune.physics.air import Air
from sealtune.physics.near_field import Openings, limit_hz, openings
from sealtune.records.design import Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.near_field import (
    AcousticSum,
    Missing,
    NearField,
    Polarity,
    Reading,
    SideNoise,
    SumBand,
)
from sealtune.records.recording import Role
from sealtune.records.verdict import Finding

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

DOUBTFUL_RESIDUAL, OPPOSED = 0.015, 0.5
"""Where more is left, the mouth is tried upside down, and believed so where that leaves less than half."""

GOOD_RESIDUAL = 0.06
"""What the model leaves of the readings; above, they are not those of one vented box."""

COMMON_FROM, COMMON_TO_HZ = 2.2, 400.0
"""The level is common to both sides from so many times the tuning on, and up to there."""

TELLING_DB = 1.0
"""A smaller difference is not told: distances and cones that are not flat make as much."""

LOWEST_TOLD = 0.6
"""Of the tuning; below, cone and mouth cancel and small errors of either grow."""

ALLOWED = 0.006
"""Of the tuning, one standard deviation more between two ways of measuring it: warmth, the bung, the day."""


@dataclass(frozen=True)
class Known:
    """What is known of the cabinet beside the readings; None where it is not.

    findings: by the impedance
    """

    design: Design | None
    prediction: Prediction | None
    fit: BoxFit | None
    air: Air
    findings: tuple[Finding, ...] = ()

    @property
    def tuning_hz(self) -> float | None:
        """The tuning by the impedance, else by the design, Hz."""
        if self.fit is not None:
            return self.fit.tuning_hz.value
        return None if self.prediction is None else self.prediction.target_hz


def assess(
    cone: Reading | None,
    mouth: Reading | None,
    known: Known,
    noises: Sequence[SideNoise] = (),
    *,
    calibrated: bool = False,
    distortion: Sequence[tuple[Role, float]] = (),
) -> NearField:
    """Return all that the readings tell.

    cone, mouth: None where there is no such recording
    noises, distortion: found in the recordings
    calibrated: whether the microphone's response was taken off
    """
    areas = None if known.design is None else openings(known.design)
    fit, opposed = None, False
    if cone is not None and mouth is not None:
        mouth = _on(mouth, cone.frequency_hz)
        fit = _model(cone, mouth, known, areas)
        if fit is None or fit.residual > DOUBTFUL_RESIDUAL:
            other = replace(mouth, value=-mouth.value)
            flipped = _model(cone, other, known, areas)
            if flipped is not None and (fit is None or flipped.residual < OPPOSED * fit.residual):
                fit, mouth, opposed = flipped, other, True
    tuning_hz = fit.tuning_hz if fit is not None else known.tuning_hz
    expected = None
    if known.design is not None and known.prediction is not None:
        expected = expected_sound(known.design, known.prediction, known.fit, known.air, known.findings)
    which_way = None if cone is None or tuning_hz is None else _polarity(cone, tuning_hz, expected, opposed)
    sound = None
    if cone is not None and mouth is not None and areas is not None and tuning_hz is not None:
        sound = _sum(cone, mouth, known, areas, fit, expected, tuning_hz)
    witnessed = None if fit is None else _interval(fit)
    return NearField(
        cone=cone,
        mouth=mouth,
        polarity=which_way,
        tuning_hz=witnessed,
        null_hz=None
        if cone is None or tuning_hz is None
        else bare_null_hz(cone.frequency_hz, cone.value, (0.6 * tuning_hz, 1.6 * tuning_hz)),
        crosstalk=None if fit is None else fit.crosstalk,
        mouth_excess_db=None
        if fit is None or areas is None
        else 20.0 * log10(fit.mouth_over_cone / areas.mouth_over_cone),
        agrees=_agrees(witnessed, known.fit),
        sound=sound,
        noises=tuple(noises),
        missing=_missing(sound, expected, tuning_hz),
        calibrated=calibrated,
        distortion=tuple(distortion),
    )


def _on(reading: Reading, frequency_hz: Reals) -> Reading:
    """Return a reading on other frequencies, by straight lines."""
    if np.array_equal(reading.frequency_hz, frequency_hz):
        return reading
    value = np.interp(frequency_hz, reading.frequency_hz, reading.value.real) + 1j * np.interp(
        frequency_hz, reading.frequency_hz, reading.value.imag
    )
    sigma = np.interp(frequency_hz, reading.frequency_hz, reading.sigma)
    outside = (frequency_hz < reading.frequency_hz[0]) | (frequency_hz > reading.frequency_hz[-1])
    sigma = np.where(outside, 1e3 * np.abs(value) + sigma, sigma)
    return Reading(reading.role, frequency_hz, value, sigma)


def _model(cone: Reading, mouth: Reading, known: Known, areas: Openings | None) -> NearFieldFit | None:
    speed = known.air.speed_m_s
    ratio, delays, through = None, (0.0, 0.0), 0.6e-3
    if areas is not None:
        ratio = areas.mouth_over_cone
        radii = (sqrt(area / np.pi) for area in (areas.cone_area_m2, areas.mouth_area_m2))
        first, second = (radius / (2.0 * speed) for radius in radii)
        delays = (first, second)
    vent = None if known.design is None else known.design.vent
    if vent is not None and known.prediction is not None:
        through = (known.prediction.effective_length_m or vent.length_m) / speed
    found = fit_near_field(
        cone.frequency_hz,
        cone.value,
        mouth.value,
        cone.sigma,
        mouth.sigma,
        ratio,
        delays,
        through,
        near_hz=known.tuning_hz,
    )
    return found if found is not None and found.residual < GOOD_RESIDUAL else None


def _interval(fit: NearFieldFit) -> Interval:
    reach = float(np.exp(COVERAGE * fit.tuning_spread))
    return Interval(fit.tuning_hz, fit.tuning_hz / reach, fit.tuning_hz * reach)


def _agrees(witnessed: Interval | None, fit: BoxFit | None) -> bool | None:
    if witnessed is None or fit is None:
        return None
    apart_by = log(witnessed.value / fit.tuning_hz.value)
    spreads = [log(one.high / one.low) / (2.0 * COVERAGE) for one in (witnessed, fit.tuning_hz)]
    return abs(apart_by) < COVERAGE * sqrt(sum(spread**2 for spread in spreads) + ALLOWED**2)


def _polarity(cone: Reading, tuning_hz: float, expected: ExpectedSound | None, opposed: bool) -> Polarity:
    response = None if expected is None else expected.cone(cone.frequency_hz)
    found = polarity(cone, tuning_hz, response)
    if opposed:
        return Polarity("contradictory", found.sureness)
    return found


def _sum(
    cone: Reading, mouth: Reading, known: Known, areas: Openings, fit: NearFieldFit | None,
    expected: ExpectedSound | None, tuning_hz: float,
) -> AcousticSum | None:  # fmt: skip
    hz = cone.frequency_hz
    limit = limit_hz(areas.cone_area_m2, known.air.speed_m_s)
    if fit is not None:
        by_cone, by_vent = apart(hz, cone.value, mouth.value, fit)
    else:
        by_cone, by_vent = plainly(cone.value, mouth.value, areas)
    droop = piston_droop(hz, areas.cone_area_m2, known.air.speed_m_s)
    droop = np.maximum(droop, 0.5)  # far above the limit, where nothing is told
    whole = np.asarray((by_cone + by_vent) / droop)
    bands = band_levels_db(hz, whole, limit)
    if len(bands) < 3:
        return None
    common = [nominal >= COMMON_FROM * tuning_hz and nominal <= COMMON_TO_HZ for nominal, _ in bands]
    if sum(common) < 2:
        common = [place >= len(bands) - 3 for place in range(len(bands))]
    at = np.array([level for _, level in bands])
    designed = designed_db = None
    if expected is not None:
        meant = expected.sound(hz)
        own = np.array([level for _, level in band_levels_db(hz, meant, limit)])
        offset = float((at - own)[common].mean())
        # the design's own passband is 0 dB, so that its shape is what is seen
        designed, designed_db = own, 20.0 * np.log10(np.abs(meant))
        base = offset
    else:
        base = float(at[common].mean())
    kept = hz <= limit
    return AcousticSum(
        frequency_hz=hz[kept],
        level_db=20.0 * np.log10(np.abs(whole))[kept] - base,
        designed_db=None if designed_db is None else designed_db[kept],
        bands=tuple(
            SumBand(nominal, float(level - base), None if designed is None else float(designed[place]))
            for place, (nominal, level) in enumerate(bands)
        ),
        limit_hz=limit,
        cone_db=20.0 * np.log10(np.abs(by_cone))[kept] - base,
        mouth_db=20.0 * np.log10(np.maximum(np.abs(by_vent), 1e-30))[kept] - base,
        by_model=fit is not None,
        common_db=base,
    )


def _missing(
    sound: AcousticSum | None, expected: ExpectedSound | None, tuning_hz: float | None
) -> tuple[Missing, ...]:
    """Return the bands that differ by something worth telling, and what explains it, lowest first."""
    if sound is None or expected is None or tuning_hz is None or sound.designed_db is None:
        return ()
    hz = sound.frequency_hz
    nominal = [band.hz for band in sound.bands]
    common = np.array([one >= COMMON_FROM * tuning_hz and one <= COMMON_TO_HZ for one in nominal])
    if common.sum() < 2:
        common = np.arange(len(nominal)) >= len(nominal) - 3
    steps = []
    for step in range(len(expected.names) + 1):
        levels = dict(band_levels_db(hz, expected.sound(hz, step), sound.limit_hz))
        level = np.array([levels.get(one, np.nan) for one in nominal])
        steps.append(level - float(np.nanmean(level[common])))
    own = np.array([band.designed_db if band.designed_db is not None else np.nan for band in sound.bands])
    # both sides share their level in the upper bands
    found = []
    for place, band in enumerate(sound.bands):
        difference = band.difference_db
        if difference is None or abs(difference) < TELLING_DB or not np.isfinite(own[place]):
            continue
        if not LOWEST_TOLD * tuning_hz <= band.hz <= 200.0:
            continue
        shares = [
            (name, float(steps[step + 1][place] - steps[step][place]))
            for step, name in enumerate(expected.names)
        ]
        explained = sum(share for _, share in shares)
        shares = [share for share in shares if abs(share[1]) >= 0.2]
        shares.sort(key=lambda share: -abs(share[1]))
        found.append(Missing(band.hz, difference, tuple(shares), difference - explained))
    return tuple(found)
