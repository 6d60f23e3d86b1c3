"""One contract for every kind of jig correction: distort, correct, get the truth back; and an honest uncertainty.

The virtual jig here is Ohm's law with its parts in place; it shares nothing with the correction.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import chain, combinations
from typing import Literal

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import correction_in_words, impedance_curve
from sealtune.analysis.jig_faults import standard_faults
from sealtune.analysis.jig_standards import MeasuredStandards, smoothed, smoothed_standards, standard_at
from sealtune.records.recording import Jig, JigStandards, KnownResistor, Standard, Sweep, Wiring
from sealtune.signals.transfer_function import Ratio
from sealtune.virtual.sound_card import SoundCard, record

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Name = Literal["balance", "open", "short", "resistor"]

NAMES: tuple[Name, ...] = ("balance", "open", "short", "resistor")
SUBSETS: list[tuple[Name, ...]] = list(chain.from_iterable(combinations(NAMES, k) for k in range(5)))
WIRINGS: tuple[Wiring, ...] = ("divider", "sense")
every_subset = pytest.mark.parametrize("subset", SUBSETS, ids=lambda subset: "+".join(subset) or "none")
both_wirings = pytest.mark.parametrize("wiring", WIRINGS)

HZ = np.geomspace(4.0, 1000.0, 60)
DRAWS = 200
MANY_HZ = np.geomspace(4.0, 1000.0, 24 * DRAWS)
"""Each frequency has a draw of its own, as the correction takes each by itself; so many neighbours stand for one."""

GRID = np.geomspace(4.0, 1000.0, 12)
KNOWN_OHM = 8.2
MARKED = {"divider": 22.0, "sense": 4.7}


def box(hz: Reals) -> Complexes:
    """A vented box's double peak, 6 to about 45 ohm, with a voice coil."""

    def peak(at_hz: float, height: float, q: float) -> Complexes:
        return np.asarray(height / (1.0 + 1j * q * (hz / at_hz - at_hz / hz)), dtype=np.complex128)

    return 5.8 + peak(25.0, 27.0, 6.0) + peak(70.0, 38.0, 5.0) + 0.02 * (2j * np.pi * hz) ** 0.7


@dataclass(frozen=True)
class VirtualJig:
    """Parts of a jig; an array holds one value for each frequency."""

    wiring: Wiring
    reference_ohm: float | Reals
    gain: float | Reals = 1.0
    lag_s: float = 0.0
    corner_shift: float = 0.0
    leads_ohm: float | Reals = 0.0
    leads_h: float = 0.0
    loading_s: float | Reals = 0.0
    loading_f: float = 0.0

    def inputs(self, hz: Reals) -> Complexes:
        """Gain of input 2 over input 1: level, lag, and high-passes at 3 Hz with unequal corners."""
        corners = [1j * hz / (3.0 * (1.0 + shift)) for shift in (0.0, self.corner_shift)]
        first, second = (x / (1.0 + x) for x in corners)
        return np.asarray(self.gain * second / first * np.exp(-2j * np.pi * hz * self.lag_s))

    def reads(self, hz: Reals, load_ohm: Complexes | None, *, exchanged: bool = False) -> Complexes:
        """Channel 2 over channel 1 with a load, None for nothing between the clips."""
        w = 2j * np.pi * hz
        beside = self.loading_s + w * self.loading_f
        leads = self.leads_ohm + w * self.leads_h
        # the box's side of the reference as admittance, or for a load of nothing and no leads as impedance 0
        if load_ohm is None:
            voltage, current = np.ones(hz.size, complex), beside
        else:
            voltage = load_ohm + leads
            current = 1.0 + beside * voltage
        across = self.reference_ohm * current
        first, second = (voltage + across, voltage) if self.wiring == "divider" else (voltage, across)
        second = second * self.inputs(hz)
        return np.asarray(first / second if exchanged else second / first, dtype=np.complex128)

    def standard(self, name: Name, hz: Reals) -> Complexes:
        if name == "balance":
            return self.inputs(hz)
        if name == "open":
            return self.reads(hz, None)
        if name == "short":
            return self.reads(hz, np.zeros(hz.size, complex), exchanged=self.wiring == "sense")
        return self.reads(hz, np.full(hz.size, KNOWN_OHM, complex))


def stored(hz: Reals, value: Complexes, sigma: float = 0.0) -> Standard:
    return Standard(tuple(hz.tolist()), tuple(value.tolist()), (sigma,) * hz.size)


