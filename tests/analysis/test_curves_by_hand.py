"""Faults of curves, of known loads and of gains on numbers made by hand, at either side of what each limit means."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.fit_by_hand import fit_by_hand

from sealtune.analysis.curve_faults import companion_problems, curve_problems, is_passive
from sealtune.analysis.gain_faults import fitted_drift_problems
from sealtune.analysis.known_loads import apparent_ohm, implausible
from sealtune.analysis.landmarks import find_landmarks
from sealtune.analysis.phase_faults import phase_problems
from sealtune.analysis.slips import slip_problems
from sealtune.records.curve import ImpedanceCurve, Landmark, Landmarks
from sealtune.records.design import Crossover
from sealtune.records.fit import Slip
from sealtune.records.interval import Interval
from sealtune.records.recording import Jig, JigStandards, Role, Standard, Step, Wiring

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
NOTHING = Landmarks((), None, None, None)


def resonator(hz: Reals, peak_hz: float, ohm: float, q: float) -> Complexes:
    return np.asarray(ohm / (1.0 + 1j * q * (hz / peak_hz - peak_hz / hz)), dtype=np.complex128)


def two_peaks(hz: Reals) -> Complexes:
    return 6.0 + resonator(hz, 25.0, 30.0, 5.0) + resonator(hz, 70.0, 30.0, 5.0)


def plain(hz: Reals, z: Complexes | None = None, noise: float = 1e-4) -> ImpedanceCurve:
    z = two_peaks(hz) if z is None else z
    return ImpedanceCurve(hz, z, noise * np.abs(z))


def told(
    hz: Reals, marks: Landmarks | None = None, z: Complexes | None = None, noise: float = 1e-4
) -> list[str]:
    curve = plain(hz, z, noise)
    found = curve_problems(curve, find_landmarks(curve) if marks is None else marks)
    return [f"{problem.problem}: {problem.detail}" for problem in found]


def test_a_tenth_of_the_points_may_seem_negative() -> None:
    # Exact, by counting: 9 and 11 of 100; what is within three deviations, or a thousandth of |Z|, is noise
    hz = np.geomspace(10.0, 300.0, 100)
    for count, passive in ((9, True), (11, False)):
        z = np.full(100, 5.0 + 1j)
        z[:count] = -5.0 + 1j
        assert is_passive(plain(hz, z)) == passive
    small = np.full(100, -0.0009 + 1j)
    assert is_passive(plain(hz, small, noise=1e-9))
    assert not is_passive(plain(hz, np.full(100, -0.0018 + 1j), noise=1e-9))
    assert is_passive(ImpedanceCurve(hz, np.full(100, -0.29 + 0j), np.full(100, 0.1)))
    assert not is_passive(ImpedanceCurve(hz, np.full(100, -0.31 + 0j), np.full(100, 0.1)))


def test_points_between_8_and_300_hz_are_counted() -> None:
    # Exact, by counting
    treble = np.geomspace(301.0, 5000.0, 50)
    few = told(np.concatenate([[100.0, 110.0, 120.0, 130.0, 140.0], treble]))
    assert few == ["band_too_narrow: There are 5 points between 8 and 300 Hz."]
    assert told(np.linspace(50.0, 100.0, 5)) == ["too_coarse: There are 5 points between 8 and 300 Hz."]
    assert told(np.geomspace(0.008, 0.6, 200)) == [
        "band_too_narrow: There are 0 points between 8 and 300 Hz, as if the frequency were in kHz."
    ]
    assert told(np.geomspace(165.0, 299.0, 60)) == [
        "band_too_narrow: The curve runs from 165 to 299 Hz; there is no peak yet, and both may lie above."
    ]
    assert "6 points" not in "".join(told(np.concatenate([np.linspace(100.0, 150.0, 6), treble])))
    octaves = np.log2(300.0 / 8.0)
    for count, names in ((int(8.0 * octaves) + 1, []), (int(8.0 * octaves), ["too_coarse"])):
        inside = np.geomspace(8.01, 299.0, count)
        assert [problem.problem for problem in companion_problems(plain(inside))] == names


@pytest.mark.parametrize(
    ("low_hz", "high_hz", "words"),
    [(30.0, 41.0, "There is no point between"), (30.0, 37.0, ""), (8.4, 11.5, ""), (165.0, 220.0, "")],
)
def test_a_gap_counts_where_boxes_have_their_peaks(low_hz: float, high_hz: float, words: str) -> None:
    # common practice: a quarter of the frequency hides a resonance of Q 5 to 10; boxes resonate from 12 to 160 Hz
    hz = np.geomspace(7.0, 600.0, 400)
    kept = hz[(hz < low_hz) | (hz > high_hz)]
    found = "".join(told(kept))
    assert (words in found) if words else not found


def test_points_around_the_peaks_are_counted_by_the_octave() -> None:
    # Exact: 8 points in an octave; from 25/1.4 to 70 x 1.4 Hz are 2.46 octaves
    for each, coarse in ((7.0, True), (9.5, False)):
        hz = 7.0 * 2.0 ** np.arange(0.0, 6.5, 1.0 / each)
        marks = Landmarks(
            (Landmark(25.0, 36.0), Landmark(70.0, 36.0)),
            Landmark(25.0, 36.0),
            Landmark(42.0, 8.0),
            Landmark(70.0, 36.0),
        )
        assert ("around the peaks, 18 to 98 Hz" in "".join(told(hz, marks))) == coarse


@pytest.mark.parametrize(
    ("noise", "lone", "noisy"),
    [(0.04, False, False), (0.06, False, True), (0.028, True, False), (0.032, True, True)],
)
def test_noise_is_told_where_it_hides_something(noise: float, lone: bool, noisy: bool) -> None:
    # Exact: the same noise over |Z| everywhere, 5 % for any curve, 3 % where a second peak may hide
    hz = np.geomspace(7.0, 600.0, 400)
    low, high = Landmark(25.0, 36.0), Landmark(70.0, 36.0)
    marks = Landmarks((low, high), low, Landmark(42.0, 8.0), high)
    if lone:
        marks = Landmarks((low,), None, None, None)
    found = [each for each in told(hz, marks, noise=noise) if each.startswith("noisy")]
    assert len(found) == noisy
    if noisy:
        assert f"The noise is {100 * noise:.0f} %" in found[0]


@pytest.mark.parametrize(
    ("low_hz", "high_hz", "words"),
    [
        (19.0, 300.0, ""), (21.0, 300.0, "begins too close to the lower peak"),
        (8.0, 95.0, ""), (8.0, 84.0, "ends too close to the upper peak"),
    ],
)  # fmt: skip
def test_a_band_has_to_reach_a_quarter_beyond_the_peaks(low_hz: float, high_hz: float, words: str) -> None:
    # Exact: 25/1.25 = 20 Hz and 70 x 1.25 = 87.5 Hz; peaks by hand, and a curve that neither falls nor rises
    hz = np.geomspace(low_hz, high_hz, 300)
    marks = Landmarks(
        (Landmark(25.0, 9.0), Landmark(70.0, 9.0)),
        Landmark(25.0, 9.0),
        Landmark(42.0, 8.0),
        Landmark(70.0, 9.0),
    )
    found = "".join(told(hz, marks, np.full(300, 8.0 + 0j)))
    assert (words in found) if words else not found


@pytest.mark.parametrize(
    ("low_hz", "high_hz", "peak_hz", "words"),
    [
        (16.5, 310.0, 100.0, ""), (16.8, 310.0, 100.0, "there is one peak, and the other may lie below"),
        (8.7, 310.0, 30.0, ""), (8.9, 310.0, 30.0, "there is one peak, and the other may lie below"),
        (8.0, 301.0, 60.0, ""), (8.0, 299.0, 60.0, "there is one peak, and the other may lie above"),
        (8.0, 299.0, None, "there is no peak yet, and both may lie above"), (8.0, 301.0, None, ""),
    ],
)  # fmt: skip
def test_beside_one_peak_another_may_hide(
    low_hz: float, high_hz: float, peak_hz: float | None, words: str
) -> None:
    # Exact: a sixth of the peak's frequency, but nothing is asked below 8 Hz, of which a tenth may be missing
    hz = np.geomspace(low_hz, high_hz, 300)
    ripple = (Landmark(200.0, 8.1),)
    marks = NOTHING if peak_hz is None else Landmarks((Landmark(peak_hz, 9.0), *ripple), None, None, None)
    cut = f"band_too_narrow: The curve runs from {low_hz:.0f} to {high_hz:.0f} Hz; {words}."
    assert told(hz, marks, np.full(300, 8.0 + 0j)) == ([cut] if words else [])


@pytest.mark.parametrize(("exponent", "first", "low_hz", "cut"), [
    (-0.25, 3.0, 9.0, True), (-0.23, 3.0, 9.0, False), (-0.25, 3.0, 7.9, False), (-0.25, 0.2, 9.0, False),
])  # fmt: skip
def test_a_curve_that_falls_from_its_beginning_has_a_peak_below(
    exponent: float, first: float, low_hz: float, cut: bool
) -> None:
    # Exact: a power of the frequency over the first stretch of 0.25 and beyond, 1.3 times above what is low at least
    hz = np.geomspace(low_hz, 310.0, 400)
    z = 8.0 * np.maximum((hz / low_hz) ** exponent, np.exp(exponent * first))
    marks = Landmarks(
        (Landmark(50.0, 9.0), Landmark(150.0, 9.0)), Landmark(50.0, 9.0), Landmark(80.0, 8.0), Landmark(150.0, 9.0)
    )  # fmt: skip
    words = (
        f"The curve runs from {low_hz:.0f} to 310 Hz; it falls from its very beginning, so a peak lies below."
    )
    assert told(hz, marks, np.asarray(z, dtype=np.complex128)) == (
        [f"band_too_narrow: {words}"] if cut else []
    )


@pytest.mark.parametrize(
    ("times", "named"), [(1.0, False), (0.8, False), (0.65, True), (1.25, False), (1.5, True), (0.0, True), (-1, True)]
)  # fmt: skip
def test_a_phase_that_is_some_times_its_own(times: float, named: bool) -> None:
    # Exact: the phase of a passive curve times a factor, which is the slope of the regression but for the band's ends
    hz = np.geomspace(11.0, 800.0, 500)
    z = two_peaks(hz)
    curve = plain(hz, np.abs(z) * np.exp(1j * times * np.angle(z)))
    problems = phase_problems(curve)
    assert [problem.problem for problem in problems] == ["not_impedance"] * named
    if named:
        words = {0.0: "zero or missing", -1.0: "wrong sign"}.get(times, "do not belong together")
        assert words in problems[0].detail


def test_of_a_recording_it_is_the_channels_that_do_not_go_together() -> None:
    # Exact: a phase of zero; what is unknown of a jig comes with a recording alone
    hz = np.geomspace(11.0, 800.0, 500)
    recorded = replace(
        plain(hz, np.abs(two_peaks(hz)) + 0j), jig_slopes_ohm=np.zeros((1, 500), dtype=np.complex128)
    )
    (problem,) = phase_problems(recorded)
    assert (problem.problem, problem.detail, problem.remedy) == (
        "not_impedance",
        "Magnitude and phase do not belong together, as if one channel lagged behind the other one or samples were "
        "lost on the way.",
        "Use two inputs of one and the same sound card, close other programs, and record again.",
    )


def test_nothing_is_said_of_the_phase_of_narrow_or_flat_curves() -> None:
    # Exact: 2 octaves and half of one at either end are needed; a resistor asks for no phase
    for high_hz, named in ((20.0 * 2.0**2.9, False), (20.0 * 2.0**3.3, True)):
        hz = np.geomspace(20.0, high_hz, 300)
        assert bool(phase_problems(plain(hz, np.abs(two_peaks(hz)) + 0j))) == named
    hz = np.geomspace(10.0, 900.0, 300)
    assert phase_problems(plain(hz, np.full(300, 8.0 + 0j))) == []
    # an octave below 300 Hz and above the lowest half octave is needed too: that begins at 106 Hz
    for low_hz, named in ((104.0, True), (110.0, False)):
        hz = np.geomspace(low_hz, 1000.0, 300)
        z = 6.0 + resonator(hz, 200.0, 30.0, 5.0)
        assert bool(phase_problems(plain(hz, np.abs(z) + 0j))) == named


@pytest.mark.parametrize(("noise", "named"), [(1e-6, True), (0.029, True), (0.04, False)])
@pytest.mark.parametrize(("low_hz", "high_hz", "least"), [(10.5, 880.0, 0.25), (9.5, 910.0, 0.12)])
def test_phase_that_the_magnitude_does_not_ask_for_beyond_three_times_the_noise(
    noise: float, named: bool, low_hz: float, high_hz: float, least: float
) -> None:
    # Exact: a wave of that root mean square, quick enough to leave the slope; 0.12 rad are left of a wide band
    hz = np.geomspace(low_hz, high_hz, 900)
    wave = np.sqrt(2.0) * (least + 0.1) * np.sin(12.0 * np.log(hz / low_hz))
    assert (
        bool(phase_problems(plain(hz, np.asarray(two_peaks(hz) * np.exp(1j * wave)), noise=noise))) == named
    )
    quiet = np.sqrt(2.0) * (least - 0.06) * np.sin(12.0 * np.log(hz / low_hz))
    assert phase_problems(plain(hz, np.asarray(two_peaks(hz) * np.exp(1j * quiet)), noise=1e-6)) == []


def test_the_capacitor_is_that_of_the_beginning_of_the_band() -> None:
    # Exact: -1/(w Im Z) below 2 Hz times exp(1/4), 2.57 Hz; above it the curve is as if the capacitor were another one
    hz = np.arange(2.0, 400.0, 0.02)
    farad = np.where(hz < 2.56, 200e-6, 600e-6)
    (problem,) = curve_problems(plain(hz, np.asarray(6.0 + 1.0 / (2j * np.pi * hz * farad))), NOTHING)
    assert problem.detail == (
        "A capacitor of about 200 uF lies in series with the driver, as in a crossover: below the peaks the impedance "
        "falls, and its phase is near -90 degrees."
    )


# --- landmarks


@pytest.mark.parametrize("peak_hz", [31.0, 31.2, 31.4, 44.4])
def test_a_peak_between_the_steps_of_the_grid_is_found(peak_hz: float) -> None:
    # Exact: the top of a lone resonance beside a resistance is at its own frequency and R + ohm high
    hz = np.geomspace(6.0, 400.0, 3000)
    marks = find_landmarks(plain(hz, 6.0 + resonator(hz, peak_hz, 30.0, 5.0), noise=1e-6))
    (peak,) = marks.peaks
    assert peak.hz == pytest.approx(peak_hz, rel=1e-4)
    assert peak.ohm == pytest.approx(36.0, rel=3e-3)  # a step of the grid is averaged


@pytest.mark.parametrize(("ohm", "paired"), [(30.0, True), (1.6, True), (0.45, False)])
def test_a_partner_has_a_share_of_the_other_peaks_height(ohm: float, paired: bool) -> None:
    # Exact: prominences are logarithms of heights over their feet; ln(36/6) is 1.8, of which 8 % are 0.14
    hz = np.geomspace(6.0, 400.0, 3000)
    marks = find_landmarks(
        plain(hz, 6.0 + resonator(hz, 20.0, 30.0, 12.0) + resonator(hz, 120.0, ohm, 12.0), noise=1e-6)
    )
    assert len(marks.peaks) == 2
    assert (marks.lower is not None) == paired
    if paired:
        assert marks.saddle is not None
        assert marks.upper is not None
        assert marks.upper.hz == pytest.approx(120.0, rel=0.01)
        assert 30.0 < marks.saddle.hz < 100.0


def test_peaks_beyond_500_hz_and_within_the_noise_are_none() -> None:
    hz = np.geomspace(6.0, 2000.0, 3000)
    marks = find_landmarks(plain(hz, 6.0 + resonator(hz, 30.0, 30.0, 5.0) + resonator(hz, 700.0, 30.0, 5.0)))
    assert [round(peak.hz) for peak in marks.peaks] == [30]
    bump = 6.0 + resonator(hz, 30.0, 30.0, 5.0) + resonator(hz, 200.0, 0.6, 8.0)
    assert len(find_landmarks(plain(hz, bump, noise=1e-4)).peaks) == 2
    assert len(find_landmarks(plain(hz, bump, noise=0.1)).peaks) == 1
    assert find_landmarks(plain(np.geomspace(30.0, 35.0, 100))) == NOTHING


# --- gains and slips by the fit


@pytest.mark.parametrize(
    ("role", "drift_db", "reach_db", "named", "spoils"),
    [
        ("open", 0.05, 0.01, True, False), ("open", -0.05, 0.01, True, False), ("open", 0.03, 0.001, False, False),
        ("open", 0.05, 0.02, False, False), ("open", 0.14, 0.01, True, False), ("open", -0.16, 0.01, True, True),
        ("plugged", 0.5, 0.01, True, False),
    ],
)  # fmt: skip
def test_a_drift_has_to_stand_out_of_its_own_interval(
    role: Role, drift_db: float, reach_db: float, named: bool, spoils: bool
) -> None:
    # Exact: three half widths of the interval, 0.04 dB to be told, 0.15 dB to spoil
    drift = Interval(drift_db, drift_db - reach_db, drift_db + reach_db)
    problems = fitted_drift_problems(fit_by_hand(gain_drifts_db=((role, drift),)))
    assert len(problems) == named
    if named:
        assert f"drifted by {abs(drift_db):.2f} dB" in problems[0].detail
        assert problems[0].spoils == spoils
        assert problems[0].detail.startswith("The level" if role == "open" else "Of plugged: the level")
        assert ("stands." in problems[0].detail) != spoils


@pytest.mark.parametrize(("samples", "channel", "count"), [(3.2, 2, 3), (-1.6, 1, 2), (0.4, 2, 1)])
def test_which_channel_fell_behind_and_by_how_much(samples: float, channel: int, count: int) -> None:
    (problem,) = slip_problems(fit_by_hand(slip=Slip(samples, 41.0)))
    assert (
        f"passed 41 Hz, channel {channel} fell behind the other one by about {count} samples"
        in problem.detail
    )
    assert slip_problems(fit_by_hand()) == []


@pytest.mark.parametrize(
    ("slip", "words"),
    [
        (Slip(3.2, None), "2 comes later than channel 1 by about 3 samples throughout"),
        (Slip(-1.6, None), "1 comes later than channel 2 by about 2 samples throughout"),
        (Slip(-4.4, None, grows=True), "1 falls behind channel 2 by about 4 samples while the sweep runs"),
    ],
)
def test_which_channel_is_late(slip: Slip, words: str) -> None:
    (problem,) = slip_problems(fit_by_hand(slip=slip))
    assert problem.detail == f"Channel {words}, which two inputs of one sound card do not do."
    assert (problem.problem, problem.spoils) == ("not_impedance", True)


@pytest.mark.parametrize(
    ("coil_h", "shunt_f", "shunt_ohm", "named"),
    [
        # common practice: coils of 0.3 mH and more, a Zobel network's resistor of some ohms, a shunt behind its coil
        (1e-6, 2e-5, 0.01, True), (1e-6, 2e-5, None, True), (3e-4, 2e-5, 0.01, False), (1e-6, 2e-5, 6.0, False),
        (1e-6, None, None, False),
    ],
)  # fmt: skip
def test_a_capacitor_right_across_the_terminals_is_no_crossover(
    coil_h: float, shunt_f: float | None, shunt_ohm: float | None, named: bool
) -> None:
    crossover = Crossover(coil_h, 0.01, shunt_f, shunt_ohm)
    problems = slip_problems(fit_by_hand(hidden_crossover=crossover))
    assert [problem.problem for problem in problems] == ["not_impedance"] * named
    if named:
        assert "a capacitor of 20 uF lay right across the terminals" in problems[0].detail
        assert problems[0].spoils


# --- known loads


def read(value: complex, sigma: float = 1e-6) -> Standard:
    return Standard((4.0, 20.0, 100.0, 500.0), (value,) * 4, (sigma,) * 4)


def of_load(wiring: Wiring, ohm: float, gain: float = 1.0, reference: float = 10.0) -> complex:
    """Exact: Ohm's law; in the wiring sense with the leads shorted the channels are exchanged, here they are not."""
    return gain * (ohm / (reference + ohm) if wiring == "divider" else reference / ohm)


