"""Several curves of one cabinet fitted together, on cabinets whose physics the fit does not share."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.candidates import Curves
from sealtune.analysis.fit import fit_vented_box
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.parameters import VENTED
from sealtune.physics.vented_box import VentedBox
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Box, Design, Driver, DriverWiring, Tuning, Vent
from sealtune.records.fit import BoxFit
from sealtune.records.recording import Role
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.faults import with_hole, with_slit
from sealtune.virtual.population import draw_cabinet, draw_design

FREQUENCY_HZ = np.geomspace(4.0, 1000.0, 500)
NOISE = 1e-3
SEEDS = range(6)
ROLES: tuple[Role, ...] = ("open", "plugged", "free-air")


def measured(cabinet: VirtualCabinet, role: Role, seed: int, noise_share: float = NOISE) -> ImpedanceCurve:
    """A curve of a cabinet with seeded noise in either part, 0.1 % of |Z| if not told otherwise."""
    z = cabinet.impedance(FREQUENCY_HZ, role)
    rng = np.random.default_rng([seed, len(role)])
    noise = rng.standard_normal(z.size) + 1j * rng.standard_normal(z.size)
    sigma = noise_share * np.abs(z)
    return ImpedanceCurve(FREQUENCY_HZ, z + sigma * noise, sigma)


def fitted(design: Design, opened: ImpedanceCurve, **others: ImpedanceCurve) -> BoxFit:
    """The fit of the open curve with those named `plugged` and `free_air`."""
    roles: dict[str, Role] = {"plugged": "plugged", "free_air": "free-air"}
    fit = fit_vented_box(
        opened, find_landmarks(opened), design, {roles[name]: curve for name, curve in others.items()}
    )
    assert fit is not None
    return fit


@dataclass(frozen=True)
class Case:
    """A drawn cabinet, its open curve, and the fits of that curve alone and of all three."""

    design: Design
    cabinet: VirtualCabinet
    opened: ImpedanceCurve
    alone: BoxFit
    joint: BoxFit


def drawn(seed: int) -> tuple[Design, VirtualCabinet]:
    """A design of 5 to 150 L and a cabinet of it, without a leak of its own."""
    rng = np.random.default_rng(seed)
    design = draw_design(rng)
    return design, draw_cabinet(design, rng)


@pytest.fixture(scope="module")
def cases() -> tuple[Case, ...]:
    made = []
    for seed in SEEDS:
        design, cabinet = drawn(seed)
        opened = measured(cabinet, "open", seed)
        plugged, free = measured(cabinet, "plugged", seed), measured(cabinet, "free-air", seed)
        joint = fitted(design, opened, plugged=plugged, free_air=free)
        made.append(Case(design, cabinet, opened, fitted(design, opened), joint))
    return tuple(made)


def same(one: BoxFit, other: BoxFit) -> bool:
    """Whether two fits say the same of the box."""
    return (
        one.tuning_hz == other.tuning_hz
        and one.box_q == other.box_q
        and one.compliance_ratio == other.compliance_ratio
        and one.fs_hz == other.fs_hz
        and bool(np.all(one.log_covariance == other.log_covariance))
    )


def test_three_curves_give_tuning_and_losses(cases: tuple[Case, ...]) -> None:
    # independent: the cabinet's own acoustic admittance, a transmission line for the vent, exact viscous flow
    volumes = [case.cabinet.volume_m3 for case in cases]
    assert max(volumes) > 8.0 * min(volumes)  # of one kind they would prove little
    assert any(case.design.crossover for case in cases)
    for case in cases:
        truth, fit = case.cabinet.truth(), case.joint
        assert truth.tuning_hz is not None
        assert truth.box_q is not None
        assert fit.roles == ("open", "plugged", "free-air")
        assert fit.ignored_roles == ()
        assert fit.converged
        assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=5e-4), case.design.name
        assert fit.box_q.value == pytest.approx(truth.box_q, rel=0.08), case.design.name
        assert fit.tuning_hz.holds(truth.tuning_hz), case.design.name
        assert fit.box_q.holds(truth.box_q), case.design.name
        assert fit.compliance_ratio.value == pytest.approx(truth.compliance_ratio, rel=0.025), (
            case.design.name
        )
        assert fit.compliance_ratio.holds(truth.compliance_ratio), case.design.name
        assert fit.fs_hz.holds(truth.fs_hz), case.design.name
        assert fit.re_ohm == pytest.approx(truth.re_ohm, rel=0.01), case.design.name
        assert fit.qms == pytest.approx(truth.qms, rel=0.05), case.design.name


def test_more_curves_make_narrower_intervals(cases: tuple[Case, ...]) -> None:
    # exact: knowledge that fits never makes less sure; what it gains depends on the box, hence the median
    def narrowing(one: str) -> NDArray[np.float64]:
        pairs = [(getattr(case.joint, one), getattr(case.alone, one)) for case in cases]
        return np.array(
            [np.log(joint.high / joint.low) / np.log(alone.high / alone.low) for joint, alone in pairs]
        )

    for name, least_gain in (
        ("tuning_hz", 0.95),
        ("box_q", 0.97),
        ("compliance_ratio", 0.98),  # most of it is what no residual shows, 1 % whatever is measured
        ("fs_hz", 0.95),
    ):
        ratio = narrowing(name)
        assert np.median(ratio) < least_gain, name
        # each further curve brings a model error of its own, whose size is found anew
        assert ratio.max() < 1.3, name


@pytest.mark.parametrize("index", [0, 1, 2])
def test_curve_of_another_cabinet_is_left_out(cases: tuple[Case, ...], index: int) -> None:
    # exact: what is left out changes nothing
    case = cases[index]
    half = replace(case.cabinet, volume_m3=0.5 * case.cabinet.volume_m3)
    others = {"half the volume": half, "another design": drawn(index + 100)[1]}
    for name, cabinet in others.items():
        fit = fitted(case.design, case.opened, plugged=measured(cabinet, "plugged", index))
        assert fit.roles == ("open",), name
        assert fit.ignored_roles == ("plugged",), name
        assert same(fit, case.alone), name


def test_curve_of_a_slightly_other_cabinet_is_left_out(cases: tuple[Case, ...]) -> None:
    # exact: wherever the bung sits, no more than the duct's air is missing: a tenth of the volume, and in any case
    # five per cent more than the duct holds, is another cabinet
    for index, case in enumerate(cases[:4]):
        vent = case.cabinet.vent
        assert vent is not None
        duct = vent.count * vent.area_m2 * vent.length_m / case.cabinet.volume_m3
        for share in (min(0.9, 0.95 - duct), 2.0):
            other = replace(case.cabinet, volume_m3=share * case.cabinet.volume_m3)
            fit = fitted(case.design, case.opened, plugged=measured(other, "plugged", index))
            assert fit.ignored_roles == ("plugged",), (case.design.name, share)


def test_leaking_bung_does_not_bend_the_tuning(cases: tuple[Case, ...]) -> None:
    # a hole in the bung looks like one in the box that a longer vent makes up for: no curve tells them apart, and
    # the tuning of both together is the same
    for index, case in enumerate(cases[:3]):
        bung = with_hole(case.cabinet, 6.0, 15.0)
        fit = fitted(case.design, case.opened, plugged=measured(bung, "plugged", index))
        truth = case.cabinet.truth()
        assert truth.tuning_hz is not None
        assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=1e-3), case.design.name
        assert fit.tuning_hz.holds(truth.tuning_hz), case.design.name


def test_gap_of_the_cabinet_is_explained_by_both_curves() -> None:
    # independent: the cabinet's own admittance with a gap of 1.2 mm along 50 mm
    design, tight = drawn(6)
    cabinet = with_slit(tight, 1.2, 50.0, 15.0)
    fit = fitted(design, measured(cabinet, "open", 6), plugged=measured(cabinet, "plugged", 6))
    truth, before = cabinet.truth(), tight.truth()
    assert truth.tuning_hz is not None
    assert before.tuning_hz is not None
    assert truth.box_q is not None
    assert before.box_q is not None
    assert abs(truth.tuning_hz / before.tuning_hz - 1.0) > 0.01
    assert truth.box_q < 0.9 * before.box_q
    assert fit.roles == ("open", "plugged")
    assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=1e-3)
    assert fit.tuning_hz.holds(truth.tuning_hz)
    assert fit.box_q.holds(truth.box_q)


def test_gap_does_not_cost_the_further_curves() -> None:
    # the three curves are of one cabinet, whose gap of 0.8 mm along 50 mm shows in two of them
    for seed in range(3):
        design, tight = drawn(seed)
        cabinet = with_slit(tight, 0.8, 50.0, 15.0)
        plugged, free = measured(cabinet, "plugged", seed), measured(cabinet, "free-air", seed)
        fit = fitted(design, measured(cabinet, "open", seed), plugged=plugged, free_air=free)
        truth = cabinet.truth()
        assert fit.ignored_roles == (), design.name
        assert truth.tuning_hz is not None
        assert truth.box_q is not None
        assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=1e-3), design.name
        assert fit.tuning_hz.holds(truth.tuning_hz), design.name
        assert fit.box_q.holds(truth.box_q), design.name


def test_small_hole_does_not_cost_the_quiet_driver() -> None:
    # the circuit's leak is a slit: of a hole it is off by 0.04 %, ten times this noise
    design = Design(
        name="invented",
        box=Box(0.018, lining="walls"),
        vent=Vent("round", float(np.pi * 0.03**2), 0.14, diameter_m=0.06),
        driver=Driver(fs_hz=48.0, qms=4.2, qes=0.42, vas_m3=0.021, re_ohm=5.7, sd_m2=0.0132),
        tuning=Tuning(50.5),
    )
    cabinet = with_hole(cabinet_from_design(design, np.random.default_rng(900), scatter=1.0), 4.4, 15.0)
    opened, plugged, free = (measured(cabinet, role, 1, 4e-5) for role in ROLES)
    fit = fitted(design, opened, plugged=plugged, free_air=free)
    assert fit.ignored_roles == ()
    other = replace(cabinet, driver=replace(cabinet.driver, mass_kg=1.3 * cabinet.driver.mass_kg))
    strange = fitted(design, opened, plugged=plugged, free_air=measured(other, "free-air", 1, 4e-5))
    assert strange.ignored_roles == ("free-air",)


@pytest.mark.parametrize("wiring", ["parallel", "series"])
def test_one_of_two_drivers_in_free_air(wiring: DriverWiring) -> None:
    # exact: two alike in parallel have half the impedance of one, in series twice that
    single, _ = drawn(0)
    driver = single.driver
    assert driver.sd_m2
    assert driver.vas_m3
    pair = replace(driver, count=2, wiring=wiring, sd_m2=driver.sd_m2 / 2.0, vas_m3=driver.vas_m3 / 2.0)
    design = replace(single, driver=pair)
    cabinet = cabinet_from_design(design, np.random.default_rng(0))
    opened, free = measured(cabinet, "open", 3), measured(cabinet, "free-air", 3)
    fit, truth = fitted(design, opened, free_air=free), cabinet.truth()
    assert truth.tuning_hz is not None
    assert truth.re_ohm == pytest.approx(cabinet.driver.re_ohm * (0.5 if wiring == "parallel" else 2.0))
    assert fit.roles == ("open", "free-air")
    assert fit.tuning_hz.value == pytest.approx(truth.tuning_hz, rel=5e-4)
    assert fit.tuning_hz.holds(truth.tuning_hz)
    assert truth.box_q is not None
    assert fit.box_q.holds(truth.box_q)
    assert fit.re_ohm == pytest.approx(truth.re_ohm, rel=0.03)
    # taken for the only driver, it does not go with the box
    told_wrongly = fitted(replace(design, driver=replace(pair, count=1)), opened, free_air=free)
    assert told_wrongly.ignored_roles == ("free-air",)


def test_free_air_curve_tells_of_resistance_in_the_leads() -> None:
    # exact: two ohms between the terminals and the driver, of which the driver alone knows nothing
    design, sound = drawn(3)
    assert design.crossover is None
    cabinet = replace(sound, series_ohm=2.0)
    opened, free = measured(cabinet, "open", 9), measured(cabinet, "free-air", 9)
    truth = cabinet.truth()
    alone, joint = fitted(design, opened), fitted(design, opened, free_air=free)
    assert alone.re_ohm == pytest.approx(truth.re_ohm + 2.0, rel=0.01)  # one curve cannot tell them apart
    assert joint.roles == ("open", "free-air")
    assert joint.re_ohm == pytest.approx(truth.re_ohm, rel=0.03)

    assert truth.tuning_hz is not None
    start = VentedBox(
        re_ohm=truth.re_ohm, coil_ohm=1.0, coil_exponent=0.7, coil_h=1e-4, coil_shunt_s=0.03, res_ohm=truth.res_ohm,
        ws_rad_s=2.0 * np.pi * truth.fs_hz, qms=4.0, creep=0.08, alpha=truth.compliance_ratio,
        wb_rad_s=2.0 * np.pi * truth.tuning_hz, leakage=1 / 30, friction=1 / 43, plain_share=1 / 7,
        absorption=1 / 50, volume_m3=design.box.volume_m3, duct_share=0.01, air_load=1.04,
    )  # fmt: skip
    for ohm, low, high in ((2.0, 1.9, 2.1), (0.0, 0.0, 0.15)):
        mounted = measured(replace(sound, series_ohm=ohm), "open", 9)
        curves = Curves.of({"open": mounted, "free-air": free}, start, design)
        found = curves.thinned().searched(VENTED, start)
        assert found is not None
        before = found.model.packing.unpack_crossover(found.vector[: len(found.model.names)])
        assert before is not None
        assert low < before.series_ohm < high
