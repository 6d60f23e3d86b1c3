"""The fit on curves of physics other than its own, made by a nodal solve in physical units."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq
from tests.textbook import lr2, semi_inductor

from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.physics.vented_box import VentedBox, impedance
from sealtune.records.curve import ImpedanceCurve, Landmark, Landmarks
from sealtune.records.design import Box, Crossover, Design, Tuning
from sealtune.records.fit import BoxFit
from sealtune.virtual.circuit import Network

MakeCurve = Callable[..., ImpedanceCurve]
Complexes = NDArray[np.complex128]

FREQUENCY_HZ = np.geomspace(5.0, 1000.0, 900)
STIFFNESS_PA, SPEED_M_S = 1.42e5, 344.0


@dataclass(frozen=True)
class Cabinet:
    """A driver in a box in the terms of its data sheet, and which effects it has.

    ql, qp: leakage and vent friction; friction_exponent: 0 a plain resistance, 0.5 a viscous boundary layer
    coil: "lr2" or "semi"
    """

    fs_hz: float = 42.0
    qes: float = 0.4
    qms: float = 5.0
    re_ohm: float = 5.8
    vas_m3: float = 0.03
    volume_m3: float = 0.025
    fb_hz: float = 41.0
    ql: float = 15.0
    qp: float = 50.0
    friction_exponent: float = 0.5
    creep: float = 0.09
    coil: str = "lr2"
    coil_scale: float = 1.0
    radiates: bool = True
    series_ohm: float = 0.0

    def box_admittance(self, frequency_hz: NDArray[np.float64]) -> Complexes:
        """Acoustic admittance of the box, m3/(Pa s)."""
        s, spring, wb = 2j * np.pi * frequency_hz, self.volume_m3 / STIFFNESS_PA, 2.0 * np.pi * self.fb_hz
        reactance = 1.0 / (wb * spring)
        grown = (frequency_hz / self.fb_hz) ** self.friction_exponent
        layer = reactance / self.qp * grown * (1.0 + (1j if self.friction_exponent > 0.0 else 0.0))
        vent = s * reactance / wb + layer + self.sound(frequency_hz)
        return np.asarray(s * spring + 1.0 / (self.ql * reactance) + 1.0 / vent, dtype=np.complex128)

    def sound(self, frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
        """Radiation resistance of a small source in a wall, Pa s/m3."""
        w = 2.0 * np.pi * frequency_hz
        return np.asarray(STIFFNESS_PA * w**2 / (2.0 * np.pi * SPEED_M_S**3) * float(self.radiates))

    def impedance(self, frequency_hz: NDArray[np.float64]) -> Complexes:
        """Impedance at the terminals, ohm, solved by nodes with a cone of 0.02 m2."""
        s, ws, area = np.asarray(2j * np.pi * frequency_hz), 2.0 * np.pi * self.fs_hz, 0.02
        compliance = self.vas_m3 / (STIFFNESS_PA * area**2)
        mass = 1.0 / (ws**2 * compliance)
        force_factor = float(np.sqrt(ws * mass * self.re_ohm / self.qes))
        if self.coil == "lr2":
            scale = self.coil_scale
            coil = lr2(s, 0.2e-3 * scale, 0.4e-3 * scale, 3.0 * scale)
        else:
            coil = semi_inductor(s, 0.012 * self.coil_scale, 0.7)
        network = Network(s.size, ("coil", "cone", "box"))
        network.transformer(
            "coil", "cone", force_factor, np.asarray(1.0 / (self.re_ohm + coil), np.complex128)
        )
        suspension = 1.0 / (s * compliance * (1.0 - self.creep * np.log10(s / ws)))
        moving = s * mass + ws * mass / self.qms + self.sound(frequency_hz) * area**2
        network.connect("cone", "ground", np.asarray(suspension + moving, np.complex128))
        network.gyrator("cone", "box", area)
        network.connect("box", "ground", self.box_admittance(frequency_hz))
        return np.asarray(self.series_ohm + network.impedance_at("coil"))

    def tuning_hz(self) -> float:
        """Where the susceptance of the box is zero, by Brent's method."""
        return float(
            brentq(lambda hz: self.box_admittance(np.array([hz]))[0].imag, 0.5 * self.fb_hz, 2.0 * self.fb_hz)
        )


