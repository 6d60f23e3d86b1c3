"""What every test process needs.

One process more than there are cores: the tests over a real sound server wait more than they compute. One thread of
linear algebra, as the command line has it: the matrices are small. Compiled files are kept whatever the surroundings
say: the processes read the same tests, and the program is started very often. And Ctrl-C that works: a check that runs
in the background inherits a SIGINT that is ignored, and so would the programs that the tests interrupt.
"""

import os
import signal
import sys
from pathlib import Path

import pytest

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

HERE = Path(__file__).parent
LONG = [HERE / name for name in ("house/test_house.py",)]
"""The files that take longest, so that none of them is left for the end; the rest follows in its usual order."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Return how many processes share the tests."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the files that take longest first."""
    assert all(path.exists() for path in LONG)
    items.sort(key=lambda item: LONG.index(item.path) if item.path in LONG else len(LONG))
