"""The program as the tests run it: in a process of its own, or in this one, which saves loading it each time."""

import io
import os
import subprocess
import sys
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from sealtune.cli.main import run


@dataclass(frozen=True)
class Done:
    """What a run of the program left behind."""

    returncode: int
    stdout: str
    stderr: str


def sealtune(*words: str | Path, folder: Path, given: str = "") -> Done:
    """Run the program in this process, in that folder, with this text on its standard input."""
    out, error = io.StringIO(), io.StringIO()
    with (
        chdir(folder),
        redirect_stdout(out),
        redirect_stderr(error),
        mock.patch.object(sys, "stdin", io.TextIOWrapper(io.BytesIO(given.encode()))),
    ):
        code = run([str(word) for word in words])
    return Done(code, out.getvalue(), error.getvalue())


def in_its_own_process(*words: str | Path, folder: Path, given: str = "", **environment: str) -> Done:
    """Run the program as a person does; what Python would warn of is an error."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "sealtune", *map(str, words)], cwd=folder, input=given,
        env={**os.environ, **environment}, capture_output=True, text=True, timeout=280, check=False,
    )  # fmt: skip
    return Done(done.returncode, done.stdout, done.stderr)
