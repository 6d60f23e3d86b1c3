"""Options that several commands share, and the exit code of several verdicts."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sealtune.errors import EXIT_CODES

if TYPE_CHECKING:
    from sealtune.jobs.recordings import CheckOptions
    from sealtune.records.verdict import Result

Command = Callable[..., Any]


def exit_code(results: Iterable[Result]) -> int:
    """Return the highest exit code of the verdicts, 0 for none."""
    return max((EXIT_CODES[result.verdict] for result in results), default=0)


def tell(text: str, *, nl: bool = True) -> None:
    """Print on standard output; once nobody reads it, go on in silence, so that files and exit code come out right."""
    try:
        click.echo(text, nl=nl)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class FiniteRange(click.FloatRange):
    """A range of numbers that "nan" does not slip through."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number, refuse what is none."""
        number = float(super().convert(value, param, ctx))
        if not isfinite(number):
            self.fail(f"{value!r} is not a number.", param, ctx)
        return number


def path_argument(command: Command) -> Command:
    """Add the argument PATH..., one or more folders or files."""
    return click.argument(
        "paths", metavar="PATH...", nargs=-1, required=True, type=click.Path(path_type=Path)
    )(command)


def listed(paths: Iterable[Path]) -> list[Path]:
    """Return the paths, those of standard input in place of "-": one a line, empty lines passed over."""
    found: list[Path] = []
    for path in paths:
        if str(path) == "-":
            lines = os.fsdecode(sys.stdin.buffer.read()).splitlines()
            found += [Path(line) for line in lines if line.strip()]
        else:
            found.append(path)
    if not found:
        raise click.UsageError("Standard input named no path: one a line is expected.")
    return found


def check_options(command: Command) -> Command:
    """Add the options that say how the recordings are to be read, of a single file among them."""
    role = click.option(
        "--role",
        type=click.Choice(["open", "plugged", "free-air", "cone", "mouth"]),
        help="The role of a single file.",
    )
    return reading_options(role(command))


def reading_options(command: Command) -> Command:
    """Add the options that say against what, and through which jig and microphone, the recordings are to be read."""
    microphone = click.option(
        "--microphone",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="The microphone's correction file: lines of Hz, dB and, if known, degrees.",
    )
    return jig_options(microphone(command))


def jig_options(command: Command) -> Command:
    """Add the options that say against what, and through which jig, the recordings are to be read."""
    for option in reversed(
        (
            click.option(
                "--design",
                type=click.Path(path_type=Path),
                metavar="FILE",
                help="The design to compare with.",
            ),
            click.option(
                "--jig", type=click.Path(path_type=Path), metavar="FILE", help="The jig file to use."
            ),
            click.option(
                "--reference-ohm",
                type=FiniteRange(0.01, 1e6),
                metavar="X",
                help="The jig's resistor, ohm.",
            ),
            click.option(
                "--wiring",
                type=click.Choice(["divider", "sense"]),
                help="divider: channel 1 before the resistor, channel 2 across the box. "
                "sense: channel 1 across the box, channel 2 across the resistor.",
            ),
        )
    ):
        command = option(command)
    return command


def json_option(command: Command) -> Command:
    """Add the option --json of commands that give one result."""
    return click.option(
        "--json",
        "json_path",
        type=click.Path(path_type=Path, allow_dash=True),
        metavar="FILE",
        help="Write the result as JSON; - for standard output, and nothing else goes there.",
    )(command)


def gathered(values: dict[str, Any]) -> CheckOptions:
    """Return the options of `check_options` as one record."""
    from sealtune.jobs.recordings import CheckOptions

    return CheckOptions(**values)
