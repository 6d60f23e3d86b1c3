"""Driver data: gaps filled by the identities, contradictions named with their size, and no shower of notes."""

from dataclasses import fields, replace
from itertools import product
from math import pi, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sealtune.design.completion import complete, impossible
from sealtune.design.driver_contradictions import contradictions
from sealtune.design.driver_identities import QUANTITIES
from sealtune.physics.air import Air, standard_air
from sealtune.records.design import Driver

AIR = standard_air()


def whole(air: Air = AIR) -> Driver:
    """An invented driver with everything; the identities are written out here once more, by hand [Small1972]."""
    fs, qms, qes, re, sd, mms = 48.0, 4.2, 0.42, 5.7, 0.0132, 0.013
    cms = 1 / ((2 * pi * fs) ** 2 * mms)
    return Driver(
        fs_hz=fs, qms=qms, qes=qes, qts=qms * qes / (qms + qes), re_ohm=re, sd_m2=sd, mms_kg=mms, cms_m_n=cms,
        vas_m3=air.density_kg_m3 * air.speed_m_s**2 * sd**2 * cms, bl_t_m=sqrt(2 * pi * fs * mms * re / qes),
        rms_kg_s=2 * pi * fs * mms / qms, xmax_m=0.005,
    )  # fmt: skip


def without(*names: str) -> Driver:
    return replace(whole(), **dict.fromkeys(names))  # type: ignore[arg-type]


@pytest.mark.parametrize("name", QUANTITIES)
def test_each_value_follows_from_the_others(name: str) -> None:
    # Exact: the identities, against the ones written out above
    filled, notes = complete(without(name), AIR)
    assert getattr(filled, name) == pytest.approx(getattr(whole(), name), rel=1e-9)
    # what the program does not go on to use is not worth a note
    used = name in ("fs_hz", "qms", "qes", "vas_m3", "re_ohm", "sd_m2")
    assert len(notes) == used
    for note in notes:
        assert note.startswith(QUANTITIES[name].symbol + " ")
        assert " follows from " in note


def test_gaps_fill_one_after_the_other() -> None:
    # Exact: f_S from M_MS and C_MS, then Q_MS and Q_ES from it, then Q_TS; V_AS from S_D and C_MS
    filled, notes = complete(without("fs_hz", "qms", "qes", "qts", "vas_m3"), AIR)
    for name in ("fs_hz", "qms", "qes", "qts", "vas_m3"):
        assert getattr(filled, name) == pytest.approx(getattr(whole(), name), rel=1e-9)
    assert len(notes) == 4
    assert "f_S 48 Hz follows from M_MS and C_MS." in notes
    assert "Q_MS 4.2 follows from M_MS, C_MS and R_MS." in notes  # f_S is not given itself


def test_the_note_speaks_in_the_units_of_the_file() -> None:
    # Exact: 1/0.38 = 1/4.2 + 1/Q_ES; V_AS of 0.0136 m2 and 1.2 mm/N is 31.5 L at rho c^2 = 141.9 kPa [Cramer1993]
    assert complete(Driver(qts=0.38, qms=4.2), AIR)[1] == ("Q_ES 0.418 follows from Q_TS and Q_MS.",)
    assert complete(Driver(sd_m2=0.0136, cms_m_n=1.2e-3), AIR)[1] == (
        "V_AS 31.5 L follows from S_D and C_MS.",
    )


def test_nothing_follows_from_too_little_and_nothing_given_is_touched() -> None:
    for driver in (Driver(), Driver(fs_hz=48.0, qts=0.4), Driver(mms_kg=0.013, bl_t_m=7.0, xmax_m=0.005)):
        assert complete(driver, AIR) == (driver, ())
    assert complete(whole(), AIR) == (whole(), ())


def test_what_is_filled_in_scatters_more() -> None:
    # Exact: 5 % (common practice) beside the stated scatter, in squares
    filled, _ = complete(without("re_ohm", "sd_m2"), AIR)
    assert filled.re_tolerance == pytest.approx(sqrt(0.05**2 + 0.05**2), rel=1e-12)
    assert filled.sd_tolerance == pytest.approx(sqrt(0.03**2 + 0.05**2), rel=1e-12)
    assert filled.fs_tolerance == Driver.fs_tolerance


