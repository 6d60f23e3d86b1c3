"""Damaged files by the thousand through everything that reads, and on to the verdict: what breaks, hangs or strays.

    python -m tests.benchmarks.fuzz [--inputs 2000] [--seed 0] [--kinds sound,table,...]
    python -m tests.benchmarks.fuzz --kinds table --seed 0 --one 4711      # one input again, with its traceback

Each input is a valid file of some kind (tests/fuzz/seeds.py), damaged by one to eight edits (tests/fuzz/edits.py), or a
folder of such files under odd names, with links, loops and files that vanish or shrink when they are opened. It is
read. Every input that is refused, and one in --deep of the others, of designs, jigs and folders one in a quarter of
that, goes on through check or plan to JSON and text, a few to the page. Counted are

  read, refused     what the reader said
  good ... planned  what came of those that went on
  broken            an exception that is no message of the program, or a promise of tests/fuzz/paths.py not held
  warned            a library warned on the user's screen
  hung              more than 5 s of the processor's time, or a minute by the clock
  strayed           a file was opened for writing, moved, removed or made, or a program or a connection was started

Every part of 2000 inputs runs in a process of its own, whose largest resident memory is told; it may grow by 1 GB.
"""

from __future__ import annotations

import argparse
import os
import resource
import signal
import sys
import tempfile
import threading
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path
from types import FrameType

import numpy as np
from tests.fuzz.edits import damaged, draw_edits
from tests.fuzz.paths import go_on, read, told
from tests.fuzz.seeds import seeds, sound_with_tag, write_companions
from tests.fuzz.trees import Tree, draw_tree

from sealtune.errors import SealtuneError

KINDS = ("sound", "tag", "table", "touchstone", "design", "jig", "tree")
SHARES = {"sound": 2.0, "tag": 1.0, "table": 2.0, "touchstone": 1.0, "design": 2.0, "jig": 1.0, "tree": 1.0}
DEEPER = {"sound": 1, "tag": 1, "table": 2, "touchstone": 1, "design": 4, "jig": 4, "tree": 4}
PART = 2000
HANG_S = 5.0
WAIT_S = 60.0
GROWTH_BYTES = 1 << 30
PAGE_IN = 25
NOBODY = 65534

_ALTERING = {
    "os.rename",
    "os.remove",
    "os.rmdir",
    "os.mkdir",
    "os.link",
    "os.symlink",
    "os.truncate",
    "os.chmod",
}
_LEAVING = {"subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.fork", "socket.connect"}


class HangError(BaseException):
    """The processor's time for one input is used up."""


@dataclass
class Guard:
    """What an audit hook sees while an input is worked on."""

    watching: bool = False
    strayed: list[str] = field(default_factory=list)
    tree: Tree | None = None

    def hook(self, event: str, arguments: tuple[object, ...]) -> None:
        """Note what the program does to files; installed by `sys.addaudithook`."""
        if not self.watching or (self.tree is not None and self.tree.losing):
            return
        if threading.current_thread() is not threading.main_thread():
            return
        if event == "open":
            path, mode, flags = arguments
            writes = isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC)
            if writes or (isinstance(mode, str) and set(mode) & set("wax+")):
                self.strayed.append(f"{event} {path!r} {mode}")
        elif event in _ALTERING or event in _LEAVING:
            self.strayed.append(f"{event} {arguments!r}")


@dataclass(frozen=True)
class Came:
    """What came of one input."""

    outcomes: tuple[str, ...]
    seconds: float
    why: str = ""


GUARD = Guard()


@contextmanager
def watched() -> Iterator[list[warnings.WarningMessage]]:
    """Watch files, processor time and warnings."""

    def stop(_signal: int, _frame: FrameType | None) -> None:
        raise HangError

    kinds = (signal.SIGPROF, signal.SIGALRM)
    before = [signal.signal(kind, stop) for kind in kinds]
    GUARD.strayed.clear()
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        GUARD.watching = True
        signal.setitimer(signal.ITIMER_PROF, HANG_S)
        signal.setitimer(signal.ITIMER_REAL, WAIT_S)
        try:
            yield caught
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)
            signal.setitimer(signal.ITIMER_REAL, 0.0)
            GUARD.watching = False
            for kind, handler in zip(kinds, before, strict=True):
                signal.signal(kind, handler)


