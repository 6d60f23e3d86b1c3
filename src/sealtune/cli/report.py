"""`sealtune report`."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from sealtune.cli.options import check_options, exit_code, gathered, path_argument, tell


@click.command()
@path_argument
@check_options
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE.html",
    help="Where to write one page of all; without it, report.html in each cabinet's folder.",
)
@click.option("--pdf", is_flag=True, help="Write the same as a PDF for A4 beside each page.")
def command(paths: tuple[Path, ...], out: Path | None, pdf: bool, **values: Any) -> None:
    """Write the report of one or more cabinets as one HTML page that needs nothing else.

    Two cabinets of one design are held against each other. A folder that is no cabinet but holds cabinets gets the
    page of the batch.

    \b
    Example:
      sealtune report left right --out pair.html
      sealtune report shop --pdf

    Exit code: as for check.
    """
    from sealtune.errors import SealtuneError
    from sealtune.files.cabinet_folder import holds_cabinets
    from sealtune.jobs.check import check
    from sealtune.jobs.report import notes_of, write_batch_report, write_report

    options = gathered(values)
    made_at = datetime.now().astimezone()
    if len(paths) == 1 and holds_cabinets(paths[0]):
        from sealtune.jobs.batch import batch
        from sealtune.report.batch_text import counts_words

        found = batch(paths[0], options)
        written = write_batch_report(found, out or _beside(paths[0]), made_at, pdf=pdf)
        tell(f"{found.folder}: {counts_words(found)}")
        _tell(written)
        sys.exit(max(cabinet.exit_code for cabinet in found.cabinets))
    judged, failed = [], 0
    for path in paths:
        try:
            judged.append((path, check(path, options)))
        except SealtuneError as error:
            click.echo(f"sealtune: {error}", err=True)
            failed = max(failed, error.exit_code)
    results = [result for _, result in judged]
    pages = [(out, results)] if out is not None else [(_beside(path), [result]) for path, result in judged]
    written = []
    for page, shown in pages:
        if shown:
            written += write_report(shown, page, made_at, notes_of(shown), pdf=pdf)
    for result in results:
        tell(f"{result.cabinet}: {result.summary}")
    _tell(written)
    sys.exit(max(failed, exit_code(results)))


def _tell(written: list[Path]) -> None:
    for path in written:
        tell(f"Report: {path}")


def _beside(path: Path) -> Path:
    """Return where the page of a cabinet goes if nobody says: into its folder."""
    return (path if path.is_dir() else path.parent) / "report.html"
