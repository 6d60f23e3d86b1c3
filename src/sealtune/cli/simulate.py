"""`sealtune simulate`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sealtune.cli.options import FiniteRange, tell

if TYPE_CHECKING:
    from sealtune.records.recording import Role, Wiring


@click.command()
@click.argument("design", type=click.Path(path_type=Path))
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path("virtual"), show_default=True, metavar="FOLDER"
)
@click.option("--fault", default="none", show_default=True, help="Fault of the cabinet; `list` names them.")
@click.option(
    "--severity", type=FiniteRange(0.0, 1.0), default=0.5, show_default=True, help="0 slight, 1 gross."
)
@click.option("--spoil", "spoilt", default=None, help="Fault of the measurement; `list` names them.")
@click.option("--strength", type=FiniteRange(0.0, 1.0), default=0.5, show_default=True, help="Of --spoil.")
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Of every random draw.")
@click.option("--scatter", type=FiniteRange(0.0, 1.0), default=0.0, show_default=True, help="Of the build.")
@click.option(
    "--role", "roles", multiple=True, default=("open",),
    type=click.Choice(["open", "plugged", "free-air", "cone", "mouth"]), show_default=True,
    help="May be given several times.",
)  # fmt: skip
@click.option(
    "--rattle", type=FiniteRange(0.0, 1.0), default=0.0, show_default=True,
    help="A loose part, over the sound it goes with; in recordings of cone and mouth.",
)  # fmt: skip
@click.option("--wiring", type=click.Choice(["divider", "sense"]), default="divider", show_default=True)
@click.option("--reference-ohm", type=FiniteRange(0.01, 1e5), default=10.0, show_default=True)
@click.option("--seconds", type=FiniteRange(0.5, 120.0), default=8.0, show_default=True, help="Of the sweep.")
@click.option("--rate", type=click.IntRange(8000, 192000), default=48000, show_default=True)
@click.option("--format", "suffix", type=click.Choice(["flac", "wav"]), default="flac", show_default=True)
def command(
    design: Path, out: Path, fault: str, severity: float, spoilt: str | None, strength: float, seed: int,
    scatter: float, roles: tuple[Role, ...], wiring: Wiring, reference_ohm: float, seconds: float, rate: int,
    suffix: str, rattle: float,
) -> None:  # fmt: skip
    """Write recordings of a virtual cabinet built to DESIGN, with a fault you choose.

    \b
    Example:
      sealtune simulate design.toml --fault leak_slit --seed 3 --out practice
      sealtune check practice

    Exit code: 0 written, 2 wrong use.
    """
    from sealtune.jobs.simulate import Simulation, simulate
    from sealtune.records.recording import Jig
    from sealtune.virtual.faults import FAULTS
    from sealtune.virtual.measurement_faults import MEASUREMENT_FAULTS

    if "list" in (fault, spoilt):
        for kind in FAULTS if fault == "list" else MEASUREMENT_FAULTS:
            tell(f"{kind.name:18} {kind.meaning}")
        return
    jig = Jig(wiring, reference_ohm)
    order = Simulation(
        fault=fault, severity=severity, spoilt=spoilt, strength=strength, seed=seed, scatter=scatter,
        roles=roles, jig=jig, seconds=seconds, rate_hz=float(rate), suffix=f".{suffix}",
        rattle=rattle,
    )  # fmt: skip
    for path in simulate(design, out, order, datetime.now().astimezone().replace(microsecond=0)):
        tell(f"Wrote {path}")
    tell(f"Next: sealtune check {out}")