def calibrated(
    wiring: Wiring,
    subset: tuple[Name, ...],
    values: dict[Name, Complexes],
    hz: Reals,
    sigma: float = 0.0,
) -> Jig:
    """The jig as the user knows it, with the standards of the subset."""
    known = {name: stored(hz, values[name], sigma) for name in subset}
    resistor = KnownResistor(KNOWN_OHM, known["resistor"], 0.01) if "resistor" in known else None
    standards = JigStandards(known.get("balance"), known.get("open"), known.get("short"), resistor)
    return Jig(wiring, MARKED[wiring], 0.01, standards if subset else None)


def corrected(jig: Jig, hz: Reals, reading: Complexes, sigma: float = 0.0) -> Complexes:
    return impedance_curve(Ratio(hz, reading, np.full(hz.size, sigma), np.ones(hz.size)), jig).impedance_ohm


def correctable(wiring: Wiring, subset: tuple[Name, ...], loading: dict[str, float]) -> VirtualJig:
    """A jig with as much wrong as the subset can put right, by what each known load tells of it."""
    has = set(subset)
    jig = VirtualJig(wiring, MARKED[wiring])
    gain = "balance" in has or ("open" if wiring == "divider" else "resistor") in has
    if gain:
        jig = replace(jig, gain=1.07, lag_s=3e-6, corner_shift=0.2)
    if "short" in has:
        jig = replace(jig, leads_ohm=0.08, leads_h=2e-6)
    if "resistor" in has:
        jig = replace(jig, reference_ohm=1.02 * jig.reference_ohm)
    # an open divider alone cannot tell its loading from its gain
    if "open" in has and (wiring == "sense" or has & {"balance", "resistor"}):
        jig = replace(jig, loading_s=loading.get("loading_s", 0.0), loading_f=loading.get("loading_f", 0.0))
    return jig


LOADINGS = pytest.mark.parametrize(
    "loading", [{"loading_s": 1e-6, "loading_f": 100e-12}, {"loading_s": 1e-4}], ids=["1Mohm", "10kohm"]
)


@LOADINGS
@both_wirings
@every_subset
def test_distorted_then_corrected_is_the_truth(
    wiring: Wiring, subset: tuple[Name, ...], loading: dict[str, float]
) -> None:
    virtual = correctable(wiring, subset, loading)
    values = {name: virtual.standard(name, HZ) for name in NAMES}
    reading = virtual.reads(HZ, box(HZ))
    # exact: Ohm's law inverted
    found = corrected(calibrated(wiring, subset, values, HZ), HZ, reading)
    np.testing.assert_allclose(found, box(HZ), rtol=1e-9)
    if subset:
        # exact: 1 Mohm beside the peak of 40 ohm takes 4e-5 off, the least of all distortions
        bare = corrected(Jig(wiring, MARKED[wiring]), HZ, reading)
        assert np.abs(bare / box(HZ) - 1.0).max() > 3e-5


@LOADINGS
@both_wirings
@every_subset
def test_a_dozen_frequencies_are_enough(
    wiring: Wiring, subset: tuple[Name, ...], loading: dict[str, float]
) -> None:
    virtual = correctable(wiring, subset, loading)
    values = {name: virtual.standard(name, GRID) for name in NAMES}
    found = corrected(calibrated(wiring, subset, values, GRID), HZ, virtual.reads(HZ, box(HZ)))
    # exact but for the interpolation: corners 20 % apart at 3 Hz bend the gain by 8 % between 4 and 10 Hz
    error = np.abs(found / box(HZ) - 1.0)
    assert error.max() < 2e-3
    assert np.median(error) < 1e-4


def drawn(
    wiring: Wiring, subset: tuple[Name, ...], rng: np.random.Generator
) -> tuple[VirtualJig, VirtualJig]:
    """Jigs as they are while their known loads are measured and later with the box, by the stated uncertainties.

    common practice, as the correction states it: gain 0.6 %, leads 0.03 ohm, inputs 6e-5 S, resistors 1 %, drift
    of the gain 0.05 %, contacts 0.005 ohm
    """

    def off() -> Reals:
        return rng.standard_normal(MANY_HZ.size)

    has = set(subset)
    jig = known = correctable(wiring, subset, {"loading_s": 1e-4})
    if known.gain == 1.0:
        jig = replace(jig, gain=1.0 + 0.006 * off())
    if known.leads_ohm == 0.0:
        jig = replace(jig, leads_ohm=0.03 * off())
    if known.loading_s == 0.0:
        jig = replace(jig, loading_s=6e-5 * off())
    # the reference where no known resistor replaces it
    if "resistor" not in has:
        jig = replace(jig, reference_ohm=jig.reference_ohm * (1.0 + 0.01 * off()))
    later = jig
    if has & {"balance", "open", "resistor"}:
        later = replace(later, gain=later.gain * (1.0 + 0.0005 * off()))
    if has & {"short", "resistor"}:
        later = replace(later, leads_ohm=later.leads_ohm + 0.005 * off())
    return jig, later


