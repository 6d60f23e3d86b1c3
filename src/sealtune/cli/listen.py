"""`sealtune listen`."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sealtune.cli.options import FiniteRange

if TYPE_CHECKING:
    from sealtune.jobs.listen import Memory
    from sealtune.records.listening import Heard

PLAIN_EVERY_S = 1.0
"""Without a terminal: one line a second."""


LOWEST_RATE_HZ = 32000
"""Below, too little of a hiss is recorded."""


@click.command()
@click.argument("cabinet", required=False, type=click.Path(path_type=Path))
@click.option("--design", type=click.Path(path_type=Path), metavar="FILE", help="The design of the box.")
@click.option("--device", metavar="NAME", help="Name or number of a device; `virtual` needs no hardware.")
@click.option(
    "--rate",
    type=click.IntRange(LOWEST_RATE_HZ, 192000),
    metavar="HZ",
    help="Samples per second; the device's own if left out.",
)
@click.option("--frequency", type=FiniteRange(20.0, 150.0), metavar="HZ", help="Of the tone.")
@click.option(
    "--level", type=FiniteRange(-60.0, -3.0), default=-20.0, show_default=True, metavar="DB",
    help="Peak of the tone, dB of full scale.",
)  # fmt: skip
@click.option("--seconds", type=FiniteRange(1.0, 3600.0), help="Of the tone; without it until Ctrl-C.")
@click.option("--no-beep", is_flag=True, help="No beeps.")
@click.option("--yes", is_flag=True, help="Begin without asking.")
def command(
    cabinet: Path | None, design: Path | None, device: str | None, rate: int | None, frequency: float | None,
    level: float, seconds: float | None, no_beep: bool, yes: bool,
) -> None:  # fmt: skip
    """Find a leak with a microphone: a low tone plays, and a bar shows what hisses in step with it.

    CABINET is the box's folder or recording; its measured curve says which tone is best. Without one the design
    does. Move the microphone in input 2 slowly along seams, driver flange and terminals; the bar grows and the beeps
    quicken towards the leak. Noise of the room does not count. Enter marks a place; a name may be typed before it.
    Ctrl-C ends.

    \b
    Example:
      sealtune listen left --device 2
      sealtune listen --device virtual:fault=leak_slit,severity=1

    Exit code: 0 however much was heard, 2 wrong use, 4 the sound device failed.
    """
    from sealtune.errors import UsageFault
    from sealtune.jobs.devices import is_virtual
    from sealtune.jobs.listen import ListeningOrder, Memory, listen
    from sealtune.jobs.listening_bench import SWING_HZ, listening_device, listening_tone
    from sealtune.report.listening import after_listening, before_listening
    from sealtune.signals.warble import Warble

    tone = listening_tone(cabinet, design, frequency, device)
    opened = listening_device(device, design, None if rate is None else float(rate))
    virtual = is_virtual(device)
    click.echo(before_listening(tone, level, virtual=virtual))
    if not (yes or virtual):
        if not sys.stdin.isatty():
            raise UsageFault(
                "sealtune listen", "somebody who says that the tone may begin", "no terminal to ask on",
                "Give --yes if box, amplifier and ears are ready.",
            )  # fmt: skip
        click.confirm("Begin?", default=True, abort=True)
    rate_hz = float(rate or (opened.info.rate_hz if opened.info.rate_hz >= LOWEST_RATE_HZ else 48000))
    memory = Memory()
    live = sys.stdout.isatty()
    display = Display(memory, beeps=live and not no_beep, live=live, keys=sys.stdin.isatty())
    if live:
        click.echo("Enter marks a place, Ctrl-C ends.\n")
    order = ListeningOrder(Warble(tone.frequency_hz, SWING_HZ), level, seconds, rate_hz)
    listen(opened, order, display.show)
    click.echo(("\n" if live else "") + "\n" + after_listening(memory.loudest, memory.marks, display.last))


class Display:
    """Shows readings on the terminal, or as plain lines where there is none."""

    def __init__(self, memory: Memory, *, beeps: bool, live: bool, keys: bool) -> None:
        self.last: Heard | None = None
        self._memory = memory
        self._beeps, self._live = beeps, live
        self._typed: Callable[[], str | None] = _typed_lines() if keys else lambda: None
        self._beeped_s = self._printed_s = float("-inf")

    def show(self, heard: Heard) -> None:
        """Show a reading; mark a place if Enter was pressed."""
        from sealtune.report.listening import beep_every_s, marked, moment

        self.last = heard
        self._memory.take(heard)
        name = self._typed()
        if name is not None:
            place = self._memory.mark(name.strip())
            if place is not None:
                click.echo(("\r" if self._live else "") + f"{marked(place):79}")
        line = moment(heard, self._memory.loudest)
        if self._live:
            every_s = beep_every_s(heard) if self._beeps else None
            beep = every_s is not None and heard.time_s - self._beeped_s >= every_s
            if beep:
                self._beeped_s = heard.time_s
            click.echo(f"\r{line:79}" + ("\a" if beep else ""), nl=False)
        elif heard.time_s - self._printed_s >= PLAIN_EVERY_S - 1e-6:
            self._printed_s = heard.time_s
            click.echo(line)


def _typed_lines() -> Callable[[], str | None]:
    """Return what returns the next line that was typed, None where there is none; it never waits."""
    import queue
    import threading

    lines: queue.SimpleQueue[str] = queue.SimpleQueue()

    def read() -> None:
        for line in sys.stdin:
            lines.put(line)

    def typed() -> str | None:
        return None if lines.empty() else lines.get()

    threading.Thread(target=read, daemon=True).start()
    return typed
