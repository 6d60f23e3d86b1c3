"""Invented results for the report: a good cabinet, a leaking one, a spoilt recording, one without design."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.records.curve import ImpedanceCurve, Landmark, Landmarks
from sealtune.records.design import Box, Design, Driver, Prediction, Tuning, Vent
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.recording import Source
from sealtune.records.verdict import Finding, Leak, Problem, Result

FREQUENCY_HZ = np.geomspace(4.0, 2000.0, 4000)


def vented_box_ohm(
    frequency_hz: NDArray[np.float64], tuning_hz: float, box_q: float
) -> NDArray[np.complex128]:
    """The textbook circuit [Small1973] with all losses as leakage, plus 0.4 mH; an invented driver."""
    re_ohm, fs_hz, qms, qes, alpha = 5.7, 48.0, 4.2, 0.42, 1.17
    s = 2j * np.pi * frequency_hz
    ws, wb = 2.0 * np.pi * fs_hz, 2.0 * np.pi * tuning_hz
    air = s + wb / box_q + wb**2 / s
    motion = 1.0 + qms * (s / ws + ws / s) + alpha * ws * qms / air
    return np.asarray(re_ohm + s * 0.4e-3 + re_ohm * qms / qes / motion, dtype=np.complex128)


def extrema(frequency_hz: NDArray[np.float64], impedance_ohm: NDArray[np.complex128]) -> Landmarks:
    """The extrema of the noise-free magnitude below 150 Hz."""
    size = np.abs(impedance_ohm)
    inner = np.arange(1, size.size - 1)
    tops = [i for i in inner if size[i - 1] < size[i] > size[i + 1] and frequency_hz[i] < 150.0]
    dips = [i for i in inner if size[i - 1] > size[i] < size[i + 1] and frequency_hz[i] < 60.0]
    marks = [Landmark(float(frequency_hz[i]), float(size[i])) for i in (*tops, *dips)]
    assert len(marks) == 3
    return Landmarks(peaks=(marks[0], marks[1]), lower=marks[0], saddle=marks[2], upper=marks[1])


def build(cabinet: str, tuning_hz: float, box_q: float, seed: int) -> Result:
    """A bare result around a textbook curve with 0.05 ohm of noise."""
    model = vented_box_ohm(FREQUENCY_HZ, tuning_hz, box_q)
    rng = np.random.default_rng(seed)
    noise = 0.05 * (rng.standard_normal(model.size) + 1j * rng.standard_normal(model.size))
    curve = ImpedanceCurve(FREQUENCY_HZ, model + noise, np.full(model.size, 0.05))
    fit = BoxFit(
        tuning_hz=Interval(tuning_hz, 0.995 * tuning_hz, 1.005 * tuning_hz),
        box_q=Interval(box_q, 0.87 * box_q, 1.15 * box_q),
        compliance_ratio=Interval(1.17, 1.13, 1.21),
        fs_hz=Interval(48.0, 47.6, 48.4),
        qms=4.2,
        qes=0.42,
        re_ohm=5.7,
        res_ohm=57.0,
        creep=0.1,
        residual=0.012,
        noise=0.004,
        log_covariance=np.eye(4) * 1e-5,
        band_hz=(5.0, 400.0),
        frequency_hz=FREQUENCY_HZ,
        model_ohm=model,
        closed_box_misfit=23.0,
        converged=True,
    )
    design = Design(
        name="Bookshelf",
        box=Box(0.018, 0.03, "walls"),
        vent=Vent("round", 0.002827, 0.14, diameter_m=0.06),
        tuning=Tuning(44.0, 0.032),
        driver=Driver(fs_hz=48.0, qms=4.2, qes=0.42, vas_m3=0.021, re_ohm=5.7, sd_m2=0.0132),
    )
    return Result(
        cabinet=cabinet,
        verdict="good",
        summary="The box is sealed and its tuning is 0.2 % below the designed 44.0 Hz",
        design=design,
        prediction=Prediction(44.0, 42.6, 45.4, 44.2, 0.02, 1.17, 0.15, 0.176, 11.0, 0.3),
        curve=curve,
        landmarks=extrema(FREQUENCY_HZ, model),
        fit=fit,
        leak=Leak(0.01, Interval(0.0, 0.0, 3.0), None),
        volume_m3=Interval(0.0178, 0.0171, 0.0186),
        effective_length_m=0.176,
        length_change_m=None,
        findings=(),
        problems=(),
        sources=(
            Source("open", Path("recordings/bookshelf") / cabinet / "open.flac", "0123456789abcdef" * 4),
        ),
    )


@pytest.fixture(scope="session")
def good() -> Result:
    return build("left", 43.9, 11.2, 1)


@pytest.fixture(scope="session")
def leaking() -> Result:
    return replace(
        build("right", 47.2, 6.4, 2),
        verdict="rework",
        summary="The box leaks: its tuning is 7.3 % too high and its losses are twice those of a sealed box",
        leak=Leak(
            0.97, Interval(31.0, 14.0, 55.0), "like a 0.6 mm gap along 50 mm of the flange, or a 6 mm hole"
        ),
        findings=(
            Finding(
                "leak",
                0.97,
                "The tuning is 47.2 Hz instead of 44.0 Hz and the box Q is 6.4, not 7 to 18",
                "Feel for moving air around the flange, the driver's gasket and the terminal cup while "
                "a 20 Hz tone "
                "plays quietly; run a bead of glue along the joint that leaks",
                "Stop the vent airtight and record again as plugged: a low second peak betrays the leak",
            ),
            Finding(
                "vent_short",
                0.22,
                "A vent 21 mm shorter than designed would raise the tuning just as far",
                "Measure the vent's length before cutting anything",
                "Seal the box first, then check again",
            ),
        ),
        problems=(
            Problem(
                "hum",
                "50 Hz hum at 2 % of the signal was taken out",
                "Move the leads away from mains cables",
                False,
            ),
        ),
        length_change_m=Interval(0.021, 0.017, 0.025),
    )


@pytest.fixture(scope="session")
def remeasure() -> Result:
    return Result(
        cabinet="third",
        verdict="remeasure",
        summary="The recording is overloaded and cannot be judged",
        design=None,
        prediction=None,
        curve=None,
        landmarks=None,
        fit=None,
        leak=Leak(0.5, None, None),
        volume_m3=None,
        effective_length_m=None,
        length_change_m=None,
        findings=(),
        problems=(
            Problem(
                "clipped",
                "412 samples of channel 1 stand at full scale",
                "Turn the input down by 6 dB and record again",
            ),
        ),
        sources=(Source("open", Path("third/open.wav"), "fedcba9876543210" * 4),),
    )


@pytest.fixture(scope="session")
def undesigned() -> Result:
    return replace(
        build("workshop find", 38.4, 8.9, 3),
        design=None,
        prediction=None,
        volume_m3=None,
        effective_length_m=None,
        summary="The box is sealed as far as this recording shows; no design says what its tuning should be",
    )
