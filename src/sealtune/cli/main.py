"""The command line: `sealtune COMMAND`. Only the command that runs is imported."""

from __future__ import annotations

import importlib
import os
import sys

import click

from sealtune import __version__

COMMANDS = {
    "batch": ("sealtune.cli.batch", "Every cabinet below a folder, and which of them make the best pairs."),
    "calibrate": ("sealtune.cli.calibrate", "Measures the jig against known loads, and writes jig.toml."),
    "capture": ("sealtune.cli.capture", "Play, record, judge the recording and keep it with the cabinet."),
    "check": ("sealtune.cli.check", "The verdict on each cabinet folder, sound file or impedance table."),
    "demo": ("sealtune.cli.demo", "The main job on recordings that ship with the program."),
    "devices": ("sealtune.cli.devices", "The sound devices, and which of them can measure a box."),
    "export": ("sealtune.cli.export", "Impedance and fitted circuit in open formats, for other programs."),
    "listen": ("sealtune.cli.listen", "Live help for finding a leak with a microphone."),
    "pair": ("sealtune.cli.pair", "Both verdicts on two cabinets, and how well the two match."),
    "plan": ("sealtune.cli.plan", "What a design promises before anything is cut."),
    "report": ("sealtune.cli.report", "The report as one self-contained HTML page."),
    "simulate": ("sealtune.cli.simulate", "Recordings of a virtual cabinet, for practice and tests."),
}
"""Command: the module that holds it, and its line in the overview."""


class LateGroup(click.Group):
    """A group of commands that imports a command's module when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands' names."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command, None for an unknown name."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(COMMANDS[cmd_name][0])
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the overview from the table, so that no command is imported for it."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(cls=LateGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="sealtune")
def commands() -> None:
    """Tell whether a finished vented loudspeaker box is sealed and tuned.

    Begin with: sealtune demo
    """


def main() -> None:
    """Run the program and leave with the contract's exit code."""
    code = run(sys.argv[1:])
    library = sys.modules.get("sealtune.capture.sound_library")
    if library is not None:
        library.leave_in_time(code)
    sys.exit(code)


def run(words: list[str]) -> int:
    """Run the program with these words behind its name, and return the contract's exit code."""
    # the matrices are small: threads of linear algebra cost more than they bring, most where other work runs, and
    # with some versions the last digit depends on their number; the library reads this when it is loaded
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    try:
        code = commands.main(words, "sealtune", standalone_mode=False)
    except click.exceptions.Exit as leaving:
        code = leaving.exit_code
    except SystemExit as leaving:
        code = leaving.code
    except click.ClickException as error:
        error.show()
        code = 2
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped.", err=True)
        code = 130
    except Exception as error:
        from sealtune.errors import SealtuneError

        if isinstance(error, OSError):
            reason = error.strerror or str(error)
            click.echo(
                f"sealtune: {error.filename or 'a file'}: {reason}. Check the path and its disk.", err=True
            )
            code = 2
        elif isinstance(error, SealtuneError):
            click.echo(f"sealtune: {error}", err=True)
            code = error.exit_code
        else:
            raise
    return code if isinstance(code, int) else 0


if __name__ == "__main__":
    main()
