"""`sealtune pair`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from sealtune.cli.options import gathered, json_option, reading_options, tell
from sealtune.errors import EXIT_CODES


@click.command()
@click.argument("left", metavar="LEFT", type=click.Path(path_type=Path))
@click.argument("right", metavar="RIGHT", type=click.Path(path_type=Path))
@reading_options
@json_option
def command(left: Path, right: Path, json_path: Path | None, **values: Any) -> None:
    """Tell how well two cabinets of one design match, and what makes them match.

    LEFT and RIGHT are the cabinets' folders, or a recording of each with its vent open.

    \b
    Example:
      sealtune pair left right

    Exit code: 0 both are good and match, 1 one needs rework or they do not match, 2 wrong use, 3 one must be
    measured again.
    """
    from sealtune.files.json_text import dumps
    from sealtune.files.pair_json import pair_json
    from sealtune.jobs.pair import one_recording, pair
    from sealtune.report.pair_text import pair_text

    found = pair(left, right, gathered(values))
    if one_recording(found):
        click.echo(
            f"sealtune: note: {left} and {right} hold the same recording of the open vent, byte for byte, so this "
            "compares a cabinet with itself. Record the other one.",
            err=True,
        )
    to_screen = json_path is not None and str(json_path) == "-"
    text = dumps(pair_json(found)) + "\n"
    if to_screen:
        tell(text, nl=False)
    else:
        tell(pair_text(found))
    if json_path is not None and not to_screen:
        from sealtune.files.disk import write_text

        write_text(json_path, text, overwrite=True)
    sys.exit(EXIT_CODES[found.verdict])
