"""docs/faults.md names all that the program can name, and every picture of the documents is there and told in words."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from sealtune.errors import ProblemName
from sealtune.records.verdict import FaultName

ROOT = Path(__file__).resolve().parents[2]
NAMES = (*get_args(FaultName), *get_args(ProblemName))
PAGES = sorted(path for path in (*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")))


def sections() -> dict[str, str]:
    """Return the text of each section of docs/faults.md by the name in its heading."""
    text = (ROOT / "docs" / "faults.md").read_text(encoding="utf-8")
    parts = re.split(r"^### .*`(\w+)`$", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def test_there_is_a_section_for_every_name_and_no_other() -> None:
    assert sorted(sections()) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_section_shows_confirms_and_tells_what_to_do(name: str) -> None:
    text = sections()[name]
    assert f"(faults/{name}.png)" in text
    places = [text.find(f"- **{word}:**") for word in ("Shows", "Confirm", "Do")]
    assert -1 not in places
    assert places == sorted(places)


@pytest.mark.parametrize("page", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_picture_is_there_and_told_in_words(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert "<img" not in text  # which could hide from the pattern below
    for words, target in re.findall(r"!\[([^\]]*)\]\(([^)]*)\)", text):
        assert len(words.split()) >= 4, target
        assert (page.parent / target).is_file(), target


def test_no_picture_lies_about_unused() -> None:
    used = {
        (page.parent / target).resolve()
        for page in PAGES
        for target in re.findall(r"!\[[^\]]*\]\(([^)]*)\)", page.read_text(encoding="utf-8"))
    }
    assert {path.resolve() for path in (ROOT / "docs").rglob("*.png")} <= used
