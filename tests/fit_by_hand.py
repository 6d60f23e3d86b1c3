"""A fit whose numbers a test puts in itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval


def exactly(value: float) -> Interval:
    """Return an interval that leaves nothing open."""
    return Interval(value, value, value)


def fit_by_hand(**changes: object) -> BoxFit:
    """Return a fit of an ordinary box that leaves nothing open; changes: its fields by name."""
    fit = BoxFit(
        tuning_hz=exactly(40.0), box_q=exactly(10.0), compliance_ratio=exactly(1.2), fs_hz=exactly(36.0), qms=4.0,
        qes=0.38, re_ohm=6.0, res_ohm=60.0, creep=0.0, residual=0.01, noise=0.001, log_covariance=np.zeros((4, 4)),
        band_hz=(8.0, 400.0), frequency_hz=np.array([10.0, 100.0]), model_ohm=np.array([6.0 + 0j, 6.0 + 0j]),
        closed_box_misfit=50.0, converged=True,
    )  # fmt: skip
    return replace(fit, **changes)  # type: ignore[arg-type]
