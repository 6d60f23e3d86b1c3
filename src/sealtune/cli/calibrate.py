"""`sealtune calibrate`."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sealtune.cli.calibration_talk import AtTheBench, asked_ohm, asked_volts, tell
from sealtune.cli.options import FiniteRange

if TYPE_CHECKING:
    from sealtune.records.recording import Step, Wiring

VIRTUAL_RESISTOR_OHM = 22.0
"""The known resistor that lies on the virtual bench."""

BEFORE = """\
Before you begin
  - The box stays off the clips: connect nothing but what the drawings show.
  - Is the amplifier bridged? With everything off, a multimeter must show less
    than 1 ohm between its minus terminal and the metal of its input socket.
    A bridged one shows more, or no connection, and is destroyed by the ground of an input.
  - An input stands a few volts. Divide the amplifier's voltage down before you
    connect it (the bench guide tells how).
  - Volume to zero whenever you change a clip, and back to the same place after
    that. Do not touch the input gains from here on."""


@click.command()
@click.option("--device", default=None, metavar="NAME", help="As `sealtune devices` lists it, or virtual.")
@click.option(
    "--steps",
    default=None,
    metavar="LIST",
    help="Which known loads, separated by commas: balance,open,short,resistor. Any subset helps.",
)
@click.option(
    "--wiring",
    type=click.Choice(["divider", "sense"]),
    default="divider",
    show_default=True,
    help="divider: channel 1 before the resistor, channel 2 across the box. "
    "sense: channel 1 across the box, channel 2 across the resistor.",
)
@click.option("--reference-ohm", type=FiniteRange(0.1, 1e5), metavar="X", help="The jig's resistor, ohm.")
@click.option("--resistor-ohm", type=FiniteRange(0.1, 1e5), metavar="X", help="The known resistor, ohm.")
@click.option(
    "--resistor-percent",
    type=FiniteRange(0.001, 20.0),
    default=1.0,
    show_default=True,
    metavar="X",
    help="How well the known resistor is known.",
)
@click.option(
    "--check-ohm", type=FiniteRange(0.1, 1e5), metavar="X", help="A second resistor, to check with."
)
@click.option(
    "--full-scale-v",
    type=FiniteRange(0.001, 1000.0),
    metavar="X",
    help="Peak volts at the amplifier's output for full scale, if you have measured them.",
)
@click.option(
    "--rate",
    type=click.IntRange(8000, 192000),
    metavar="HZ",
    help="Samples per second; the device's own if left out.",
)
@click.option(
    "--level",
    type=FiniteRange(-90.0, -3.0),
    metavar="DB",
    help="Of the sweep, dB of full scale; without it, the level is looked for from very quiet on.",
)
@click.option("--seconds", type=FiniteRange(2.0, 60.0), default=6.0, show_default=True, help="Of each sweep.")
@click.option(
    "--out", type=click.Path(path_type=Path, dir_okay=False), default=Path("jig.toml"), show_default=True,
    metavar="FILE",
)  # fmt: skip
@click.option("--yes", is_flag=True, help="Ask nothing, and stop where a reading is refused.")
def command(
    device: str | None, steps: str | None, wiring: Wiring, reference_ohm: float | None, resistor_ohm: float | None,
    resistor_percent: float, check_ohm: float | None, full_scale_v: float | None, rate: int | None, level: float | None,
    seconds: float, out: Path, yes: bool,
) -> None:  # fmt: skip
    """Measure the jig against known loads, and write jig.toml.

    Guided step by step: both inputs on one point, the leads open, the leads shorted, one resistor that you have
    measured with a multimeter. Each reading is checked at once and refused with the reason where it cannot be right.
    At the end a second resistor, if there is one, tells how well it all works. A jig.toml that is there already is
    kept under a name with its date.

    \b
    Example:
      sealtune calibrate --reference-ohm 10 --resistor-ohm 22.1 --check-ohm 6.8
      sealtune calibrate --device virtual --yes

    Exit code: 0 written, 2 wrong use, 3 a reading was refused, 4 the sound device failed.
    """
    from sealtune.capture.loudness import LOUDEST_DBFS
    from sealtune.errors import UsageFault
    from sealtune.files.disk import require_writable
    from sealtune.jobs.calibrate import Order, calibrate, save
    from sealtune.jobs.devices import clock_of, is_virtual, open_device
    from sealtune.records.recording import Jig

    virtual = is_virtual(device)
    if not out.absolute().parent.is_dir():
        raise UsageFault(
            str(out), "a folder that is there", "none", "Make the folder first, or choose another --out."
        )
    require_writable(out.absolute().parent)
    chosen = _steps(steps, resistor_ohm is not None or virtual or not yes)
    if not virtual and yes and reference_ohm is None:
        _missing("--reference-ohm", "the value of the jig's resistor by the multimeter")
    reference = asked_ohm(
        reference_ohm, "The reference resistor, ohm, by the multimeter", 10.0, virtual or yes
    )
    known = 0.0
    if "resistor" in chosen:
        if not virtual and yes and resistor_ohm is None:
            _missing("--resistor-ohm", "its value by the multimeter, or leave the step out with --steps")
        known = asked_ohm(
            resistor_ohm, "The known resistor, ohm, by the multimeter", VIRTUAL_RESISTOR_OHM, virtual or yes
        )
    jig = Jig(wiring, reference, full_scale_v=full_scale_v)
    opened = open_device(device, jig=jig)
    rate_hz = opened.info.rate_hz if rate is None else float(rate)
    order = Order(
        jig, chosen, known, resistor_percent / 100.0, check_ohm, rate_hz, level, seconds,
    )  # fmt: skip
    click.echo(
        f"Calibrating the jig: {wiring}, reference {reference:g} ohm, on {opened.info.name}, {rate_hz:.0f} Hz.\n"
        f"\n{BEFORE}"
    )
    if level is not None and level > LOUDEST_DBFS and full_scale_v is None:
        click.echo(
            f"{level:g} dB of full scale is loud, and nobody told how many volts that is (--full-scale-v): turn the "
            "amplifier down first."
        )
    person = AtTheBench(order, opened, yes)
    calibrated = calibrate(opened, order, person, watch=person.watch, clock=clock_of(opened))
    tell(calibrated, order)
    if full_scale_v is None:
        full_scale_v = asked_volts(opened, calibrated.level_dbfs, order.rate_hz, yes)
    kept = save(
        replace(calibrated.jig, full_scale_v=full_scale_v), out, opened.info.name, datetime.now().astimezone()
    )
    if kept is not None:
        click.echo(f"The old {out.name} is kept as {kept}.")
    click.echo(f"Wrote {out}. It holds for this wiring, this resistor and these input gains.")
    click.echo("Next: sealtune capture open CABINET")


def _steps(listed: str | None, with_resistor: bool) -> tuple[Step, ...]:
    """Return the steps in the order in which they are measured."""
    from sealtune.errors import UsageFault
    from sealtune.records.recording import STEPS

    if listed is None:
        return STEPS if with_resistor else STEPS[:3]
    asked = [word.strip().lower() for word in listed.split(",") if word.strip()]
    unknown = [word for word in asked if word not in STEPS]
    if unknown or not asked:
        raise UsageFault(
            "--steps",
            f"some of {', '.join(STEPS)}",
            ", ".join(unknown) or "nothing",
            "Separate them by commas.",
        )
    return tuple(step for step in STEPS if step in asked)


def _missing(option: str, what: str) -> None:
    from sealtune.errors import UsageFault

    raise UsageFault("calibrate --yes", f"{option} X", "nothing", f"Give {option} with {what}.")
