"""The history of a cabinet, from the recordings in its folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from sealtune.errors import SealtuneError
from sealtune.files.cabinet_folder import find_recordings, recorded_at
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions
from sealtune.judgement.rework import compared
from sealtune.records.history import History, HistoryEntry
from sealtune.records.verdict import Result
from sealtune.report.content import reason


def with_history(result: Result, path: Path, options: CheckOptions) -> Result:
    """Return the result with every recording of the open vent in its folder, each judged alone.

    path: what the result is of; a single file has no history
    """
    if not path.is_dir():
        return result
    entries: list[HistoryEntry] = []
    sound: list[tuple[str, Result]] = []
    for file in find_recordings(path).get("open", ()):
        try:
            one = check(file, options)
        except SealtuneError as error:  # an old take of which nobody knows the jig any more
            words = " ".join(str(error).split())
            entries.append(HistoryEntry(file.name, recorded_at(file), "remeasure", words))
            continue
        fit = one.fit if one.verdict != "remeasure" else None
        entries.append(
            HistoryEntry(
                file.name, recorded_at(file), one.verdict, reason(one),
                None if fit is None else fit.tuning_hz,
                None if fit is None else fit.box_q,
                None if fit is None else one.leak.probability,
            )
        )  # fmt: skip
        if one.verdict != "remeasure":
            sound.append((file.name, one))
    since = None
    if len(sound) > 1:
        since = compared(sound[0][1], sound[-1][1], file=sound[0][0], attempts=len(sound) - 1)
    return replace(result, history=History(tuple(entries), since))