@pytest.mark.parametrize("wiring", ["divider", "sense"])
@pytest.mark.parametrize("gain", [1.0, 1.3])
def test_the_apparent_ohms_are_those_of_ohms_law(wiring: Wiring, gain: float) -> None:
    jig = Jig(wiring, 10.0, standards=JigStandards(balance=read(gain)))
    assert apparent_ohm(read(of_load(wiring, 8.2, gain)), "resistor", jig) == pytest.approx(8.2)
    short = read(of_load(wiring, 0.5, gain) if wiring == "divider" else 1.0 / of_load(wiring, 0.5, gain))
    assert apparent_ohm(short, "short", jig) == pytest.approx(0.5)


def named(step: Step, value: complex, jig: Jig, resistor_ohm: float = 8.2) -> list[tuple[str, str]]:
    standard = read(value)
    known = jig.standards or JigStandards()
    with_it = replace(
        jig, standards=replace(known, open_leads=standard) if step == "open" else
        replace(known, shorted_leads=standard) if step == "short" else
        replace(known, balance=standard) if step == "balance" else known,
    )  # fmt: skip
    return [(one.problem, one.detail) for one in implausible(standard, step, jig, with_it, resistor_ohm)]


DIVIDER, SENSE = Jig("divider", 10.0), Jig("sense", 10.0)
BALANCED = Jig("divider", 10.0, standards=JigStandards(balance=read(1.0)))


