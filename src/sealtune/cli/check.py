"""`sealtune check`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sealtune.cli.options import check_options, exit_code, gathered, listed, path_argument, tell

if TYPE_CHECKING:
    from sealtune.records.verdict import Result


@click.command()
@path_argument
@check_options
@click.option(
    "--json",
    "json_path",
    type=click.Path(path_type=Path, allow_dash=True),
    metavar="FILE",
    help="Write the result as JSON, one line per PATH; - for standard output, and nothing else goes there.",
)
@click.option(
    "--history", "history", is_flag=True, help="Tell what every recording in a cabinet's folder measured."
)
def command(paths: tuple[Path, ...], json_path: Path | None, history: bool, **values: Any) -> None:
    """Tell whether each cabinet is sealed and tuned.

    PATH is a cabinet's folder, a two-channel sound file (.wav, .flac) or an impedance table (.csv, .txt,
    .s1p).
    design.toml and jig.toml are looked for beside it and in the folders above. PATH - reads more paths from standard
    input, one a line.

    \b
    Example:
      sealtune check left right
      sealtune check open.wav --reference-ohm 10 --wiring divider
      ls -d shop/*/ | sealtune check -

    Exit code: 0 every cabinet is good, 1 one needs rework, 2 wrong use, 3 one must be measured again.
    """
    from sealtune.errors import SealtuneError
    from sealtune.files.json_text import dumps
    from sealtune.files.result_json import result_json
    from sealtune.jobs.check import check
    from sealtune.jobs.history import with_history
    from sealtune.report.history_text import history_text
    from sealtune.report.text import summary_text

    options = gathered(values)
    results: list[Result] = []
    lines: list[str] = []
    failed = 0
    to_screen = json_path is not None and str(json_path) == "-"
    for path in listed(paths):
        try:
            result = check(path, options)
            if history:
                result = with_history(result, path, options)
        except SealtuneError as error:
            click.echo(f"sealtune: {error}", err=True)
            failed = max(failed, error.exit_code)
            continue
        if not to_screen:
            tell(("\n" if results else "") + summary_text(result))
            if result.history is not None:
                tell(history_text(result.history))
        results.append(result)
        lines.append(dumps(result_json(result)))
    text = "".join(line + "\n" for line in lines)
    if to_screen:
        tell(text, nl=False)
    elif json_path is not None:
        from sealtune.files.disk import write_text

        write_text(json_path, text, overwrite=True)
    sys.exit(max(failed, exit_code(results)))
