"""`sealtune devices`."""

from __future__ import annotations

import sys

import click

from sealtune.cli.options import tell


@click.command()
def command() -> None:
    """List the sound devices, and which of them can measure a box.

    The first column goes into --device of the other commands; a part of the name that fits no other device does as
    well. A device can do the job if it has two inputs and an output that work at the same time. The device
    "virtual" is always there: a simulated box on a simulated bench, to try everything without hardware.

    \b
    Example:
      sealtune devices
      sealtune capture open left --device 2

    Exit code: 0 the list was printed, 4 PortAudio is missing or the sound server hangs.
    """
    from sealtune.jobs.devices import offered_devices

    offers, fault = offered_devices()
    rows = [("--device", "name", "host", "in", "out", "rates, Hz", "can it?")]
    for offer in offers:
        info = offer.info
        able = offer.why_not or ("yes, the system's own" if offer.default else "yes")
        rates = " ".join(f"{rate:.0f}" for rate in info.rates_hz) or "-"
        rows.append((offer.call, info.name, info.host, str(info.inputs), str(info.outputs), rates, able))
    widths = [max(len(row[column]) for row in rows) for column in range(6)]
    for row in rows:
        line = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=False))
        tell(f"{line}  {row[6]}".rstrip())
    if fault is not None:
        click.echo(f"\nsealtune: {fault}", err=True)
        sys.exit(fault.exit_code)
    elif len(offers) == 1:
        tell("\nNo sound device was found. Plug the sound interface in and look again.")
