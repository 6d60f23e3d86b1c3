"""What cone and cabinet should send out by the design, and what each deviation changes of it.

The sound of a voltage is that of the textbook circuit; what the coil turns and takes is added from the fitted curve,
as it is the same whatever the box.
"""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
from numpy.typing import NDArray

from sealtune.design.designed_speaker import designed_speaker, designed_tuning_hz
from sealtune.design.losses import usual_losses
from sealtune.judgement.box_pair import boxed, shares_of
from sealtune.judgement.resistance import weigh_resistance
from sealtune.physics.air import Air
from sealtune.physics.crossover import impedance_behind, source
from sealtune.physics.loudspeaker import Loudspeaker, Motion, impedance_ratio, motion
from sealtune.records.cost import LossKind
from sealtune.records.design import Crossover, Design, Prediction
from sealtune.records.fit import BoxFit
from sealtune.records.verdict import FaultName, Finding

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

COIL_FROM = 2.5
"""Times the upper resonance: from there on what is left of the curve is the coil's."""

LOSS_KIND: dict[FaultName, LossKind] = {
    "leak": "leakage", "vent_lined": "friction", "vent_restricted": "friction", "overstuffed": "absorption",
}  # fmt: skip


LOSS_NAMES: dict[FaultName, str] = {
    "leak": "the leak", "vent_lined": "the material in the vent", "vent_restricted": "the narrowed vent",
    "overstuffed": "the damping material",
}  # fmt: skip
TUNING_NAMES: dict[FaultName, str] = {
    "vent_long": "the vent's length", "vent_short": "the vent's length", "volume_small": "the volume",
    "volume_large": "the volume", "leak": "the leak's tuning", "vent_restricted": "the narrowed vent's tuning",
}  # fmt: skip


class ExpectedSound:
    """Driver, crossover and coil in one box after the other, from the designed to the measured one.

    steps: name of what changes and the circuit from then on; the first is the design itself
    """

    def __init__(
        self, steps: list[tuple[str, Loudspeaker, float]], crossover: Crossover | None, re_ohm: float | None,
        coil: tuple[float, float] | None,
    ) -> None:  # fmt: skip
        """Keep the circuits; each step holds the resistance before the driver, ohm, too.

        re_ohm: None where it is not known, and then crossover and coil are left out
        coil: K and n of K s^n, None where it is not known
        """
        self._steps, self._crossover, self._re_ohm, self._coil = steps, crossover, re_ohm, coil

    @property
    def names(self) -> tuple[str, ...]:
        """What changes from one step to the next."""
        return tuple(name for name, _, _ in self._steps[1:])

    def sound(self, frequency_hz: Reals, step: int = 0) -> Complexes:
        """Return the volume acceleration of the whole cabinet at a step, shape of frequency_hz."""
        return self._moved(frequency_hz, step).sound

    def cone(self, frequency_hz: Reals, step: int = -1) -> Complexes:
        """Return the volume acceleration of the cone at a step, by itself the last, shape of frequency_hz."""
        s = 2j * pi * frequency_hz
        circuit = self._steps[step][1]
        return np.asarray((s / circuit.ws_rad_s) ** 2 * self._moved(frequency_hz, step).cone)

    def _moved(self, frequency_hz: Reals, step: int) -> Motion:
        s = np.asarray(2j * pi * frequency_hz, dtype=np.complex128)
        _, circuit, behind_ohm = self._steps[step]
        if self._re_ohm is None:
            return motion(s, circuit)
        gain, before = source(s, self._crossover, behind_ohm)
        if self._coil is not None:
            before = before + self._coil[0] * s ** self._coil[1]
        return motion(s, circuit, feed=(gain, self._re_ohm / (self._re_ohm + before)))


def expected_sound(
    design: Design, prediction: Prediction, fit: BoxFit | None, air: Air, findings: tuple[Finding, ...]
) -> ExpectedSound | None:
    """Return the way from the design to what the impedance measured, None where the design lacks driver data.

    fit: None where there is none; then the design is the only step
    findings: they say what the loss beyond the usual counts as, and whether a resistance is in the wiring
    """
    designed = designed_speaker(design, prediction, air)
    if fit is None:
        if designed is None:
            return None
        return ExpectedSound([("", designed.circuit, 0.0)], design.crossover, designed.driver.re_ohm, None)
    crossover = design.crossover or fit.hidden_crossover
    target_hz = designed_tuning_hz(prediction)
    usual_of = usual_losses(design, target_hz, air)
    usual = usual_of.shares
    usual *= usual_of.box_q / prediction.box_q
    told = [one.fault for one in findings if one.probability > 0.3]
    kind: LossKind = next((LOSS_KIND[fault] for fault in told if fault in LOSS_KIND), "leakage")
    resistance = weigh_resistance(design, fit) if "series_resistance" in told else None
    series_ohm = 0.0 if resistance is None else resistance.series_ohm.value
    inside = fit.series_ohm is None  # then the open curve alone has it in its R_E
    re_ohm = fit.re_ohm - (series_ohm if inside else 0.0)
    qes = fit.qes * (re_ohm / fit.re_ohm if inside else 1.0)
    if re_ohm <= 0.0:
        return None
    plain = Loudspeaker(2.0 * pi * fit.fs_hz.value, fit.qms, qes, fit.compliance_ratio.value, 1.0)
    meant = boxed(plain, target_hz, usual)
    tuned = boxed(plain, fit.tuning_hz.value, usual)
    shares = shares_of(1.0 / fit.box_q.value, usual, (None, None, None), kind)
    found = boxed(plain, fit.tuning_hz.value, shares)
    first = meant if designed is None else replace(designed.circuit, wb_rad_s=meant.wb_rad_s)
    steps = [("", first, 0.0)]
    if designed is not None:
        steps.append(("the driver", meant, 0.0))
    tuning_name = next((TUNING_NAMES[fault] for fault in told if fault in TUNING_NAMES), "the tuning")
    loss_name = next((LOSS_NAMES[fault] for fault in told if fault in LOSS_NAMES), "the losses")
    steps += [(tuning_name, tuned, 0.0), (loss_name, found, 0.0)]
    if series_ohm > 0.0:
        steps.append(("the resistance", found, series_ohm))
    return ExpectedSound(steps, crossover, re_ohm, _coil(fit, found, crossover, re_ohm + series_ohm))


def _coil(
    fit: BoxFit, found: Loudspeaker, crossover: Crossover | None, re_ohm: float
) -> tuple[float, float] | None:
    """Return K and n of what the fitted curve has beside resistance, movement and crossover."""
    if crossover is not None and (crossover.shunt_f is not None or crossover.shunt_ohm is not None):
        return None
    upper = fit.fs_hz.value * np.sqrt(1.0 + fit.compliance_ratio.value)
    used = fit.frequency_hz > max(COIL_FROM * upper, 1.5 * fit.tuning_hz.value)
    if np.count_nonzero(used) < 8:
        return None
    s = 2j * pi * fit.frequency_hz[used]
    moved = impedance_behind(s, crossover, np.asarray(re_ohm * impedance_ratio(s, found)))
    left = np.abs(fit.model_ohm[used] - moved)
    if not np.all(left > 0.0):
        return None
    exponent, size = np.polyfit(np.log(np.abs(s)), np.log(left), 1)
    return float(np.exp(size)), float(np.clip(exponent, 0.3, 1.0))
