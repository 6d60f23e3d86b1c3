"""`sealtune batch`."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click

from sealtune.cli.options import gathered, json_option, reading_options, tell


@click.command()
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path))
@reading_options
@json_option
@click.option(
    "--csv",
    "csv_path",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the table of cabinets and their mates as comma-separated values.",
)
@click.option(
    "--processes",
    type=click.IntRange(1, 256),
    metavar="N",
    help="Cabinets judged at a time.  [default: one on each core]",
)
def command(
    folder: Path, json_path: Path | None, csv_path: Path | None, processes: int | None, **values: Any
) -> None:
    """Judge every cabinet below FOLDER, and find the best pairs.

    A cabinet is a folder with a recording of role open. Cabinets of one design are paired so that the total mismatch
    in the bass is as small as it can be. What drifts over the batch is told.

    \b
    Example:
      sealtune batch shop --csv shop.csv

    Exit code: 0 every cabinet is good, 1 one needs rework, 2 wrong use, 3 one must be measured again.
    """
    from sealtune.files.batch_json import batch_csv, batch_json
    from sealtune.files.disk import write_text
    from sealtune.files.json_text import dumps
    from sealtune.jobs.batch import batch
    from sealtune.report.batch_text import batch_text

    with _progress() as progress:
        found = batch(folder, gathered(values), processes=processes, progress=progress)
    to_screen = json_path is not None and str(json_path) == "-"
    if csv_path is not None:
        write_text(csv_path, batch_csv(found), overwrite=True)
    if json_path is not None and not to_screen:
        write_text(json_path, dumps(batch_json(found)) + "\n", overwrite=True)
    tell(dumps(batch_json(found)) if to_screen else batch_text(found))
    sys.exit(max(cabinet.exit_code for cabinet in found.cabinets))


@contextlib.contextmanager
def _progress() -> Iterator[Callable[[int, int], None] | None]:
    """Give what draws a bar on standard error, None where nobody watches."""
    if not sys.stderr.isatty():
        yield None
        return
    drawn: list[Any] = []

    def show(done: int, total: int) -> None:
        if not drawn:
            drawn.append(click.progressbar(length=total, label="Cabinets", file=sys.stderr))
            drawn[0].__enter__()
        drawn[0].update(1)

    try:
        yield show
    finally:
        if drawn:
            drawn[0].__exit__(None, None, None)
