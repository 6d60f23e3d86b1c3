"""The causes weighed against one another, alone and in pairs: how well each explains all signs together.

Each cause moves tuning, compliance ratio, resonance and motor, and adds to a loss, by what its unknown size makes of
them. The likelihood of a cause is the average, over the sizes it may have, of the likelihood of what was measured; the
tolerances of the design and the fit's uncertainty make up the covariance [MacKay2003, ch. 28].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from sealtune.judgement.leak_family import LeakFamily, leak_family
from sealtune.judgement.signs import LUMPED, Signs, signs_of
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

SHOWS = 0.012
"""A leak that raises the logarithm of the tuning by this much shows as a second low peak once the vent is plugged, the
circuit's doubts twice taken off; what looks like one in 270 virtual boxes without came to 0.009 at most, with far too
much lining. One that raises it less is told by its loss alone."""

SURELY_SHOWS = 2.5
"""A leak shows whose rise is this many times the circuit's doubt of it."""

UNSEEN = 1e-4
"""How probable it is that the curves show a leak's own peak where there is none: hardly at all."""

LEAST_RISE = 0.002
"""How well a small rise of the tuning by a leak is known: the circuit's slit is not the real one."""

MATCHES = 0.2
"""How well the tuning's rise by a leak that shows is known, relative: its depth is not."""


@dataclass(frozen=True)
class Weighed:
    """The causes with their probabilities.

    together: of the faults that are there and no others, summing to 1; the empty set is the box as designed
    leaks: the family of leaks
    leak_share: each leak's share of the probability of a leak that is felt, summing to 1
    hidden_share: each leak's probability, felt or not, when nothing else is wrong; with the sealed box these
        sum to 1
    """

    together: dict[frozenset[FaultName], float]
    leaks: LeakFamily
    leak_share: Reals
    hidden_share: Reals

    @property
    def designed(self) -> float:
        """Return the probability of the box as designed."""
        return self.together[frozenset()]

    def probability(self, fault: FaultName) -> float:
        """Return the probability of a fault, alone or beside another; those of several faults may exceed 1."""
        return sum(share for faults, share in self.together.items() if fault in faults)

    @property
    def faults(self) -> dict[FaultName, float]:
        """Return the probability of each fault that was weighed."""
        weighed = frozenset().union(*self.together)
        return {fault: self.probability(fault) for fault in PRIOR if fault in weighed}

    def among(self, faults: Sequence[FaultName]) -> Weighed:
        """Return what is left where no other faults than these can be told."""
        kept = {each: share for each, share in self.together.items() if each <= set(faults)}
        total = sum(kept.values())
        return replace(self, together={each: share / total for each, share in kept.items()})


