"""`sealtune calibrate`."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import datetime
from math import log10, sqrt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sealtune.cli.options import FiniteRange

if TYPE_CHECKING:
    from sealtune.analysis.jig_readings import Reading
    from sealtune.jobs.calibrate import Calibrated, Order
    from sealtune.records.recording import Step, Wiring
    from sealtune.records.sound_device import SoundDevice
    from sealtune.records.verdict import Problem
    from sealtune.virtual.bench import Connection

VIRTUAL_RESISTOR_OHM = 22.0
"""The known resistor that lies on the virtual bench."""

BEFORE = """\
Before you begin
  - The box stays off the clips: connect nothing but what the drawings show.
  - Is the amplifier bridged? With everything off, a multimeter must show less
    than 1 ohm between its minus terminal and the metal of its input socket.
    A bridged one shows none, and is destroyed by the ground of an input.
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
@click.option("--rate", type=click.IntRange(8000, 192000), default=48000, show_default=True)
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
    resistor_percent: float, check_ohm: float | None, full_scale_v: float | None, rate: int, level: float | None,
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
    from sealtune.errors import UsageFault
    from sealtune.jobs.calibrate import Order, calibrate, save
    from sealtune.jobs.devices import clock_of, is_virtual, open_device
    from sealtune.records.recording import Jig

    virtual = is_virtual(device)
    if not out.absolute().parent.is_dir():
        raise UsageFault(
            str(out), "a folder that is there", "none", "Make the folder first, or choose another --out."
        )
    chosen = _steps(steps, resistor_ohm is not None or virtual or not yes)
    if not virtual and yes and reference_ohm is None:
        _missing("--reference-ohm", "the value of the jig's resistor by the multimeter")
    reference = _value(reference_ohm, "The reference resistor, ohm, by the multimeter", 10.0, virtual or yes)
    known = 0.0
    if "resistor" in chosen:
        if not virtual and yes and resistor_ohm is None:
            _missing("--resistor-ohm", "its value by the multimeter, or leave the step out with --steps")
        known = _value(
            resistor_ohm, "The known resistor, ohm, by the multimeter", VIRTUAL_RESISTOR_OHM, virtual or yes
        )
    jig = Jig(wiring, reference, full_scale_v=full_scale_v)
    order = Order(
        jig, chosen, known, resistor_percent / 100.0, check_ohm,
        float(rate), level, seconds,
    )  # fmt: skip
    opened = open_device(device, jig=jig)
    click.echo(
        f"Calibrating the jig: {wiring}, reference {reference:g} ohm, on {opened.info.name}, {rate} Hz.\n\n{BEFORE}"
    )
    person = _AtTheBench(order, opened, yes)
    calibrated = calibrate(opened, order, person, watch=person.watch, clock=clock_of(opened))
    _tell(calibrated, order)
    if full_scale_v is None:
        full_scale_v = _volts(opened, calibrated.level_dbfs, order.rate_hz, yes)
    kept = save(
        replace(calibrated.jig, full_scale_v=full_scale_v), out, opened.info.name, datetime.now().astimezone()
    )
    if kept is not None:
        click.echo(f"The old {out.name} is kept as {kept}.")
    click.echo(f"Wrote {out}. It holds for this wiring, this resistor and these input gains.")
    click.echo("Next: sealtune capture open CABINET")


class _AtTheBench:
    """Tells the person at the bench what to clip where, and what came of it."""

    def __init__(self, order: Order, device: SoundDevice, yes: bool) -> None:
        self._order, self._device, self._yes = order, device, yes
        self._count = 0
        self._shown: str | None = None
        self._bar: Any = None

    def connect(self, step: Step | None) -> None:
        from sealtune.jobs.devices import connect
        from sealtune.report.clip_drawings import TITLES, advice, drawing

        order = self._order
        ohm = order.resistor_ohm if step is not None else order.check_ohm or 0.0
        if TITLES[step] != self._shown:
            self._shown = TITLES[step]
            self._count += 1
            total = len(order.steps) + (order.check_ohm is not None)
            click.echo(f"\n{self._count} of {total}  {TITLES[step]}\n{advice(step, order.jig.wiring)}\n")
            click.echo(drawing(step, order.jig.wiring, order.jig.reference_ohm, ohm) + "\n")
        if not self._yes:
            _asked("Press Enter when the clips are like this", "")
        virtual: dict[Step | None, Connection] = {
            "balance": "balance", "open": "leads open", "short": "leads shorted"
        }  # fmt: skip
        connect(self._device, virtual.get(step, ohm))

    def watch(self, done_s: float, total_s: float) -> None:
        if self._bar is None:
            self._bar = click.progressbar(
                length=1000, label="  sweep", show_percent=False, hidden=not _terminal()
            )
        self._bar.update(round(1000 * done_s / total_s) - self._bar.pos)
        if done_s >= total_s:
            self._bar.render_finish()
            self._bar = None

    def took(self, step: Step, reading: Reading) -> None:
        if reading.ohm is None:
            said = f"channel 2 is at {20.0 * log10(reading.gain):+.3f} dB of channel 1"
        elif reading.ohm > 1e6:
            said = "reads more than 1 Mohm"
        elif reading.ohm >= 1000.0:
            said = f"reads {reading.ohm / 1000.0:.3g} kohm"
        else:
            said = f"reads {reading.ohm:.4g} ohm, not yet corrected"
        click.echo(f"  taken: {said}; unsure by {100.0 * reading.noise:.2g} %.")
        for problem in reading.problems:
            click.echo(f"  note: {problem.detail}")

    def refused(self, step: Step | None, problem: Problem) -> bool:
        if self._yes:
            return False
        click.echo(f"  NOT TAKEN. {problem.detail}\n  {problem.remedy}")
        return _asked("Measure again? (y/n)", "y").strip().lower() in ("y", "yes")


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


