"""The bench guide keeps in step with the code: drawings, options, the computed table, and what the commands print."""

import re
from pathlib import Path

import click
import pytest
from tests.program import sealtune

from sealtune.cli.main import COMMANDS, commands
from sealtune.records.recording import STEPS, WIRINGS, Step, Wiring
from sealtune.report.clip_drawings import drawing

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "docs" / "bench_guide.md").read_text(encoding="utf-8")


def indented(text: str) -> str:
    return "\n".join(f"    {line}".rstrip() for line in text.splitlines())


@pytest.mark.parametrize("wiring", WIRINGS)
@pytest.mark.parametrize("step", STEPS)
def test_drawings_are_those_of_the_command(wiring: Wiring, step: Step) -> None:
    assert indented(drawing(step, wiring, 10.0, 22.0)) in GUIDE


def test_commands_and_options_exist() -> None:
    lines = re.findall(r"^    (sealtune [a-z].*)$", GUIDE, re.MULTILINE)
    assert len(lines) >= 7
    for line in lines:
        name, *words = line.split()[1:]
        assert name in COMMANDS, line
        command = commands.get_command(click.Context(commands), name)
        assert command is not None
        known = {option for parameter in command.params for option in parameter.opts}
        assert {word for word in words if word.startswith("--")} <= known, line
    calibrate = commands.get_command(click.Context(commands), "calibrate")
    assert calibrate is not None
    known = {option for parameter in calibrate.params for option in parameter.opts}
    assert {"--resistor-percent", "--steps", "--wiring", "--full-scale-v"} <= known


def test_the_table_of_resistors_is_computed() -> None:
    table = re.search(r"^\| R, ohm \|.*?\n\n", GUIDE, re.MULTILINE | re.DOTALL)
    assert table is not None
    rows = [re.findall(r"\d+(?:\.\d+)?", line) for line in table[0].splitlines()[2:] if line]
    assert [row[0] for row in rows] == ["1", "4.7", "10", "22", "47", "100", "470"]
    gain = 10.0 ** (0.05 / 20.0) - 1.0
    for ohm, volts, moved, low, high, watts in ([float(number) for number in row] for row in rows):
        # exact: the voltage divider, and the derivatives of Z = R m/(g - m) by g and by m
        assert volts == pytest.approx(6.0 / (ohm + 6.0), abs=0.006)
        assert moved == pytest.approx(100.0 * gain * (1.0 + 40.0 / ohm), abs=0.06)
        assert low == pytest.approx((ohm + 6.0) ** 2 / (6.0 * ohm), abs=0.06)
        assert high == pytest.approx((ohm + 40.0) ** 2 / (40.0 * ohm), abs=0.06)
        assert watts == pytest.approx(20.0**2 / ohm, abs=0.6)


def without_numbers(line: str) -> str:
    return re.sub(r"[-+]?\d[\d.T]*", "#", line).strip()


def test_what_the_commands_print_is_what_the_guide_shows(tmp_path: Path) -> None:
    (tmp_path / "design.toml").write_bytes((ROOT / "recordings" / "design.toml").read_bytes())
    printed = ""
    for words in (
        ("calibrate", "--device", "virtual", "--yes", "--check-ohm", "6.8"),
        ("capture", "open", "left", "--device", "virtual", "--yes"),
    ):
        done = sealtune(*words, folder=tmp_path)
        assert done.returncode == 0, done.stderr
        printed += done.stdout
    said = {without_numbers(line) for line in printed.splitlines()}
    begins = ("    1 of 5  Both inputs on one point", "    The second resistor of", "    The box closed")
    shown = []
    for first in begins:
        assert first in GUIDE
        block = GUIDE[GUIDE.index(first) :]
        block = block[: re.search(r"\n\n(?! )", block).start()]  # type: ignore[union-attr]
        shown += [line for line in block.splitlines() if line.strip()]
    assert len(shown) > 35
    assert [line for line in shown if without_numbers(line) not in said] == []
