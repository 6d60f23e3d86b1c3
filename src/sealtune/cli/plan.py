"""`sealtune plan`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from sealtune.cli.options import FiniteRange, tell


@click.command()
@click.argument("design", type=click.Path(path_type=Path), default=Path("design.toml"), metavar="[DESIGN]")
@click.option("--new", is_flag=True, help="Write a commented design to fill in as DESIGN, and stop.")
@click.option(
    "--out", type=click.Path(path_type=Path), metavar="FILE.html", help="Write a page with figures as well."
)
@click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    metavar="FILE",
    help="Write the plan as JSON; - for standard output, and nothing else goes there.",
)
@click.option(
    "--reference-ohm",
    type=FiniteRange(0.01, 1e6),
    default=10.0,
    show_default=True,
    metavar="X",
    help="The jig's resistor, ohm, for the level of the sweep.",
)
def command(design: Path, new: bool, out: Path | None, json_path: Path | None, reference_ohm: float) -> None:
    """Tell what a design promises before anything is cut.

    DESIGN is a design.toml, or the folder that holds one. Tuning and how sure it is, the impedance curve to expect,
    what cone and vent can stand, the level of the measuring sweep, and other vents and volumes for the same tuning.

    \b
    Example:
      sealtune plan --new design.toml
      sealtune plan design.toml --out plan.html

    Exit code: 0, or 2 where the file is faulty or the design cannot be built.
    """
    from sealtune.jobs import plan as job

    if design.is_dir():
        design = design / "design.toml"
    if new:
        job.write_template(design)
        tell(f"Wrote {design}. Fill it in, then: sealtune plan {design}")
        return
    made = job.plan(design, reference_ohm)
    to_screen = json_path is not None and str(json_path) == "-"
    if json_path is not None:
        from sealtune.files.disk import write_text
        from sealtune.files.json_text import dumps
        from sealtune.files.plan_json import plan_json

        line = dumps(plan_json(made)) + "\n"
        if to_screen:
            tell(line, nl=False)
        else:
            write_text(json_path, line, overwrite=True)
    if not to_screen:
        from sealtune.report.plan_text import plan_text

        tell(plan_text(made))
    if out is not None:
        job.write_page(made, out, datetime.now().astimezone())
        if not to_screen:
            tell(f"Page: {out}")