def made(
    kind: str, rng: np.random.Generator, folder: Path, corpus: dict[str, list[tuple[str, bytes]]]
) -> Path:
    """Write one damaged file and return its path."""
    name, data = corpus[kind][int(rng.integers(len(corpus[kind])))]
    data = damaged(data, draw_edits(rng, headed=kind == "sound"))
    path = folder / name
    path.write_bytes(data)
    return path


def worked(
    kind: str, path: Path, beside: Path, corpus: dict[str, list[tuple[str, bytes]]], deep: int
) -> list[str]:
    """Read an input, go on where its turn has come, and return the outcomes."""
    outcomes = []
    refused = False
    try:
        read(kind, path)
        outcomes.append("read")
    except SealtuneError as error:
        told(error)
        outcomes.append("refused")
        refused = True
    if not refused and deep != 0:
        return outcomes
    if kind == "tag":
        GUARD.watching = False
        path = sound_with_tag(path, corpus)
        GUARD.watching = True
    try:
        outcomes.append(go_on(kind, path, beside, with_page=deep == 0 and path.stat().st_size % PAGE_IN == 0))
    except SealtuneError as error:
        told(error)
        outcomes.append("error")
    return outcomes


def one(
    kind: str, number: int, seed: int, deep: int, corpus: dict[str, list[tuple[str, bytes]]], beside: Path
) -> Came:
    """Return what comes of one input, the same for the same seed and number."""
    rng = np.random.default_rng([seed, KINDS.index(kind), number])
    with tempfile.TemporaryDirectory() as name:
        tree: Tree | None = None
        folder = Path(name) / "in"
        folder.mkdir()
        if kind == "tree":
            tree = draw_tree(rng, corpus)
            path = tree.write(folder)
        else:
            path = made(kind, rng, folder, corpus)
        GUARD.tree = tree
        outcomes, why = [], ""
        start = time.process_time()
        with watched() as caught, nullcontext() if tree is None else tree.in_use():
            try:
                outcomes = worked(kind, path, beside, corpus, number % deep)
            except HangError:
                outcomes, why = ["hung"], traceback.format_exc()
            except Exception:
                outcomes, why = ["broken"], traceback.format_exc()
        seconds = time.process_time() - start
        if caught:
            outcomes.append("warned")
            why += "".join(
                f"{message.filename}:{message.lineno}: {message.message}\n" for message in caught[:3]
            )
        if GUARD.strayed:
            outcomes.append("strayed")
            why += "\n".join(GUARD.strayed[:3]) + "\n"
        if tree is not None:
            tree.tidy()
    return Came(tuple(outcomes), seconds, why)


@dataclass(frozen=True)
class Part:
    """Some inputs of one kind."""

    kind: str
    first: int
    count: int
    seed: int
    deep: int


@dataclass
class Sum:
    """What came of a part."""

    kind: str
    inputs: int = 0
    counts: Counter[str] = field(default_factory=Counter)
    slowest_s: float = 0.0
    bytes_most: int = 0
    whys: list[tuple[int, str, str]] = field(default_factory=list)


