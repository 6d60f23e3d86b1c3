"""The report as a page, and the demo's recordings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from sealtune import __version__
from sealtune.errors import UsageFault
from sealtune.files.disk import write_bytes, write_text
from sealtune.files.sound_file import SOUND_SUFFIXES, read_origin
from sealtune.jobs.pair import compare
from sealtune.records.batch import Batch
from sealtune.records.pair import Pair
from sealtune.records.verdict import Result

PROGRAM = f"sealtune {__version__}"


def write_report(
    results: Sequence[Result], out: Path, made_at: datetime, notes: Sequence[str] = (), *, pdf: bool = False
) -> list[Path]:
    """Write the page of the results and return what was written; older ones of that name are replaced.

    pdf: the same on paper too, beside the page
    Two cabinets of one design are held against each other.
    """
    from sealtune.report.page import page
    from sealtune.report.pair_page import pair_page

    two = mates(results)
    if two is not None:
        text = pair_page(two, made_at=made_at, program=PROGRAM, notes=notes)
    else:
        text = page(results, made_at=made_at, program=PROGRAM, notes=notes)
    write_text(out, text, overwrite=True)
    if not pdf:
        return [out]
    from sealtune.report.pdf import cabinets_pdf, pair_pdf

    if two is not None:
        data = pair_pdf(two, made_at=made_at, program=PROGRAM, notes=notes)
    else:
        data = cabinets_pdf(results, made_at=made_at, program=PROGRAM, notes=notes)
    return [out, _on_paper(out, data)]


def write_batch_report(found: Batch, out: Path, made_at: datetime, *, pdf: bool = False) -> list[Path]:
    """Write the page of a batch and return what was written; arguments as for `write_report`."""
    from sealtune.report.batch_page import batch_page

    write_text(out, batch_page(found, made_at=made_at, program=PROGRAM), overwrite=True)
    if not pdf:
        return [out]
    from sealtune.report.pdf import batch_pdf

    return [out, _on_paper(out, batch_pdf(found, made_at=made_at, program=PROGRAM))]


def _on_paper(page: Path, data: bytes) -> Path:
    beside = page.with_suffix(".pdf")
    write_bytes(beside, data, overwrite=True)
    return beside


def mates(results: Sequence[Result]) -> Pair | None:
    """Return how two cabinets match, None for another number of them or where they are of different designs."""
    if len(results) != 2:
        return None
    try:
        return compare(*results)
    except UsageFault:
        return None


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
