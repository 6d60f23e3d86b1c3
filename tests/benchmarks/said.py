"""Which sentences of the program no test brings about: errors, problems, findings, faults of settings, advice.

    pip install coverage
    coverage run --source=sealtune --data-file=said.data -m pytest -n 0 tests
    python -m tests.benchmarks.said said.data

A sentence is a text of four words and more in the program's code that is no docstring; it is said when the statement
it stands in was run. A statement that chooses between two texts counts as one, and what only a process of its own
says, such as the command line run by its name, is not seen.
"""

from __future__ import annotations

import ast
import sys
from dataclasses import dataclass
from pathlib import Path

from coverage import CoverageData

import sealtune

FEWEST_WORDS = 4


@dataclass(frozen=True)
class Sentence:
    """A text, the file it stands in, and the first and last line of its statement."""

    path: Path
    first: int
    last: int
    text: str


def sentences(path: Path) -> list[Sentence]:
    """Return the sentences of a file that stand inside functions, one for each statement."""
    found = []
    for function in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(function, ast.FunctionDef):
            continue
        for statement in ast.walk(function):
            if not isinstance(statement, ast.Return | ast.Assign | ast.AugAssign | ast.Raise | ast.Expr):
                continue
            if isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant):
                continue  # a docstring
            texts = [
                node.value
                for node in ast.walk(statement)
                if isinstance(node, ast.Constant) and isinstance(node.value, str)
            ]
            longest = max(texts, key=len, default="")
            if len(longest.split()) >= FEWEST_WORDS:
                found.append(
                    Sentence(path, statement.lineno, statement.end_lineno or statement.lineno, longest)
                )
    return found


def main() -> None:
    """Print how many sentences were said, and those that were not."""
    data = CoverageData(sys.argv[1])
    data.read()
    root = Path(sealtune.__file__).parent
    every = {sentence for path in sorted(root.rglob("*.py")) for sentence in sentences(path)}
    unsaid = []
    for sentence in every:
        lines = set(data.lines(str(sentence.path)) or ())
        if not lines & set(range(sentence.first, sentence.last + 1)):
            unsaid.append(sentence)
    print(f"{len(every) - len(unsaid)} of {len(every)} sentences are brought about by a test")
    for sentence in sorted(unsaid, key=lambda each: (str(each.path), each.first)):
        print(f"{sentence.path.relative_to(root)}:{sentence.first}: {sentence.text[:90]}")


if __name__ == "__main__":
    main()
