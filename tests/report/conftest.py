"""Invented results for the report: a good cabinet, a leaking one, a spoilt recording, one without design;
and an invented plan."""

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
from sealtune.records.plan import (
    Behaviour,
    Expected,
    Limits,
    LimitWord,
    NearAlignment,
    Plan,
    PowerPoint,
    SweepLevel,
    Toleranced,
    VentChoice,
    VolumeChoice,
)
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


PLAN_HZ = np.geomspace(5.0, 500.0, 300)


def driven(tuning_hz: float | None) -> tuple[Behaviour, NDArray[np.complex128]]:
    """The textbook circuit [Small1973] of an invented driver (48 Hz, 21 litres) in 18 litres, and its impedance.

    3.66 mm per root of a watt at direct current, 60 W rated, 5 mm of travel; box losses as a leakage Q of 10.
    """
    s, ws = 2j * np.pi * PLAN_HZ, 2.0 * np.pi * 48.0
    wb = 2.0 * np.pi * (tuning_hz or 0.0)
    y = s + wb / 10.0 + wb**2 / s
    air = 21.0 / 18.0 * s / y
    x = 1.0 / ((s / ws) ** 2 + s / ws * (1.0 / 0.42 + 1.0 / 4.2) + 1.0 + air)
    ohm = 5.7 + 57.0 / (1.0 + 4.2 * (s / ws + ws / s * (1.0 + air)))
    sound = (s / ws) ** 2 * x * s / y
    db = 20.0 * np.log10(np.abs(sound))
    travel = 3.66e-3 * np.abs(x)
    speed = travel * 0.0132 / 0.002827 * np.abs(wb**2 / y) if tuning_hz else None
    powers = [
        np.full(PLAN_HZ.size, 60.0),
        (5e-3 / travel) ** 2,
        *([] if speed is None else [(17.0 / speed) ** 2]),
    ]
    words: tuple[LimitWord, ...] = ("power", "travel", "vent air")
    least = np.array(powers)
    return Behaviour(
        relative_db=db,
        group_delay_s=-np.gradient(np.unwrap(np.angle(sound)), 2.0 * np.pi * PLAN_HZ),
        f3_hz=float(PLAN_HZ[int(np.argmax(db > -3.01))]),
        level_db=88.0 + db,
        travel_m=travel,
        air_speed_m_s=speed,
        highest_db=88.0 + db + 10.0 * np.log10(least.min(axis=0)),
        limited_by=tuple(words[place] for place in least.argmin(axis=0)),
    ), ohm


def spread(value: float, by: float) -> Toleranced:
    return Toleranced(
        value, value * (1.0 - by), value * (1.0 + by), by / 2.0, by / 2.0,
        (("end corrections", 0.75), ("volume", 0.2), ("vent opening", 0.04), ("temperature", 0.01)),
    )  # fmt: skip


@pytest.fixture(scope="session")
def planned() -> Plan:
    """An invented plan: every number that a test names is given here, not computed by the program."""
    (vented, ohm), (closed, plugged) = driven(44.0), driven(None)
    around: dict[Expected, tuple[float, float]] = {
        "tuning_hz": (44.0, 0.035), "compliance_ratio": (1.167, 0.3), "lower_peak_hz": (26.7, 0.12),
        "lower_peak_ohm": (44.5, 0.3), "saddle_hz": (43.8, 0.04), "saddle_ohm": (7.1, 0.1),
        "upper_peak_hz": (79.4, 0.11), "upper_peak_ohm": (48.2, 0.3),
    }  # fmt: skip
    fits, noisy = (), ("the air is fast enough to be heard",)
    return Plan(
        design=Design(
            "Bookshelf",
            Box(0.018, 0.03, "walls"),
            Vent("round", 0.002827, 0.2, diameter_m=0.06, length_is_computed=True),
            Tuning(44.0, 0.04),
            Driver(48.0, 4.2, 0.42, 0.021, 5.7, 0.0132, 5e-3, 60.0),
        ),
        prediction=Prediction(44.0, 42.24, 45.76, 44.0, 0.0175, 1.167, 0.15, 0.243, 9.0, 0.35),
        notes=("Q_TS 0.38 was worked out from Q_MS and Q_ES",),
        expected={name: spread(value, by) for name, (value, by) in around.items()},
        hz_per_mm=-0.09,
        length_for_target_m=0.2,
        pipe_hz=705.0,
        frequency_hz=PLAN_HZ,
        vented=vented,
        closed=closed,
        impedance_ohm=ohm,
        plugged_ohm=plugged,
        limits=Limits(60.0, PowerPoint(23.0, 65.0), PowerPoint(1.8, 10.0), PowerPoint(8.8, 5.0), 23.0, 16.2, 45.0,
                      0.0471, 0.00232),
        sweep=SweepLevel(0.57, 4.0, 1000.0, 10.0, 0.1, 0.0013, "travel"),
        vents=(
            VentChoice(0.04, 1, 0.066, 43.0, 1900.0, 0.00008, False, noisy),
            VentChoice(0.05, 1, 0.126, 27.6, 1050.0, 0.00025, False, noisy),
            VentChoice(0.06, 1, 0.2, 16.2, 705.0, 0.00057, True, fits),
            VentChoice(0.07, 1, 0.285, 14.1, 520.0, 0.0011, False, ("longer than the box is deep",)),
            VentChoice(0.01, 2, -0.004, 341.0, 9000.0, 0.0, False, ("too narrow: no length reaches 44 Hz",)),
            VentChoice(0.042, 2, 0.2, 19.6, 700.0, 0.00055, False, noisy),
        ),
        volumes=(
            VolumeChoice(0.0144, 0.256, 1.46, 48.6, PowerPoint(27.0, 67.0), 0.4, False),
            VolumeChoice(0.018, 0.2, 1.17, 49.6, PowerPoint(23.0, 65.0), 0.1, True),
            VolumeChoice(0.0225, 0.155, 0.93, 50.9, PowerPoint(19.0, 63.0), 0.0, False),
        ),
        alignment=NearAlignment("QB3", 0.98, 1.25),
    )  # fmt: skip


@pytest.fixture(scope="session")
def bare(planned: Plan) -> Plan:
    """The same without any driver data."""
    return replace(
        planned,
        design=replace(planned.design, driver=Driver()),
        expected={"tuning_hz": planned.expected["tuning_hz"]},
        vented=None,
        closed=None,
        impedance_ohm=None,
        plugged_ohm=None,
        limits=None,
        sweep=SweepLevel(0.5, 4.0, 1000.0, 10.0, None, None, "usual level"),
        vents=tuple(replace(one, air_speed_m_s=None) for one in planned.vents),
        volumes=tuple(VolumeChoice(one.volume_m3, one.length_m, None, None, None, None, one.designed)
                      for one in planned.volumes),
        alignment=None,
        notes=(),
    )  # fmt: skip
