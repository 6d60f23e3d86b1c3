"""Whoever changes the clips at a virtual bench, for tests and benchmarks."""

from __future__ import annotations

from sealtune.analysis.jig_readings import Reading
from sealtune.records.recording import Step
from sealtune.records.verdict import Problem
from sealtune.virtual.bench import Connection
from sealtune.virtual.sound_device import VirtualSoundDevice

RIGHT: dict[Step, Connection] = {"balance": "balance", "open": "leads open", "short": "leads shorted"}


class VirtualPerson:
    """Clips the loads to a virtual bench; may first do it wrong, and then right when asked again."""

    def __init__(
        self,
        device: VirtualSoundDevice,
        known_ohm: float,
        check_ohm: float = 0.0,
        mistakes: dict[Step | None, Connection] | None = None,
        learns: bool = False,
    ) -> None:
        """Tell of the loads and the mistakes.

        known_ohm, check_ohm: what the two resistors really have
        mistakes: what is on the clips in place of the load, by step
        learns: whether each mistake is made only once; otherwise the first refusal ends it
        """
        self._device, self._known_ohm, self._check_ohm = device, known_ohm, check_ohm
        self._mistakes, self._learns = dict(mistakes or {}), learns
        self.refusals: list[tuple[Step | None, Problem]] = []
        self.taken: list[tuple[Step, Reading]] = []

    def connect(self, step: Step | None) -> None:
        if step is None:
            right: Connection = self._check_ohm
        else:
            right = RIGHT.get(step, self._known_ohm)
        self._device.connect(self._mistakes.get(step, right))

    def took(self, step: Step, reading: Reading) -> None:
        self.taken.append((step, reading))

    def refused(self, step: Step | None, problem: Problem) -> bool:
        self.refusals.append((step, problem))
        self._mistakes.pop(step, None)
        return self._learns