CABINETS = {
    "bookshelf": Cabinet(),
    "semi-inductor": Cabinet(coil="semi"),
    "large coil": Cabinet(coil_scale=4.0),
    "no creep": Cabinet(creep=0.0),
    "much creep": Cabinet(creep=0.25),
    "no sound": Cabinet(radiates=False),
    "plain friction": Cabinet(friction_exponent=0.0, qp=25.0),
    "steep friction": Cabinet(friction_exponent=1.0, qp=40.0),
    "series resistance": Cabinet(series_ohm=2.0),
    "guitar cabinet": Cabinet(
        fs_hz=75.0, qes=0.8, qms=7.0, vas_m3=0.08, volume_m3=0.06, fb_hz=70.0, coil_scale=1.5
    ),
    "15-inch box": Cabinet(
        fs_hz=28.0, qes=0.35, vas_m3=0.35, volume_m3=0.18, fb_hz=30.0, ql=7.0, coil_scale=3.0
    ),
    "3-litre box": Cabinet(
        fs_hz=80.0, qes=0.5, vas_m3=0.0025, volume_m3=0.003, fb_hz=68.0, qp=20.0, coil_scale=0.4
    ),
    "tuned low": Cabinet(fb_hz=29.0),
    "tuned high": Cabinet(fb_hz=60.0, ql=8.0),
    "nearly sealed off": Cabinet(vas_m3=0.12, fb_hz=36.0),
    "soft suspension": Cabinet(vas_m3=0.012, fb_hz=45.0),
}


def _fitted(make: MakeCurve, cabinet: Cabinet, noise: float = 2e-3, design: Design | None = None) -> BoxFit:
    curve = make(FREQUENCY_HZ, cabinet.impedance(FREQUENCY_HZ), noise, 4)
    fit = fit_vented_box(curve, find_landmarks(curve), design)
    assert fit is not None
    return fit


@pytest.mark.parametrize("name", CABINETS)
def test_tuning_of_other_physics(noisy_curve: MakeCurve, name: str) -> None:
    # independent: the root of the box's susceptance, and a nodal solve in physical units
    cabinet = CABINETS[name]
    fit = _fitted(noisy_curve, cabinet)
    tuning_hz = cabinet.tuning_hz()
    assert fit.tuning_hz.value == pytest.approx(tuning_hz, rel=3e-3)
    assert fit.tuning_hz.holds(tuning_hz)
    admittance = cabinet.box_admittance(np.array([tuning_hz]))[0]
    true_q = 2.0 * np.pi * tuning_hz * cabinet.volume_m3 / STIFFNESS_PA / admittance.real
    assert fit.box_q.value == pytest.approx(true_q, rel=0.1)
    assert fit.box_q.holds(float(true_q))
    assert fit.compliance_ratio.value == pytest.approx(cabinet.vas_m3 / cabinet.volume_m3, rel=0.04)
    assert fit.fs_hz.value == pytest.approx(cabinet.fs_hz, rel=0.02)
    assert fit.re_ohm == pytest.approx(cabinet.re_ohm + cabinet.series_ohm, rel=0.02)
    assert fit.residual < 0.01
    assert fit.closed_box_misfit > 10.0
    assert fit.noise == pytest.approx(2e-3, rel=1e-3)


def test_crossover_and_volume_of_the_design_are_known(noisy_curve: MakeCurve) -> None:
    crossover = Crossover(series_h=1.5e-3, series_ohm=0.4, shunt_f=30e-6, shunt_ohm=1.0)
    cabinet = Cabinet()
    s = 2j * np.pi * FREQUENCY_HZ
    z = 0.4 + s * 1.5e-3 + 1.0 / (1.0 / cabinet.impedance(FREQUENCY_HZ) + 1.0 / (1.0 + 1.0 / (s * 30e-6)))
    design = Design("behind a crossover", Box(0.025), tuning=Tuning(41.0), crossover=crossover)
    curve = noisy_curve(FREQUENCY_HZ, z, 1e-3, 2)
    fit = fit_vented_box(curve, find_landmarks(curve), design)
    assert fit is not None
    assert fit.tuning_hz.value == pytest.approx(cabinet.tuning_hz(), rel=3e-3)
    assert fit.re_ohm == pytest.approx(5.8, rel=0.02)
    inside = slice(*np.searchsorted(FREQUENCY_HZ, fit.band_hz))
    np.testing.assert_allclose(fit.model_ohm[inside], z[inside], rtol=0.005)
    # beyond the band the fit does not look, and its parts of the crossover are known to 5 % only
    np.testing.assert_allclose(fit.model_ohm, z, rtol=0.1)


