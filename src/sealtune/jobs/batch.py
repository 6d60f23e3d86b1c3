"""Every cabinet below a folder, several at a time."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from pathlib import Path

from sealtune.errors import EXIT_CODES, SealtuneError, UsageFault
from sealtune.files.cabinet_folder import find_recordings
from sealtune.files.result_json import result_json
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions, opened_at
from sealtune.judgement.batch import judge_batch
from sealtune.judgement.pair_cost import band_levels_of
from sealtune.physics.air import climate_air, standard_air
from sealtune.records.batch import Batch, BatchCabinet
from sealtune.records.verdict import Result
from sealtune.report.content import first_step, reason

FEWEST_FOR_TWO = 4
"""Fewer cabinets are judged faster than a second process starts."""

Progress = Callable[[int, int], None]


def batch(
    folder: Path, options: CheckOptions, *, processes: int | None = None, progress: Progress | None = None
) -> Batch:
    """Return the verdict on every cabinet below a folder, the best pairs and the control charts.

    folder: every folder in it, and itself, that holds a recording of the open vent is a cabinet
    processes: how many cabinets at a time; None for one on each core
    progress: called with how many are done and how many there are
    A cabinet that cannot be judged is listed with the reason. What raises is wrong use of the whole: no such folder,
    no cabinet in it.
    """
    cabinets, passed_over = _below(folder)
    if not cabinets:
        got = f"{len(passed_over)} folders with other recordings" if passed_over else "no recording"
        raise UsageFault(
            str(folder), "folders with a recording of role open (open.wav, open.flac, open.csv, open.s1p)",
            got, "Name the folder above those of the cabinets.",
        )  # fmt: skip
    found = []
    for done, one in enumerate(_judged(cabinets, folder, options, processes or _cores()), start=1):
        found.append(one)
        if progress is not None:
            progress(done, len(cabinets))
    return judge_batch(folder.resolve().name, found, [_name(each, folder) for each in passed_over])


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _below(folder: Path) -> tuple[list[Path], list[Path]]:
    """Return the cabinets' folders, and those that hold recordings of other roles alone, each in order of name."""
    if not folder.is_dir():
        got = "a file" if folder.exists() else "nothing there"
        raise UsageFault(str(folder), "the folder above those of the cabinets", got, "Check the path.")
    cabinets, others = [], []
    for name, folders, files in os.walk(folder):
        folders[:] = sorted(each for each in folders if not each.startswith("."))
        if not files:
            continue
        here = Path(name)
        try:
            roles = find_recordings(here)
        except UsageFault:  # may not be read; check says so
            roles = {"open": []}
        if "open" in roles:
            cabinets.append(here)
        elif roles:
            others.append(here)
    return sorted(cabinets), sorted(others)


def _judged(
    cabinets: Sequence[Path], root: Path, options: CheckOptions, processes: int
) -> Iterator[BatchCabinet]:
    """Yield what is known of each cabinet as it becomes known."""
    processes = min(processes, len(cabinets))
    left = list(cabinets)
    if processes > 1 and len(cabinets) >= FEWEST_FOR_TWO:
        # the matrices are small: one thread of linear algebra in each process, which reads this when it starts
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        try:
            with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
                waiting = {pool.submit(summarised, each, root, options): each for each in cabinets}
                for future in as_completed(waiting):
                    one = future.result()
                    left.remove(waiting.pop(future))
                    yield one
        except BrokenProcessPool:  # a process was ended from outside, for want of memory say: go on without
            pass
    for each in left:
        yield summarised(each, root, options)


def summarised(cabinet: Path, root: Path, options: CheckOptions) -> BatchCabinet:
    """Return what a batch keeps of one cabinet, whatever happens to it."""
    name = _name(cabinet, root)
    try:
        return _of(name, check(cabinet, options))
    except (SealtuneError, OSError) as error:
        code = error.exit_code if isinstance(error, SealtuneError) else 2
        return BatchCabinet(
            name, "remeasure", code, "it could not be read", " ".join(str(error).split())
        )  # fmt: skip
    except Exception as error:  # a fault of the program in one cabinet must not lose the other ones
        words = f"The program failed on it ({type(error).__name__}: {error}). Please report that."
        return BatchCabinet(name, "remeasure", 3, "it could not be judged", words)


def _of(name: str, result: Result) -> BatchCabinet:
    fit = result.fit if result.verdict != "remeasure" else None
    air = standard_air() if result.design is None else climate_air(result.design.climate)
    return BatchCabinet(
        name=name,
        verdict=result.verdict,
        exit_code=EXIT_CODES[result.verdict],
        reason=reason(result),
        step=first_step(result),
        recorded_at=opened_at(result),
        design=result.design,
        target_hz=None if result.prediction is None else result.prediction.target_hz,
        tuning_hz=None if fit is None else fit.tuning_hz,
        box_q=None if fit is None else fit.box_q,
        compliance_ratio=None if fit is None else fit.compliance_ratio,
        fs_hz=None if fit is None else fit.fs_hz,
        leak_probability=None if fit is None else result.leak.probability,
        levels_db=None if fit is None else tuple(map(float, band_levels_of(fit, result.design, air))),
        check=result_json(result),
    )


def _name(cabinet: Path, root: Path) -> str:
    inside = cabinet.relative_to(root).as_posix()
    return root.resolve().name if inside == "." else inside
