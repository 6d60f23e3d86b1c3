"""Whether one channel slipped against the other while the sweep ran, by whole samples, or was late from the begin on.

From the moment of the slip on, the channel lags or leads, so that the ratio of the channels is turned by -2 pi f tau at
all frequencies that the sweep plays later, and the others are as they were. No circuit follows that; what it leaves
over has this shape.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.candidates import Curves, Fitted
from sealtune.analysis.jig_correction import DRIFT_IN_TAKE
from sealtune.analysis.search import search
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.fit import BoxFit, Slip
from sealtune.records.verdict import Problem

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

STEPS = 120
"""Frequencies at which a slip is tried, evenly over the logarithm, from LOWEST times the lowest of the curve on."""

LOWEST, HIGHEST = 1.3, 0.9

ABOVE_NOISE = 2.0
"""What the circuit leaves over, as a multiple of the noise, below which there is nothing to be explained."""

EXPLAINS = 0.4
"""Share of the power left over that a slip explains beside what the circuit may still move; slips show 0.55 to 0.9."""

MENDS = 0.5
"""With the slip in the fit, this much of the model's error may be left; slips leave 0.15 to 0.5."""

CLOSE, MENDS_CLOSE = 7e-4, 0.75
"""A curve that the circuit follows so closely has hardly an error of another kind, and less has to be mended."""

LEAST_SAMPLES = 0.55
"""A slip is a whole sample or more; the linear fit finds 0.6 to 0.95 of it."""

LATE_S, LATE_MENDS = 1e-5, 0.3
"""A delay from the begin on is told beyond this, 3.6 degrees at 1 kHz, and has to mend more, since a coil that no model
follows bends the phase as evenly."""

LEAST_COIL_H, LEAST_SHUNT_OHM = 3e-5, 1.0
"""A crossover that was found with less than either is a capacitor right across the terminals, which no loudspeaker has
(common practice: coils of woofers have 0.3 mH and more); a channel that is late looks like one."""

ONE_CARD = "Use two inputs of one and the same sound card, without effects on either, and record again."

MOST_SAMPLES = 20.0
"""Standard deviation of the slip in the fit, samples: nearly free."""


def with_slip(curves: Curves, best: Fitted, to_beat: float) -> tuple[Curves, Fitted, Slip] | None:
    """Return the curves with a slip of the open one as a further unknown, the fit and the slip, None if there is none.

    best: a fit to the same curves thinned
    to_beat: the model's error that a slip has to mend
    A delay from the begin on is left free, so that it is no slip; where it mends as much by itself, it is what is told.
    """
    curve = curves.by_role["open"]
    points = curves.thinned().points
    noise = float(np.median(points.sigma_ohm / points.size_ohm))
    if curve.lag_ohm is None or best.model_error[0] < ABOVE_NOISE * noise:
        return None
    delayed = curves.with_open_rows(MOST_SAMPLES * curve.lag_ohm[None, :])
    late = _with_one_more(delayed, best)
    if late is None:
        return None
    return (
        _slipped(delayed, late, noise, to_beat)
        or _late(delayed, late, to_beat)
        or _apart(delayed, late, to_beat)
    )


def _slipped(
    delayed: Curves, late: Fitted, noise: float, to_beat: float
) -> tuple[Curves, Fitted, Slip] | None:
    curve = delayed.by_role["open"]
    at_hz = None if late.model_error[0] < ABOVE_NOISE * noise else _likeliest(delayed.thinned(), late)
    if at_hz is None:
        return None
    assert curve.lag_ohm is not None
    share = _later(curve, np.array([at_hz]))[:, 0]
    slipped = delayed.with_open_rows(MOST_SAMPLES * (share * curve.lag_ohm)[None, :])
    found = _with_one_more(slipped, late)
    before = min(float(late.model_error[0]), to_beat)
    if found is None or found.model_error[0] > (MENDS if before > CLOSE else MENDS_CLOSE) * before:
        return None
    samples = MOST_SAMPLES * float(found.vector[-1])
    return (slipped, found, Slip(samples, at_hz)) if abs(samples) > LEAST_SAMPLES else None


def _late(delayed: Curves, late: Fitted, to_beat: float) -> tuple[Curves, Fitted, Slip] | None:
    samples = MOST_SAMPLES * float(late.vector[-1])
    return (delayed, late, Slip(samples, None)) if _is_late(delayed, late, to_beat) else None


def _apart(delayed: Curves, late: Fitted, to_beat: float) -> tuple[Curves, Fitted, Slip] | None:
    """Return the same for two clocks that run apart: a delay that grows evenly while the sweep runs."""
    curve = delayed.by_role["open"]
    assert curve.jig_slopes_ohm is not None
    assert curve.sample_s is not None
    if curve.drift_row is None:
        return None
    turned = (
        -2j * np.pi * curve.frequency_hz * curve.sample_s / DRIFT_IN_TAKE
    )  # a gain that drifts, into a delay
    growing = delayed.with_open_rows(MOST_SAMPLES * (turned * curve.jig_slopes_ohm[curve.drift_row])[None, :])
    found = _with_one_more(growing, late)
    if found is None or not _is_late(growing, found, to_beat):
        return None
    return growing, found, Slip(MOST_SAMPLES * float(found.vector[-1]), None, grows=True)


