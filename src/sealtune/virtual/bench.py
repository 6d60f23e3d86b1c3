"""A virtual bench: what the two inputs of the sound card see of the amplifier, by what the clips are on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sealtune.errors import UsageFault
from sealtune.records.recording import MICROPHONE_ROLES, Role, Wiring

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

Connection = Role | Literal["balance", "leads open", "leads shorted"] | float
"""What the clips are on: the box in the state of a role; both inputs on the amplifier; nothing; each other; or a
resistor of so many ohms."""

AtRole = Callable[[Real, Role], Complex]
"""A quantity of the box in a role at some frequencies above 0, both of shape (n,)."""


@dataclass(frozen=True)
class Bench:
    """The box, the jig and its leads.

    impedance: of the box, ohm, for the roles open, plugged and free-air
    wiring: which voltage each channel holds
    reference_ohm: what the reference resistor really has, > 0
    leads_ohm: of the leads between the point where the voltage is taken and the box
    loading_ohm: of each input, beside what it measures; infinite for none
    swapped: whether the two inputs are exchanged
    pressure: at the microphone, Pa per volt at the box's terminals, for the roles cone and mouth; None for a box
        that no sound is known of
    microphone_v_pa: volts at the input per pascal, > 0
    """

    impedance: AtRole
    wiring: Wiring = "divider"
    reference_ohm: float = 10.0
    leads_ohm: float = 0.0
    loading_ohm: float = float("inf")
    swapped: bool = False
    pressure: AtRole | None = None
    microphone_v_pa: float = 0.05

    def voltages(
        self, connection: Connection, frequency_hz: Real, source_ohm: float
    ) -> tuple[Complex, Complex]:
        """Return the volts at input 1 and 2 per volt inside the amplifier, each shape (n,).

        frequency_hz: shape (n,), > 0
        source_ohm: between that volt and the amplifier's terminals
        With both inputs on one point nothing else is on the clips. For a microphone's roles the resistor is bridged and
        the box hangs on the amplifier. What an input on the amplifier's own terminals draws is left out.
        """
        role: Role = "open"
        if connection in ("plugged", "free-air"):
            role = connection
        if isinstance(connection, float | int):
            beyond = 1.0 / np.full(frequency_hz.shape, self.leads_ohm + connection, dtype=np.complex128)
        elif connection == "leads shorted":
            beyond = np.full(frequency_hz.shape, 1.0 / max(self.leads_ohm, 1e-9), dtype=np.complex128)
        elif connection in ("leads open", "balance"):
            beyond = np.zeros(frequency_hz.shape, dtype=np.complex128)
        else:
            beyond = 1.0 / (self.leads_ohm + self.impedance(frequency_hz, role))
        admittance = beyond + 1.0 / self.loading_ohm
        reference = self.reference_ohm
        if connection in MICROPHONE_ROLES:
            reference = 0.0
        elif self.wiring == "sense":
            reference = 1.0 / (1.0 / reference + 1.0 / self.loading_ohm)
        current = admittance / (1.0 + admittance * (source_ohm + reference))
        amplifier = 1.0 - current * source_ohm
        box = amplifier - current * reference
        first, second = (amplifier, box) if self.wiring == "divider" else (box, current * reference)
        if connection == "balance":
            first, second = amplifier, amplifier
        if connection in MICROPHONE_ROLES:
            terminals = box * (1.0 - self.leads_ohm * beyond)
            first, second = amplifier, terminals * self._microphone(frequency_hz, connection)
        return (second, first) if self.swapped else (first, second)

    def _microphone(self, frequency_hz: Real, role: Role) -> Complex:
        if self.pressure is None:
            raise UsageFault(
                "virtual bench",
                "a role that is measured at the terminals",
                f"{role!r}, for which a microphone stands at the box",
                "Choose open, plugged or free-air.",
            )
        return self.microphone_v_pa * self.pressure(frequency_hz, role)