def _value(given: float | None, question: str, usual: float, silent: bool) -> float:
    if given is not None:
        return given
    if silent:
        return usual
    while True:
        said = _asked(question, "").replace(",", ".").strip()
        try:
            value = float(said)
        except ValueError:
            value = 0.0
        if 0.1 <= value <= 1e5:
            return value
        click.echo("  A number of ohms from 0.1 to 100000, please, such as 10.2.")


def _volts(device: SoundDevice, level_dbfs: float, rate_hz: float, yes: bool) -> float | None:
    """Return the amplifier's peak volts for full scale, by a tone and the person's multimeter; None if left out."""
    from sealtune.jobs.calibrate import TONE_HZ, TONE_S, play_tone
    from sealtune.virtual.sound_device import VirtualSoundDevice

    if isinstance(device, VirtualSoundDevice):
        click.echo(f"The virtual amplifier makes {device.card.amplifier_v:g} V of full scale.")
        return device.card.amplifier_v
    if yes:
        return None
    click.echo(
        "\nHow many volts does the amplifier make? With that, `capture` keeps the sweep\nwithin what your driver "
        f"stands. A tone of {TONE_HZ:g} Hz plays for {TONE_S:g} s: hold the multimeter,\nset to alternating voltage, "
        "on the amplifier's two terminals, and note what\nit shows."
    )
    if _asked("Press Enter to play it, or s and Enter to leave it out", "").lower().startswith("s"):
        return None
    while True:
        play_tone(device, rate_hz, level_dbfs)
        said = _asked("What did it show, in volts? (Enter: play again, s: leave it out)", "").replace(
            ",", "."
        )
        if said.lower().startswith("s"):
            return None
        try:
            volts = float(said or "0")
        except ValueError:
            volts = 0.0
        if 1e-3 <= volts <= 500.0:
            return float(volts * sqrt(2.0) / 10.0 ** (level_dbfs / 20.0))


def _missing(option: str, what: str) -> None:
    from sealtune.errors import UsageFault

    raise UsageFault("calibrate --yes", f"{option} X", "nothing", f"Give {option} with {what}.")


def _asked(question: str, usual: str) -> str:
    """Return the answer to a question; refuse where nobody can answer."""
    from sealtune.errors import UsageFault

    click.echo(f"{question}: ", nl=False)
    line = sys.stdin.readline()
    if not line:
        click.echo()
        raise UsageFault(
            "calibrate",
            "somebody at the terminal",
            "the end of the input",
            "Run it in a terminal, or add --yes.",
        )
    return line.strip() or usual


def _terminal() -> bool:
    return sys.stdout.isatty()


def _tell(calibrated: Calibrated, order: Order) -> None:
    from sealtune.jobs.calibrate import USUAL_OHM, uncertainty

    click.echo()
    checked = calibrated.checked
    if checked is not None:
        inside = "as it should be" if abs(checked.error) <= checked.allowed else "more than usual"
        click.echo(
            f"The second resistor of {checked.ohm:g} ohm reads {checked.measured_ohm:.4g} ohm, an error of "
            f"{100.0 * checked.error:+.2f} %,\n"
            f"{inside} (resistors and jig are known to {100.0 * checked.allowed:.2g} %). "
            f"From 8 to 300 Hz the\nlargest error is {100.0 * checked.worst:.2g} % and {checked.degrees:.2g} degrees."
        )
    click.echo(f"Level of the sweeps: {calibrated.level_dbfs:.0f} dB of full scale.")
    click.echo("How far an impedance may be off by what is unknown of the jig (95 %):")
    for ohm in USUAL_OHM:
        before, after = uncertainty(order.jig, ohm), uncertainty(calibrated.jig, ohm)
        click.echo(f"  {ohm:3.0f} ohm: {100.0 * before:.2g} % before, {100.0 * after:.2g} % now")
    if "resistor" in order.steps:
        click.echo(
            f"The known resistor's own {100.0 * order.resistor_uncertainty:g} % is in that:\n"
            "--resistor-percent says how well you know it."
        )
