"""The circuit fitted to a curve."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sealtune.records.circuit import VentedBox
from sealtune.records.design import Crossover
from sealtune.records.interval import Interval
from sealtune.records.recording import Role


@dataclass(frozen=True)
class Losses:
    """The box's loss split, as far as the curves tell its parts apart.

    leakage_q, vent_q, absorption_q: Q at the tuning of each part alone; None where the curves do not determine it
    none_found: parts that cannot be told from no loss at all, "leakage" or "absorption", with the Q below which
        they certainly do not lie
    next_role: the measurement that would tell what is missing, None if nothing is or no measurement would
    inverse_q, inverse_q_covariance: 1/Q of leakage, vent and absorption at the tuning by the curves alone, shape (3,),
        and their covariance, shape (3, 3), which leaves open what the curves do; None where no circuit has all three.
        Of circuits with and without a duct for a leak, those without it tell, if there are any
    """

    leakage_q: Interval | None = None
    vent_q: Interval | None = None
    absorption_q: Interval | None = None
    none_found: tuple[tuple[str, float], ...] = ()
    next_role: Role | None = "plugged"
    inverse_q: NDArray[np.float64] | None = field(default=None, compare=False)
    inverse_q_covariance: NDArray[np.float64] | None = field(default=None, compare=False)


@dataclass(frozen=True)
class Slip:
    """A slip of the channels: about how many samples later channel 2 came from then on, and what was played then.

    at_hz: None where it was so from the begin on
    grows: whether it came later and later instead, by so many samples in all
    """

    samples: float
    at_hz: float | None
    grows: bool = False


@dataclass(frozen=True)
class BoxFit:
    """The physical circuit that explains an impedance curve.

    tuning_hz: where the imaginary part of the box's acoustic admittance is zero, Hz
    box_q: total box Q at the tuning
    compliance_ratio: V_AS over V_AB, of the air in the box
    fs_hz, qms, qes, re_ohm, res_ohm: the driver in its box
    creep: suspension creep lambda [Knudsen1993]
    residual: root mean square of |fit - measured| / |measured| over the band that was fitted
    noise: median of the curve's noise over |Z| in the same band
    log_covariance: covariance of the logarithms of (tuning_hz, box_q, compliance_ratio, fs_hz), shape (4, 4)
    band_hz: lowest and highest frequency used
    frequency_hz, model_ohm: the fitted curve on the measured frequencies, for pictures
    closed_box_misfit: how many times larger the residual is for the best curve of a closed box
    converged: False where the search ended without reaching a minimum
    roles: whose curves were fitted together
    left_out_hz: stretches of the open curve that were left out, where a wall or another part rings on its own
    hidden_crossover: found between terminals and driver though the design does not tell of it
    series_ohm: of leads and joints before the driver, ohm; None without the driver's own curve
    losses: the box's loss split
    ignored_roles: whose curves do not go with the open one
    leak_rise: of the logarithm of the tuning by a leak that shows with the vent plugged, value and standard deviation;
        None without that curve, and where a circuit with a leak explains no more
    gain_drifts_db: of each recording, how far channel 2's gain against channel 1's rose while its sweep ran, dB
    slip: of the open vent's recording, None if there is none
    circuit: the quantities of the likeliest circuit; None in a result made without a fit of it
    crossover: what lies before the driver in that circuit, told by the design or found; None if nothing
    """

    tuning_hz: Interval
    box_q: Interval
    compliance_ratio: Interval
    fs_hz: Interval
    qms: float
    qes: float
    re_ohm: float
    res_ohm: float
    creep: float
    residual: float
    noise: float
    log_covariance: NDArray[np.float64]
    band_hz: tuple[float, float]
    frequency_hz: NDArray[np.float64]
    model_ohm: NDArray[np.complex128]
    closed_box_misfit: float
    converged: bool
    roles: tuple[Role, ...] = ("open",)
    ignored_roles: tuple[Role, ...] = ()
    left_out_hz: tuple[tuple[float, float], ...] = ()
    hidden_crossover: Crossover | None = None
    series_ohm: Interval | None = None
    losses: Losses = field(default_factory=Losses)
    leak_rise: tuple[float, float] | None = None
    gain_drifts_db: tuple[tuple[Role, Interval], ...] = ()
    slip: Slip | None = None
    circuit: VentedBox | None = None
    crossover: Crossover | None = None

    @property
    def with_hidden_ohm(self) -> float:
        """R_E with the resistance of a crossover that was found: one curve tells their sum, hardly each of them."""
        return self.re_ohm + (0.0 if self.hidden_crossover is None else self.hidden_crossover.series_ohm)
