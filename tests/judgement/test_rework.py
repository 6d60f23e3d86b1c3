"""What changed since an older recording: intervals by hand, the words for it, and virtual cabinets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.judgement.resistance import MEASURED_R
from sealtune.judgement.rework import compared
from sealtune.records.design import Design
from sealtune.records.interval import Interval
from sealtune.records.verdict import FaultName, Finding, Leak, Result
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.faults import apply_fault, with_slit

Judged = Callable[..., Result]
RNG = np.random.default_rng(5)


@pytest.fixture
def sealed(design: Design, judged: Judged) -> Result:
    return judged(cabinet_from_design(design, np.random.default_rng(1), scatter=0.0))


def with_fit(
    result: Result,
    *,
    re_ohm: float | None = None,
    log_covariance: NDArray[np.float64] | None = None,
    **values: float,
) -> Result:
    """Return the result with other values in its fit, all as sure as the covariance says."""
    assert result.fit is not None
    fit = replace(
        result.fit,
        re_ohm=result.fit.re_ohm if re_ohm is None else re_ohm,
        log_covariance=result.fit.log_covariance if log_covariance is None else log_covariance,
    )
    for name, value in values.items():
        assert isinstance(getattr(fit, name), Interval)
        object.__setattr__(fit, name, Interval(value, value, value))
    return replace(result, fit=fit)


def faulty(result: Result, *faults: FaultName, leak: float = 0.0) -> Result:
    findings = tuple(Finding(fault, 0.7 - 0.1 * n, "E.", "R.", "C.") for n, fault in enumerate(faults))
    return replace(result, verdict="rework", findings=findings, leak=Leak(leak, None, None))


def test_what_both_recordings_share_makes_no_change_and_the_temperature_does(sealed: Result) -> None:
    """By hand. Own deviations of 0.1 % beside the shared 0.05 %; 3 K at 95 % at either time are
    sqrt(2) 3/1.96/(2 x 293.15) = 0.369 % of the tuning."""
    own = np.diag([1e-6 + 2.5e-7, 1e-4 + 9e-4, 1e-4 + 1e-4, 1e-6 + 1e-6])
    before = with_fit(sealed, tuning_hz=40.0, box_q=10.0, log_covariance=own)
    now = with_fit(sealed, tuning_hz=40.0, box_q=10.0, log_covariance=own)
    told = compared(before, now)
    assert told.outcome == "unchanged"
    assert told.tuning_hz is not None
    assert told.box_q is not None
    assert told.tuning_hz.difference.high == pytest.approx(
        1.96 * 40.0 * np.sqrt(2e-6 + 0.00369**2), rel=0.002
    )
    # 1 % of 10 in each, the shared 3 % left out: 1.96 x sqrt(2) x 0.1
    assert told.box_q.difference.high == pytest.approx(0.277, rel=0.005)
    leaking = compared(faulty(before, "leak", leak=0.9), now)
    assert leaking.box_q is not None
    # 4 % that an open curve is off with a leak come on top, once: 1.96 x sqrt(2 x 0.1^2 + 0.4^2)
    assert leaking.box_q.difference.high == pytest.approx(0.832, rel=0.005)


def test_a_sealed_leak_is_told_with_its_numbers(sealed: Result) -> None:
    before = faulty(with_fit(sealed, tuning_hz=40.4, box_q=6.8), "leak", "vent_short", leak=0.7)
    told = compared(before, with_fit(sealed, tuning_hz=38.5, box_q=12.9))
    assert told.outcome == "fixed"
    # by hand: 3 K at either time are 0.28 Hz, 0.15 % that a leak puts into the older tuning 0.12 Hz
    assert told.summary.startswith("The tuning fell by 1.9 Hz (1.6 to 2.2)")
    assert "and now lies within tolerance; box Q rose from 6.8 to 12.9: the leak is sealed." in told.summary


@pytest.mark.parametrize(
    ("faults", "before_hz", "before_q", "now_hz", "now_q", "good", "outcome", "words"),
    [
        (("vent_long",), 34.0, 11.0, 38.5, 11.2, True, "fixed", "the vent is right"),
        (("vent_long",), 34.0, 11.0, 36.0, 11.1, False, "better", "not far enough"),
        (("vent_long",), 34.0, 11.0, 32.0, 11.0, False, "worse", "the wrong way"),
        (("vent_lined",), 38.5, 3.4, 38.5, 11.0, True, "fixed", "free of damping material"),
        # half closed, a gap costs more box Q and raises the tuning less
        (("leak",), 43.0, 7.7, 41.0, 6.8, False, "better", "not far enough"),
        # a longer vent has more friction: with a higher box Q it was the leak, with a lower one nobody knows
        (("vent_short", "leak"), 42.0, 11.0, 38.5, 12.5, True, "fixed", "the leak is sealed"),
        (("vent_short", "leak"), 42.0, 11.9, 38.5, 11.8, True, "fixed", "what was done has worked"),
        ((), 38.5, 12.0, 41.0, 7.0, False, "worse", "it was good before"),
    ],
)
def test_the_remedy_is_judged_by_what_it_should_have_moved(
    sealed: Result, faults: tuple[FaultName, ...], before_hz: float, before_q: float, now_hz: float,
    now_q: float, good: bool, outcome: str, words: str,
) -> None:  # fmt: skip
    """Exact: which way each remedy moves the box follows from its physics, see `SHOULD`."""
    before = with_fit(sealed, tuning_hz=before_hz, box_q=before_q)
    now = with_fit(sealed, tuning_hz=now_hz, box_q=now_q)
    told = compared(
        faulty(before, *faults) if faults else before, now if good else faulty(now, *faults or ("leak",))
    )
    assert told.outcome == outcome
    assert words in told.summary


def test_a_vent_that_was_cut_too_far_is_no_better(sealed: Result) -> None:
    before = faulty(with_fit(sealed, tuning_hz=34.0, box_q=11.0), "vent_long")
    told = compared(before, faulty(with_fit(sealed, tuning_hz=44.0, box_q=11.2), "vent_short"))
    assert told.outcome == "changed"
    assert "and is now too high" in told.summary
    assert told.summary.endswith("the right way, but too far.")


def test_a_new_fault_in_place_of_the_old_is_no_better(sealed: Result) -> None:
    # the tuning fell as by a sealed leak, but cloth in the vent costs more than the leak did
    before = faulty(with_fit(sealed, tuning_hz=40.5, box_q=8.0), "leak", leak=0.9)
    told = compared(before, faulty(with_fit(sealed, tuning_hz=38.5, box_q=3.8), "vent_lined"))
    assert told.outcome == "changed"
    assert "there is something new" in told.summary


def test_another_driver_shows_by_its_resonance(sealed: Result) -> None:
    # the design says 37 Hz; mounted, 0.97 times that
    before = faulty(with_fit(sealed, fs_hz=52.0, compliance_ratio=0.65), "driver_off")
    told = compared(before, with_fit(sealed, fs_hz=36.5, compliance_ratio=0.65 * (52.0 / 36.5) ** 2))
    assert told.outcome == "fixed"
    assert told.summary == "The driver's resonance fell from 52.0 to 36.5 Hz: the driver goes with its data."


def test_a_joint_made_good_shows_in_the_resistance_alone(sealed: Result) -> None:
    told = compared(faulty(with_fit(sealed, re_ohm=7.6), "series_resistance"), with_fit(sealed, re_ohm=6.1))
    assert told.summary == "R_E fell from 7.6 to 6.1 ohm: the extra resistance is gone."
    # by hand: 1.5 % of 6.1 and the clips' 0.05 ohm, 1.96 x hypot(0.0915, 0.05)
    assert told.re_ohm is not None
    assert told.re_ohm.difference.high - told.re_ohm.difference.value == pytest.approx(0.204, abs=0.002)


def test_an_ageing_suspension_is_no_change_of_the_air(sealed: Result) -> None:
    """Exact: softer by 10 %, alpha grows by 1.1 and f_S falls by sqrt(1.1), and the volume stays."""
    assert sealed.fit is not None
    alpha, fs = sealed.fit.compliance_ratio.value, sealed.fit.fs_hz.value
    told = compared(sealed, with_fit(sealed, compliance_ratio=1.1 * alpha, fs_hz=fs / float(np.sqrt(1.1))))
    assert told.outcome == "unchanged"
    assert told.air_share is not None
    assert told.air_share.value == pytest.approx(0.0, abs=1e-9)
    fuller = compared(sealed, with_fit(sealed, compliance_ratio=alpha / 0.8))
    assert fuller.air_share is not None
    assert fuller.air_share.value == pytest.approx(-0.2, abs=1e-9)
    # exact: what is unsure of box Q makes the air no less sure
    wide = np.diag([0.0, 0.04, 0.0, 0.0])
    assert sealed.fit.log_covariance is not None
    doubted = compared(sealed, with_fit(sealed, log_covariance=sealed.fit.log_covariance + wide))
    surely = compared(sealed, sealed)
    assert doubted.air_share is not None
    assert surely.air_share is not None
    assert doubted.air_share.high == pytest.approx(surely.air_share.high, rel=1e-6)


def test_where_nothing_changed_the_next_joint_is_named(sealed: Result) -> None:
    leaking = faulty(sealed, "leak", leak=0.9)
    assert compared(leaking, leaking).summary.endswith("the next joint in the order is the driver's gasket.")
    third = compared(leaking, leaking, attempts=2)
    assert third.summary.endswith("the next joint in the order is the terminal cup.")
    assert compared(leaking, leaking, attempts=99).summary.endswith("is screw and cable holes.")


def test_a_vent_that_was_blocked_and_one_that_is_now(sealed: Result) -> None:
    shut = faulty(replace(sealed, fit=None), "vent_blocked")
    opened = compared(shut, sealed)
    assert (opened.outcome, opened.tuning_hz) == ("fixed", None)
    assert "the vent is open" in opened.summary
    assert compared(sealed, shut).outcome == "worse"


@pytest.mark.parametrize("gap_mm", [0.35, 0.8])
def test_intervals_hold_the_change_of_virtual_cabinets(design: Design, judged: Judged, gap_mm: float) -> None:
    """Independent: the virtual cabinet's own physics tells the true change."""
    tight = cabinet_from_design(design, np.random.default_rng(1), scatter=0.0)
    open_joint = with_slit(tight, gap_mm, 60.0, 15.0)
    told = compared(judged(open_joint, seed=2), judged(tight, seed=3))
    before, now = open_joint.truth(), tight.truth()
    assert told.tuning_hz is not None
    assert told.box_q is not None
    assert before.tuning_hz is not None
    assert now.tuning_hz is not None
    assert before.box_q is not None
    assert now.box_q is not None
    assert told.tuning_hz.difference.holds(now.tuning_hz - before.tuning_hz)
    assert told.box_q.difference.holds(now.box_q - before.box_q)
    assert told.air_share is not None
    assert told.air_share.holds(0.0)
    assert told.box_q.certain


