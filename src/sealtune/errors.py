"""Every error a user may see.

An error has four parts: where it happened, what was expected, what came instead, and what to do.
"""

from typing import Literal

ProblemName = Literal[
    "clipped",
    "too_quiet",
    "noisy",
    "hum",
    "dropout",
    "channels_swapped",
    "channel_missing",
    "wrong_wiring",
    "wrong_reference",
    "band_too_narrow",
    "too_coarse",
    "truncated",
    "not_impedance",
    "level_dependent",
]

VerdictWord = Literal["good", "rework", "remeasure"]

EXIT_CODES: dict[VerdictWord, int] = {"good": 0, "rework": 1, "remeasure": 3}
"""What the program leaves with by its verdict; an error has its own."""


class SealtuneError(Exception):
    """One message for the user; the command line prints it and leaves with `exit_code`.

    where: the file, option or device concerned
    expected: what should have been there
    got: what was there instead
    remedy: what the user can do about it
    """

    exit_code = 2

    def __init__(self, where: str, expected: str, got: str, remedy: str) -> None:
        self.where = where
        self.expected = expected
        self.got = got
        self.remedy = remedy
        super().__init__(f"{where}: expected {expected}; got {got}. {remedy}")


class UsageFault(SealtuneError):
    """The command was given something it cannot use: a missing path, a contradiction of options."""


class SettingsFault(SealtuneError):
    """A design or jig file is faulty; all faults of the file are reported together.

    faults: one line per fault, each with key, value, what is allowed and the nearest known key
    """

    def __init__(self, where: str, faults: tuple[str, ...], remedy: str) -> None:
        self.faults = faults
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__(where, "a valid file", count, remedy)

    def __str__(self) -> str:
        """Return the message with one line for each fault."""
        lines = "".join(f"\n  - {fault}" for fault in self.faults)
        return f"{self.where}: expected {self.expected}; got {self.got}:{lines}\n{self.remedy}"


class RecordingFault(SealtuneError):
    """A recording cannot be judged; `problem` is its name in the machine-readable result.

    problem: one of the contract's problem names
    """

    exit_code = 3

    def __init__(self, problem: ProblemName, where: str, expected: str, got: str, remedy: str) -> None:
        self.problem = problem
        super().__init__(where, expected, got, remedy)


class DeviceFault(SealtuneError):
    """The sound device failed: it is not there, cannot do what is asked, or stopped in the middle."""

    exit_code = 4
