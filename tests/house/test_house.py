"""The house rules: lint, types, layers, late imports, size of files, the top level."""

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

ROOT = Path(__file__).parents[2]


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *words], cwd=ROOT, capture_output=True, text=True, timeout=280, check=False
    )


@pytest.mark.parametrize(
    "words",
    [
        ("-m", "ruff", "check", "."),
        ("-m", "ruff", "format", "--check", "."),
        ("-m", "mypy"),
        ("-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"),
    ],
    ids=["lint", "format", "types", "layers"],
)
def test_rule(words: tuple[str, ...]) -> None:
    done = run(*words)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]


def loaded_after(statements: str) -> set[str]:
    """Return the top-level modules that are loaded once the statements have run."""
    done = run(
        "-c",
        f"{statements}\nimport sys\nprint('\\nMODULES', *{{name.split('.')[0] for name in sys.modules}})",
    )
    assert "MODULES" in done.stdout, done.stderr
    return set(done.stdout.rsplit("MODULES", 1)[1].split())


def test_help_imports_no_numerics() -> None:
    loaded = loaded_after(
        "from click.testing import CliRunner\n"
        "from sealtune.cli.main import commands\n"
        "assert CliRunner().invoke(commands, ['--help']).exit_code == 0"
    )
    assert "click" in loaded
    assert not loaded & {"numpy", "scipy", "matplotlib", "soundfile", "sounddevice"}


def test_check_needs_no_audio_system_and_no_pictures() -> None:
    left = ROOT / "recordings" / "left"
    loaded = loaded_after(
        "from pathlib import Path\n"
        "from sealtune.jobs.check import check\n"
        "from sealtune.jobs.recordings import CheckOptions\n"
        f"assert check(Path({str(left)!r}), CheckOptions()).verdict == 'good'"
    )
    assert {"numpy", "scipy", "soundfile"} <= loaded
    assert not loaded & {"sounddevice", "matplotlib", "click"}


def test_no_file_of_code_is_too_long_to_read() -> None:
    # our own ceiling: 400 lines
    lengths = {
        path: len(path.read_text(encoding="utf-8").splitlines()) for path in (ROOT / "src").rglob("*.py")
    }
    assert len(lengths) > 40
    assert {str(path) for path, length in lengths.items() if length > 400} == set()


def test_the_commands_that_exist_are_these() -> None:
    from sealtune.cli.main import COMMANDS, commands

    assert list(COMMANDS) == [
        "batch", "calibrate", "capture", "check", "demo", "devices", "export", "listen", "pair", "plan", "report",
        "simulate",
    ]  # fmt: skip
    for name in COMMANDS:
        command = commands.get_command(None, name)  # type: ignore[arg-type]
        assert command is not None
        assert command.help


def test_the_help_of_each_command_shows_an_example_and_the_exit_codes() -> None:
    from sealtune.cli.main import COMMANDS, commands

    for name in COMMANDS:
        shown = CliRunner().invoke(commands, [name, "--help"]).output
        assert f"  Example:\n    sealtune {name}" in shown
        assert "  Exit code: " in shown


def test_the_shipped_recordings_stay_small_and_say_that_they_are_simulated() -> None:
    from sealtune.files.sound_file import read_recording

    files = list((ROOT / "recordings").rglob("*.flac"))
    assert len(files) == 2
    assert sum(path.stat().st_size for path in files) <= 3_000_000
    for path in files:
        origin = read_recording(path).origin
        assert origin.simulated
        assert origin.role == "open"
        assert "virtual cabinet" in (origin.note or "")