@pytest.mark.parametrize(
    ("step", "value", "jig", "name", "words"),
    [
        ("short", of_load("divider", 1.4), BALANCED, "", ""),
        (
            "short",
            of_load("divider", 1.6),
            BALANCED,
            "not_impedance",
            "The clips read 1.6 ohm, which is no short",
        ),
        ("short", 1.0 / of_load("sense", 1.4), SENSE, "", ""),
        ("short", 1.0 / of_load("sense", 1.6), SENSE, "not_impedance", "The clips read 1.6 ohm"),
        ("open", of_load("sense", 1100.0), SENSE, "", ""),
        (
            "open",
            of_load("sense", 900.0),
            SENSE,
            "not_impedance",
            "900 ohm, not open: something is still between",
        ),
        ("open", of_load("sense", 0.5), SENSE, "not_impedance", "they touch each other"),
        ("open", of_load("divider", 1e5), BALANCED, "", ""),
        ("open", of_load("divider", 40.0), BALANCED, "not_impedance", "something is still between"),
        ("open", 0.92 + 0j, DIVIDER, "", ""),  # without a balance it is the gain
        ("open", 0.88 + 0j, DIVIDER, "not_impedance", "not open"),
        ("open", 1.3 + 0j, DIVIDER, "channels_swapped", "Channel 2 reads 1.3 of channel 1"),
        ("balance", 1.02 + 0j, DIVIDER, "", ""),
        ("balance", -1.02 + 0j, DIVIDER, "wrong_wiring", "upside down"),
        ("resistor", of_load("divider", 8.2), DIVIDER, "", ""),
        ("resistor", 1.2 + 0j, DIVIDER, "channels_swapped", "Channel 2 reads 1.2"),
        ("resistor", 1.05 + 0j, DIVIDER, "", ""),
        ("resistor", of_load("sense", 8.2), SENSE, "", ""),
    ],
)
def test_a_load_that_cannot_be_what_it_is_said_to_be(
    step: Step, value: complex, jig: Jig, name: str, words: str
) -> None:
    # Exact: readings by Ohm's law either side of what leads, open clips and equal inputs can be
    found = named(step, value, jig)
    assert [one for one, _ in found] == ([name] if name else [])
    assert words in "".join(detail for _, detail in found)