def test_v_as_depends_on_the_air() -> None:
    # Exact: as rho c^2 does
    thin = Air(1.0, 340.0, 1.8e-5)
    filled, _ = complete(without("vas_m3"), thin)
    assert filled.vas_m3 == pytest.approx(whole(thin).vas_m3, rel=1e-9)


def test_a_contradiction_names_its_three_values_and_its_size() -> None:
    found = contradictions(Driver(vas_m3=0.020, sd_m2=0.0136, cms_m_n=1.2e-3), AIR)
    # Independent, by hand: 141.92 kPa x (0.0136 m2)^2 x 1.2 mm/N = 31.5 L; 20/31.5 - 1 = -37 %
    assert found == (
        "V_AS 20 L does not go with S_D 136 cm2 and C_MS 1.2 mm/N, which make 31.5 L: 37 % apart. Check these three.",
    )
    (note,) = contradictions(Driver(qts=0.50, qms=4.2, qes=0.42), AIR)
    # Exact: 4.2 x 0.42 / 4.62 = 0.382; 0.50/0.382 - 1 = 31 %
    assert note.startswith("Q_TS 0.5 does not go with Q_MS 4.2 and Q_ES 0.42, which make 0.382: 31 % apart.")


def test_rounding_and_scatter_are_no_contradiction() -> None:
    # Common practice: a sheet printed to two or three digits
    assert contradictions(replace(whole(), qts=0.38, vas_m3=0.021, mms_kg=0.0129, bl_t_m=7.3), AIR) == ()
    assert contradictions(replace(whole(), vas_m3=1.045 * 0.021), AIR) == ()
    assert len(contradictions(replace(whole(), vas_m3=1.08 * 0.0210), AIR)) == 1
    # Exact: 0.4 mm/N may be 0.35 to 0.45, so that a V_AS 10 % off is explained by the digits of C_MS alone
    made = AIR.bulk_modulus_pa * 0.0132**2 * 0.4e-3
    assert contradictions(Driver(vas_m3=round(1.1 * made, 5), sd_m2=0.0132, cms_m_n=0.4e-3), AIR) == ()
    assert contradictions(Driver(vas_m3=round(1.1 * made, 5), sd_m2=0.0132, cms_m_n=0.4001e-3), AIR) != ()


@pytest.mark.parametrize(("name", "factor"), list(product(QUANTITIES, (0.5, 0.8, 1.3, 2.0))))
def test_a_single_wrong_value_gives_a_single_note(name: str, factor: float) -> None:
    wrong = replace(whole(), **{name: factor * getattr(whole(), name)})
    if impossible(wrong, AIR):
        assert name in ("qts", "qms", "qes")
        return
    notes = contradictions(wrong, AIR)
    assert len(notes) == 1
    assert QUANTITIES[name].words(getattr(wrong, name)) in notes[0]


def test_the_value_behind_several_contradictions_is_named_alone() -> None:
    (note,) = contradictions(replace(whole(), cms_m_n=1.2e-3), AIR)
    # Exact: 1/((2 pi 48)^2 0.013) = 0.846 mm/N by both ways; 1.2/0.846 - 1 = 42 %
    assert note == (
        "C_MS 1.2 mm/N does not go with the other driver data, about 42 % apart: V_AS and S_D make 0.846 mm/N; f_S and "
        "M_MS make 0.846 mm/N. Check C_MS first."
    )


def test_two_wrong_values_that_share_nothing_give_two_notes() -> None:
    notes = contradictions(replace(whole(), qts=0.5, cms_m_n=1.2e-3), AIR)
    assert [note.split()[0] for note in notes] == ["Q_TS", "C_MS"]


