"""`sealtune report`."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from sealtune.cli.options import check_options, exit_code, gathered, path_argument


@click.command()
@path_argument
@check_options
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE.html",
    help="Where to write the page; without it, report.html in the cabinet's folder.",
)
def command(paths: tuple[Path, ...], out: Path | None, **values: Any) -> None:
    """Write the report of one or more cabinets as one HTML page that needs nothing else.

    \b
    Example:
      sealtune report left right --out pair.html

    Exit code: as for check.
    """
    from sealtune.jobs import check, notes_of, write_report

    options = gathered(values)
    results = [check(path, options) for path in paths]
    if out is None:
        out = (paths[0] if paths[0].is_dir() else paths[0].parent) / "report.html"
    write_report(results, out, datetime.now().astimezone(), notes_of(results))
    for result in results:
        click.echo(f"{result.cabinet}: {result.summary}")
    click.echo(f"Report: {out}")
    sys.exit(exit_code(results))
