"""What `sealtune calibrate` says to the person at the bench, and asks."""

from __future__ import annotations

import sys
import textwrap
from math import log10, sqrt
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from sealtune.analysis.jig_readings import Reading
    from sealtune.jobs.calibrate import Calibrated, Order
    from sealtune.records.recording import Step
    from sealtune.records.sound_device import SoundDevice
    from sealtune.records.verdict import Problem
    from sealtune.virtual.bench import Connection

COLUMNS = 78


class AtTheBench:
    """Tells the person at the bench what to clip where, and what came of it."""

    def __init__(self, order: Order, device: SoundDevice, yes: bool) -> None:
        self._order, self._device, self._yes = order, device, yes
        self._count = 0
        self._shown: str | None = None
        self._bar: Any = None

    def connect(self, step: Step | None) -> None:
        """Show what to clip where, and wait until it is done; on the virtual bench, do it."""
        from sealtune.jobs.devices import connect
        from sealtune.report.clip_drawings import TITLES, advice, drawing

        order = self._order
        ohm = order.resistor_ohm if step is not None else order.check_ohm or 0.0
        if TITLES[step] != self._shown:
            self._shown = TITLES[step]
            self._count += 1
            total = len(order.steps) + (order.check_ohm is not None)
            click.echo(f"\n{self._count} of {total}  {TITLES[step]}")
            click.echo(textwrap.fill(advice(step, order.jig.wiring), COLUMNS) + "\n")
            click.echo(drawing(step, order.jig.wiring, order.jig.reference_ohm, ohm) + "\n")
        if not self._yes:
            _asked("Press Enter when the clips are like this", "")
        virtual: dict[Step | None, Connection] = {
            "balance": "balance", "open": "leads open", "short": "leads shorted"
        }  # fmt: skip
        connect(self._device, virtual.get(step, ohm))

    def watch(self, done_s: float, total_s: float) -> None:
        """Draw how far the sweep is, on a terminal."""
        if self._bar is None:
            self._bar = click.progressbar(
                length=1000, label="  sweep", show_percent=False, hidden=not sys.stdout.isatty()
            )
        self._bar.update(round(1000 * done_s / total_s) - self._bar.pos)
        if done_s >= total_s:
            self._bar.render_finish()
            self._bar = None

    def took(self, step: Step, reading: Reading) -> None:
        """Say what was measured."""
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
        """Say why it was not taken, and return whether it is to be measured again."""
        if self._yes:
            return False
        for words in (f"NOT TAKEN. {problem.detail}", problem.remedy):
            click.echo(textwrap.fill(words, COLUMNS, initial_indent="  ", subsequent_indent="  "))
        return _asked("Measure again? (y/n)", "y").strip().lower() in ("y", "yes")


def asked_ohm(given: float | None, question: str, usual: float, silent: bool) -> float:
    """Return the resistance given, or `usual` where nobody is to be asked, or what the person answers."""
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


def asked_volts(device: SoundDevice, level_dbfs: float, rate_hz: float, yes: bool) -> float | None:
    """Return the amplifier's peak volts for full scale, by a tone and the person's multimeter; None if left out."""
    from sealtune.jobs.calibration_level import TONE_HZ, TONE_S, play_tone
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


def tell(calibrated: Calibrated, order: Order) -> None:
    """Say what the calibration reaches."""
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
