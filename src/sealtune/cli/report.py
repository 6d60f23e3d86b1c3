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
    help="Where to write one page of all; without it, report.html in each cabinet's folder.",
)
def command(paths: tuple[Path, ...], out: Path | None, **values: Any) -> None:
    """Write the report of one or more cabinets as one HTML page that needs nothing else.

    \b
    Example:
      sealtune report left right --out pair.html

    Exit code: as for check.
    """
    from sealtune.errors import SealtuneError
    from sealtune.jobs.check import check
    from sealtune.jobs.report import notes_of, write_report

    options = gathered(values)
    judged, failed = [], 0
    for path in paths:
        try:
            judged.append((path, check(path, options)))
        except SealtuneError as error:
            click.echo(f"sealtune: {error}", err=True)
            failed = max(failed, error.exit_code)
    results = [result for _, result in judged]
    pages = [(out, results)] if out is not None else [(_beside(path), [result]) for path, result in judged]
    for page, shown in pages:
        if shown:
            write_report(shown, page, datetime.now().astimezone(), notes_of(shown))
    for result in results:
        click.echo(f"{result.cabinet}: {result.summary}")
    for page, shown in pages:
        if shown:
            click.echo(f"Report: {page}")
    sys.exit(max(failed, exit_code(results)))


def _beside(path: Path) -> Path:
    """Return where the page of a cabinet goes if nobody says: into its folder."""
    return (path if path.is_dir() else path.parent) / "report.html"
