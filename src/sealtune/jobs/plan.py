"""What a design promises: the plan, its page, and a template to begin with."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from sealtune import __version__
from sealtune.design.plan import make_plan
from sealtune.errors import UsageFault
from sealtune.files.disk import write_text
from sealtune.jobs.designs import planned_design
from sealtune.physics.air import climate_air
from sealtune.records.plan import Plan


def plan(path: Path, reference_ohm: float) -> Plan:
    """Return the plan of the design in the file.

    reference_ohm: resistor of the jig, for the level of the sweep
    Raises UsageFault where there is no file, SettingsFault with all faults of it, or with all that keeps the design
    from being built.
    """
    if not path.exists():
        raise UsageFault(
            str(path), "a design", "nothing there", f"Write one to fill in: sealtune plan --new {path}"
        )
    design, notes = planned_design(path)
    return make_plan(design, climate_air(design.climate), notes, reference_ohm)


def write_page(made: Plan, out: Path, made_at: datetime) -> None:
    """Write the plan as one page; an older page of that name is replaced."""
    from sealtune.report.plan_page import plan_page

    write_text(out, plan_page(made, made_at=made_at, program=f"sealtune {__version__}"), overwrite=True)


def write_template(path: Path) -> None:
    """Write a commented design to fill in; raises UsageFault where a file of that name is there."""
    from sealtune.files.design_template import template_text

    write_text(path, template_text())
