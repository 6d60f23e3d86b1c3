"""What every test process needs.

One process more than there are cores: the tests over a real sound server wait more than they compute. One thread of
linear algebra, as the command line has it: the matrices are small. No deadline for an example drawn: a busy machine is
no fault of the program. And Ctrl-C that works: a check that runs in the background inherits a SIGINT that is ignored,
and so would the programs that the tests interrupt.
"""

import os
import signal

import pytest
from hypothesis import settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Return how many processes share the tests."""
    return (os.cpu_count() or 1) + 1
