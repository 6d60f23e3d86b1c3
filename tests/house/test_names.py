"""Pinned names of commands, options and exit codes; late imports of each command; words that do not belong here."""

import subprocess
import sys
from pathlib import Path

import pytest

from sealtune.cli import check
from sealtune.cli.main import COMMANDS
from sealtune.errors import EXIT_CODES

ROOT = Path(__file__).resolve().parents[2]

HEAVY = {"numpy", "scipy", "matplotlib", "soundfile", "sounddevice"}


def _files(*suffixes: str) -> list[Path]:
    found = [path for path in ROOT.iterdir() if path.suffix in suffixes]
    for folder in ("src", "tests", "docs"):
        found += [path for path in (ROOT / folder).rglob("*") if path.suffix in suffixes]
    return found


@pytest.mark.parametrize("words", [["--version"], *([name, "--help"] for name in COMMANDS)], ids=" ".join)
def test_help_of_a_command_imports_nothing_heavy(words: list[str]) -> None:
    program = (
        "import sys, atexit\n"
        "atexit.register(lambda: print('\\nLOADED', *{name.split('.')[0] for name in sys.modules}))\n"
        f"sys.argv = {['sealtune', *words]!r}\n"
        "from sealtune.cli.main import main\n"
        "main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
    )
    text, _, loaded = done.stdout.rpartition("LOADED")
    assert "sealtune" in text
    assert {"sealtune", "click"} <= set(loaded.split())
    assert not set(loaded.split()) & HEAVY


def test_options_and_exit_codes_are_pinned() -> None:
    # promised to whoever calls the program from another one
    named = {name for parameter in check.command.params for name in parameter.opts if name.startswith("--")}
    assert named == {
        "--design", "--jig", "--reference-ohm", "--wiring", "--role", "--microphone", "--json", "--history",
    }  # fmt: skip
    assert EXIT_CODES == {"good": 0, "rework": 1, "remeasure": 3}


def test_no_file_is_named_after_nothing() -> None:
    assert not {path.stem for path in _files(".py")} & {"utils", "helpers", "misc", "common", "base"}


def test_every_module_says_what_it_is_for() -> None:
    for path in (ROOT / "src").rglob("*.py"):
        assert path.read_text(encoding="utf-8").startswith('"""'), path


def test_the_project_speaks_of_itself_alone() -> None:
    # registries' hosts and places of somebody's machine, in two pieces each so that this file does not name them
    halves = [
        "pypi .org",
        "python hosted",
        "npm js",
        "conda .io",
        "check- values",
        "contract .md",
        "/ work/",
        "/ tmp/",
    ]
    forbidden = [half.replace(" ", "") for half in halves]
    files = _files(".py", ".md", ".toml")
    assert len(files) > 100
    named = {
        f"{path.relative_to(ROOT)}: {word}"
        for path in files
        for word in forbidden
        if word in path.read_text(encoding="utf-8").lower()
    }
    assert named == set()
