"""The physical circuit fitted to an impedance curve, started from its landmarks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sealtune.analysis.circuit import Circuit
from sealtune.analysis.intervals import combined, interval, weights
from sealtune.analysis.parameters import COMMON, SLIT, SPARE, USUAL_VOLUME_M3, VENTED, Packing
from sealtune.analysis.search import Minimum, search
from sealtune.physics.vented_box import VentedBox, tuning_and_q
from sealtune.records.curve import ImpedanceCurve, Landmarks
from sealtune.records.design import Crossover, Design
from sealtune.records.fit import BoxFit

BAND_BELOW, BAND_ABOVE = 2.6, 4.0
"""The fit uses the curve from f_L / 2.6 to f_H * 4."""

COARSE_POINTS = 200
"""The first search and the comparisons run on this many points; the final one on all."""

POOR = 0.03
"""A model error beyond this asks for other starts."""

NOISE_ALONE = 0.3
"""Where the model error is below this share of the noise, a leaking gap could not explain more."""

DECIDED = 0.5
"""A circuit with a gap whose model error is below this share of the one without stands alone."""

WORTH_TELLING = 0.02
"""A circuit that may be true with this probability widens the intervals by what it says otherwise."""

FEWEST_POINTS = 8

SLIT_STARTS = ((0.05, 6e-3), (0.4, 2e-2))
"""A narrow and a wide gap to begin with: inertance of vent over gap, and h^2 rho / (4 mu), s."""


def fit_vented_box(
    curve: ImpedanceCurve, landmarks: Landmarks, design: Design | None = None
) -> BoxFit | None:
    """Return the fitted circuit, None where the curve lacks the two peaks to start from or no circuit fits.

    design: its crossover and its net volume (for the radiated sound) are taken as known
    """
    lower, saddle, upper = landmarks.lower, landmarks.saddle, landmarks.upper
    if lower is None or saddle is None or upper is None:
        return None
    band = (lower.hz / BAND_BELOW, upper.hz * BAND_ABOVE)
    part = _within(curve, band)
    if part.frequency_hz.size < FEWEST_POINTS:
        return None
    coarse = _thinned(part)
    crossover = None if design is None else design.crossover
    volume_m3 = USUAL_VOLUME_M3 if design is None else design.box.volume_m3
    best = None
    for shift in (1.0, 0.93, 1.07):
        start = replace(_start(coarse, lower.hz, saddle.hz * shift, upper.hz), volume_m3=volume_m3)
        found = search(coarse, Packing(VENTED, start), start, crossover)
        if found is not None and (best is None or found.model_error < best.model_error):
            best = found
        if best is not None and best.model_error < POOR:
            break
    if best is None:
        return None
    candidates = [best]
    if best.model_error > NOISE_ALONE * float(np.median(coarse.sigma_ohm / np.abs(coarse.impedance_ohm))):
        gap = _leaking(best, coarse, crossover)
        if gap is not None:
            candidates = [gap] if gap.model_error < DECIDED * best.model_error else [best, gap]
    spare = _with_leakage_alone(best, coarse, crossover)
    if spare is not None:
        candidates.append(spare)
    minima = [_refined(candidate, part, crossover) for candidate in candidates]
    return _summary(curve, part, minima, _closed_misfit(best, coarse, crossover), band, crossover)


def _within(curve: ImpedanceCurve, band: tuple[float, float]) -> ImpedanceCurve:
    inside = (curve.frequency_hz >= band[0]) & (curve.frequency_hz <= band[1])
    return _picked(curve, inside & (curve.sigma_ohm < 0.5 * np.abs(curve.impedance_ohm)))


def _thinned(curve: ImpedanceCurve) -> ImpedanceCurve:
    """Return about COARSE_POINTS points of the curve, evenly spread over the logarithm of frequency."""
    position = np.log(curve.frequency_hz)
    cells = np.floor((position - position[0]) / max(position[-1] - position[0], 1e-9) * COARSE_POINTS)
    return _picked(curve, np.concatenate([[True], np.diff(cells) > 0]))


def _picked(curve: ImpedanceCurve, which: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> ImpedanceCurve:
    slopes = curve.jig_slopes_ohm
    return ImpedanceCurve(
        curve.frequency_hz[which],
        curve.impedance_ohm[which],
        curve.sigma_ohm[which],
        jig_slopes_ohm=None if slopes is None else slopes[:, which],
    )


def _start(curve: ImpedanceCurve, lower_hz: float, saddle_hz: float, upper_hz: float) -> VentedBox:
    """Return a circuit by the closed forms of the lossless box [Thiele1971], [Small1973]."""
    saddle_hz = float(np.clip(saddle_hz, lower_hz * 1.02, upper_hz * 0.98))
    size = np.abs(curve.impedance_ohm)
    re = float(np.min(size)) * 0.97
    fs = lower_hz * upper_hz / saddle_hz
    alpha = (upper_hz**2 - saddle_hz**2) * (saddle_hz**2 - lower_hz**2) / (upper_hz * lower_hz) ** 2
    peak = float(np.interp([lower_hz, upper_hz], curve.frequency_hz, size).max())
    coil = float(np.clip(curve.impedance_ohm.imag[-1] * 200.0 / curve.frequency_hz[-1], 0.05, 50.0))
    return VentedBox(
        re_ohm=re, coil_ohm=coil, coil_exponent=0.7, coil_h=1e-4, coil_shunt_s=0.03,
        res_ohm=max(peak - re, 0.2 * re) * 1.3, ws_rad_s=2.0 * np.pi * fs, qms=4.0, creep=0.08,
        alpha=float(np.clip(alpha, 0.05, 20.0)), wb_rad_s=2.0 * np.pi * saddle_hz,
        leakage=1 / 30, friction=1 / 50, absorption=1 / 50,
    )  # fmt: skip


def _refined(coarse: Minimum, curve: ImpedanceCurve, crossover: Crossover | None) -> Minimum:
    """Return the minimum on all points, the coarse one where that search breaks down."""
    found = search(curve, coarse.circuit.packing, coarse.box, crossover, coarse.model_error)
    if found is not None:
        return found
    z, jacobian = Circuit.on(curve, coarse.circuit.packing, crossover).evaluate(coarse.vector)
    return replace(coarse, jacobian=jacobian, residual=z - curve.impedance_ohm, converged=False)


def _leaking(best: Minimum, curve: ImpedanceCurve, crossover: Crossover | None) -> Minimum | None:
    """Return the best circuit with a leaking gap of its own, None where it explains no more than without."""
    found = []
    for ratio, time_s in SLIT_STARTS:
        start = replace(best.box, slit_ratio=ratio, slit_time_s=time_s)
        minimum = search(
            curve,
            Packing((*VENTED, *SLIT), replace(start, volume_m3=best.circuit.packing.fixed.volume_m3)),
            start,
            crossover,
            best.model_error,
        )
        if minimum is not None:
            found.append(minimum)
            if minimum.model_error < DECIDED * best.model_error:
                break
    if not found:
        return None
    gap = found[int(np.argmax(weights(found, curve)))]
    return gap if weights([best, gap], curve)[1] > WORTH_TELLING else None


def _with_leakage_alone(best: Minimum, curve: ImpedanceCurve, crossover: Crossover | None) -> Minimum | None:
    """Return the circuit of the textbooks, all of whose losses leak, None where the curve needs more."""
    start = replace(
        best.box, friction=0.0, absorption=0.0, volume_m3=0.0, leakage=1.0 / tuning_and_q(best.box)[1]
    )
    found = search(curve, Packing(SPARE, start), start, crossover, best.model_error)
    return found if found is not None and weights([best, found], curve)[1] > WORTH_TELLING else None


def _closed_misfit(vented: Minimum, curve: ImpedanceCurve, crossover: Crossover | None) -> float:
    """Return the residual of the best closed box over that of the vented one."""
    box = replace(vented.box, alpha=0.0)
    closed = search(curve, Packing(COMMON, box), box, crossover, 0.2, stages=1)
    if closed is None:
        return float("inf")
    return _relative(closed, curve) / max(_relative(vented, curve), 1e-9)


def _relative(minimum: Minimum, curve: ImpedanceCurve) -> float:
    return float(np.sqrt(np.mean(np.abs(minimum.residual / curve.impedance_ohm) ** 2)))


def _summary(
    curve: ImpedanceCurve,
    part: ImpedanceCurve,
    minima: list[Minimum],
    closed_misfit: float,
    band: tuple[float, float],
    crossover: Crossover | None,
) -> BoxFit:
    index, centre, covariance = combined(minima, part)
    best = minima[index]
    box = best.box
    tuning, q, alpha, fs = (
        interval(float(value), float(deviation))
        for value, deviation in zip(centre, np.sqrt(np.diag(covariance)), strict=True)
    )
    circuit = Circuit.on(curve, best.circuit.packing, crossover)
    return BoxFit(
        tuning_hz=tuning, box_q=q, compliance_ratio=alpha, fs_hz=fs,
        qms=box.qms, qes=box.qms * box.re_ohm / box.res_ohm, re_ohm=box.re_ohm, res_ohm=box.res_ohm,
        creep=box.creep,
        residual=_relative(best, part),
        noise=float(np.median(part.sigma_ohm / np.abs(part.impedance_ohm))),
        log_covariance=covariance, band_hz=band,
        frequency_hz=curve.frequency_hz, model_ohm=circuit.evaluate(best.vector)[0],
        closed_box_misfit=closed_misfit, converged=best.converged,
    )  # fmt: skip
