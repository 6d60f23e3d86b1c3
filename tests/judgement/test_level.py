"""Recordings at different levels: agreement and disagreement by hand, and from a folder as a person makes them."""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from tests.program import sealtune

from sealtune.jobs.simulate import Simulation, simulate
from sealtune.judgement.level import Take, level_problem
from sealtune.records.design import Design
from sealtune.records.fit import BoxFit
from sealtune.records.interval import Interval
from sealtune.records.verdict import Result
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.sound_card import SoundCard

Judged = Callable[..., Result]
DESIGN = Path(__file__).parents[2] / "recordings" / "design.toml"
NOON = datetime(2026, 1, 5, 12, tzinfo=UTC)


@pytest.fixture
def fit(design: Design, judged: Judged) -> BoxFit:
    found = judged(cabinet_from_design(design, np.random.default_rng(1))).fit
    assert found is not None
    return found


def moved(fit: BoxFit, *, tuning: float = 1.0, resonance: float = 1.0) -> BoxFit:
    """Return the fit with tuning and driver's resonance so many times as high."""

    def times(old: Interval, by: float) -> Interval:
        return Interval(old.value * by, old.low * by, old.high * by)

    return replace(fit, tuning_hz=times(fit.tuning_hz, tuning), fs_hz=times(fit.fs_hz, resonance))


def test_a_tuning_that_moves_with_the_level_is_named(fit: BoxFit) -> None:
    # By hand: 0.2 % at either take make 0.55 % at 95 %, the fit's own share far less.
    soft, loud = Take("open.wav", fit, -24.0), Take("open-2.wav", moved(fit, tuning=0.98), -12.0)
    told = level_problem(soft, loud)
    assert told is not None
    assert told.problem == "level_dependent"
    assert not told.spoils
    assert "12 dB louder than open.wav, the tuning moved" in told.detail
    assert f"{fit.tuning_hz.value:.1f} Hz to {0.98 * fit.tuning_hz.value:.1f} Hz" in told.detail
    back = level_problem(loud, soft)
    assert back is not None
    assert "12 dB softer" in back.detail
    assert level_problem(soft, replace(loud, fit=moved(fit, tuning=0.998))) is None


def test_a_suspension_may_move_a_little_and_no_more(fit: BoxFit) -> None:
    # By hand: f_S is left 1 % from take to take, 2.8 % at 95 % for two; creep and warmth do as much.
    soft = Take("a", fit, -24.0)
    assert level_problem(soft, Take("b", moved(fit, resonance=0.985), -12.0)) is None
    told = level_problem(soft, Take("b", moved(fit, resonance=0.94), -12.0))
    assert told is not None
    assert "driver's resonance" in told.detail


def test_it_takes_two_levels_on_one_day(fit: BoxFit) -> None:
    other = moved(fit, tuning=1.05)
    assert level_problem(Take("a", fit, -12.0), Take("b", other, -13.0)) is None
    assert level_problem(Take("a", fit, None), Take("b", other, -24.0)) is None
    early, late = Take("a", fit, -24.0, NOON), Take("b", other, -12.0, NOON + timedelta(minutes=10))
    assert level_problem(early, late) is not None
    assert level_problem(early, replace(late, recorded_at=NOON + timedelta(hours=30))) is None


def take(folder: Path, minute: int, level_dbfs: float, fault: str) -> None:
    made_at = NOON + timedelta(minutes=minute)
    simulation = Simulation(fault, 0.5, seed=minute, seconds=4.0)
    (made,) = simulate(DESIGN, folder / "new", simulation, made_at, SoundCard(level_dbfs=level_dbfs))
    made.rename(folder / f"open-2026-01-05T12{minute:02d}00.flac")


@pytest.mark.parametrize(("fault", "named"), [("none", False), ("leak_slit", True)])
def test_check_names_it_in_a_folder(tmp_path: Path, fault: str, named: bool) -> None:
    """A gap that opens when it is played louder, and a box that stays as it is."""
    (tmp_path / "design.toml").write_text(DESIGN.read_text(encoding="utf-8"), encoding="utf-8")
    take(tmp_path, 0, -24.0, "none")
    take(tmp_path, 10, -12.0, fault)
    done = sealtune("check", ".", "--json", "-", folder=tmp_path)
    problems = json.loads(done.stdout)["quality"]["problems"]
    assert ("level_dependent" in {each["problem"] for each in problems}) == named
