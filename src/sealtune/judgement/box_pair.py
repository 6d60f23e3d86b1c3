"""The box as measured beside the box as designed, with the measured driver in both.

As designed means the tuning aimed at and the losses usual for a well-built box; as measured means the tuning and the
box Q of the fit. At the tuning w, with a = d_A w/w_B, p = d_P w_B/w, l = d_L w_B/w of the circuit of
`physics.loudspeaker`,

    Im y = 0:  (w_B/w)^2 = (1 + p^2)/(1 + a^2)        Re y/w:  1/Q = l + p/(1 + a^2) + a/(1 + a^2)

so that tuning and Q of heavily damped boxes come out as measured (exact).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from sealtune.physics.crossover import source
from sealtune.physics.loudspeaker import Loudspeaker, motion
from sealtune.records.cost import LossKind
from sealtune.records.design import Crossover
from sealtune.records.fit import BoxFit

Reals = NDArray[np.float64]

BANDS_HZ = (20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0)
"""Nominal midband frequencies of the third octaves; the exact ones are 10^(13/10) to 10^(23/10) Hz [IEC61260]."""

POINTS = 24
"""Frequencies in a band, in the middle of as many equal parts of its logarithm: as pink noise fills it."""

MOST_ABSORPTION = 0.49
"""Loss 1/Q that absorption alone can bring at most: a/(1 + a^2) ends at 1/2 (exact)."""

KINDS: tuple[LossKind, ...] = ("leakage", "friction", "absorption")


@dataclass(frozen=True)
class BoxPair:
    """What the two boxes are made of.

    target_hz, usual: tuning and shares of 1/Q, in the order of KINDS, of the box as designed; target_hz None: as
        measured
    known: shares of 1/Q that the curves tell, None where they do not
    kind: what the rest of the loss counts as
    spring: whether the air in the box is what is off
    crossover: on both sides
    """

    fit: BoxFit
    target_hz: float | None
    usual: Reals
    known: tuple[float | None, ...]
    kind: LossKind
    spring: bool
    crossover: Crossover | None

    def centre(self, series_ohm: float) -> Reals:
        """Return tuning, box Q, compliance ratio, driver resonance and extra resistance as measured, shape (5,)."""
        fit = self.fit
        qs = (fit.tuning_hz, fit.box_q, fit.compliance_ratio, fit.fs_hz)
        return np.array([*(q.value for q in qs), series_ohm])

    def circuits(self, at: Reals) -> tuple[Loudspeaker, Loudspeaker]:
        """Return driver and box as designed and as measured, of the quantities of `centre`."""
        tuning_hz, box_q, alpha, fs_hz, series_ohm = at
        fit = self.fit
        qes = fit.qes
        if fit.series_ohm is None:  # the open curve alone has the extra resistance in its R_E
            qes *= self.re_ohm(series_ohm) / fit.re_ohm
        plain = Loudspeaker(2.0 * pi * fs_hz, fit.qms, qes, alpha, 1.0)
        found = boxed(plain, tuning_hz, shares_of(1.0 / box_q, self.usual, self.known, self.kind))
        meant = boxed(plain, tuning_hz if self.target_hz is None else self.target_hz, self.usual)
        if self.spring:  # w_B^2 goes with 1/V
            meant = replace(meant, alpha=alpha * (meant.wb_rad_s / found.wb_rad_s) ** 2)
        return meant, found

    def re_ohm(self, series_ohm: float) -> float:
        """Return the driver's own resistance at direct current, ohm."""
        return self.fit.re_ohm - (series_ohm if self.fit.series_ohm is None else 0.0)

    def levels_db(self, at: Reals) -> Reals:
        """Return the band levels as designed and as measured, shape (2, bands)."""
        re_ohm, extra_ohm = self.re_ohm(float(at[4])), float(at[4])
        pair = zip(self.circuits(at), (0.0, extra_ohm), strict=True)
        return np.array([band_levels_db(one, self.crossover, re_ohm, behind) for one, behind in pair])


def shares_of(total: float, usual: Reals, known: Sequence[float | None], kind: LossKind) -> Reals:
    """Return how 1/Q is made up, in the order of KINDS: known parts as they are, the rest as usual, what is too much
    as one kind, and all in proportion where it is less than that."""
    free = np.array([part is None for part in known])
    parts = np.array([u if k is None else k for u, k in zip(usual, known, strict=True)])
    rest = total - parts[~free].sum()
    if not free.any() or rest <= 0.0:
        parts[free] = 0.0
        return np.asarray(parts * (total / parts.sum()))
    excess = rest - parts[free].sum()
    if excess <= 0.0:
        parts[free] *= rest / parts[free].sum()
    else:
        place = KINDS.index(kind)
        parts[place if free[place] else int(np.argmax(free))] += excess
    return parts


def boxed(driver: Loudspeaker, tuning_hz: float, shares: Reals) -> Loudspeaker:
    """Return the driver in a box of that tuning and those shares of 1/Q, as Im y and Re y of the circuit have it."""
    leakage, friction, absorbed = (float(share) for share in shares)
    absorption = 0.0
    if absorbed > 0.0:
        leakage += max(absorbed - MOST_ABSORPTION, 0.0)
        absorbed = min(absorbed, MOST_ABSORPTION)
        absorption = (1.0 - sqrt(1.0 - 4.0 * absorbed**2)) / (2.0 * absorbed)
    friction *= 1.0 + absorption**2
    rate = sqrt((1.0 + friction**2) / (1.0 + absorption**2))
    return replace(
        driver,
        wb_rad_s=2.0 * pi * tuning_hz * rate,
        leakage=leakage / rate,
        friction=friction / rate,
        absorption=absorption * rate,
    )


def band_levels_db(
    circuit: Loudspeaker, crossover: Crossover | None, re_ohm: float, behind_ohm: float
) -> Reals:
    """Return the level of pink noise in each band over that of the driver's passband, dB, shape (bands,)."""
    exact_hz = 10.0 ** (np.arange(13, 13 + len(BANDS_HZ)) / 10.0)
    inside = 10.0 ** ((np.arange(POINTS) + 0.5 - POINTS / 2.0) / (10.0 * POINTS))
    s = np.asarray(2j * pi * np.outer(exact_hz, inside), dtype=np.complex128)
    u, z = source(s, crossover, behind_ohm)
    sound = motion(s, circuit, feed=(u, re_ohm / (re_ohm + z))).sound
    return np.asarray(10.0 * np.log10((np.abs(sound) ** 2).mean(axis=1)))