def run_part(part: Part) -> Sum:
    """Return what came of a part; runs in a process of its own."""
    corpus = seeds()
    sys.addaudithook(GUARD.hook)
    found = Sum(part.kind)
    with tempfile.TemporaryDirectory() as name:
        beside = Path(name)
        write_companions(beside, corpus)
        warm_up(beside)
        size = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (size + GROWTH_BYTES, resource.RLIM_INFINITY))
        if part.kind == "tree" and os.geteuid() == 0:
            os.seteuid(NOBODY)  # whoever is root may read everything
        for number in range(part.first, part.first + part.count):
            came = one(part.kind, number, part.seed, max(part.deep // DEEPER[part.kind], 1), corpus, beside)
            found.inputs += 1
            found.counts.update(came.outcomes)
            found.slowest_s = max(found.slowest_s, came.seconds)
            if came.why:
                found.whys.append((number, came.outcomes[-1], came.why))
        if os.geteuid() != os.getuid():
            os.seteuid(os.getuid())
    found.bytes_most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    return found


def warm_up(beside: Path) -> None:
    """Load all libraries and codecs, which write caches of their own, before anything is watched."""
    for codec in ("utf-16", "utf-16-le", "utf-16-be", "utf-8-sig", "latin-1"):
        "".encode(codec)
    go_on("table", beside / "open.csv", beside, with_page=True)
    go_on("sound", beside / "open.wav", beside)


COLUMNS = (
    "read", "refused", "good", "rework", "remeasure", "planned", "error", "broken", "warned", "hung", "strayed",
)  # fmt: skip


def table(sums: dict[str, Sum]) -> str:
    """Return the table."""
    lines = [
        f"{'kind':10} {'inputs':>7} " + " ".join(f"{name:>9}" for name in COLUMNS) + "  slowest s   most MB"
    ]
    for kind, part in sums.items():
        counts = " ".join(f"{part.counts[name] or '.':>9}" for name in COLUMNS)
        lines.append(
            f"{kind:10} {part.inputs:7} {counts} {part.slowest_s:10.1f} {part.bytes_most / 1e6:9.0f}"
        )
    lines.append(f"{'all':10} {sum(part.inputs for part in sums.values()):7}")
    return "\n".join(lines)


def main() -> None:
    """Print the table, and below it one traceback of each sort of trouble."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--inputs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--kinds", default=",".join(KINDS))
    parser.add_argument(
        "--deep", type=int, default=40, help="of the inputs that are read, one in so many goes on"
    )
    parser.add_argument(
        "--one", type=int, default=None, help="the number of a single input, of a single kind"
    )
    given = parser.parse_args()
    os.environ.setdefault(
        "OPENBLAS_NUM_THREADS", "1"
    )  # as the command line has it, in the processes that read
    kinds = given.kinds.split(",")
    if given.one is not None:
        print_sum(run_part(Part(kinds[0], given.one, 1, given.seed, given.deep)))
        return
    whole = sum(SHARES[kind] for kind in kinds)
    parts = []
    for kind in kinds:
        count = round(given.inputs * SHARES[kind] / whole)
        parts += [
            Part(kind, first, min(PART, count - first), given.seed, given.deep)
            for first in range(0, count, PART)
        ]
    sums: dict[str, Sum] = {}
    with get_context("spawn").Pool(1, maxtasksperchild=1) as pool:
        for found in pool.imap(run_part, parts):
            added(sums.setdefault(found.kind, Sum(found.kind)), found)
            print(f"\r{found.kind}: {sums[found.kind].inputs}", end="", file=sys.stderr, flush=True)
    print("\n" + table(sums))
    for total in sums.values():
        print_troubles(total)


def added(total: Sum, part: Sum) -> None:
    """Add a part to the sum of its kind."""
    total.inputs += part.inputs
    total.counts.update(part.counts)
    total.slowest_s = max(total.slowest_s, part.slowest_s)
    total.bytes_most = max(total.bytes_most, part.bytes_most)
    total.whys += part.whys


def print_sum(found: Sum) -> None:
    """Print a single input's outcome."""
    print(dict(found.counts), f"{found.slowest_s:.2f} s")
    print_troubles(found)


def print_troubles(found: Sum) -> None:
    """Print each sort of trouble once: how often, the first input that shows it, and how."""
    sorts: dict[tuple[str, str], list[int]] = {}
    whole: dict[tuple[str, str], str] = {}
    for number, outcome, why in found.whys:
        lines = why.strip().splitlines()
        own = [line.strip() for line in lines if "sealtune/" in line or "tests/fuzz/paths" in line]
        key = (outcome, f"{own[-1] if own else ''} {lines[-1][:80]}")
        sorts.setdefault(key, []).append(number)
        whole.setdefault(key, why)
    for key, numbers in sorts.items():
        print(
            f"\n{found.kind} {key[0]}, {len(numbers)} times, first by --one {numbers[0]}\n{whole[key][-1500:]}"
        )


if __name__ == "__main__":
    main()
