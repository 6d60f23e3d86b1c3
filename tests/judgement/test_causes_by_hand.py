"""What each cause does over its sizes, and how the causes are weighed, on a fit put in by hand.

The sizes typed here are common practice, the laws they go by exact: a tuning goes with the root of volume and length.
Independent: Student's distribution of scipy for what the signs say of each size.
"""

from __future__ import annotations

from math import log, pi

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.linalg import block_diag
from scipy.stats import multivariate_t
from tests.fit_by_hand import fit_by_hand

from sealtune.design.prediction import predict
from sealtune.judgement.causes import Cause, causes_of, shows_leak, weigh
from sealtune.judgement.leak_family import leak_family
from sealtune.judgement.signs import Signs, signs_of
from sealtune.physics.air import standard_air
from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.records.fit import BoxFit, Losses
from sealtune.records.interval import Interval
from sealtune.records.verdict import FaultName

Reals = NDArray[np.float64]
AIR = standard_air()
DESIGN = Design(
    "invented", Box(0.024), Vent("round", pi / 4 * 0.058**2, 0.165, diameter_m=0.058), Tuning(39.0),
    Driver(fs_hz=37.0, qms=4.0, qes=0.38, vas_m3=0.0288, re_ohm=6.0, sd_m2=0.021),
)  # fmt: skip
PREDICTION = predict(DESIGN, AIR)


def fitted(tuning_hz: float = 40.0, **changes: object) -> BoxFit:
    return fit_by_hand(
        tuning_hz=Interval(tuning_hz, tuning_hz - 0.1, tuning_hz + 0.1),
        log_covariance=np.diag([1e-5, 4e-4, 2e-4, 4e-6]), **changes,
    )  # fmt: skip


def of(fit: BoxFit) -> tuple[Signs, dict[FaultName | None, Cause]]:
    signs = signs_of(fit, DESIGN, PREDICTION, AIR)
    return signs, {one.fault: one for one in causes_of(signs, fit, DESIGN, AIR)}


def ends(values: Reals) -> list[float]:
    return [float(values.min()), float(values.max())]


@pytest.mark.parametrize(
    ("fault", "tuning", "compliance", "resonance", "motor"),
    [
        # a vent 4 to 80 % off; a volume 8 to 48 % off; a passage whose air weighs 1.1 to 9 times as much
        ("vent_long", (-0.5 * log(1.8), -0.5 * log(1.04)), (0, 0), (0, 0), (0, 0)),
        ("vent_short", (0.5 * log(1.04), 0.5 * log(1.8)), (0, 0), (0, 0), (0, 0)),
        ("volume_small", (0.5 * log(1.08), 0.5 * log(1.48)), (log(1.08), log(1.48)), (0, 0), (0, 0)),
        ("volume_large", (-0.5 * log(1.48), -0.5 * log(1.08)), (-log(1.48), -log(1.08)), (0, 0), (0, 0)),
        ("vent_restricted", (-0.5 * log(9.0), -0.5 * log(1.1)), (0, 0), (0, 0), (0, 0)),
        ("vent_lined", (-0.03, 0), (0, 0), (0, 0), (0, 0)),
        # softer air between fibres, up to 24 %
        ("overstuffed", (-0.12, -0.015), (-0.24, -0.03), (0, 0), (0, 0)),
        # a suspension 1.25 to 2.1 times too soft or stiff, a motor up to a fifth weaker: its Q goes with the square
        (
            "driver_off", (0, 0), (-log(2.1), log(2.1)), (-0.5 * log(2.1), 0.5 * log(2.1)), (-0.4, 0),
        ),
    ],
)  # fmt: skip
def test_what_a_cause_moves(
    fault: FaultName, tuning: tuple[float, float], compliance: tuple[float, float], resonance: tuple[float, float],
    motor: tuple[float, float],
) -> None:  # fmt: skip
    shift = of(fitted())[1][fault].shift
    for column, expected in enumerate((tuning, compliance, resonance, motor)):
        assert ends(shift[:, column]) == pytest.approx(list(expected), abs=1e-12)
    if fault == "driver_off":
        assert np.abs(shift[:, 1]).min() == pytest.approx(log(1.25))
        assert shift[:, 2] == pytest.approx(-0.5 * shift[:, 1])


