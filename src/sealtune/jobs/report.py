"""The report as a page, and the demo's recordings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from sealtune import __version__
from sealtune.errors import UsageFault
from sealtune.files.disk import write_text
from sealtune.files.sound_file import SOUND_SUFFIXES, read_origin
from sealtune.records.verdict import Result


def write_report(results: Sequence[Result], out: Path, made_at: datetime, notes: Sequence[str] = ()) -> None:
    """Write the page of the results; an older page of that name is replaced."""
    from sealtune.report.page import page

    write_text(
        out, page(results, made_at=made_at, program=f"sealtune {__version__}", notes=notes), overwrite=True
    )


def notes_of(results: Sequence[Result]) -> tuple[str, ...]:
    """Return a note for each result that stems from a simulated recording."""
    simulated = []
    for result in results:
        for source in result.sources:
            origin = read_origin(source.path) if source.path.suffix.lower() in SOUND_SUFFIXES else None
            if origin is not None and origin.simulated:
                simulated.append(
                    f"{result.cabinet}: simulated recording, no real cabinet ({origin.note or 'no note'})"
                )
    return tuple(simulated)


def demo_folder() -> Path:
    """Return the folder of the recordings that ship with the program, in the package or beside its sources."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "recordings", package.parents[1] / "recordings"):
        if (folder / "design.toml").is_file():
            return folder
    raise UsageFault(
        str(package / "recordings"), "the demo's recordings", "nothing there", "Install the program again."
    )