@pytest.mark.parametrize(
    ("gaps", "wrong"),
    [
        # a contradiction is found although no identity has all its values
        (("cms_m_n",), {"vas_m3": 0.030}),
        (("mms_kg", "cms_m_n"), {"vas_m3": 0.030}),
        (("fs_hz",), {"rms_kg_s": 2.0}),
        (("qms", "qes"), {"qts": 0.6}),
    ],
)
def test_contradictions_reach_over_gaps(gaps: tuple[str, ...], wrong: dict[str, float]) -> None:
    assert contradictions(without(*gaps), AIR) == ()
    driver = replace(without(*gaps), **wrong)  # type: ignore[arg-type]
    notes = contradictions(driver, AIR)
    assert len(notes) == 1
    ((name, value),) = wrong.items()
    assert QUANTITIES[name].words(value) in notes[0]
    for gap in gaps:
        assert f"{QUANTITIES[gap].symbol} " not in notes[0]


def test_a_q_above_its_parts_is_impossible() -> None:
    (line,) = impossible(Driver(qts=4.5, qms=4.2), AIR)
    assert line.startswith("[driver] qts = 4.5: must be below qms = 4.2;")
    assert len(impossible(Driver(qts=4.5, qms=4.2, qes=0.42), AIR)) == 2
    # Exact: Q_MS = 2 pi 48 0.013 / 2 = 1.96
    (line,) = impossible(Driver(qts=2.5, fs_hz=48.0, mms_kg=0.013, rms_kg_s=2.0), AIR)
    assert "must be below qms = 1.96 (from fs_hz, mms_g and rms_kg_per_s);" in line
    assert impossible(whole(), AIR) == ()
    filled, _ = complete(Driver(qts=4.5, qms=4.2), AIR)
    assert filled.qes is None


NUMBERS = [field.name for field in fields(Driver) if field.name in QUANTITIES]


@settings(max_examples=200)
@given(
    st.dictionaries(st.sampled_from(NUMBERS), st.floats(-6.0, 6.0).map(lambda power: 10.0**power)),
    st.sampled_from([AIR, Air(0.9, 320.0, 1.7e-5)]),
)
def test_any_numbers_give_words_and_no_crash(values: dict[str, float], air: Air) -> None:
    driver = Driver(**values)  # type: ignore[arg-type]
    filled, notes = complete(driver, air)
    for name in NUMBERS:
        value = getattr(filled, name)
        assert value is None or value > 0.0
        assert values.get(name, value) == value
    assert all(note.endswith(".") and "nan" not in note for note in notes)
    assert len(notes) <= 11
    impossible(driver, air)


@settings(max_examples=150)
@given(
    st.lists(st.floats(-0.7, 0.7), min_size=6, max_size=6),
    st.sets(st.sampled_from(NUMBERS), max_size=6),
)
def test_a_driver_without_fault_is_not_accused(spread: list[float], gaps: set[str]) -> None:
    # Exact: all data made by the identities go together, whichever are left out, and what is filled in is right
    base = whole()
    fs, mms, re, sd, rms, bl = (
        value * 10.0**power
        for value, power in zip(
            (base.fs_hz, base.mms_kg, base.re_ohm, base.sd_m2, base.rms_kg_s, base.bl_t_m),
            spread,
            strict=True,
        )
        if value is not None
    )
    w, cms = 2 * pi * fs, 1 / ((2 * pi * fs) ** 2 * mms)
    qms, qes = w * mms / rms, w * mms * re / bl**2
    full = Driver(
        fs_hz=fs, qms=qms, qes=qes, qts=1 / (1 / qms + 1 / qes), re_ohm=re, sd_m2=sd, mms_kg=mms, cms_m_n=cms,
        vas_m3=AIR.bulk_modulus_pa * sd**2 * cms, bl_t_m=bl, rms_kg_s=rms,
    )  # fmt: skip
    driver = replace(full, **dict.fromkeys(gaps))  # type: ignore[arg-type]
    assert contradictions(driver, AIR) == ()
    assert impossible(driver, AIR) == ()
    filled, _ = complete(driver, AIR)
    for name in NUMBERS:
        value = getattr(filled, name)
        assert value is None or value == pytest.approx(getattr(full, name), rel=1e-6)
