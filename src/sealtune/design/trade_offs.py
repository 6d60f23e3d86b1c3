"""What else would give the same tuning: other vents at the same net volume, other volumes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from sealtune.design.behaviour import behaviour
from sealtune.design.designed_speaker import designed_speaker
from sealtune.design.fit_in_box import (
    WALL_M,
    room_behind_m,
    takes_m3,
    too_long,
    vent_for_tuning,
    wall_obstacle,
)
from sealtune.design.limits import power_above
from sealtune.physics.air import Air
from sealtune.physics.vent import pipe_resonance_hz
from sealtune.physics.vent_opening import size_m, with_size
from sealtune.records.design import Design, Prediction, Vent
from sealtune.records.plan import VentChoice, VolumeChoice

Reals = NDArray[np.float64]

SIZES_MM = (8, 10, 12, 15, 18, 20, 22, 25, 28, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 90, 100, 110, 125,
            140, 150, 160, 180, 200, 225, 250, 300, 350, 400, 450, 500)  # fmt: skip
"""Openings worth comparing, mm: round numbers."""

NARROWER, WIDER = 4, 4
"""How many of them on either side of the design's."""

LARGEST_SHARE = 0.1
"""A vent that takes more than this share of the box is named (common practice)."""

LOUD_AIR = 0.1
"""Air faster than this share of the speed of sound is loud (common practice)."""

SHORT = "shorter than a wall is thick"

VOLUME_FACTORS = (0.7, 0.8, 0.9, 1.0, 1.1, 1.25, 1.5)


def other_vents(
    design: Design, prediction: Prediction, air: Air, flow_m3_s: float | None
) -> tuple[VentChoice, ...]:
    """Return vents of other openings, and two for one or one for two, that reach the target at the same net volume.

    flow_m3_s: fastest flow of the air in all vents together at the usable power, peak, m3/s; None where not known
    The box must be larger by what a vent takes; the vent's own wall is left out.
    """
    vent = design.vent
    if vent is None:
        return ()
    other = 1 if vent.count > 1 else 2
    as_much_area = vent.count / other
    found = [
        _choice(design, prediction, air, flow_m3_s, one)
        for one in _sizes(vent, size_m(vent), NARROWER, WIDER)
    ]
    near = size_m(vent) * (as_much_area if vent.shape == "rectangular" else sqrt(as_much_area))
    found += [
        _choice(design, prediction, air, flow_m3_s, replace(one, count=other))
        for one in _sizes(vent, near, 1, 1)
    ]
    return tuple(found)


def _sizes(vent: Vent, middle_m: float, narrower: int, wider: int) -> Sequence[Vent]:
    """Return the vent in round sizes around `middle_m`, the vent itself among them where it is the middle."""
    sizes = [mm / 1e3 for mm in SIZES_MM]
    below = [size for size in sizes if size < middle_m * 0.97][-narrower:]
    above = [size for size in sizes if size > middle_m * 1.03][:wider]
    return [with_size(vent, size) for size in (*below, middle_m, *above)]


def _choice(
    design: Design, prediction: Prediction, air: Air, flow_m3_s: float | None, wanted: Vent
) -> VentChoice:
    designed, box = design.vent, design.box
    assert designed is not None
    vent = vent_for_tuning(box, prediction.target_hz, wanted, air)
    reached = vent.length_m > 0.0
    speed = None if flow_m3_s is None else flow_m3_s / (vent.count * vent.area_m2)
    against: list[str] = []
    if not reached:
        against.append(_unreached(prediction))
    elif vent.length_m < WALL_M:
        against.append(SHORT)
    else:
        against += _too_long(design, vent)
    if (wall := wall_obstacle(box, vent)) is not None:
        against.append(wall)
    if takes_m3(vent) > LARGEST_SHARE * box.volume_m3:
        against.append(f"takes {100.0 * takes_m3(vent) / box.volume_m3:.0f} % of the box")
    if speed is not None and speed > LOUD_AIR * air.speed_m_s:
        against.append("its air is loud at full power")
    return VentChoice(
        size_m=size_m(wanted),
        count=vent.count,
        length_m=vent.length_m if reached else None,
        air_speed_m_s=speed,
        pipe_hz=pipe_resonance_hz(vent, box, air) if reached else None,
        takes_m3=takes_m3(vent),
        designed=vent.count == designed.count and abs(size_m(vent) / size_m(designed) - 1.0) < 1e-9,
        against=tuple(against),
    )


def _unreached(prediction: Prediction) -> str:
    return f"too narrow: no length reaches {prediction.target_hz:.0f} Hz"


def _too_long(design: Design, vent: Vent) -> list[str]:
    if design.box.depth_m is not None:
        return ["longer than the box is deep"] if too_long(design.box, vent) else []
    cube = design.box.volume_m3 ** (1.0 / 3.0)
    return (
        ["longer than a cube of this volume: fold it"] if vent.length_m + room_behind_m(vent) > cube else []
    )


def other_volumes(
    design: Design, prediction: Prediction, air: Air, frequency_hz: Reals
) -> tuple[VolumeChoice, ...]:
    """Return boxes of other net volumes with the same tuning and opening.

    frequency_hz: where the response is looked at, Hz
    """
    return tuple(_volume(design, prediction, air, frequency_hz, factor) for factor in VOLUME_FACTORS)


def _volume(
    design: Design, prediction: Prediction, air: Air, frequency_hz: Reals, factor: float
) -> VolumeChoice:
    box = replace(design.box, volume_m3=factor * design.box.volume_m3)
    vent = None if design.vent is None else vent_for_tuning(box, prediction.target_hz, design.vent, air)
    length = None if vent is None or vent.length_m <= 0.0 else vent.length_m
    nothing = VolumeChoice(box.volume_m3, length, None, None, None, None, factor == 1.0)
    if vent is not None and length is None:
        return replace(nothing, against=(_unreached(prediction),))
    against = () if length is None or length >= WALL_M else (SHORT,)
    varied = replace(design, box=box, vent=vent)
    speaker = designed_speaker(varied, replace(prediction, tuning_hz=prediction.target_hz), air)
    if speaker is None:
        return replace(nothing, against=against)
    vented = behaviour(speaker, frequency_hz)
    return VolumeChoice(
        volume_m3=box.volume_m3,
        length_m=length,
        compliance_ratio=float(speaker.circuit.alpha),
        f3_hz=vented.f3_hz,
        above=power_above(speaker, frequency_hz, vented),
        ripple_db=max(float(vented.relative_db.max()), 0.0),
        designed=factor == 1.0,
        against=against,
    )