def test_a_resistor_that_reads_right_with_the_channels_exchanged() -> None:
    # Exact: 22 ohm against 10 exchanged reads 100/22 = 4.55 ohm
    ((problem, detail),) = named("resistor", of_load("sense", 100.0 / 22.0), SENSE, 22.0)
    assert problem == "channels_swapped"
    assert "The resistor of 22 ohm reads 4.55 ohm, and 22 ohm with the channels exchanged." in detail
    assert named("resistor", of_load("sense", 22.0), SENSE, 22.0) == []
    assert named("resistor", of_load("sense", 10.2), SENSE, 10.0) == [], (
        "near the reference both ways read alike"
    )
    assert named("resistor", of_load("sense", 6.0), SENSE, 22.0) == [], (
        "what fits neither way is another fault"
    )


def test_one_point_reads_the_same_at_all_frequencies() -> None:
    # Exact: 0.8 and 1.3 % between 30 and 300 Hz; below 30 Hz the inputs' own roll-off is not looked at
    for bend, names in ((0.008, []), (0.013, ["wrong_wiring"])):
        standard = Standard((8.0, 40.0, 100.0, 280.0), (0.8, 1.0, 1.0, 1.0 - bend), (1e-6,) * 4)
        jig = replace(DIVIDER, standards=JigStandards(balance=standard))
        found = implausible(standard, "balance", DIVIDER, jig, 0.0)
        assert [one.problem for one in found] == names
    assert "runs from 0.987 to 1 over frequency" in found[0].detail
    noisy = Standard((8.0, 40.0, 100.0, 280.0), (1.0, 1.0, 1.0, 0.987), (2e-3,) * 4)
    assert (
        implausible(noisy, "balance", DIVIDER, replace(DIVIDER, standards=JigStandards(balance=noisy)), 0.0)
        == []
    )
