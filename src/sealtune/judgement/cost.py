"""What the faults of a box cost: its response and limits as measured against as designed.

The fault of the box is priced, not the scatter of its driver: the driver that was measured stands on both sides
(`box_pair`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.intervals import COVERAGE
from sealtune.design.behaviour import behaviour, curve_frequencies, half_power_hz
from sealtune.design.designed_speaker import DesignedSpeaker
from sealtune.design.limits import limits
from sealtune.design.losses import usual_losses
from sealtune.design.terminals import effective_driver
from sealtune.design.tolerance import BOX_Q_SPREAD
from sealtune.judgement.box_pair import BANDS_HZ, KINDS, BoxPair
from sealtune.judgement.evidence import PROBABLE
from sealtune.judgement.resistance import weigh_resistance
from sealtune.physics.air import Air
from sealtune.physics.loudspeaker import Loudspeaker, motion, static_volume_m3
from sealtune.records.cost import BandCost, Compared, Cost, LossKind
from sealtune.records.design import Box, Crossover, Design, Driver, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.plan import Limits
from sealtune.records.verdict import FaultName, Finding

Reals = NDArray[np.float64]

HEARD_DB = -12.0
"""A band that lies lower than this below the passband, both as designed and as measured, is not heard beside the rest
(our own judgement; practice takes 10 dB below as the end of what a box plays)."""

UNTOLD_DESIGN = Design("", Box(0.03))
"""Stands in where no design is known: its losses are the usual ones of a box of middling size."""

WIDEST = 1.0
"""A standard deviation of ln(tuning, Q, ...) counts as this at most; beyond it nothing is known anyway."""

SIMPLIFIED_DB = 0.2
"""Standard deviation of what the textbook circuit leaves out, dB: on virtual cabinets with lines for vents, exact
slits and creep the differences come out within 0.35 dB."""

KIND_OF: dict[FaultName, LossKind] = {
    "leak": "leakage",
    "vent_lined": "friction",
    "vent_restricted": "friction",
    "overstuffed": "absorption",
}
"""What the loss that no curve tells apart counts as, by the likeliest fault; leakage with any other, as it outweighs
the rest in most boxes [Small1973]."""

SPRING: tuple[FaultName, ...] = ("volume_small", "volume_large", "overstuffed")
"""Faults of the air in the box: it is by them that the tuning is off, and the compliance ratio with it."""


def cost(
    design: Design | None,
    prediction: Prediction | None,
    fit: BoxFit,
    air: Air,
    findings: Sequence[Finding] = (),
) -> Cost | None:
    """Return what the box as measured loses against the box as designed, None where the fit tells no such thing.

    design: None where none is known; the box is then held against usual losses alone
    prediction: box Q and its spread of a box without fault, and with a design the tuning; None for the usual ones
    findings: of the cabinet, the likeliest first; they say what the excess loss counts as, and whether the volume
        or a resistance is off
    The compliance ratio as designed is the measured one, since V_AS scatters more than volumes do, unless the air in
    the box is found off: then it follows from the tuning. The intervals hold the fit's covariance, the scatter of usual
    losses and that of an extra resistance. A driver off its data is not priced, nor a narrowing's own
    speed of air; the coil's inductance and creep are left out, as on both sides alike.
    """
    target_hz = None if design is None or prediction is None else prediction.target_hz
    built = design or UNTOLD_DESIGN
    told = tuple(one.fault for one in findings[:1]) + tuple(
        one.fault for one in findings[1:] if one.probability > PROBABLE
    )
    usual = usual_losses(built, target_hz or fit.tuning_hz.value, air)
    shares = usual.shares
    if prediction is not None:
        shares *= usual.box_q / prediction.box_q
    pair = BoxPair(
        fit=fit,
        target_hz=target_hz,
        usual=shares,
        known=_known(fit),
        kind=next((KIND_OF[fault] for fault in told if fault in KIND_OF), "leakage"),
        spring=target_hz is not None and any(fault in SPRING for fault in told),
        crossover=built.crossover or fit.hidden_crossover,
    )
    series = _series_ohm(design, fit, findings)
    at = pair.centre(series.value)
    known_well = np.isfinite(at).all() and np.isfinite(fit.log_covariance).all()
    if not (known_well and (at[:4] > 0.0).all() and pair.re_ohm(series.value) > 0.0):
        return None
    meant_db, found_db = pair.levels_db(at)
    difference = found_db - meant_db
    reach = COVERAGE * _deviation(
        pair, at, series, BOX_Q_SPREAD if prediction is None else prediction.box_q_spread
    )
    heard = np.maximum(meant_db, found_db) > HEARD_DB
    others = [replace(pair, kind=kind).levels_db(at)[1] - found_db for kind in KINDS]
    meant, found = pair.circuits(at)
    before = 0.0 if pair.crossover is None else pair.crossover.series_ohm
    re_ohm = pair.re_ohm(series.value)
    known = None if design is None else _both_limits(pair, design, (meant, found), series.value, air)
    leaking = bool(told) and told[0] == "leak"
    return Cost(
        against="usual losses" if target_hz is None else "design",
        bands=tuple(
            BandCost(hz, float(d), float(m), Interval(float(x), float(x - r), float(x + r)), bool(h))
            for hz, d, m, x, r, h in zip(BANDS_HZ, meant_db, found_db, difference, reach, heard, strict=True)
        ),
        f3_hz=Compared(
            _f3_hz(found, 1.0 + (before + series.value) / re_ohm), _f3_hz(meant, 1.0 + before / re_ohm)
        ),
        **_compared(known, _vent_share(meant, found) if leaking else 1.0),
        excess=pair.kind,
        excess_matters_db=float(np.abs(others)[:, heard].max(initial=0.0)),
    )


def _known(fit: BoxFit) -> tuple[float | None, ...]:
    """Return the shares of 1/Q that the curves tell; one told to be none counts half of what it may be at most."""
    losses = fit.losses
    most = {name: 0.5 / least for name, least in losses.none_found}
    qs = (losses.leakage_q, losses.vent_q, losses.absorption_q)
    names = ("leakage", "vent", "absorption")
    return tuple(most.get(name) if q is None else 1.0 / q.value for q, name in zip(qs, names, strict=True))


def _series_ohm(design: Design | None, fit: BoxFit, findings: Sequence[Finding]) -> Interval:
    """Return the extra resistance before the driver, ohm; 0 unless it is probable."""
    probable = any(one.fault == "series_resistance" and one.probability > PROBABLE for one in findings)
    found = weigh_resistance(design, fit) if probable else None
    return Interval(0.0, 0.0, 0.0) if found is None else found.series_ohm


def _deviation(pair: BoxPair, at: Reals, series: Interval, usual_spread: float) -> Reals:
    """Return the standard deviation of each band's difference, dB, shape (bands,).

    usual_spread: standard deviation of ln Q of boxes as designed
    A step each way along each of the covariance's axes, which are independent, along the extra resistance and along
    the usual losses.
    """
    size, axes = np.linalg.eigh(pair.fit.log_covariance)
    steps = (axes * np.minimum(np.sqrt(np.maximum(size, 0.0)), WIDEST)).T
    ways = [(pair, at * np.exp([*step, 0.0]), pair, at * np.exp([*-step, 0.0])) for step in steps]
    half = 0.5 * (series.high - series.low) / COVERAGE
    if half > 0.0:
        ohm = np.array([0.0, 0.0, 0.0, 0.0, min(half, 0.9 * series.value, 0.5 * pair.re_ohm(series.value))])
        ways.append((pair, at + ohm, pair, at - ohm))
    more, less = (replace(pair, usual=pair.usual * np.exp(sign * usual_spread)) for sign in (1.0, -1.0))
    ways.append((more, at, less, at))
    changes = [
        0.5 * np.diff(one.levels_db(up) - other.levels_db(down), axis=0)[0] for one, up, other, down in ways
    ]
    return np.asarray(np.sqrt(SIMPLIFIED_DB**2 + np.sum(np.square(changes), axis=0)))


def _f3_hz(circuit: Loudspeaker, damping: float) -> float | None:
    """Return where the box is at half of its passband's power, Hz; damping: times that resistance raises Q_ES."""
    loaded = replace(circuit, qes=circuit.qes * damping)
    return half_power_hz(
        lambda hz: np.abs(motion(np.asarray(2j * pi * hz), loaded).sound), curve_frequencies()
    )


