"""How many small changes to physics, analysis and judgement the tests notice.

    pip install cosmic-ray pytest-cov
    python -m tests.benchmarks.mutation --sample 300 --seed 1

A copy of the project is changed in one place at a time by cosmic-ray's operators: another arithmetic or comparison
operator, a number one more or less, a condition turned round, a loop never run. Then those tests that run through the
changed line are run, the quickest first. A change is killed if one of them fails. Places are drawn evenly, and of each
place one of its changes, so that arithmetic, which has six and more changes at each place, does not outweigh the rest.
Lines that no test runs through count as survived. What stands in annotations is no program and is not changed. Every
ten changes the count so far is printed.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import io
import json
import multiprocessing
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import redirect_stderr, redirect_stdout
from difflib import unified_diff
from pathlib import Path
from typing import Literal
from xml.etree import ElementTree

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("physics", "analysis", "judgement")
TESTS = (
    "physics", "analysis", "judgement", "independent", "published", "signals", "design", "jobs", "report", "end_to_end",
)  # fmt: skip
"""Those over sound servers, in a browser and of the house judge no physics."""

LONGEST_S = 120
"""Processor time that the tests of one change may take, s, and not the clock's, so that a busy machine kills nothing; a
change that makes them take longer has been noticed, and the table counts it apart."""

SLOWEST = 30.0
"""So many times longer by the clock the tests are waited for; then nothing is known, and the run ends."""

NOT_THERE, NO_TESTS = 4, 5
"""Codes that pytest leaves with where the tests were not found."""

MOST_TESTS_S = 25.0
"""How much of the tests of one line, by the time they take unchanged, is run at most; the slower ones are left out."""

OPERATORS = (
    "AddNot", "ReplaceTrueWithFalse", "ReplaceFalseWithTrue", "ReplaceAndWithOr", "ReplaceOrWithAnd",
    "ReplaceBreakWithContinue", "ReplaceContinueWithBreak", "NumberReplacer", "ZeroIterationForLoop",
)  # fmt: skip
FAMILIES = ("ReplaceBinaryOperator_", "ReplaceComparisonOperator_", "ReplaceUnaryOperator_")
Outcome = Literal["killed", "too long", "survived"]

TYPES = ("BitOr",)
"""Operators that in this project stand in types alone."""

OF_BITS, OF_OBJECTS = ("RShift", "LShift", "BitOr", "BitAnd", "BitXor"), ("Is", "IsNot")
"""Put in the place of others they make no sense: no number with a point has bits, and hardly two numbers are one
object. Any test would notice, and the figure would flatter."""


def operators() -> list[str]:
    """Return the names of the operators used."""
    from cosmic_ray import plugins

    names = []
    for name in plugins.operator_names():
        short = name.removeprefix("core/")
        family = any(short.startswith(each) for each in FAMILIES)
        if short in OPERATORS or (family and not _senseless(short)):
            names.append(name)
    return names


def _senseless(operator: str) -> bool:
    _, before, now = f"{operator}_".split("_")[:3]
    alike = (OF_BITS, OF_OBJECTS)
    return before in TYPES or any(now in kind and before not in kind for kind in alike)


def places(source: str, names: Sequence[str]) -> dict[tuple[int, int], list[tuple[str, int]]]:
    """Return the changes at each place (line, column) of a module: operator and the number of its occurrence."""
    from cosmic_ray import plugins
    from cosmic_ray.ast import Visitor, get_ast

    idle = list(_annotations(source))
    found: dict[tuple[int, int], list[tuple[str, int]]] = defaultdict(list)

    class Finder(Visitor):  # type: ignore[misc]
        def __init__(self, name: str) -> None:
            self.name, self.operator, self.count = name, plugins.get_operator(name)(), 0

        def visit(self, node: object) -> object:
            for start, _ in self.operator.mutation_positions(node):
                if not any(low <= start <= high for low, high in idle):
                    found[start].append((self.name, self.count))
                self.count += 1
            return node

    tree = get_ast(source)
    for name in names:
        Finder(name).walk(tree)
    return found


def _annotations(source: str) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
    """Yield where annotations and type aliases begin and end."""
    for node in ast.walk(ast.parse(source)):
        told = [getattr(node, "annotation", None), getattr(node, "returns", None)]
        for each in told:
            if isinstance(each, ast.expr):
                assert each.end_lineno is not None
                assert each.end_col_offset is not None
                yield (each.lineno, each.col_offset), (each.end_lineno, each.end_col_offset)


def covering(copy: Path) -> tuple[dict[str, dict[str, list[str]]], dict[str, float]]:
    """Run the tests once; return those that run through each line of each module, and how long each takes in s."""
    from coverage import CoverageData

    command = [
        sys.executable, "-m", "pytest", "-q", "-n", "0", "--dist", "no", "-p", "no:cacheprovider",
        "--junitxml=times.xml",
        "--cov=sealtune", "--cov-context=test", "--cov-report=", *(f"tests/{name}" for name in TESTS),
    ]  # fmt: skip
    subprocess.run(command, cwd=copy, env=_environment(copy), check=True)
    data = CoverageData(str(copy / ".coverage"))
    data.read()
    lines = {
        str(Path(path).relative_to(copy)): {
            str(line): sorted({context.rpartition("|")[0] for context in contexts if context})
            for line, contexts in data.contexts_by_lineno(path).items()
        }
        for path in data.measured_files()
    }
    times: dict[str, float] = defaultdict(float)
    for case in ElementTree.parse(copy / "times.xml").iter("testcase"):
        name = f"{case.get('classname', '').replace('.', '/')}.py::{case.get('name')}"
        times[name] = float(case.get("time", 0.0))
    return lines, times


def noticed(module: str, text: str, tests: Sequence[str], copy: Path) -> Outcome:
    """Return whether a test fails with this text of the module, or all of them take too long."""
    target = copy / module
    before = target.read_text(encoding="utf-8")
    target.write_text(text, encoding="utf-8")
    code = _left_with(tests, copy)
    target.write_text(before, encoding="utf-8")
    if code in (NOT_THERE, NO_TESTS) and _left_with(["--collect-only", *tests], copy):
        raise RuntimeError(f"pytest did not find {tests}")
    if code in (None, -signal.SIGXCPU, -signal.SIGKILL):
        return "too long"
    return "killed" if code else "survived"  # a module that cannot be loaded any more has no tests


def _left_with(words: Sequence[str], copy: Path) -> int | None:
    """Return what pytest left with, None where it waited for ever."""
    process = multiprocessing.get_context("fork").Process(target=_run, args=(words, copy))
    process.start()
    process.join(SLOWEST * LONGEST_S)
    if process.is_alive():
        process.kill()
        process.join()
        return None
    return process.exitcode


def _run(words: Sequence[str], copy: Path) -> None:
    """Run the tests in a process of its own, which has loaded nothing of the program, and leave with pytest's code."""
    import pytest

    resource.setrlimit(resource.RLIMIT_CPU, (LONGEST_S, LONGEST_S + 5))
    os.chdir(copy)
    sys.path[:0] = [str(copy / "src"), str(copy)]
    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        code = int(pytest.main(["-q", "-x", "-n", "0", "-p", "no:cacheprovider", *words]))
    os._exit(code)