def _is_late(curves: Curves, found: Fitted, to_beat: float) -> bool:
    sample_s = curves.by_role["open"].sample_s
    assert sample_s is not None
    samples = MOST_SAMPLES * abs(float(found.vector[-1]))
    told = samples > LEAST_SAMPLES and samples * sample_s > LATE_S
    return bool(told and found.model_error[0] < LATE_MENDS * to_beat)


def _with_one_more(curves: Curves, near: Fitted) -> Fitted | None:
    """Return the fit to curves with one unknown more than those of a fit."""
    thin = curves.thinned()
    circuit = replace(near.model, views=thin.views)
    return search(thin.points, circuit, np.append(near.vector, 0.0), near.model_error)


def slip_problems(fit: BoxFit) -> list[Problem]:
    """Return the problem `dropout` where the channels slipped, `not_impedance` where one was late throughout."""
    if fit.slip is None:
        return _capacitor_across(fit)
    later, earlier = ("2", "1") if fit.slip.samples > 0.0 else ("1", "2")
    count = max(1, round(abs(fit.slip.samples)))
    if fit.slip.at_hz is None:
        how = "falls behind" if fit.slip.grows else "comes later than"
        when = f"by about {count} samples " + ("while the sweep runs" if fit.slip.grows else "throughout")
        return [
            Problem(
                "not_impedance",
                f"Channel {later} {how} channel {earlier} {when}, which two inputs of one sound card do not do.",
                ONE_CARD,
            )
        ]
    return [
        Problem(
            "dropout",
            f"When the sweep passed {fit.slip.at_hz:.0f} Hz, channel {later} fell behind the other one by about "
            f"{count} samples: some were lost.",
            "Close other programs, use a larger buffer or another USB socket, and record again.",
        )
    ]


def _capacitor_across(fit: BoxFit) -> list[Problem]:
    found = fit.hidden_crossover
    if found is None or found.shunt_f is None or found.series_h > LEAST_COIL_H:
        return []
    if (found.shunt_ohm or 0.0) > LEAST_SHUNT_OHM:
        return []
    return [
        Problem(
            "not_impedance",
            f"The curve looks as if a capacitor of {1e6 * found.shunt_f:.2g} uF lay right across the terminals, which "
            "no loudspeaker has; a channel that comes late looks like that.",
            ONE_CARD,
        )
    ]


def _likeliest(coarse: Curves, best: Fitted) -> float | None:
    """Return at which frequency a slip explains most of what is left over, None where it explains too little."""
    points, known = coarse.points, best.model.prior()[1]
    weight = 1.0 / points.spread_ohm(best.model_error)
    jacobian = best.jacobian * weight[:, None]
    slopes = np.concatenate([jacobian.real, jacobian.imag, np.diag(known)])
    left = best.residual * weight
    over = np.concatenate([left.real, left.imag, np.zeros(known.size)])
    basis, strength, _ = np.linalg.svd(
        slopes / np.maximum(np.linalg.norm(slopes, axis=0), 1e-300), full_matrices=False
    )
    basis = basis[:, strength > 1e-9 * strength[0]]
    over = over - basis @ (basis.T @ over)
    hz = points.frequency_hz
    tried = np.geomspace(LOWEST * hz[0], HIGHEST * hz[-1], STEPS)
    curve = coarse.by_role["open"]
    assert curve.lag_ohm is not None
    shape = (curve.lag_ohm * weight)[:, None] * _later(curve, tried)
    shapes = np.concatenate([shape.real, shape.imag, np.zeros((known.size, STEPS))])
    shapes = shapes - basis @ (basis.T @ shapes)
    power = np.maximum(np.sum(shapes**2, axis=0), 1e-300)
    explained = (shapes.T @ over) ** 2 / power / float(over @ over)
    likeliest = int(np.argmax(explained))
    return float(tried[likeliest]) if explained[likeliest] > EXPLAINS else None


def _later(curve: ImpedanceCurve, at_hz: Reals) -> Complexes:
    """Return what share of each frequency a sweep plays after it has passed others, shape (n, m).

    About a frequency the sweep is a chirp whose rate is the frequency over rate_s, so that the share is Fresnel's
    integral from the moment of the other one on.
    """
    from scipy.special import fresnel

    assert curve.sweep_rate_s is not None
    hz = curve.frequency_hz[:, None]
    since = np.sqrt(2.0 * hz * curve.sweep_rate_s) * np.log(at_hz / hz)
    sine, cosine = fresnel(since)
    return np.asarray(0.5 - (cosine + 1j * sine) / (1.0 + 1.0j))
