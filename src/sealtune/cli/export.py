"""`sealtune export`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sealtune.cli.options import check_options, gathered, tell

if TYPE_CHECKING:
    from sealtune.jobs.export import Format


@click.command()
@click.argument("path", metavar="PATH", type=click.Path(path_type=Path))
@click.option(
    "--format",
    "form",
    type=click.Choice(["csv", "touchstone", "spice"]),
    required=True,
    help="csv: the curve as a table. touchstone: the same as a one-port file (.s1p). "
    "spice: the fitted box as a subcircuit.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Where to write it; without it, to standard output. A file that is there is never replaced.",
)
@check_options
def command(path: Path, form: Format, out: Path | None, **values: Any) -> None:
    """Export a cabinet's impedance, or the circuit fitted to it, for other programs.

    PATH is a cabinet's folder, a two-channel sound file or an impedance table, as for check. With --role,
    csv and touchstone give the curve of that recording.

    The circuit holds resistors, coils and capacitors only; a circuit simulator shows with it what a crossover or an
    amplifier makes of this very box. It holds for small signals.

    \b
    Example:
      sealtune export left --format csv --out left.csv
      sealtune export left --format spice --out left.cir

    Exit code: 0 written, 2 wrong use, 3 there is no curve, or no circuit explains it.
    """
    from sealtune.jobs.export import exported, write_export

    text, problems = exported(path, gathered(values), form)
    for problem in problems:
        click.echo(f"sealtune: note: {problem.detail} {problem.remedy}", err=True)
    if out is None:
        tell(text, nl=False)
    else:
        write_export(out, text)
        tell(f"Written: {out}")
