"""Which measurement to make next."""

from __future__ import annotations

from dataclasses import dataclass

from sealtune.records.recording import Role


@dataclass(frozen=True)
class NextMeasurement:
    """The recording that would decide most between the explanations left.

    role: what to record
    gain_bits: how much it is expected to tell of the cause, bits
    words: what it would tell apart, one sentence
    """

    role: Role
    gain_bits: float
    words: str
