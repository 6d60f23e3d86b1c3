"""`sealtune capture`."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sealtune.cli.options import FiniteRange, exit_code, jig_options

if TYPE_CHECKING:
    from sealtune.capture.loudness import Loudness, Probe
    from sealtune.jobs.capture import Captured, Listener, Weighed, Why
    from sealtune.jobs.capture_order import CaptureOrder
    from sealtune.records.recording import Role, Wiring

BAR_COLUMNS = 30

BRIDGED = (
    "Amplifier at zero: bridge the jig's resistor with a clip, so that the box hangs on the amplifier itself; input 1 "
    "stays on the amplifier."
)

FIRST: dict[Role, str] = {
    "open": "The box closed, its vent open, the clips as the jig says.",
    "plugged": "The vent stopped airtight: a bung, or tape over a board. Press it home, then hands off; no hiss.",
    "free-air": "The driver alone, out of the box, lying on its magnet or hung up, nothing near the cone.",
    "cone": f"{BRIDGED} The microphone on input 2, 5 mm before the middle of the cone, and not touching it.",
    "mouth": f"{BRIDGED} The microphone on input 2, in the middle of the vent's mouth, level with it.",
}
"""What must be ready before the sweep of each role."""

WHY: dict[Why, str] = {
    "asked": "as many as were asked for",
    "enough": "that is enough",
    "no narrower": "a further one made it no narrower: what is left is not noise",
    "most": "more of them help little; a quieter room or more level would",
    "spoilt": "it must be made again",
}


@click.command()
@click.argument("role", type=click.Choice(["open", "plugged", "free-air", "cone", "mouth"]))
@click.argument("cabinet", type=click.Path(path_type=Path))
@click.option(
    "--level",
    type=FiniteRange(-90.0, 0.0),
    metavar="DB",
    help="Peak of the sweep, dB of full scale, such as -30; found by itself if left out.",
)
@click.option(
    "--seconds", type=FiniteRange(1.0, 120.0), metavar="S", help="Length of one sweep.  [default: 6]"
)
@click.option("--repeats", type=click.IntRange(1, 20), metavar="N", help="Exactly so many sweeps.")
@click.option("--device", metavar="NAME", help="Name or number from `sealtune devices`, or virtual.")
@click.option("--rate", type=click.IntRange(8000, 192000), metavar="HZ", help="Samples per second.")
@click.option("--yes", is_flag=True, help="Play without asking first.")
@jig_options
def command(
    role: Role, cabinet: Path, level: float | None, seconds: float | None, repeats: int | None, device: str | None,
    rate: int | None, yes: bool, design: Path | None, jig: Path | None, reference_ohm: float | None,
    wiring: Wiring | None,
) -> None:  # fmt: skip
    """Play a sweep, record both inputs, keep the recording in the folder CABINET and judge it.

    ROLE is what is measured: the impedance with the vent open, with the vent plugged, of the driver in free-air, or
    the sound at the cone or at the mouth of the vent.

    The level is found by itself, beginning quiet. Sweeps are repeated until the tuning is known well enough. Nothing is
    overwritten, and what came in before Ctrl-C is kept.

    \b
    Example:
      sealtune capture open left
      sealtune capture plugged left --device 2 --level -35
      sealtune capture open practice --device virtual:fault=leak_slit,seed=3 --yes

    Exit code: as for check; 4 the sound device failed.
    """
    from sealtune.jobs.capture import capture
    from sealtune.jobs.capture_order import CaptureOptions, settled
    from sealtune.jobs.recordings import CheckOptions

    check = CheckOptions(design=design, jig=jig, reference_ohm=reference_ohm, wiring=wiring)
    options = CaptureOptions(device, None if rate is None else float(rate), level, seconds, repeats, check)
    order = settled(role, cabinet, options)
    _introduce(order)
    if not yes:
        _ask()
    screen = _Screen(order)
    try:
        captured = capture(order, screen.listener(), datetime.now().astimezone())
    finally:
        screen.end_line()
    sys.exit(_tell(order, captured))


def _introduce(order: CaptureOrder) -> None:
    """Say what is going to happen."""
    info = order.device.info
    click.echo(FIRST[order.role])
    sweep = order.sweep
    click.echo(
        f"Sweep of {sweep.seconds:g} s from {sweep.start_hz:g} to {sweep.stop_hz:g} Hz through {info.name} "
        f"({info.host}) at {order.rate_hz:.0f} Hz."
    )
    if order.jig is not None:
        click.echo(f"Jig: {order.jig.wiring}, {order.jig.reference_ohm:g} ohm.")
    if order.limit is not None:
        why = {
            "travel": "the cone moves a tenth of its way at most",
            "power": "the coil stays cool",
            "usual level": "the design does not tell what the cone can stand",
        }[order.limit.because]
        click.echo(f"At most {order.limit.volts:.2g} V at the amplifier ({order.most_dbfs:.0f} dB): {why}.")
    elif order.options.level_dbfs is None:
        click.echo(
            f"At most {order.most_dbfs:.0f} dB of full scale: nobody told how many volts that is (full_scale_v in "
            "jig.toml)."
        )
    elif order.options.level_dbfs > order.most_dbfs:
        click.echo(
            f"{order.options.level_dbfs:g} dB of full scale is loud, and nobody told how many volts that is "
            "(full_scale_v in jig.toml): turn the amplifier down first, and watch the cone."
        )


def _ask() -> None:
    from sealtune.errors import UsageFault

    click.echo("Amplifier low, ears away from the box, no bridged amplifier on a grounded input.")
    try:
        click.prompt("Press Enter to begin quietly, Ctrl-C to leave", default="", show_default=False)
    except click.Abort as abort:
        if sys.stdin.isatty():
            raise
        raise UsageFault(
            "sealtune capture",
            "somebody who presses Enter",
            "no terminal to ask",
            "Give --yes to play without asking.",
        ) from abort


class _Screen:
    """What is shown while it runs: a bar on a terminal, a line for each step elsewhere."""

    def __init__(self, order: CaptureOrder) -> None:
        self._order = order
        self._terminal = sys.stdout.isatty()
        self._sweep = 1
        self._open_line = False
        self._shown = -1

    def listener(self) -> Listener:
        """Return what the capture calls."""
        from sealtune.jobs.capture import Listener

        return Listener(
            probe=self.probe, loudness=self.loudness, sweep=self.sweep, watch=self.watch, weighed=self.weighed,
            kept=self.kept,
        )  # fmt: skip

    def probe(self, probe: Probe) -> None:
        heard = f"peak {_decibels(probe.peak)}"
        if probe.unheard:
            heard += ", not heard in channel " + " and ".join(str(index) for index in probe.unheard)
        else:
            heard += f", {_over_noise(probe.over_noise_db)}"
        click.echo(f"Trying {probe.level_dbfs:.0f} dB: {heard}")

    def loudness(self, found: Loudness) -> None:
        told = self._order.limit is not None
        why = {
            "enough": "it stands well out of the noise",
            "limit": "the driver is not to get more" if told else "more only where jig.toml tells the volts",
            "peak": "louder would drive the inputs too far",
            "unheard": "it does not arrive",
        }[found.because]
        if found.because != "unheard":
            click.echo(f"Level: {found.level_dbfs:.0f} dB of full scale; {why}.")

    def sweep(self, number: int) -> None:
        self._sweep, self._shown = number, -1
        if not self._terminal:
            click.echo(f"Playing sweep {number}.")

    def watch(self, done_s: float, total_s: float) -> None:
        if not self._terminal:
            return
        filled = int(BAR_COLUMNS * done_s / total_s)
        left_s = max(0, round(total_s - done_s))
        if filled + 1000 * left_s == self._shown:
            return
        self._shown = filled + 1000 * left_s
        bar = "#" * filled + "." * (BAR_COLUMNS - filled)
        click.echo(f"\rSweep {self._sweep} [{bar}] {left_s:3d} s left ", nl=False)
        self._open_line = True

    def weighed(self, weighed: Weighed) -> None:
        from sealtune.jobs.capture import relative_half

        self.end_line()
        if weighed.tuning is not None:
            half, enough = 100.0 * relative_half(weighed.tuning), 100.0 * self._order.enough
            but = "; but noise covers a part of the curve" if weighed.only_noisy else ""
            click.echo(
                f"Tuning {weighed.tuning.value:.2f} Hz, known to {half:.2g} % ({enough:.2g} % is enough){but}."
            )
        elif weighed.noise is not None and not weighed.spoilt:
            click.echo(f"Noise is {100.0 * weighed.noise:.2g} % of the impedance.")

    def kept(self, path: Path) -> None:
        self.end_line()
        click.echo(f"What came in until then is in {path}; it is marked as cut short.", err=True)

    def end_line(self) -> None:
        if self._open_line:
            click.echo("")
            self._open_line = False


def _tell(order: CaptureOrder, captured: Captured) -> int:
    """Say what came of it and return the exit code."""
    from sealtune.report.content import PROBLEM_TITLES, sentence
    from sealtune.report.text import summary_text

    sweeps = "1 sweep" if captured.sweeps == 1 else f"{captured.sweeps} sweeps"
    click.echo(f"Wrote {captured.path}: {sweeps}, {WHY[captured.why]}.")
    if captured.flags:
        click.echo(
            f"The device said: {', '.join(captured.flags[:3])}. The samples were looked through all the same."
        )
    problems = captured.weighed.problems
    if not problems:
        click.echo("Recording: clean.")
    for problem in problems:
        title = PROBLEM_TITLES[problem.problem]
        click.echo(f"Recording: {title}. {sentence(problem.detail)} {sentence(problem.remedy)}")
    spoilt = 3 if captured.weighed.spoilt else 0
    if captured.result is None:
        click.echo(
            "No verdict on the cabinet yet: that needs its recording with the vent open (sealtune capture open)."
        )
        return spoilt
    click.echo("\n" + summary_text(captured.result))
    return max(spoilt, exit_code([captured.result]))


def _decibels(peak: float) -> str:
    from math import log10

    return f"{20.0 * log10(peak):.0f} dB" if peak > 0.0 else "nothing"


def _over_noise(decibels: float) -> str:
    return "no noise at all" if decibels == float("inf") else f"{decibels:.0f} dB above the noise"