@pytest.mark.parametrize(
    ("fault", "part", "least", "most"),
    [
        # the box Q divided by 1.3 to 10: 0.3 to 9 times the sealed box's loss more; a narrow passage up to a fifth
        ("vent_lined", 1, 0.3, 9.0), ("overstuffed", 2, 0.3, 9.0), ("vent_restricted", 1, 0.0, 0.2),
        ("vent_long", None, 0.0, 0.0), ("vent_short", None, 0.0, 0.0), ("volume_small", None, 0.0, 0.0),
        ("volume_large", None, 0.0, 0.0), ("driver_off", None, 0.0, 0.0), (None, None, 0.0, 0.0),
    ],
)  # fmt: skip
def test_what_a_cause_adds_to_the_losses(
    fault: FaultName | None, part: int | None, least: float, most: float
) -> None:
    signs, causes = of(fitted())
    adds = causes[fault].adds * signs.expected_q
    for column in range(3):
        expected = [least, most] if column == part else [0.0, 0.0]
        assert ends(adds[:, column]) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("plugged", [True, False])
def test_what_leaks_do_is_the_familys(plugged: bool) -> None:
    # Exact: Q falls from 1/l to 1/(l + more); without the plugged curve the leak's mass passes for friction in the vent
    signs, causes = of(fitted(roles=("open", "plugged") if plugged else ("open",)))
    family = leak_family(signs.expected_hz, signs.expected_q, 0.024, AIR)
    leak, felt = causes["leak"], family.felt
    assert leak.shift[:, 0] == pytest.approx(family.log_tuning[felt])
    assert np.all(leak.shift[:, 1:] == 0.0)
    more = leak.adds.sum(axis=1) * signs.expected_q
    assert 1.0 / (1.0 + more) == pytest.approx(np.minimum(np.exp(family.log_q[felt]), 1.0))
    assert np.all(leak.adds[:, 2] == 0.0)
    by_mass = 0.0 if plugged else family.by_mass[felt]
    assert leak.adds[:, 1] == pytest.approx(by_mass * leak.adds.sum(axis=1))


def test_small_faults_of_the_vents_length_are_the_more_frequent() -> None:
    # Exact: evenly in the logarithm, and of a vent's length the least 20^(1/2) times as often as the largest
    causes = of(fitted())[1]
    for fault in ("vent_long", "vent_short"):
        prior = causes[fault].prior
        assert prior.max() / prior.min() == pytest.approx(20.0**0.5)
        assert prior[np.argmin(np.abs(causes[fault].shift[:, 0]))] == prior.max()
    assert np.ptp(causes["volume_small"].prior) == pytest.approx(0.0, abs=1e-15)
    shares = {
        None: 0.72, "leak": 0.14, "vent_long": 0.03, "vent_short": 0.035, "vent_restricted": 0.01, "vent_lined": 0.015,
        "overstuffed": 0.015, "volume_small": 0.015, "volume_large": 0.015, "driver_off": 0.015,
    }  # fmt: skip
    assert {fault: float(one.prior.sum()) for fault, one in causes.items()} == pytest.approx(shares)
    sizes = np.exp(2.0 * causes["volume_small"].shift[:, 0]) - 1.0
    assert np.diff(np.log(sizes)) == pytest.approx(np.full(23, log(6.0) / 23.0))


def student(signs: Signs, shift: Reals, adds: Reals) -> float:
    """Return the density of the signs; each loss is known to a tenth beside what the fit tells."""
    expected = signs.usual + adds
    spread = signs.loss_covariance + np.diag(signs.usual_spread**2 + (0.1 * expected) ** 2)
    away = np.concatenate([signs.deviation - shift, signs.loss - expected])
    return float(multivariate_t(shape=block_diag(signs.covariance, spread), df=8).pdf(away))


SPLIT = Losses(inverse_q=np.array([0.05, 0.02, 0.03]), inverse_q_covariance=np.diag([1e-4, 4e-5, 4e-5]))


@pytest.mark.parametrize(
    "fit", [fitted(41.5, losses=SPLIT), fitted(38.0, roles=("open", "plugged"), leak_rise=(0.004, 0.002))]
)  # fmt: skip
def test_causes_are_weighed_by_students_distribution(fit: BoxFit) -> None:
    signs, causes = of(fit)
    weighed = weigh(fit, DESIGN, PREDICTION, AIR)
    density = {
        fault: np.array(
            [student(signs, *each) * seen for *each, seen in zip(one.shift, one.adds, one.seen, strict=True)]
        )
        for fault, one in causes.items()
    }
    evidence = {fault: float(causes[fault].prior @ density[fault]) for fault in causes}
    for fault in causes:
        if fault is not None:
            ratio = weighed.together[frozenset([fault])] / weighed.designed
            assert ratio == pytest.approx(evidence[fault] / evidence[None], rel=1e-6)


