"""The causes weighed against one another, alone and in pairs: how well each explains all signs together.

Each cause moves tuning, compliance ratio, resonance and motor, and adds to a loss, by what its unknown size makes of
them. The likelihood of a cause is the average, over the sizes it may have, of the likelihood of what was measured; the
tolerances of the design and the fit's uncertainty make up the covariance [MacKay2003, ch. 28].
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sealtune.judgement.leak_family import LeakFamily, leak_family
from sealtune.judgement.signs import Signs, signs_of
from sealtune.physics.air import Air
from sealtune.records.design import Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.verdict import FaultName

Reals = NDArray[np.float64]

PRIOR: dict[FaultName | None, float] = {
    # how often each is met at the bench before anything is measured; common practice, no statistics known
    None: 0.72,
    "leak": 0.14,
    "vent_long": 0.03,
    "vent_short": 0.035,
    "vent_restricted": 0.01,
    "vent_lined": 0.015,
    "overstuffed": 0.015,
    "volume_small": 0.015,
    "volume_large": 0.015,
    "driver_off": 0.015,
}
"""None is the box as designed."""

EXCLUSIVE = (("vent_long", "vent_short"), ("volume_small", "volume_large"))
"""Causes that cannot both be true."""

SIZES = 24
PAIR_SIZES = 8

FREEDOM = 8.0
"""Tails heavier than Gaussian (Student): no tolerance is known that well."""

SHOWS = 0.02
"""A leak that raises the logarithm of the tuning by this much shows as a second low peak once the vent is plugged; one
that raises it less is told by its loss alone."""

UNSEEN = 1e-4
"""How probable it is that the curves show a leak's own peak where there is none: hardly at all."""

MATCHES = 0.2
"""How well the tuning's rise by a leak that shows is known, relative: its depth is not."""


@dataclass(frozen=True)
class Weighed:
    """The causes with their probabilities.

    probability: by fault, alone or beside another; None is the box as designed. Pairs make the sum exceed 1 a little
    leaks: the family of leaks
    leak_share: each leak's share of the probability of a leak that is felt, summing to 1
    hidden_share: each leak's probability, felt or not, when nothing else is wrong; with the sealed box these
        sum to 1
    """

    probability: dict[FaultName | None, float]
    leaks: LeakFamily
    leak_share: Reals
    hidden_share: Reals