@both_wirings
@every_subset
def test_what_stays_unknown_is_as_large_as_it_says(wiring: Wiring, subset: tuple[Name, ...]) -> None:
    rng, hz = np.random.default_rng(7), MANY_HZ
    before, later = drawn(wiring, subset, rng)
    values = {name: before.standard(name, hz) for name in NAMES}
    # the known resistor is not quite what it says
    error = 1.0 + 0.01 * rng.standard_normal(hz.size)
    values["resistor"] = before.reads(hz, np.asarray(KNOWN_OHM * error, dtype=np.complex128))
    jig = calibrated(wiring, subset, values, hz)
    curve = impedance_curve(
        Ratio(hz, later.reads(hz, box(hz)), np.full(hz.size, 1e-9), np.ones(hz.size)), jig
    )
    assert curve.jig_slopes_ohm is not None
    assert np.all(np.any(curve.jig_slopes_ohm, axis=1))
    spread = np.sqrt(np.sum(np.abs(curve.jig_slopes_ohm) ** 2, axis=0))
    found = (np.abs(curve.impedance_ohm - box(hz)) / spread).reshape(-1, DRAWS)
    # exact: unit variance; 4800 draws scatter it by 1 %, 200 by 5 %
    assert 0.9 < np.sqrt(np.mean(found**2)) < 1.1
    assert np.all(np.sqrt(np.mean(found**2, axis=1)) > 0.7)
    assert np.all(np.sqrt(np.mean(found**2, axis=1)) < 1.3)
    # exact: a normal quantity exceeds three of its standard deviations 0.5 times in 200; one of five or more has
    # the probability 0.0002
    assert np.sum(found > 3.0, axis=1).max() <= 4


@both_wirings
@every_subset
def test_each_row_is_the_change_by_one_standard_deviation(wiring: Wiring, subset: tuple[Name, ...]) -> None:
    has = set(subset)
    known = correctable(wiring, subset, {"loading_s": 1e-4})
    part = 1e-4
    gain_known = "balance" in has or ("open" if wiring == "divider" else "resistor") in has
    open_gain = wiring == "divider" and "open" in has and "balance" not in has
    # changes while everything is measured, or only later, with the box
    changes: list[tuple[VirtualJig, VirtualJig, float]] = []
    if not gain_known:
        off = replace(known, gain=1.0 + 0.006 * part)
        changes.append((off, off, 1.0))
    if gain_known or "resistor" in has:
        changes.append((known, replace(known, gain=known.gain * (1.0 + 0.0005 * part)), 1.0))
    changes.append((known, known, 1.0 + 0.01 * part))
    if "short" not in has:
        off = replace(known, leads_ohm=0.03 * part)
        changes.append((off, off, 1.0))
    if has & {"short", "resistor"}:
        changes.append((known, replace(known, leads_ohm=known.leads_ohm + 0.005 * part), 1.0))
    if "open" not in has:
        off = replace(known, loading_s=6e-5 * part)
        changes.append((off, off, 1.0))
    curve = None
    for row, (before, later, scale) in enumerate(changes):
        jig = calibrated(wiring, subset, {name: before.standard(name, HZ) for name in NAMES}, HZ)
        curve = impedance_curve(
            Ratio(HZ, later.reads(HZ, box(HZ)), np.full(HZ.size, 1e-9), np.ones(HZ.size)), jig
        )
        assert curve.jig_slopes_ohm is not None
        assert curve.jig_slopes_ohm.shape == (len(changes), HZ.size)
        change = (curve.impedance_ohm * scale - box(HZ)) / part
        # exact: the derivative; the reference's uncertainty holds what the loading of an open divider adds to it
        extra = np.hypot(1.0, MARKED[wiring] * 6e-5 / 0.01) if scale != 1.0 and open_gain else 1.0
        if "resistor" in has:
            extra = 1.0
        np.testing.assert_allclose(curve.jig_slopes_ohm[row], extra * change, rtol=1e-3, atol=1e-7)


