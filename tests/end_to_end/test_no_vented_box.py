"""Loads that are no vented box never come out as good; tests/benchmarks/no_vented_box.py draws very many more.

Independent: the loads are the small models of tests/other_loads.py, which share nothing with the program.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.benchmarks.no_vented_box import HZ, judged, table_text
from tests.other_loads import LOADS, Cone, draw_cone

from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions

ALIKE = {"passive radiators", "band-pass box", "resonators"}
"""These run like a vented box of some other driver, and only a design tells: a passive radiator's spring acts as the
driver's, exactly, and so does a closed chamber behind the cone of a band-pass box; two resonators may lie where such a
box has its peaks."""


@pytest.mark.parametrize("kind", LOADS)
@pytest.mark.parametrize("seed", [101, 102])
def test_is_never_good(tmp_path: Path, kind: str, seed: int) -> None:
    alone, designed = judged(kind, seed, tmp_path)
    assert designed.verdict != "good"
    assert designed.findings or designed.problems
    if kind not in ALIKE:
        assert alone.verdict != "good"
        assert alone.findings or alone.problems


@pytest.mark.parametrize(
    ("kind", "seed"), [("horn", 0), ("horn", 10), *(("transmission line", seed) for seed in (2, 3, 7, 9))]
)
def test_lines_and_horns_whose_lower_peaks_are_those_of_a_vented_box(
    tmp_path: Path, kind: str, seed: int
) -> None:
    # found by drawing: the two lower peaks fit within a percent, the third one stands out
    alone, designed = judged(kind, seed, tmp_path)
    assert alone.verdict == designed.verdict == "remeasure"
    assert [finding.fault for finding in alone.findings] == ["not_a_vented_box"]


def test_passive_radiator_is_a_vented_box_of_another_driver(tmp_path: Path) -> None:
    # exact: with y = s + k s / (s^2 + p^2), 1/y = (p/b)^2 / s + (1 - (p/b)^2) s / (s^2 + b^2), b^2 = p^2 + k: a spring
    # more beside the suspension, and a vented box of tuning b with the rest of the air's stiffness
    p, b, alpha = 0.5, 1.2, 1.3
    s = 2j * np.pi * np.linspace(0.05, 3.0, 40)
    k = b**2 - p**2
    passive = alpha / (s + k * s / (s**2 + p**2))
    share = (p / b) ** 2
    vented = alpha * share / s + alpha * (1.0 - share) / (s + b**2 / s)
    np.testing.assert_allclose(passive, vented, rtol=1e-12)


def test_models_are_right_where_they_can_be_reckoned(tmp_path: Path) -> None:
    # exact: a driver alone has R_E (1 + Q_MS / Q_ES) at f_S, and a third of a closed box's air thrice the stiffness
    cone = Cone(50.0, 4.0, 0.5, 6.0, 0.01, 0.01, 0.0, 0.5)
    at = np.array([2j * np.pi * 50.0])
    assert LOADS["free air"](np.random.default_rng(0), at, cone)[0] == pytest.approx(54.0)
    drawn = draw_cone(np.random.default_rng(1))
    assert drawn.bl**2 / drawn.re_ohm * drawn.qes == pytest.approx(2 * np.pi * drawn.fs_hz * drawn.mass_kg)
    z = LOADS["closed box"](np.random.default_rng(2), np.asarray(2j * np.pi * HZ), drawn)
    assert HZ[np.argmax(np.abs(z))] > 1.1 * drawn.fs_hz
    # and a table of them is read
    (tmp_path / "open.csv").write_text(table_text(HZ, z))
    assert check(tmp_path / "open.csv", CheckOptions()).landmarks is not None