@dataclass(frozen=True)
class _Effect:
    """What a cause of n sizes does.

    shift: of the signs, shape (n, 4); adds: to 1/Q by part, shape (n, 3)
    seen: how probable the curves' own sign of a leak is with it, shape (n,)
    """

    shift: Reals
    adds: Reals
    seen: Reals

    def with_other(self, other: _Effect) -> _Effect:
        """Return both together, every size of one with every size of the other."""
        n, m = self.seen.size, other.seen.size
        first, second = np.repeat(np.arange(n), m), np.tile(np.arange(m), n)
        return _Effect(
            self.shift[first] + other.shift[second],
            self.adds[first] + other.adds[second],
            self.seen[first] if self.seen.max() != self.seen.min() else other.seen[second],
        )

    def fewer(self, most: int) -> _Effect:
        """Return at most so many of the sizes."""
        if self.seen.size <= most:
            return self
        return self.part(np.unique(np.linspace(0, self.seen.size - 1, most).astype(np.int64)))

    def part(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> _Effect:
        """Return some of the sizes."""
        return _Effect(self.shift[which], self.adds[which], self.seen[which])


def weigh(fit: BoxFit, design: Design, prediction: Prediction, air: Air) -> Weighed:
    """Return the probabilities of the causes for this fit against this design."""
    signs = signs_of(fit, design, prediction, air)
    leaks = leak_family(signs.expected_hz, signs.expected_q, design.box.volume_m3, air)
    effects, bare = _effects(signs, leaks, fit)
    each_leak = _likelihood(signs, effects["leak"])
    felt = np.where(leaks.felt, each_leak, 0.0)
    effects["leak"] = effects["leak"].part(leaks.felt)
    nothing = PRIOR[None] * float(_likelihood(signs, bare)[0])
    evidence: dict[FaultName, float] = dict.fromkeys(effects, 0.0)
    total = nothing
    for fault, effect in effects.items():
        alone = PRIOR[fault] * float(np.mean(_likelihood(signs, effect)))
        evidence[fault] += alone
        total += alone
    for one, other in combinations(effects, 2):
        if (one, other) in EXCLUSIVE:
            continue
        pair = effects[one].fewer(40).with_other(effects[other].fewer(PAIR_SIZES))
        both = PRIOR[one] * PRIOR[other] * float(np.mean(_likelihood(signs, pair)))
        evidence[one] += both
        evidence[other] += both
        total += both
    probability: dict[FaultName | None, float] = {None: nothing / total}
    probability |= {fault: value / total for fault, value in evidence.items()}
    hidden = PRIOR["leak"] * each_leak / float(leaks.felt.sum())
    return Weighed(probability, leaks, felt / felt.sum(), hidden / (hidden.sum() + nothing))


@dataclass(frozen=True)
class Cause:
    """One cause with the sizes it may have; fault None is the box as designed.

    prior: probability of each size before anything is measured
    shift: of the four signs, shape (n, 4); adds: to 1/Q by part, shape (n, 3)
    seen: how probable the curves' own sign of a leak is with it, shape (n,)
    """

    fault: FaultName | None
    prior: float
    shift: Reals
    adds: Reals
    seen: Reals


def causes_of(signs: Signs, fit: BoxFit, design: Design, air: Air) -> tuple[Cause, ...]:
    """Return every cause by itself, of a leak those sizes that are felt."""
    leaks = leak_family(signs.expected_hz, signs.expected_q, design.box.volume_m3, air)
    effects, bare = _effects(signs, leaks, fit)
    effects["leak"] = effects["leak"].part(leaks.felt)
    each: list[tuple[FaultName | None, _Effect]] = [(None, bare), *effects.items()]
    return tuple(
        Cause(fault, PRIOR[fault] / one.seen.size, one.shift, one.adds, one.seen) for fault, one in each
    )


def _effects(signs: Signs, leaks: LeakFamily, fit: BoxFit) -> tuple[dict[FaultName, _Effect], _Effect]:
    """Return what each cause does over its sizes, and what the box as designed does."""
    size = np.linspace(0.0, 1.0, SIZES)
    nothing = np.zeros(SIZES)
    unseen, seen = _own_sign(leaks, fit)
    sealed_loss = 1.0 / signs.expected_q

    def effect(
        tuning: Reals, compliance: Reals = nothing, resonance: Reals = nothing, motor: Reals = nothing,
        *, leakage: Reals = nothing, friction: Reals = nothing, absorption: Reals = nothing,
    ) -> _Effect:  # fmt: skip
        shift = np.stack([tuning, compliance, resonance, motor], axis=1)
        return _Effect(shift, np.stack([leakage, friction, absorption], axis=1), np.full(tuning.size, unseen))

    # small errors are more frequent than large ones: all sizes evenly in the logarithm
    long = np.log1p(0.05 * 16.0**size)  # effective length 5 % to 80 % off
    volume = np.log1p(0.08 * 6.0**size)  # net volume 8 % to 50 % off
    loss = 0.3 * 30.0**size * sealed_loss  # box Q divided by 1.3 to 10
    fill = 0.25 * size  # air springs up to 25 % softer between fibres [Small1973]
    closed = np.log(1.4 + 8.0 * size)  # a narrowed passage: its air weighs 1.4 to 9.4 times as much
    still = np.zeros(leaks.log_q.size)
    opened = np.stack([leaks.log_tuning, still, still, still], axis=1)
    leaked = np.stack([np.maximum(np.exp(-leaks.log_q) - 1.0, 0.0) * sealed_loss, still, still], axis=1)
    soft = np.log(1.25 + 0.85 * size)  # suspension 1.25 to 2.1 times too soft or too stiff
    weak = 0.2 * size  # force factor up to a fifth low
    return {
        "leak": _Effect(opened, leaked, seen),
        "vent_long": effect(-0.5 * long),
        "vent_short": effect(0.5 * long),
        "vent_restricted": effect(-0.5 * closed, friction=0.2 * size * sealed_loss),
        "vent_lined": effect(-0.03 * size, friction=loss),
        "overstuffed": effect(-0.5 * fill, -fill, absorption=loss),
        "volume_small": effect(0.5 * volume, volume),
        "volume_large": effect(-0.5 * volume, -volume),
        "driver_off": _both(
            effect(nothing, soft, -0.5 * soft, -2.0 * weak), effect(nothing, -soft, 0.5 * soft, -2.0 * weak)
        ),
    }, _Effect(np.zeros((1, 4)), np.zeros((1, 3)), np.array([unseen]))


def _both(one: _Effect, other: _Effect) -> _Effect:
    return _Effect(
        np.concatenate([one.shift, other.shift]),
        np.concatenate([one.adds, other.adds]),
        np.concatenate([one.seen, other.seen]),
    )


def _own_sign(leaks: LeakFamily, fit: BoxFit) -> tuple[float, Reals]:
    """Return how probable the curves' own sign of a leak is without one, and with each of the family, shape (n,).

    Only the curve with the vent plugged shows it: there a leak is the only opening, and has a low peak of its own.
    """
    if "plugged" not in fit.roles:
        return 1.0, np.ones(leaks.log_q.size)
    hidden = 1.0 / (1.0 + (leaks.log_tuning / SHOWS) ** 6)
    rise, spread = fit.leak_rise or (0.0, 0.0)
    if rise - 2.0 * spread <= SHOWS:
        return 1.0, hidden
    width = float(np.hypot(spread, MATCHES * rise))
    match = np.exp(-0.5 * ((leaks.log_tuning - rise) / width) ** 2)
    return UNSEEN, np.maximum(match * (1.0 - hidden), UNSEEN)


def _likelihood(signs: Signs, effect: _Effect) -> Reals:
    """Return the likelihood of the signs for each size, up to a common factor, shape (n,)."""
    rest = signs.deviation - effect.shift
    distance = np.einsum("ni,ij,nj->n", rest, np.linalg.inv(signs.covariance), rest)
    usual = (signs.groups @ signs.usual)[None, :]
    expected = usual + effect.adds @ signs.groups.T
    own = np.sqrt((signs.groups**2) @ (signs.usual * signs.usual_spread) ** 2)[None, :]
    spread = np.sqrt((own / expected) ** 2 + signs.loss_spread**2)
    distance = distance + np.sum((np.log(signs.loss / expected) / spread) ** 2, axis=1)
    degrees = FREEDOM + rest.shape[1] + signs.loss.size
    return np.asarray((1.0 + distance / FREEDOM) ** (-0.5 * degrees) / spread.prod(axis=1) * effect.seen)
