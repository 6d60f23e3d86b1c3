"""A batch of cabinets: mates with the least mismatch, and control charts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sealtune.judgement.control_chart import FEWEST, control_limits, trend
from sealtune.judgement.cost import HEARD_DB
from sealtune.judgement.matching import least_pairs
from sealtune.records.batch import Batch, BatchCabinet, BatchPair, ChartName, ControlChart
from sealtune.records.design import Design, Tuning
from sealtune.records.verdict import VerdictWord

Reals = NDArray[np.float64]

URGENCY: dict[VerdictWord, int] = {"remeasure": 0, "rework": 1, "good": 2}

PERCENT = 100.0


def judge_batch(folder: str, cabinets: Iterable[BatchCabinet], passed_over: Sequence[str] = ()) -> Batch:
    """Return the batch: cabinets by what needs work, pairs of one design each, and charts of every design."""
    ordered = tuple(sorted(cabinets, key=_urgency))
    pairs: list[BatchPair] = []
    left_over: list[str] = []
    charts: list[ControlChart] = []
    for design, alike in _by_design(ordered):
        more, without = mates_of(alike, design)
        pairs += more
        left_over += without
        charts += charts_of(alike, design)
    return Batch(
        folder,
        ordered,
        tuple(sorted(pairs, key=lambda pair: (not pair.ready, pair.mismatch_db))),
        tuple(left_over),
        tuple(charts),
        tuple(passed_over),
    )


def _urgency(cabinet: BatchCabinet) -> tuple[int, float, str]:
    return URGENCY[cabinet.verdict], -abs(cabinet.deviation or 0.0), cabinet.name


def _by_design(cabinets: Sequence[BatchCabinet]) -> list[tuple[Design | None, list[BatchCabinet]]]:
    """Return the cabinets that have a fit, design by design; those without a design count as of one."""
    found: dict[Design | None, list[BatchCabinet]] = {}
    for cabinet in cabinets:
        if cabinet.levels_db is not None and cabinet.tuning_hz is not None:
            key = None if cabinet.design is None else replace(cabinet.design, name="")
            found.setdefault(key, []).append(cabinet)
    return [(alike[0].design, alike) for alike in found.values()]


def mates_of(cabinets: Sequence[BatchCabinet], design: Design | None) -> tuple[list[BatchPair], list[str]]:
    """Return the pairs with the least total mismatch, and the name of the one left out of an odd number."""
    levels = np.array([cabinet.levels_db for cabinet in cabinets], dtype=np.float64)
    mismatch = level_mismatch(levels)
    tolerance = (design.tuning if design else Tuning()).tolerance
    pairs, taken = [], set()
    for one, other in least_pairs(mismatch):
        first, second = cabinets[one], cabinets[other]
        taken |= {one, other}
        assert first.tuning_hz is not None
        assert second.tuning_hz is not None
        near = abs(first.tuning_hz.value / second.tuning_hz.value - 1.0) <= tolerance
        pairs.append(
            BatchPair(
                first.name,
                second.name,
                float(mismatch[one, other]),
                first.tuning_hz.value - second.tuning_hz.value,
                ready=near and first.verdict == "good" and second.verdict == "good",
            )
        )
    return pairs, [one.name for place, one in enumerate(cabinets) if place not in taken]


def level_mismatch(levels_db: Reals) -> Reals:
    """Return the root mean square difference of each two in the bands that either of them lets hear, dB, shape (n, n).

    levels_db: shape (n, bands), over the passband
    """
    heard = np.maximum(levels_db[:, None, :], levels_db[None, :, :]) > HEARD_DB
    square = np.where(heard, (levels_db[:, None, :] - levels_db[None, :, :]) ** 2, 0.0)
    return np.asarray(np.sqrt(square.sum(axis=2) / np.maximum(heard.sum(axis=2), 1)))


def charts_of(cabinets: Sequence[BatchCabinet], design: Design | None) -> list[ControlChart]:
    """Return the charts of tuning, box Q and driver resonance, none of fewer than FEWEST cabinets."""
    if len(cabinets) < FEWEST:
        return []
    moments = [cabinet.recorded_at for cabinet in cabinets]
    by_date = all(moment is not None for moment in moments) and len(set(moments)) > 1
    ordered = sorted(
        cabinets, key=lambda one: (one.recorded_at.timestamp() if by_date and one.recorded_at else 0.0, one.name)
    )  # fmt: skip
    targeted = all(one.deviation is not None for one in ordered)
    rows: list[tuple[ChartName, str, list[float]]] = [
        (
            "tuning",
            "%" if targeted else "Hz",
            [
                PERCENT * (one.deviation or 0.0) if targeted else one.tuning_hz.value
                for one in ordered
                if one.tuning_hz is not None
            ],
        ),
        ("box_q", "", [one.box_q.value for one in ordered if one.box_q is not None]),
        ("fs", "Hz", [one.fs_hz.value for one in ordered if one.fs_hz is not None]),
    ]
    names = tuple(one.name for one in ordered)
    good = np.array([one.verdict == "good" for one in ordered])
    within = good if np.count_nonzero(good) >= FEWEST else np.ones_like(good)
    return [
        _chart(design, quantity, unit, names, values, within, by_date=by_date)
        for quantity, unit, values in rows
    ]


def _chart(
    design: Design | None,
    quantity: ChartName,
    unit: str,
    names: tuple[str, ...],
    values: list[float],
    within: NDArray[np.bool_],
    *,
    by_date: bool,
) -> ControlChart:
    """Return the chart; within: the cabinets that make the limits, for faulty ones would widen them."""
    array = np.array(values)
    limits = control_limits(array[within])
    outside = tuple(
        name for name, value in zip(names, values, strict=True) if not limits.low <= value <= limits.high
    )
    name = None if design is None else design.name or None
    return ControlChart(
        design=name, quantity=quantity, unit=unit, names=names, values=tuple(values), limits=limits,
        outside=outside, by_date=by_date, trend=trend(array),
    )  # fmt: skip