@dataclass(frozen=True)
class _Effect:
    """What a cause of n sizes does.

    shift: of the signs, shape (n, 4); adds: to 1/Q by part, shape (n, 3)
    seen: how probable the curves' own sign of a leak is with it, shape (n,)
    often: how often this size is met, over the mean of that, shape (n,)
    """

    shift: Reals
    adds: Reals
    seen: Reals
    often: Reals

    def with_other(self, other: _Effect) -> _Effect:
        """Return both together, every size of one with every size of the other, which is no leak."""
        n, m = self.seen.size, other.seen.size
        first, second = np.repeat(np.arange(n), m), np.tile(np.arange(m), n)
        return _Effect(
            self.shift[first] + other.shift[second],
            self.adds[first] + other.adds[second],
            self.seen[first],
            self.often[first] * other.often[second],
        )

    def fewer(self, most: int) -> _Effect:
        """Return at most so many of the sizes."""
        if self.seen.size <= most:
            return self
        return self.part(np.unique(np.linspace(0, self.seen.size - 1, most).astype(np.int64)))

    def part(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> _Effect:
        """Return some of the sizes."""
        often = self.often[which]
        return _Effect(self.shift[which], self.adds[which], self.seen[which], often / often.mean())


def weigh(fit: BoxFit, design: Design, prediction: Prediction, air: Air) -> Weighed:
    """Return the probabilities of the causes for this fit against this design."""
    signs = signs_of(fit, design, prediction, air)
    leaks = leak_family(signs.expected_hz, signs.expected_q, design.box.volume_m3, air)
    effects, bare = _effects(signs, leaks, fit)
    each_leak = _likelihood(signs, effects["leak"]) * _by_rise(leaks, fit)
    felt = np.where(leaks.felt, each_leak, 0.0)
    share_felt = float(leaks.often[leaks.felt].mean() / leaks.often.mean())
    effects["leak"] = effects["leak"].part(leaks.felt)
    nothing = PRIOR[None] * float(_likelihood(signs, bare)[0])
    evidence: dict[frozenset[FaultName], float] = {frozenset(): nothing}
    for fault, effect in effects.items():
        evidence[frozenset([fault])] = PRIOR[fault] * float(np.mean(_likelihood(signs, effect)))
    for one, other in combinations(effects, 2):
        if (one, other) in EXCLUSIVE:
            continue
        pair = effects[one].fewer(40).with_other(effects[other].fewer(PAIR_SIZES))
        both = PRIOR[one] * PRIOR[other] * float(np.mean(_likelihood(signs, pair)))
        evidence[frozenset([one, other])] = both
    total = sum(evidence.values())
    together = {faults: value / total for faults, value in evidence.items()}
    hidden = PRIOR["leak"] * each_leak / (share_felt * float(leaks.felt.sum()))
    return Weighed(together, leaks, felt / felt.sum(), hidden / (hidden.sum() + nothing))


@dataclass(frozen=True)
class Cause:
    """One cause with the sizes it may have; fault None is the box as designed.

    prior: probability of each size before anything is measured, shape (n,)
    shift: of the four signs, shape (n, 4); adds: to 1/Q by part, shape (n, 3)
    seen: how probable the curves' own sign of a leak is with it, shape (n,)
    """

    fault: FaultName | None
    prior: Reals
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
        Cause(fault, PRIOR[fault] * one.often / one.often.sum(), one.shift, one.adds, one.seen)
        for fault, one in each
    )


def _effects(signs: Signs, leaks: LeakFamily, fit: BoxFit) -> tuple[dict[FaultName, _Effect], _Effect]:
    """Return what each cause does over its sizes, and what the box as designed does."""
    size = np.linspace(0.0, 1.0, SIZES)
    nothing, even = np.zeros(SIZES), np.ones(SIZES)
    unseen, seen = _own_sign(leaks, fit)
    sealed_loss = 1.0 / signs.expected_q

    def effect(
        tuning: Reals, compliance: Reals = nothing, resonance: Reals = nothing, motor: Reals = nothing,
        *, leakage: Reals = nothing, friction: Reals = nothing, absorption: Reals = nothing, often: Reals = even,
    ) -> _Effect:  # fmt: skip
        shift = np.stack([tuning, compliance, resonance, motor], axis=1)
        adds = np.stack([leakage, friction, absorption], axis=1)
        return _Effect(shift, adds, np.full(tuning.size, unseen), often / often.mean())

    # small errors are more frequent than large ones: sizes evenly in the logarithm. Of a vent the small ones are still
    # more so, half are off by less than a tenth: a saw cut, an end correction; a wrong volume stems from bracing left
    # out of the sum or from outside dimensions taken for inside ones
    long = np.log1p(0.04 * 20.0**size)  # effective length 4 % to 80 % off
    by_saw = 20.0 ** (-0.5 * size)
    volume = np.log1p(0.08 * 6.0**size)  # net volume 8 % to 50 % off
    loss = 0.3 * 30.0**size * sealed_loss  # box Q divided by 1.3 to 10
    fills = [
        np.full(SIZES, at) for at in (0.03, 0.10, 0.17, 0.24)
    ]  # up to 25 % softer between fibres [Small1973]
    closed = np.log1p(0.1 * 80.0**size)  # a narrowed passage: its air weighs 1.1 to 9 times as much
    still = np.zeros(leaks.log_q.size)
    opened = np.stack([leaks.log_tuning, still, still, still], axis=1)
    lost = np.maximum(np.exp(-leaks.log_q) - 1.0, 0.0) * sealed_loss
    # the open curve's circuit, without a duct for the leak, has but the vent's friction for what the leak's mass does
    like_friction = still if "plugged" in fit.roles else leaks.by_mass
    leaked = np.stack([lost * (1.0 - like_friction), lost * like_friction, still], axis=1)
    soft = np.log(1.25 + 0.85 * size)  # suspension 1.25 to 2.1 times too soft or too stiff
    weak = 0.2 * size  # force factor up to a fifth low
    return {
        "leak": _Effect(opened, leaked, seen, leaks.often / leaks.often.mean()),
        "vent_long": effect(-0.5 * long, often=by_saw),
        "vent_short": effect(0.5 * long, often=by_saw),
        "vent_restricted": effect(-0.5 * closed, friction=0.2 * size * sealed_loss),
        "vent_lined": effect(-0.03 * size, friction=loss),
        "overstuffed": _all([effect(-0.5 * fill, -fill, absorption=loss) for fill in fills]),
        "volume_small": effect(0.5 * volume, volume),
        "volume_large": effect(-0.5 * volume, -volume),
        "driver_off": _all(
            [effect(nothing, sign * soft, -0.5 * sign * soft, -2.0 * weak) for sign in (1.0, -1.0)]
        ),
    }, _Effect(np.zeros((1, 4)), np.zeros((1, 3)), np.array([unseen]), np.ones(1))