def test_two_takes_of_one_box_are_no_change(design: Design, judged: Judged) -> None:
    box = apply_fault(
        cabinet_from_design(design, np.random.default_rng(1), scatter=0.0), "vent_long", 0.5, RNG
    )
    for seed in range(2, 8):
        assert compared(judged(box, seed=1), judged(box, seed=seed)).outcome == "unchanged"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"box_q": 1.04}, ""), ({"box_q": 1.06}, "Box Q rose"), ({"box_q": 0.94}, "Box Q fell"),
        ({"compliance_ratio": 0.985}, ""), ({"compliance_ratio": 0.975}, "The air in the box grew by 3 %"),
        ({"compliance_ratio": 1.03}, "The air in the box shrank by 3 %"),
        ({"fs_hz": 0.93, "compliance_ratio": 0.93**-2}, ""),
        ({"fs_hz": 0.91, "compliance_ratio": 0.91**-2}, "The driver's resonance fell"),
    ],
)  # fmt: skip
def test_small_changes_are_not_worth_a_word_however_sure(
    sealed: Result, changes: dict[str, float], words: str
) -> None:
    """Exact: without noise every change is sure; 5 % of box Q, 2 % of the air and 8 % of f_S are told from there on."""
    assert sealed.fit is not None
    none = np.zeros((4, 4))
    before = with_fit(sealed, log_covariance=none)
    values = {name: times * getattr(sealed.fit, name).value for name, times in changes.items()}
    told = compared(before, with_fit(before, log_covariance=none, **values))
    assert (told.outcome == "unchanged") == (not words)
    assert told.summary.startswith(words or "Nothing changed")