def _both_limits(
    pair: BoxPair, design: Design, circuits: tuple[Loudspeaker, Loudspeaker], series_ohm: float, air: Air
) -> tuple[Limits, Limits] | None:
    """Return what the measured driver stands in the box as designed and as measured, None without V_AS."""
    driver = effective_driver(design)
    if driver.vas_m3 is None:
        return None
    parts = pair.crossover or Crossover()
    worse = replace(parts, series_ohm=parts.series_ohm + series_ohm)
    meant, found = circuits
    driver = replace(driver, qes=float(meant.qes), re_ohm=pair.re_ohm(series_ohm))
    return (
        _limits(replace(design, crossover=pair.crossover), driver, meant, air),
        _limits(replace(design, crossover=worse), driver, found, air),
    )


def _limits(design: Design, driver: Driver, circuit: Loudspeaker, air: Air) -> Limits:
    assert driver.qes is not None
    assert driver.vas_m3 is not None
    volume = static_volume_m3(float(circuit.ws_rad_s), driver.qes, driver.vas_m3, air)
    speaker, hz = DesignedSpeaker(design, circuit, driver, volume, air), curve_frequencies()
    return limits(speaker, hz, behaviour(speaker, hz), behaviour(speaker, hz, closed=True))


def _vent_share(meant: Loudspeaker, found: Loudspeaker) -> float:
    """Return the vent's share of the air that moves through vent and leak, both masses: w_B^2 goes with 1/mass."""
    return min(float(meant.wb_rad_s) / float(found.wb_rad_s), 1.0) ** 2


def _compared(known: tuple[Limits, Limits] | None, vent_share: float) -> dict[str, Compared]:
    """Return the limits side by side, the air's speed at the same power."""
    if known is None:
        return dict.fromkeys(("travel_w", "usable_w", "air_speed_m_s"), Compared())
    meant, found = known
    speed = None
    if found.air_speed_m_s is not None and meant.usable_w is not None and found.usable_w is not None:
        speed = found.air_speed_m_s * vent_share * sqrt(meant.usable_w / found.usable_w)
    return {
        "travel_w": Compared(
            found.above.power_w if found.above else None, meant.above.power_w if meant.above else None
        ),
        "usable_w": Compared(found.usable_w, meant.usable_w),
        "air_speed_m_s": Compared(speed, meant.air_speed_m_s),
    }