@pytest.mark.parametrize("first", ["leak", "vent_short"])
def test_two_causes_together_shift_by_the_sum_of_theirs(first: FaultName) -> None:
    # Exact: at most 40 of the sizes of the first with 8 of the second; the curves' own sign of a leak is the leak's
    fit = fitted(43.0, roles=("open", "plugged"), leak_rise=(0.004, 0.002))
    signs, causes = of(fit)
    weighed = weigh(fit, DESIGN, PREDICTION, AIR)
    bare = float(causes[None].prior[0]) * student(signs, causes[None].shift[0], causes[None].adds[0])
    one, other = causes[first], causes["vent_lined"]

    def few(of: Cause, most: int) -> list[tuple[int, float]]:
        which = np.unique(np.linspace(0, of.prior.size - 1, min(most, of.prior.size)).astype(int))
        return [(int(n), float(of.prior[n] / of.prior[which].sum() * of.prior.sum())) for n in which]

    total = sum(
        share
        * more
        * one.seen[n]
        * student(signs, one.shift[n] + other.shift[m], one.adds[n] + other.adds[m])
        for n, share in few(one, 40)
        for m, more in few(other, 8)
    )
    pair = weighed.together[frozenset([first, "vent_lined"])]
    assert pair / weighed.designed == pytest.approx(total / bare, rel=1e-6)


def test_leaks_that_are_not_felt_are_as_often_as_the_others() -> None:
    # Exact: each leak its share of the prior; those that are felt have together what a leak has
    weighed = weigh(fitted(), DESIGN, PREDICTION, AIR)
    felt, hidden = weighed.leaks.felt, weighed.hidden_share
    odds = weighed.together[frozenset(["leak"])] / weighed.designed
    assert hidden[felt].sum() / (1.0 - hidden.sum()) == pytest.approx(odds)
    assert hidden[felt] / hidden[felt].sum() == pytest.approx(weighed.leak_share[felt])
    assert np.all(weighed.leak_share[~felt] == 0.0)
    signs, causes = of(fitted())
    small = int(np.argmin(weighed.leaks.area_m2))
    assert not felt[small]
    nothing = student(signs, np.zeros(4), np.zeros(3))
    by_mass = weighed.leaks.by_mass[small]
    lost = max(np.exp(-weighed.leaks.log_q[small]) - 1.0, 0.0) / signs.expected_q
    alike = student(
        signs, np.array([weighed.leaks.log_tuning[small], 0.0, 0.0, 0.0]),
        np.array([lost * (1.0 - by_mass), lost * by_mass, 0.0]),
    )  # fmt: skip
    share = 0.14 * weighed.leaks.often[small] / weighed.leaks.often[felt].sum() * alike / (0.72 * nothing)
    assert hidden[small] / (1.0 - hidden.sum()) == pytest.approx(share)
    assert causes["leak"].prior.size == felt.sum()


@pytest.mark.parametrize(
    ("rise", "spread", "shows"),
    [(0.013, 0.0, True), (0.011, 0.0, False), (0.0161, 0.002, True), (0.0159, 0.002, False)],
)
def test_a_leak_shows_where_its_rise_less_twice_its_doubt_is_large(
    rise: float, spread: float, shows: bool
) -> None:
    assert shows_leak(fitted(leak_rise=(rise, spread))) == shows
    assert not shows_leak(fitted())


def test_a_leak_that_shows_is_one_of_its_own_rise() -> None:
    # Exact: a normal about the rise, of its doubt and a fifth of it, times the share in which such a leak shows at all
    signs, causes = of(fitted(roles=("open", "plugged"), leak_rise=(0.04, 0.006)))
    leak = causes["leak"]
    rise = leak.shift[:, 0]
    width = np.hypot(0.006, 0.2 * 0.04)
    expected = np.exp(-0.5 * ((rise - 0.04) / width) ** 2) * (1.0 - 1.0 / (1.0 + (rise / 0.015) ** 6))
    assert leak.seen == pytest.approx(np.maximum(expected, 1e-4))
    assert causes["vent_long"].seen == pytest.approx(np.full(24, 1e-4))
    # the size goes with the rise too, to 0.2 % at least
    weighed = weigh(fitted(leak_rise=(0.01, 0.0)), DESIGN, PREDICTION, AIR)
    plain = weigh(fitted(), DESIGN, PREDICTION, AIR)
    felt = weighed.leaks.felt
    ratio = weighed.leak_share[felt] / plain.leak_share[felt]
    normal = np.exp(-0.5 * ((weighed.leaks.log_tuning[felt] - 0.01) / np.hypot(0.002, 0.002)) ** 2) + 1e-4
    assert ratio / ratio[0] == pytest.approx(normal / normal[0], rel=1e-6)
    assert signs.deviation.size == 4
