"""The ways by which a file comes into the program: read it, and go on to the verdict, its JSON, its text, its page."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from sealtune.errors import SealtuneError
from sealtune.files.cabinet_folder import find_recordings
from sealtune.files.impedance_table import read_table
from sealtune.files.jig_file import read_jig
from sealtune.files.json_text import dumps
from sealtune.files.origin_tag import origin_from_tag, origin_to_tag
from sealtune.files.plan_json import plan_json
from sealtune.files.result_json import result_json
from sealtune.files.sound_file import read_recording
from sealtune.files.touchstone import read_touchstone
from sealtune.jobs.check import check
from sealtune.jobs.designs import load_design
from sealtune.jobs.plan import plan
from sealtune.jobs.recordings import CheckOptions
from sealtune.records.verdict import Result
from sealtune.report.page import page
from sealtune.report.plan_text import plan_text
from sealtune.report.text import summary_text

TOLD = CheckOptions(reference_ohm=10.0, wiring="divider")
"""For recordings whose metadata do not survive."""


def read(kind: str, path: Path) -> None:
    """Read the file by the reader of its kind; raises SealtuneError where it is refused."""
    readers: dict[str, Callable[[Path], object]] = {
        "sound": read_recording,
        "table": read_table,
        "touchstone": read_touchstone,
        "design": load_design,
        "jig": read_jig,
        "tree": find_recordings,
    }
    if kind == "tag":
        origin = origin_from_tag(path.read_bytes().decode("utf-8", errors="replace"))
        assert origin_from_tag(origin_to_tag(origin)) == origin or origin.note or origin.device
        return
    readers[kind](path)


def go_on(kind: str, path: Path, beside: Path, *, with_page: bool = False) -> str:
    """Go on to all that may be said of the file, and return the verdict, or "planned".

    beside: a sound recording, for jigs, and a table, for designs, in a folder of its own
    """
    if kind == "design":
        result = check(beside / "open.csv", CheckOptions(design=path))
        said(result, with_page=with_page)
        made = plan(path, 10.0)
        json.loads(dumps(plan_json(made)))
        assert all(line.isprintable() for line in plan_text(made).splitlines())
        return "planned"
    if kind == "jig":
        result = check(beside / "open.wav", CheckOptions(jig=path))
    elif kind in ("sound", "tag"):
        result = check(path, TOLD)
    else:
        result = check(path, CheckOptions())
    said(result, with_page=with_page)
    return result.verdict


def said(result: Result, *, with_page: bool = False) -> None:
    """Say the result in every way, and hold what is said to the house's rules."""
    data = json.loads(dumps(result_json(result)))
    assert data["verdict"] in ("good", "rework", "remeasure")
    assert data["verdict"] == "good" or data["findings"] or data["quality"]["problems"]
    lines = summary_text(result).splitlines()
    assert lines
    assert all(line.isprintable() for line in lines), lines
    if with_page:
        text = page([result], made_at=datetime(2026, 3, 1, tzinfo=UTC), program="sealtune")
        assert text.count("<script") <= 1, "the page's own, and none out of a file"


def told(error: SealtuneError) -> None:
    """Hold an error to its four parts."""
    assert error.exit_code in (2, 3, 4)
    assert all((error.where, error.expected, error.got, error.remedy)), str(error)
    assert len(str(error)) < 20_000, str(error)[:200]
