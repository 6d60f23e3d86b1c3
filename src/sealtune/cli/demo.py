"""`sealtune demo`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from sealtune.cli.options import tell


@click.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("sealtune-demo.html"),
    show_default=True,
    metavar="FILE.html",
    help="Where to write the page.",
)
def command(out: Path) -> None:
    """Check a pair of bookshelf boxes that ships with the program: one good, one whose vent flange leaks.

    Both recordings are simulated; no real cabinet stands behind them.

    \b
    Example:
      sealtune demo --out first-look.html

    Exit code: 0 the page was written, 2 it could not be.
    """
    from sealtune.jobs.check import check
    from sealtune.jobs.recordings import CheckOptions
    from sealtune.jobs.report import demo_folder, notes_of, write_report
    from sealtune.report.text import summary_text

    folder = demo_folder()
    results = [check(folder / name, CheckOptions()) for name in ("left", "right")]
    tell("Demo: a simulated pair of 18 L boxes. No real cabinet stands behind these recordings.\n")
    for result in results:
        tell(summary_text(result) + "\n")
    write_report(results, out, datetime.now().astimezone(), notes_of(results))
    tell(f"Report: {out.resolve()}")