def test_unknown_gain_error_is_found_and_not_read_as_box(noisy_curve: MakeCurve) -> None:
    # exact: divider wiring, channel 2 too high by 0.6 %: Z' = R T'/(1 - T'), T' = 1.006 T
    cabinet, reference_ohm = Cabinet(), 10.0
    z = cabinet.impedance(FREQUENCY_HZ)
    ratio = 1.006 * z / (reference_ohm + z)
    wrong = noisy_curve(FREQUENCY_HZ, reference_ohm * ratio / (1.0 - ratio), 1e-3, 6)
    slope = 0.006 * wrong.impedance_ohm * (1.0 + wrong.impedance_ohm / reference_ohm)
    known = replace(wrong, jig_slopes_ohm=slope[None, :])
    marks = find_landmarks(known)
    fit = fit_vented_box(known, marks)
    assert fit is not None
    assert fit.tuning_hz.value == pytest.approx(cabinet.tuning_hz(), rel=3e-3)
    assert fit.tuning_hz.holds(cabinet.tuning_hz())


def test_closed_box_is_explained_as_well_without_a_vent(noisy_curve: MakeCurve) -> None:
    # a closed box with landmarks that somebody imagined: the vented circuit explains hardly more
    closed = VentedBox(
        re_ohm=6.0, coil_ohm=0.6, coil_exponent=0.7, res_ohm=50.0, ws_rad_s=2 * np.pi * 60.0, qms=4.0, creep=0.1,
        alpha=0.0, wb_rad_s=0.0,
    )  # fmt: skip
    curve = noisy_curve(FREQUENCY_HZ, impedance(2j * np.pi * FREQUENCY_HZ, closed), 5e-3, 1)
    imagined = Landmarks((), Landmark(35.0, 20.0), Landmark(45.0, 10.0), Landmark(60.0, 56.0))
    fit = fit_vented_box(curve, imagined)
    assert fit is None or fit.closed_box_misfit < 1.5


def test_fitted_curve_covers_all_measured_frequencies(noisy_curve: MakeCurve) -> None:
    fit = _fitted(noisy_curve, Cabinet())
    np.testing.assert_array_equal(fit.frequency_hz, FREQUENCY_HZ)
    low_hz, high_hz = fit.band_hz
    inside = slice(*np.searchsorted(FREQUENCY_HZ, [low_hz, high_hz]))
    error = np.abs(fit.model_ohm / Cabinet().impedance(FREQUENCY_HZ) - 1.0)[inside]
    assert error.max() < 0.02
    assert fit.log_covariance.shape == (4, 4)
    assert np.linalg.eigvalsh(fit.log_covariance).min() > 0.0
    assert fit.qes == pytest.approx(0.4, rel=0.05)


def test_scaled_frequencies_scale_the_tuning_alone(noisy_curve: MakeCurve) -> None:
    # exact: the ladder at twice the frequency is the ladder with twice all resonances; the radiated sound and what
    # is known beforehand of coil and gaps are not so, hence the tolerance
    cabinet = Cabinet(radiates=False)
    curve = noisy_curve(FREQUENCY_HZ, cabinet.impedance(FREQUENCY_HZ), 1e-3, 8)
    doubled = replace(curve, frequency_hz=2.0 * FREQUENCY_HZ)
    fits = [fit_vented_box(each, find_landmarks(each)) for each in (curve, doubled)]
    assert fits[0] is not None
    assert fits[1] is not None
    assert fits[1].tuning_hz.value / fits[0].tuning_hz.value == pytest.approx(2.0, rel=2e-3)
    assert fits[1].box_q.value / fits[0].box_q.value == pytest.approx(1.0, rel=0.05)


def test_no_peaks_no_fit(noisy_curve: MakeCurve) -> None:
    curve = noisy_curve(FREQUENCY_HZ, Cabinet().impedance(FREQUENCY_HZ), 1e-3)
    assert fit_vented_box(curve, Landmarks((), None, None, None)) is None


def test_too_few_points_no_fit(noisy_curve: MakeCurve) -> None:
    few_hz = np.geomspace(10.0, 200.0, 6)
    curve = noisy_curve(few_hz, Cabinet().impedance(few_hz), 1e-3)
    marks = Landmarks((), Landmark(24.0, 30.0), Landmark(41.0, 7.0), Landmark(70.0, 40.0))
    assert fit_vented_box(curve, marks) is None


def test_pure_noise_gives_no_error(noisy_curve: MakeCurve) -> None:
    # a doubtful fit is a finding, never an exception
    rng = np.random.default_rng(2)
    junk = ImpedanceCurve(
        FREQUENCY_HZ, np.asarray(rng.uniform(2.0, 60.0, 900) * np.exp(1j * rng.uniform(-3.0, 3.0, 900))),
        np.full(900, 0.1),
    )  # fmt: skip
    fit = fit_vented_box(junk, Landmarks((), Landmark(24.0, 30.0), Landmark(41.0, 7.0), Landmark(70.0, 40.0)))
    assert fit is None or fit.residual > 0.3
