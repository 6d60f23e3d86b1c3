"""What every test process needs.

One process more than there are cores: the tests over a real sound server wait more than they compute. One thread of
linear algebra, as the command line has it: the matrices are small. No deadline for an example drawn: a busy machine is
no fault of the program. Where several processes read the same tests and start the program very often, compiled files
are kept, whatever the surroundings say. And Ctrl-C that works: a check that runs in the background inherits a SIGINT
that is ignored, and so would the programs that the tests interrupt.
"""

import os
import signal
import sys
from pathlib import Path

import pytest
from hypothesis import settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
if "PYTEST_XDIST_WORKER" in os.environ:
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False
if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")

HERE = Path(__file__).parent
LONG = [
    HERE / name
    for name in (
        "live/test_live_capture.py",
        "house/test_house.py",
        "browser/test_page_in_a_browser.py",
        "end_to_end/test_near_field.py",
        "end_to_end/test_pair_and_batch.py",
        "end_to_end/test_capture_command.py",
        "end_to_end/test_commands.py",
        "jobs/test_calibrate.py",
        "analysis/test_joint_fit.py",
        "analysis/test_near_field_fit.py",
        "live/test_live_listen.py",
        "jobs/test_listen.py",
        "end_to_end/test_no_vented_box.py",
        "end_to_end/test_listen_command.py",
        "end_to_end/test_determinism.py",
        "virtual/test_virtual_device.py",
        "analysis/test_hidden_parts.py",
        "end_to_end/test_calibrate_command.py",
    )
]
"""The files that take longest, so that none of them is left for the end; the rest follows in its usual order."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Return how many processes share the tests."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the files that take longest first."""
    assert all(path.exists() for path in LONG)
    items.sort(key=lambda item: LONG.index(item.path) if item.path in LONG else len(LONG))