@both_wirings
@every_subset
def test_the_noise_is_that_of_many_repeats(wiring: Wiring, subset: tuple[Name, ...]) -> None:
    rng = np.random.default_rng(11)
    virtual = correctable(wiring, subset, {"loading_s": 1e-4})
    if virtual.gain != 1.0:
        virtual = replace(virtual, gain=1.8)
    hz = MANY_HZ[(MANY_HZ > 8.0) & (MANY_HZ < 400.0)]
    hz = hz[: hz.size // DRAWS * DRAWS]
    values = {name: virtual.standard(name, hz) for name in NAMES}
    reading, noise = virtual.reads(hz, box(hz)), 2e-5

    def noisy(value: Complexes, sigma: float) -> Complexes:
        return value + sigma * (rng.standard_normal(hz.size) + 1j * rng.standard_normal(hz.size))

    quiet = corrected(calibrated(wiring, subset, values, hz), hz, reading)
    for of_reading, of_standards in ((noise, 0.0), (0.0, noise)):
        standards = {name: noisy(value, of_standards) for name, value in values.items()}
        drawn = corrected(calibrated(wiring, subset, standards, hz), hz, noisy(reading, of_reading))
        told = impedance_curve(
            Ratio(hz, reading, np.full(hz.size, of_reading), np.ones(hz.size)),
            calibrated(wiring, subset, values, hz, of_standards),
        ).sigma_ohm
        if of_reading or subset:
            off = (np.abs(drawn - quiet) / told).reshape(-1, DRAWS)
            # independent: 200 draws of two parts scatter a deviation by 3.5 %; what is below 1e-6 of Z counts as 1e-6
            least = (1e-6 * np.abs(box(hz)) / told).reshape(-1, DRAWS)
            expected = np.maximum(np.sqrt(0.5 * np.mean(off**2, axis=1)), least.mean(axis=1))
            assert np.all(np.abs(expected - 1.0) < 0.15)
            assert abs(np.mean(expected) - 1.0) < 0.03


def test_without_standards_nothing_changes() -> None:
    # exact: Z = R T/(1 - T) and R/T
    t = VirtualJig("divider", 22.0, gain=1.01).reads(HZ, box(HZ))
    np.testing.assert_allclose(corrected(Jig("divider", 22.0), HZ, t), 22.0 * t / (1.0 - t), rtol=1e-14)
    np.testing.assert_allclose(corrected(Jig("sense", 22.0), HZ, t), 22.0 / t, rtol=1e-14)
    assert corrected(Jig("divider", 22.0), HZ, t) == pytest.approx(
        corrected(Jig("divider", 22.0, standards=JigStandards()), HZ, t)
    )
    exactly = impedance_curve(Ratio(HZ, t, 1e-9 * HZ, HZ), Jig("divider", 22.0, reference_uncertainty=0.0))
    assert exactly.jig_slopes_ohm is not None
    assert len(exactly.jig_slopes_ohm) == 3


def test_beyond_its_frequencies_a_standard_is_held_and_trusted_less() -> None:
    standard = stored(GRID, 1.0 + 0.01j * np.log2(GRID / 4.0), 1e-5)
    value, sigma = standard_at(standard, np.array([1.0, 2.0, 4.0, 1000.0, 2000.0]))
    np.testing.assert_allclose(value[:3], 1.0)
    assert value[4] == value[3]
    np.testing.assert_allclose(sigma[[2, 3]], 1e-5)
    # exact: 0.01 per octave of its own slope and 0.002 of its size
    np.testing.assert_allclose(sigma[[0, 1]], [0.024, 0.012], rtol=1e-3)
    assert sigma[4] == pytest.approx(0.01 + 0.002 * abs(value[4]), rel=1e-3)
    two = Standard((10.0, 1000.0), (1.0 + 0j, 3.0 + 2j), (0.1, 0.3))
    value, sigma = standard_at(two, np.array([100.0]))
    assert (value[0], sigma[0]) == (pytest.approx(2.0 + 1j), pytest.approx(0.2))


def measured(value: Complexes, hz: Reals, sigma: float, rng: np.random.Generator) -> Ratio:
    noise = sigma * (rng.standard_normal(hz.size) + 1j * rng.standard_normal(hz.size))
    return Ratio(hz, value + noise, np.full(hz.size, sigma), np.ones(hz.size))


def test_smoothing_takes_the_noise_and_leaves_the_function() -> None:
    rng = np.random.default_rng(3)
    hz = np.geomspace(4.0, 1000.0, 900)
    truth = VirtualJig("divider", 10.0, gain=1.03, lag_s=3e-6, corner_shift=0.2).inputs(hz)
    ratios = []
    for _ in range(40):
        standard = smoothed(measured(truth, hz, 1e-3, rng))
        value, sigma = standard_at(standard, hz)
        ratios.append(np.abs(value - truth) / (np.sqrt(2.0) * sigma))
        # exact: 900 points on 16 frequencies leave about sqrt(16/900) of the noise
        assert 0.5 < np.median(sigma) / (1e-3 * np.sqrt(16 / 900)) < 2.0
    assert 0.7 < np.sqrt(np.mean(np.square(ratios))) < 1.3
    # what no spline follows makes the uncertainty larger
    rough = truth + 0.01 * np.sin(40.0 * np.log(hz))
    assert min(smoothed(measured(rough, hz, 1e-5, rng)).sigma) > 1e-4
    with pytest.raises(ValueError, match="at least 8"):
        smoothed(measured(truth[:5], hz[:5], 1e-3, rng))


def measured_standards(
    virtual: VirtualJig, rng: np.random.Generator, **other: Complexes
) -> MeasuredStandards:
    hz = np.geomspace(4.0, 1000.0, 600)
    values: dict[str, Complexes] = {name: virtual.standard(name, hz) for name in NAMES}
    ratios = {
        name: measured(other.get(name, value) * np.ones(hz.size), hz, 1e-5, rng)
        for name, value in values.items()
    }
    return MeasuredStandards(
        ratios["balance"], ratios["open"], ratios["short"], ratios["resistor"], KNOWN_OHM, 0.001
    )


@both_wirings
def test_a_calibration_from_start_to_end(wiring: Wiring) -> None:
    rng = np.random.default_rng(5)
    virtual = replace(
        correctable(wiring, NAMES, {"loading_s": 1e-4}), reference_ohm=MARKED[wiring] * 1.01, gain=1.07
    )
    jig = Jig(wiring, MARKED[wiring], standards=smoothed_standards(measured_standards(virtual, rng)))
    assert standard_faults(jig) == ()
    found = corrected(jig, HZ, virtual.reads(HZ, box(HZ)))
    # exact but for noise of 1e-5 and the spline
    assert np.abs(found / box(HZ) - 1.0).max() < 2e-3
    with pytest.raises(ValueError, match="value in ohm"):
        smoothed_standards(replace(measured_standards(virtual, rng), resistor_ohm=0.0))


@both_wirings
@pytest.mark.parametrize(
    ("change", "standard", "impossible", "words"),
    [
        ({"open": "box"}, "open", False, "leads open"),
        ({"short": "2 ohm"}, "short", False, "shorted leads have 2"),
        ({"resistor": "10 ohm"}, "resistor", False, "of 8.2 ohm reads 10 ohm"),
        ({"resistor": "open"}, "open", True, "known resistor and leads open are the same"),
        ({"resistor": "short"}, "resistor", True, "leads shorted and known resistor are the same"),
        (
            {"open": "short", "short": "open"},
            "resistor",
            True,
            "leads shorted has more ohms than known resistor",
        ),
        ({"balance": "loud"}, "balance", False, "reads 3"),
        ({"balance": "upside down"}, "balance", False, "upside down"),
        ({"balance": "silent"}, "balance", True, "hears nothing"),
    ],
)
def test_standards_that_cannot_be_right_are_told(
    wiring: Wiring, change: dict[str, str], standard: str, impossible: bool, words: str
) -> None:
    hz = np.geomspace(4.0, 1000.0, 600)
    virtual = VirtualJig(wiring, MARKED[wiring], leads_ohm=0.02, loading_s=1e-6)
    one: Complexes = np.ones(hz.size, dtype=np.complex128)
    loads: dict[str, Complexes | None] = {
        "box": 20.0 * one,
        "2 ohm": 2.0 * one,
        "10 ohm": 10.0 * one,
        "short": 0.0 * one,
        "open": None,
    }
    gains = {"loud": 3.0, "upside down": -1.0, "silent": 1e-6}
    other: dict[str, Complexes] = {}
    for name, what in change.items():
        exchanged = name == "short" and wiring == "sense"
        other[name] = (
            gains[what] * one if what in gains else virtual.reads(hz, loads[what], exchanged=exchanged)
        )
    if wiring == "sense" and change.get("short") == "open":
        other["short"] = 1.0 / virtual.standard("open", hz)
    rng = np.random.default_rng(1)
    jig = Jig(wiring, MARKED[wiring], standards=smoothed_standards(measured_standards(virtual, rng, **other)))
    found = [fault for fault in standard_faults(jig) if fault.standard == standard]
    assert found
    assert found[0].impossible is impossible
    assert words in found[0].detail
    assert found[0].remedy


def test_bands_that_do_not_meet_and_no_standards() -> None:
    assert standard_faults(Jig("divider", 10.0)) == ()
    low = Standard((4.0, 20.0), (1 + 0j, 1 + 0j), (0.0, 0.0))
    high = Standard((30.0, 200.0), (0j, 0j), (0.0, 0.0))
    found = standard_faults(Jig("divider", 10.0, standards=JigStandards(open_leads=low, shorted_leads=high)))
    assert [fault.impossible for fault in found] == [True]
    assert "do not overlap" in found[0].detail


@both_wirings
def test_a_calibration_through_a_sound_card(wiring: Wiring) -> None:
    """Sweeps, hum, noise, 24 bits and unequal inputs; the leads' 0.05 ohm are part of every load."""
    rng = np.random.default_rng(8)
    card = SoundCard(mismatch_db=0.5, delay_samples=0.3, roll_off_hz=3.0, roll_off_mismatch=0.2)
    true_jig = Jig(wiring, 1.02 * MARKED[wiring])

    def ratio(
        load: Callable[[Reals], Complexes], through: Jig = true_jig, *, exchanged: bool = False
    ) -> Ratio:
        sweep = Sweep(5.0, 1000.0, 4.0, begins_s=0.5, fade_s=0.05)
        take = record(lambda hz: load(hz) + 0.05, through, sweep, "open", rng, card=card, rate_hz=8000.0)
        return measure_ratio(replace(take, channels=take.channels[:, ::-1]) if exchanged else take).ratio

    def resistance(ohm: float) -> Callable[[Reals], Complexes]:
        return lambda hz: np.full(hz.size, ohm, dtype=np.complex128)

    standards = smoothed_standards(
        MeasuredStandards(
            open_leads=ratio(resistance(1e7)),
            shorted_leads=ratio(resistance(0.0), exchanged=wiring == "sense"),
            resistor=ratio(resistance(KNOWN_OHM)),
            resistor_ohm=KNOWN_OHM,
        )
    )
    jig = Jig(wiring, MARKED[wiring], standards=standards)
    if wiring == "sense":
        # 0.5 dB between the inputs looks like a wrong resistor, until both have been put on one point
        assert ["on one point" in fault.remedy for fault in standard_faults(jig)] == [True]
        balance = smoothed(ratio(resistance(10.0), Jig("divider", 1e-9)))
        jig = replace(jig, standards=replace(standards, balance=balance))
    assert standard_faults(jig) == ()
    reading = ratio(box)
    inside = (reading.frequency_hz > 8.0) & (reading.frequency_hz < 400.0)
    errors = [
        np.abs(impedance_curve(reading, one).impedance_ohm / box(reading.frequency_hz) - 1.0)[inside]
        for one in (jig, Jig(wiring, MARKED[wiring]))
    ]
    # exact: Ohm's law; groups of bins bend the peaks by some 0.1 %; without correction 2 % and more are wrong
    assert np.percentile(errors[0], 95) < 3e-3
    assert np.median(errors[1]) > 0.015


def test_the_correction_in_words() -> None:
    one = stored(GRID, np.ones(GRID.size, dtype=np.complex128))
    assert correction_in_words(Jig("divider", 10.0)) == "not corrected by known loads"
    assert correction_in_words(Jig("divider", 10.0, standards=JigStandards(one))) == (
        "corrected by both inputs on one point"
    )
    full = JigStandards(None, one, one, KnownResistor(KNOWN_OHM, one))
    assert correction_in_words(Jig("divider", 10.0, standards=full)) == (
        "corrected by leads open, leads shorted and a resistor of 8.2 ohm"
    )
