"""Pages of simulated cabinets, and the browser that looks at them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from sealtune.files.design_file import read_design
from sealtune.files.impedance_table import table_text
from sealtune.jobs.batch import batch
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions
from sealtune.jobs.report import notes_of, write_batch_report, write_report
from sealtune.jobs.simulate import Simulation, simulate
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Role
from sealtune.records.verdict import Result
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.faults import apply_fault

if TYPE_CHECKING:
    from tests.browser.window import Window

DESIGN = Path(__file__).parents[2] / "recordings" / "design.toml"
MADE_AT = datetime(2026, 3, 1, 10, 15)
OPEN: tuple[Role, ...] = ("open",)

CABINETS = {
    "good": Simulation(seed=11, seconds=4.0),
    "leaking": Simulation(fault="leak_slit", severity=0.65, seed=12, seconds=4.0),
    "several": Simulation(
        fault="leak", severity=0.3, seed=5, seconds=4.0, roles=("open", "plugged", "free-air")
    ),
    "spoilt": Simulation(spoilt="clipped", strength=0.6, seed=6, seconds=4.0),
}
"""The page of each is looked at; "reworked" is a fifth, with an older recording in it."""

PAGES = (*CABINETS, "reworked")


@pytest.fixture(scope="session")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Result]:
    """What is known of each cabinet."""
    folder = tmp_path_factory.mktemp("cabinets")
    for name, wanted in CABINETS.items():
        simulate(DESIGN, folder / name, wanted, datetime(2026, 2, 28, 9, 0))
    simulate(DESIGN, folder / "reworked", CABINETS["good"], datetime(2026, 2, 28, 9, 0))
    shutil.copy(folder / "leaking" / "open.flac", folder / "reworked" / "open-2020-01-01T000000.flac")
    return {name: check(folder / name, CheckOptions()) for name in PAGES}


@pytest.fixture(scope="session")
def pages(results: dict[str, Result], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The page of each cabinet by its name, "two" of a pair, "batch" of nine whose vents grow shorter one by one."""
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for name, shown in (*((name, [name]) for name in PAGES), ("two", ["good", "leaking"])):
        chosen = [results[one] for one in shown]
        found[name] = folder / f"{name}.html"
        write_report(chosen, found[name], MADE_AT, notes_of(chosen))
    _shop(folder / "shop")
    found["batch"] = folder / "batch.html"
    write_batch_report(batch(folder / "shop", CheckOptions(), processes=1), found["batch"], MADE_AT)
    return found


def _shop(folder: Path) -> None:
    """Write nine cabinets as tables, each a little shorter in the vent; one leaks."""
    folder.mkdir()
    shutil.copy(DESIGN, folder)
    design, rng = read_design(DESIGN), np.random.default_rng(1)
    hz = np.geomspace(5.0, 800.0, 300)
    for place in range(9):
        cabinet = apply_fault(cabinet_from_design(design, rng, scatter=0.3), "vent_short", 0.04 * place, rng)
        z = (apply_fault(cabinet, "leak", 0.6, rng) if place == 6 else cabinet).impedance(hz)
        (folder / f"box-{place}").mkdir()
        table = folder / f"box-{place}" / f"open-2026-02-{place + 1:02d}.csv"
        table.write_text(table_text(ImpedanceCurve(hz, z, 1e-5 * np.abs(z))))


@pytest.fixture(scope="session")
def window() -> Iterator[Window]:
    """A browser; where there is none the test is skipped and says so."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    driver = shutil.which("chromedriver")
    if chromium is None or driver is None:
        pytest.skip("needs chromium and chromedriver (apt-get install chromium chromium-driver)")
    from tests.browser.window import Window

    opened = Window(chromium, driver)
    yield opened
    opened.close()
