"""`sealtune report` of a pair and a batch, on paper, and the shell's completion."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader
from tests.program import in_its_own_process, sealtune

from sealtune.files.design_file import read_design
from sealtune.files.impedance_table import table_text
from sealtune.records.curve import ImpedanceCurve
from sealtune.virtual.cabinet import cabinet_from_design

RECORDINGS = Path(__file__).parents[2] / "recordings"


def shop(folder: Path, count: int) -> Path:
    """Write a folder with that many cabinets of the demo's design as tables."""
    folder.mkdir()
    shutil.copy(RECORDINGS / "design.toml", folder)
    design, rng = read_design(folder / "design.toml"), np.random.default_rng(1)
    hz = np.geomspace(5.0, 800.0, 300)
    for place in range(count):
        z = cabinet_from_design(design, rng, scatter=0.3).impedance(hz)
        (folder / f"box-{place}").mkdir()
        (folder / f"box-{place}" / "open.csv").write_text(table_text(ImpedanceCurve(hz, z, 1e-5 * np.abs(z))))
    return folder


def test_pair_as_page_and_on_paper(tmp_path: Path) -> None:
    words = ("report", RECORDINGS / "left", RECORDINGS / "right", "--out", "pair.html", "--pdf")
    done = sealtune(*words, folder=tmp_path)
    assert done.returncode == 1, "one of the two needs rework"
    assert done.stdout.endswith("Report: pair.html\nReport: pair.pdf\n")
    page = (tmp_path / "pair.html").read_text(encoding="utf-8")
    assert "NOT MATCHED" in page
    assert "REWORK" in page
    text = PdfReader(tmp_path / "pair.pdf").pages[0].extract_text()
    assert "NOT MATCHED" in " ".join(text.split())
    again = ("report", RECORDINGS / "left", "--out", "pair.html", "--pdf")
    assert sealtune(*again, folder=tmp_path).returncode == 0, "a page and a PDF are made anew at each run"
    assert "NOT MATCHED" not in (tmp_path / "pair.html").read_text(encoding="utf-8")
    assert "NOT MATCHED" not in PdfReader(tmp_path / "pair.pdf").pages[0].extract_text().replace("\n", " ")


def test_batch_as_page_and_on_paper(tmp_path: Path) -> None:
    folder = shop(tmp_path / "shop", 3)
    done = sealtune("report", "shop", "--pdf", folder=tmp_path)
    assert done.returncode in (0, 1), done.stderr
    assert done.stdout.startswith("shop: 3 cabinets: ")
    page = (folder / "report.html").read_text(encoding="utf-8")
    text = " ".join(
        " ".join(sheet.extract_text().split()) for sheet in PdfReader(folder / "report.pdf").pages
    )
    for name in ("box-0", "box-1", "box-2", "Best pairs", "Without a mate"):
        assert name in page, name
        assert name in text, name


@pytest.mark.parametrize(
    ("words", "place", "wanted"),
    [
        ("sealtune exp", 1, "export"),
        ("sealtune export --format s", 3, "spice"),
        ("sealtune check --wir", 2, "--wiring"),
    ],
)
def test_the_shell_completes_commands_options_and_choices(
    words: str, place: int, wanted: str, tmp_path: Path
) -> None:
    done = in_its_own_process(
        folder=tmp_path, _SEALTUNE_COMPLETE="bash_complete", COMP_WORDS=words, COMP_CWORD=str(place)
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == [f"plain,{wanted}"]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_shells_get_their_script(shell: str, tmp_path: Path) -> None:
    done = in_its_own_process(folder=tmp_path, _SEALTUNE_COMPLETE=f"{shell}_source")
    assert done.returncode == 0, done.stderr
    assert "_SEALTUNE_COMPLETE" in done.stdout
    assert "sealtune" in done.stdout


def test_the_version(tmp_path: Path) -> None:
    from sealtune import __version__

    assert sealtune("--version", folder=tmp_path).stdout == f"sealtune, version {__version__}\n"