def test_a_driver_that_goes_away_from_its_data_is_worse(sealed: Result) -> None:
    # Exact: 0.97 x 37 Hz by the design; from 45 Hz to 60 goes away from it
    before = faulty(with_fit(sealed, fs_hz=45.0, compliance_ratio=0.8), "driver_off")
    told = compared(before, faulty(with_fit(sealed, fs_hz=60.0, compliance_ratio=0.45), "driver_off"))
    assert told.outcome == "worse"
    assert "The driver's resonance rose from 45.0 to 60.0 Hz: the wrong way" in told.summary


def test_the_leaks_area_changes_by_both_intervals(sealed: Result) -> None:
    # Exact: independent errors add as squares, upwards and downwards apart
    before = replace(sealed, leak=Leak(0.9, Interval(50.0, 40.0, 74.0), None))
    now = replace(sealed, leak=Leak(0.1, Interval(10.0, 7.0, 20.0), None))
    told = compared(before, now)
    assert told.leak_area_mm2 is not None
    change = told.leak_area_mm2.difference
    assert change.value == -40.0
    assert change.high == pytest.approx(-40.0 + np.hypot(10.0, 10.0))
    assert change.low == pytest.approx(-40.0 - np.hypot(3.0, 24.0))
    assert told.leak_probability == (0.9, 0.1)
    assert compared(before, replace(now, leak=Leak(0.1, None, None))).leak_area_mm2 is None


def test_another_jig_leaves_more_of_the_resistance_open(sealed: Result) -> None:
    same = compared(with_fit(sealed, re_ohm=6.6), with_fit(sealed, re_ohm=6.1)).re_ohm
    other = compared(
        replace(with_fit(sealed, re_ohm=6.6), jig_words="10 ohm, divider"),
        replace(with_fit(sealed, re_ohm=6.1), jig_words="8 ohm, divider"),
    ).re_ohm
    assert same is not None
    assert other is not None
    # by hand: MEASURED_R of either jig, root 2 of it together, beside the coil's and the clips' own
    reaches = [one.difference.high - one.difference.value for one in (same, other)]
    assert reaches[1] ** 2 - reaches[0] ** 2 == pytest.approx(2.0 * (1.96 * MEASURED_R * 6.1) ** 2, rel=0.01)