def _environment(copy: Path) -> dict[str, str]:
    return {
        **os.environ, "PYTHONPATH": f"{copy / 'src'}:{copy}", "OPENBLAS_NUM_THREADS": "1",
        "PYTHONDONTWRITEBYTECODE": "1",
    }  # fmt: skip


def _chosen(lines: dict[str, list[str]], line: int, times: dict[str, float]) -> list[str]:
    """Return the tests to run for a change in this line, the quickest first; what runs at import concerns them all."""
    through = lines.get(str(line)) or sorted({test for tests in lines.values() for test in tests})
    chosen: list[str] = []
    lasting_s = 0.0
    for test in sorted(through, key=lambda one: times.get(one, 0.0)):
        lasting_s += times.get(test, 0.0)
        if chosen and lasting_s > MOST_TESTS_S:
            break
        chosen.append(test)
    return chosen


def _copied(to: Path) -> Path:
    for name in ("src", "tests", "recordings", "docs"):
        shutil.copytree(ROOT / name, to / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / name, to)
    return to


def main() -> None:
    """Draw, change, test and print the table and the survivors."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--sample", type=int, default=300)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument(
        "--covered", type=Path, help="a file to keep which test runs through which line, for further runs"
    )
    asked = ask.parse_args()
    from cosmic_ray import plugins
    from cosmic_ray.mutating import mutate_code

    for name in (
        "numpy",
        "scipy.optimize",
        "scipy.signal",
        "scipy.stats",
        "scipy.special",
        "pytest",
        "click",
    ):
        importlib.import_module(name)
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    sys.dont_write_bytecode = True
    rng, names = random.Random(asked.seed), operators()
    with tempfile.TemporaryDirectory() as scratch:
        copy = _copied(Path(scratch))
        os.environ.update(_environment(copy))
        if asked.covered and asked.covered.exists():
            lines, times = json.loads(asked.covered.read_text())
        else:
            lines, times = covering(copy)
            if asked.covered:
                asked.covered.write_text(json.dumps([lines, times]))
        drawn: list[tuple[str, tuple[int, int], list[tuple[str, int]]]] = []
        for package in PACKAGES:
            for path in sorted((copy / "src" / "sealtune" / package).glob("*.py")):
                module = str(path.relative_to(copy))
                drawn += [
                    (module, at, each) for at, each in places(path.read_text(encoding="utf-8"), names).items()
                ]
        print(f"{len(drawn)} places, {sum(len(each) for _, _, each in drawn)} changes; {asked.sample} drawn")
        tally: dict[str, dict[str, int]] = defaultdict(lambda: dict.fromkeys(COLUMNS, 0))
        sample = rng.sample(drawn, min(asked.sample, len(drawn)))
        for number, (module, (line, _), each) in enumerate(sample, 1):
            name, occurrence = rng.choice(each)
            before = (copy / module).read_text(encoding="utf-8")
            text = mutate_code(before, plugins.get_operator(name)(), occurrence)
            chosen = _chosen(lines.get(module, {}), line, times)
            since = time.monotonic()
            outcome = noticed(module, text, chosen, copy) if chosen else "survived"
            for row in (module.split("/")[2], "all"):
                tally[row]["changes"] += 1
                tally[row][outcome] += 1
                tally[row]["no test"] += not chosen
            if outcome == "survived":
                diff = list(unified_diff(before.splitlines(), text.splitlines(), n=0, lineterm=""))[3:]
                told = f"{len(chosen)} tests, {time.monotonic() - since:.0f} s"
                print(f"SURVIVED {module}:{line} ({told})", *diff, sep="\n    ", flush=True)
            if number % 10 == 0:
                print(f"{number} of {len(sample)}: {tally['all']['survived']} survived", flush=True)
        _print(tally)


COLUMNS = ("changes", "killed", "too long", "survived", "no test")


def _print(tally: dict[str, dict[str, int]]) -> None:
    """Print the table; those that made the tests take too long count as noticed."""
    print(f"{'':12}" + "".join(f"{name:>10}" for name in COLUMNS) + f"{'noticed, %':>12}")
    for row in (*PACKAGES, "all"):
        found = tally[row]
        share = 100.0 * (1.0 - found["survived"] / max(found["changes"], 1))
        print(f"{row:12}" + "".join(f"{found[name]:10}" for name in COLUMNS) + f"{share:12.0f}")


if __name__ == "__main__":
    main()
