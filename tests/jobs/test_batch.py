"""What a batch keeps of a cabinet that cannot be judged."""

from pathlib import Path

import pytest

from sealtune.errors import UsageFault
from sealtune.jobs.batch import summarised
from sealtune.jobs.recordings import CheckOptions


@pytest.mark.parametrize(
    ("error", "code", "reason", "step"),
    [
        (OSError("no room\n  left"), 2, "it could not be read", "no room left"),
        (
            ZeroDivisionError("by nothing"), 3, "it could not be judged",
            "The program failed on it (ZeroDivisionError: by nothing). Please report that.",
        ),
    ],
)  # fmt: skip
def test_a_cabinet_that_fails_does_not_lose_the_others(
    error: Exception, code: int, reason: str, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(*_: object) -> None:
        raise error

    monkeypatch.setattr("sealtune.jobs.batch.check", failing)
    found = summarised(Path("shed/one"), Path("shed"), CheckOptions())
    assert (found.name, found.verdict, found.exit_code) == ("one", "remeasure", code)
    assert (found.reason, found.step) == (reason, step)
    fault = UsageFault("here", "a folder", "none", "Make one.")
    error = fault
    assert summarised(Path("shed/one"), Path("shed"), CheckOptions()).exit_code == fault.exit_code
