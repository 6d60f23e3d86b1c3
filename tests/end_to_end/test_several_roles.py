"""A cabinet's folder with more than the open vent's recording, and a jig that was measured against known loads."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from sealtune.files.jig_file import jig_text
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions
from sealtune.jobs.simulate import Simulation, simulate
from sealtune.records.recording import Jig, JigStandards, KnownResistor, Role, Standard
from sealtune.records.verdict import Result
from sealtune.virtual.sound_card import SoundCard

DESIGN = Path(__file__).resolve().parents[2] / "recordings" / "design.toml"
NOW = datetime(2026, 1, 2, tzinfo=UTC)


def folder(path: Path, order: Simulation, card: SoundCard | None = None) -> Path:
    simulate(DESIGN, path, order, NOW, card)
    return path


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    roles: tuple[Role, ...] = ("open", "plugged", "free-air")
    return folder(tmp_path_factory.mktemp("whole") / "box", Simulation(roles=roles, seed=5, seconds=4.0))


def judged(path: Path) -> Result:
    return check(path, CheckOptions())


def test_all_roles_are_used_and_tell_the_losses(whole: Path) -> None:
    result = judged(whole)
    assert result.verdict == "good"
    assert [source.role for source in result.sources] == ["open", "plugged", "free-air"]
    assert result.fit is not None
    assert result.fit.roles == ("open", "plugged", "free-air")
    losses = result.fit.losses
    assert losses.leakage_q is not None
    assert losses.vent_q is not None
    assert losses.absorption_q is not None
    alone = check(whole / "open.flac", CheckOptions())
    assert alone.fit is not None
    assert alone.fit.losses.leakage_q is None
    # more knowledge of the same cabinet: the values agree
    assert result.fit.tuning_hz.value == pytest.approx(alone.fit.tuning_hz.value, rel=2e-3)
    assert result.fit.box_q.value == pytest.approx(alone.fit.box_q.value, rel=0.1)


def test_spoilt_companion_is_left_out_and_named(whole: Path, tmp_path: Path) -> None:
    box = tmp_path / "box"
    shutil.copytree(whole, box)
    for name in ("plugged.flac", "free-air.flac"):
        (box / name).unlink()
    spoilt = folder(
        tmp_path / "spoilt", Simulation(roles=("plugged",), seed=5, seconds=4.0, spoilt="clipped")
    )
    shutil.copy(spoilt / "plugged.flac", box / "plugged.flac")
    result = judged(box)
    assert result.verdict == "good"
    assert result.fit is not None
    assert result.fit.roles == ("open",)
    named = [problem for problem in result.problems if problem.detail.startswith("plugged.flac")]
    assert [problem.problem for problem in named] == ["clipped"]
    assert not named[0].spoils
    assert "left out" in named[0].detail


def test_companion_of_another_cabinet_is_left_out(whole: Path, tmp_path: Path) -> None:
    box = tmp_path / "box"
    shutil.copytree(whole, box)
    (box / "free-air.flac").unlink()
    other = folder(
        tmp_path / "other", Simulation(fault="volume_small", severity=0.8, roles=("plugged",), seconds=4.0)
    )
    shutil.copy(other / "plugged.flac", box / "plugged.flac")
    result = judged(box)
    alone = check(whole / "open.flac", CheckOptions())
    assert result.fit is not None
    assert alone.fit is not None
    assert result.fit.ignored_roles == ("plugged",)
    assert result.fit.tuning_hz.value == pytest.approx(alone.fit.tuning_hz.value, rel=1e-6)
    assert any("does not go with" in problem.detail for problem in result.problems)
    assert result.verdict == alone.verdict == "good"


def test_known_loads_in_the_folder_correct_the_jig(tmp_path: Path) -> None:
    # exact: inputs 0.4 dB apart and no other fault. Both on one point, and a divider with open leads, read
    # 10^(0.4/20); a 10 ohm resistor behind 10 ohm reads half of it
    card = SoundCard(mismatch_db=0.4)
    box = folder(tmp_path / "box", Simulation(seed=5, seconds=4.0), card)
    raw = judged(box)
    true = judged(folder(tmp_path / "true", Simulation(seed=5, seconds=4.0), SoundCard(mismatch_db=0.0)))
    hz = tuple(np.geomspace(4.0, 1000.0, 12).tolist())
    gain, sure = 10.0 ** (0.4 / 20.0), (1e-5,) * 12
    standards = JigStandards(
        balance=Standard(hz, (complex(gain),) * 12, sure),
        resistor=KnownResistor(10.0, Standard(hz, (complex(0.5 * gain),) * 12, sure), 0.001),
    )
    (tmp_path / "jig.toml").write_text(jig_text(Jig("divider", 10.0, standards=standards)), encoding="utf-8")
    corrected = judged(box)
    assert raw.landmarks is not None
    assert corrected.landmarks is not None
    assert true.landmarks is not None
    assert raw.landmarks.upper is not None
    assert corrected.landmarks.upper is not None
    assert true.landmarks.upper is not None
    # exact: the divider's error Z (1 + Z/R) per unit of gain, at a peak of four times the resistor
    assert raw.landmarks.upper.ohm > 1.1 * true.landmarks.upper.ohm
    assert corrected.landmarks.upper.ohm == pytest.approx(true.landmarks.upper.ohm, rel=2e-3)
    assert raw.jig_words != corrected.jig_words