def _all(effects: Sequence[_Effect]) -> _Effect:
    """Return the sizes of all effects as one, neighbours side by side."""
    return _Effect(
        np.stack([one.shift for one in effects], axis=1).reshape(-1, 4),
        np.stack([one.adds for one in effects], axis=1).reshape(-1, 3),
        np.stack([one.seen for one in effects], axis=1).ravel(),
        np.stack([one.often for one in effects], axis=1).ravel(),
    )


def shows_leak(fit: BoxFit) -> bool:
    """Return whether the curve with the vent plugged shows an opening beside the vent."""
    rise, spread = fit.leak_rise or (0.0, 0.0)
    return rise - 2.0 * spread > SHOWS


def _own_sign(leaks: LeakFamily, fit: BoxFit) -> tuple[float, Reals]:
    """Return how probable the curves' own sign of a leak is without one, and with each of the family, shape (n,).

    Only the curve with the vent plugged shows it: there a leak is the only opening, and has a low peak of its own.
    """
    if "plugged" not in fit.roles:
        return 1.0, np.ones(leaks.log_q.size)
    rise, spread = fit.leak_rise or (0.0, SHOWS)
    hidden = 1.0 / (1.0 + (leaks.log_tuning / max(SHOWS, SURELY_SHOWS * spread)) ** 6)
    if not shows_leak(fit):
        return 1.0, hidden
    width = float(np.hypot(spread, MATCHES * rise))
    match = np.exp(-0.5 * ((leaks.log_tuning - rise) / width) ** 2)
    return UNSEEN, np.maximum(match * (1.0 - hidden), UNSEEN)


def _by_rise(leaks: LeakFamily, fit: BoxFit) -> Reals:
    """Return how well each leak, if it is one, goes with the rise of the tuning that the curves themselves tell, (n,).

    The rise parts a long narrow gap from a short wide one of the same loss. It serves for the size alone: in a sealed
    box other small effects look like a little of it.
    """
    if fit.leak_rise is None:
        return np.ones(leaks.log_q.size)
    rise, spread = fit.leak_rise
    width = np.hypot(np.hypot(spread, LEAST_RISE), MATCHES * rise)
    return np.asarray(np.exp(-0.5 * ((leaks.log_tuning - rise) / width) ** 2) + UNSEEN)


def _likelihood(signs: Signs, effect: _Effect) -> Reals:
    """Return the likelihood of the signs for each size, up to a common factor, shape (n,)."""
    rest = signs.deviation - effect.shift
    distance = np.einsum("ni,ij,nj->n", rest, np.linalg.inv(signs.covariance), rest)
    expected = signs.usual + effect.adds
    own = signs.usual_spread**2 + (LUMPED * expected) ** 2
    spread = signs.loss_covariance + own[:, :, None] * np.eye(3)
    excess = signs.loss - expected
    distance = distance + np.einsum("ni,ni->n", excess, np.linalg.solve(spread, excess[:, :, None])[:, :, 0])
    degrees = FREEDOM + rest.shape[1] + signs.loss.size
    density = (1.0 + distance / FREEDOM) ** (-0.5 * degrees) / np.sqrt(np.linalg.det(spread))
    return np.asarray(density * effect.seen * effect.often)
