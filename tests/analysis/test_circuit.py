"""The fitted circuit against the ladder it stands for, and its derivatives against Cauchy's integral."""

from dataclasses import fields, replace
from math import exp
from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.special import iv

from sealtune.analysis.circuit import AMONG_DRIVERS, OWN, Circuit, View
from sealtune.analysis.parameters import (
    COMMON,
    CROSSOVER,
    LEAK,
    PANEL,
    PART_SPREAD,
    PRIORS,
    VENTED,
    Packing,
    coordinate,
    quantity,
)
from sealtune.physics.vented_box import LeakShape, VentedBox, impedance, leak_factor
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.design import Crossover
from sealtune.records.recording import Role

Complexes = NDArray[np.complex128]
Quantities = dict[str, complex]

FREQUENCY_HZ = np.geomspace(4.0, 900.0, 60)
S: Complexes = np.asarray(2j * np.pi * FREQUENCY_HZ, dtype=np.complex128)

LEAKING = VentedBox(
    re_ohm=5.6, coil_ohm=1.9, coil_exponent=0.68, res_ohm=52.0, ws_rad_s=2 * np.pi * 46.0, qms=4.6, creep=0.11,
    alpha=1.2, wb_rad_s=2 * np.pi * 43.0, leakage=1 / 18, friction=1 / 30, plain_share=1 / 3,
    absorption=1 / 60, leak_ratio=0.3, leak_time_s=8e-3, coil_h=2e-4, volume_m3=0.06, coil_shunt_s=0.08,
    duct_share=0.03, air_load=1.05,
)  # fmt: skip
BOXES = {
    "slit": LEAKING,
    "hole": replace(LEAKING, leak_shape="hole", leak_time_s=0.15),
    "tight": replace(LEAKING, leak_ratio=0.0),
    "creepless": replace(LEAKING, creep=0.0),
    "narrow": replace(LEAKING, leak_time_s=2e-6),
    "panel": replace(
        LEAKING, leak_ratio=0.0, panel_ratio=0.01, panel_rad_s=2 * np.pi * 180.0, panel_loss=0.04
    ),
}
TIGHT = BOXES["tight"]
CROSSOVERS = {
    "none": None,
    "lowpass": Crossover(series_h=1.2e-3, series_ohm=0.4, shunt_f=22e-6, shunt_ohm=1.0),
    "capacitor": Crossover(series_h=0.8e-3, series_ohm=0.3, shunt_f=30e-6),
    "resistor": Crossover(series_ohm=2.0),
    "coil": Crossover(series_h=0.5e-3, shunt_ohm=30.0),
}
ROLES: tuple[Role, ...] = ("open", "plugged", "free-air")


def _ladder(q: Quantities, s: Complexes, role: Role, shape: LeakShape | None) -> Complexes:
    """The impedance written out once more, for complex values of the quantities; shape None is a box without a leak."""
    ws, wb = q["ws_rad_s"], q["wb_rad_s"]
    creep = 1.0 - q["creep"] * np.log10(s / ws)
    lossy = q["coil_ohm"] * (s / (2.0 * np.pi * 200.0)) ** q["coil_exponent"]
    coil = 1.0 / (1.0 / lossy + q["coil_shunt_s"]) + s * q["coil_h"]
    if role == "free-air":
        # the cone's resonance is higher by air_load, as its mass is smaller by the square
        d = 1.0 + q["qms"] * (s / (ws * q["air_load"] ** 2) + ws / (s * creep))
        return np.asarray(q["re_ohm"] + coil + q["res_ohm"] / d, dtype=np.complex128)
    sound = -(s**2) * q["volume_m3"] / (2.0 * np.pi * 343.99**3)
    room = 1.0 + q["duct_share"] / (3.0 if role == "open" else 1.0)
    y = room * s / (1.0 + s * q["absorption"] / wb) + wb * q["leakage"]
    if role == "open":
        share = q["plain_share"]
        losses = q["friction"] * ((1.0 - share) * np.sqrt(2.0 * s * wb) + share * wb)
        y = y + wb**2 / (s + losses + wb**2 * sound)
    if shape is not None:
        k = np.sqrt(s * q["leak_time_s"])
        free = 1.0 - np.tanh(k) / k if shape == "slit" else 1.0 - 2.0 * iv(1, k) / (k * iv(0, k))
        y = y + wb**2 * q["leak_ratio"] * free / s
    # a wall that gives: spring, mass and drag one after another
    wall = q["panel_rad_s"]
    y = y + q["panel_ratio"] * wall**2 * s / (wall**2 + s * wall * q["panel_loss"] + s**2)
    d = 1.0 + q["qms"] * (s / ws + ws / (s * creep) + q["alpha"] * ws * (sound + 1.0 / y))
    return np.asarray(q["re_ohm"] + coil + q["res_ohm"] / d, dtype=np.complex128)


def _through(z: Complexes, s: Complexes, parts: Quantities) -> Complexes:
    """What stands between the terminals and the driver: a branch beside it, if any, and one before it."""
    branch: Complexes | None = None
    if "shunt_f" in parts:
        branch = np.asarray(parts.get("shunt_ohm", 0.0) + 1.0 / (s * parts["shunt_f"]))
    elif "shunt_ohm" in parts:
        branch = np.full(s.shape, parts["shunt_ohm"])
    if branch is not None:
        z = z * branch / (z + branch)
    return np.asarray(parts.get("series_ohm", 0.0) + s * parts.get("series_h", 0.0) + z)


def _continued(names: tuple[str, ...], vector: Complexes) -> Quantities:
    """The complex continuation of the packing: logarithms, the logarithm of the odds, creep in units of 0.05."""
    values: Quantities = {}
    for name, position in zip(names, vector.tolist(), strict=True):
        if name == "creep":
            values[name] = 0.05 * position
        elif name in ("coil_exponent", "plain_share"):
            values[name] = 1.0 / (1.0 + np.exp(-position))
        else:
            values[name] = complex(np.exp(position))
    return values


def _written_out(circuit: Circuit, vector: Complexes) -> Complexes:
    """What the views show, by `_ladder` alone, for a complex vector: what they share, then what each has to itself."""
    box, crossover = circuit.packing.fixed, circuit.packing.crossover
    names = circuit.packing.names
    values: Quantities = {f.name: getattr(box, f.name) for f in fields(box) if f.name != "leak_shape"}
    if crossover is not None:
        parts = {name: getattr(crossover, name) for name in CROSSOVER}
        values.update({name: value for name, value in parts.items() if value is not None})
    values.update(_continued(names, vector[: len(names)]))
    shape = box.leak_shape if box.leak_ratio > 0.0 else None
    seen, rest = [], vector[len(names) :]
    for view in circuit.views:
        here = dict(values)
        for (name, spread), step in zip(view.own.items(), rest.tolist(), strict=False):
            here[name] = here[name] * np.exp(spread * step)
        z = _ladder(here, view.s, view.role, shape)
        z = z * view.scale if view.role == "free-air" else _through(z, view.s, here)
        jig = rest[len(view.own) : view.extras]
        seen.append(z + sum(step * row for step, row in zip(jig.tolist(), view.jig_slopes_ohm, strict=True)))
        rest = rest[view.extras :]
    assert rest.size == 0
    return np.concatenate(seen)


def _curve(s: Complexes = S, jig_rows: int = 0) -> ImpedanceCurve:
    """A curve at these frequencies whose jig leaves some things unknown."""
    frequency_hz = np.asarray(s.imag / (2.0 * np.pi))
    slopes = np.array([(0.02 + 0.01j * row) * (s / 300.0) ** row for row in range(1, jig_rows + 1)])
    return ImpedanceCurve(
        frequency_hz,
        np.full(s.size, 8.0 + 0j),
        np.full(s.size, 0.01),
        jig_slopes_ohm=slopes if jig_rows else None,
    )


def _names(box: VentedBox, crossover: Crossover | None) -> tuple[str, ...]:
    """All quantities that can be fitted: of the box, of its leak if any, and of the crossover's parts that exist."""
    leak = LEAK if box.leak_ratio > 0.0 else ()
    panel = PANEL if box.panel_ratio > 0.0 else ()
    parts = tuple(name for name in CROSSOVER if crossover is not None and getattr(crossover, name))
    return (*VENTED, *leak, *panel, "duct_share", "air_load", *parts)


def _circuit(views: tuple[View, ...], box: VentedBox, crossover: Crossover | None = None) -> Circuit:
    return Circuit(views, Packing(_names(box, crossover), box, crossover))


def _off_centre(circuit: Circuit) -> NDArray[np.float64]:
    """The vector of the circuit that the packing holds, with all that a curve has to itself moved from zero."""
    vector = circuit.pack(circuit.packing.fixed)
    shared = len(circuit.names)
    vector[shared:] = np.linspace(-1.3, 1.7, vector.size - shared)
    return vector


UNSEEN: dict[Role, set[str]] = {
    # what a curve says nothing of
    "open": {"air_load"},
    "plugged": {"friction", "plain_share", "air_load"},
    "free-air": {
        "alpha", "wb_rad_s", "leakage", "friction", "plain_share", "absorption", "volume_m3", "duct_share",
        *LEAK, *PANEL, *CROSSOVER,
    },
}  # fmt: skip


def _check_derivatives(circuit: Circuit, vector: NDArray[np.float64]) -> None:
    """Compare values and derivatives with `_written_out`.

    exact: f'(x) is the mean of f(x + r e^it) e^-it / r over the circle; with 16 points the error is
    (r / distance of the next pole)^16
    """
    z, jacobian = circuit.evaluate(vector)
    assert jacobian.shape == (z.size, vector.size)
    np.testing.assert_allclose(z, _written_out(circuit, vector.astype(np.complex128)), rtol=1e-11)
    seen = set().union(*({*circuit.names} - UNSEEN[view.role] for view in circuit.views))
    radius, turns = 0.01, np.exp(2j * np.pi * np.arange(16) / 16)
    for column in range(vector.size):
        name = circuit.names[column] if column < len(circuit.names) else f"own {column - len(circuit.names)}"
        expected = np.zeros_like(z)
        for turn in turns:
            moved = vector.astype(np.complex128)
            moved[column] += radius * turn
            expected += _written_out(circuit, moved) / turn / radius / turns.size
        if name in circuit.names and name not in seen:
            assert not jacobian[:, column].any(), name
        else:
            assert np.abs(expected).max() > 1e-4, name
        error = np.abs(jacobian[:, column] - expected)
        # the sum itself is good to a few units in the last place of Z over the radius
        floor = 4e-15 * np.abs(z) / radius
        assert np.all(error <= 1e-8 * np.abs(expected) + floor), name


@pytest.mark.parametrize("name", BOXES)
@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("behind", CROSSOVERS)
def test_circuit_is_the_ladder(name: str, role: Role, behind: str) -> None:
    # exact: the same circuit written three times
    box, crossover = BOXES[name], CROSSOVERS[behind]
    circuit = _circuit((View.of(role, _curve()),), box, crossover)
    vector = circuit.pack(box)
    parts = {part: getattr(crossover, part) for part in CROSSOVER} if crossover is not None else {}
    parts = {part: value for part, value in parts.items() if value is not None}
    z = impedance(S, box, role)
    terminals = z if role == "free-air" else _through(z, S, parts)
    np.testing.assert_allclose(circuit.evaluate(vector)[0], terminals, rtol=1e-12)
    # the formula as it stands loses digits where the slit is narrow: k^2/3 out of 1 - tanh(k)/k
    loss = 1e-8 if name == "narrow" else 1e-11
    np.testing.assert_allclose(terminals, _written_out(circuit, vector.astype(np.complex128)), rtol=loss)


@pytest.mark.parametrize("name", ["slit", "hole", "tight", "creepless", "panel"])
@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("behind", CROSSOVERS)
def test_derivatives_are_those_of_cauchys_integral(name: str, role: Role, behind: str) -> None:
    circuit = _circuit((View.of(role, _curve(jig_rows=1)),), BOXES[name], CROSSOVERS[behind])
    _check_derivatives(circuit, _off_centre(circuit))


def test_derivatives_by_parts_that_nobody_told_of() -> None:
    # a driver in free air tells what lies before the box's: series_ohm is fitted without any crossover
    views = (View.of("open", _curve()), View.of("free-air", _curve()))
    for parts in (("series_ohm",), CROSSOVER):
        circuit = Circuit(views, Packing((*VENTED, "air_load", *parts), TIGHT))
        vector = circuit.pack(TIGHT)
        mean, weight = circuit.prior()
        np.testing.assert_array_equal(vector[-len(parts) - 3 : -3], mean[-len(parts) - 3 : -3])
        assert np.all(weight[-len(parts) - 3 :] > 0.0)
        _check_derivatives(circuit, _off_centre(circuit))


@pytest.mark.parametrize(
    ("in_series", "scale"), [(False, 3.0), (True, 1.0 / 3.0)], ids=["parallel", "series"]
)
def test_one_of_several_drivers_in_free_air(in_series: bool, scale: float) -> None:
    # exact: three alike in parallel have a third of the impedance of one, in series three times that
    view = View.of("free-air", _curve(jig_rows=2), 3, in_series=in_series)
    assert view.scale == scale
    assert set(view.own) == set(AMONG_DRIVERS)
    for name, spread in view.own.items():  # it differs from its fellows, and from what it was when mounted
        assert spread == pytest.approx(np.hypot(AMONG_DRIVERS[name], OWN["free-air"].get(name, 0.0)))
    circuit = _circuit((view,), LEAKING, CROSSOVERS["lowpass"])
    alone = _circuit((View.of("free-air", _curve()),), LEAKING)
    np.testing.assert_allclose(
        circuit.evaluate(circuit.pack(LEAKING))[0],
        scale * alone.evaluate(alone.pack(LEAKING))[0],
        rtol=1e-13,
    )
    _check_derivatives(circuit, _off_centre(circuit))
    # the mounted ones are seen as they are, however many
    assert View.of("plugged", _curve(), 3).scale == 1.0
    assert View.of("plugged", _curve(), 3).own == OWN["plugged"]


@pytest.mark.parametrize("name", ["slit", "hole", "tight", "panel"])
def test_curves_are_stacked_in_their_order(name: str) -> None:
    # exact: three curves together are the three one by one; the shared columns are common, their own ones apart
    box, crossover = BOXES[name], CROSSOVERS["lowpass"]
    views = (
        View.of("open", _curve(S, 2)),
        View.of("plugged", _curve(S[:25])),
        View.of("free-air", _curve(S[5:40], 1)),
    )
    circuit = _circuit(views, box, crossover)
    shared = len(circuit.names)
    assert [view.extras for view in views] == [0 + 2, 2 + 0, 3 + 1]
    vector = _off_centre(circuit)
    assert vector.size == shared + 8
    _check_derivatives(circuit, vector)
    z, jacobian = circuit.evaluate(vector)
    assert z.size == 60 + 25 + 35
    row, column = 0, shared
    for view in views:
        single = _circuit((view,), box, crossover)
        mine = slice(column, column + view.extras)
        part, slopes = single.evaluate(np.append(vector[:shared], vector[mine]))
        rows = slice(row, row + view.s.size)
        np.testing.assert_array_equal(z[rows], part)
        np.testing.assert_array_equal(jacobian[rows, :shared], slopes[:, :shared])
        np.testing.assert_array_equal(jacobian[rows, mine], slopes[:, shared:])
        others = np.delete(
            jacobian[rows, shared:], np.arange(mine.start - shared, mine.stop - shared), axis=1
        )
        assert not others.any()
        row, column = rows.stop, mine.stop
    mean, weight = circuit.prior()
    # exact: one standard deviation of whatever a curve has to itself is one unit
    np.testing.assert_array_equal(mean[shared:], 0.0)
    np.testing.assert_array_equal(weight[shared:], 1.0)


def test_own_shifts_are_of_the_logarithm() -> None:
    # exact: two standard deviations warmer, R_E is e^(2 * 0.01) times that of the open curve
    circuit = _circuit((View.of("plugged", _curve()),), LEAKING)
    vector = circuit.pack(LEAKING)
    vector[len(circuit.names) :] = [2.0, -1.0]
    assert list(circuit.views[0].own) == ["re_ohm", "ws_rad_s"]
    warm = replace(LEAKING, re_ohm=LEAKING.re_ohm * np.exp(0.02), ws_rad_s=LEAKING.ws_rad_s * np.exp(-0.004))
    np.testing.assert_allclose(circuit.evaluate(vector)[0], impedance(S, warm, "plugged"), rtol=1e-12)
    assert circuit.unpack(vector).re_ohm == pytest.approx(
        LEAKING.re_ohm, rel=1e-12
    )  # as the open curve has it


def test_leak_factor_has_its_limits() -> None:
    # exact: k^2/3 for slow flow in a slit and q^2/8 in a hole, 1 - 1/k and 1 - 2/q + 1/q^2 for fast
    slow, fast = np.array([1e-7j]), np.array([1e7j])
    assert leak_factor(slow, 1.0, "slit")[0] == pytest.approx(slow[0] / 3.0, rel=1e-6)
    assert leak_factor(fast, 1.0, "slit")[0] == pytest.approx(1.0 - 1.0 / np.sqrt(fast[0]), rel=1e-12)
    assert leak_factor(slow, 1.0, "hole")[0] == pytest.approx(slow[0] / 8.0, rel=1e-6)
    assert leak_factor(fast, 1.0, "hole")[0] == pytest.approx(
        1.0 - 2.0 / np.sqrt(fast[0]) + 1.0 / fast[0], rel=1e-9
    )
    # exact: time and frequency only as their product
    for shape in get_args(LeakShape):
        np.testing.assert_allclose(leak_factor(S, 8e-3, shape), leak_factor(S * 8e-3, 1.0, shape), rtol=1e-13)


def test_gain_error_moves_the_curve_along_its_slope() -> None:
    slope_ohm = np.asarray((1.0 + 2.0j) * np.arange(1.0, S.size + 1.0))
    curve = ImpedanceCurve(
        FREQUENCY_HZ, impedance(S, TIGHT), np.full(S.size, 0.01), jig_slopes_ohm=slope_ohm[None, :]
    )
    circuit = Circuit((View.of("open", curve),), Packing(VENTED, TIGHT))
    vector = circuit.pack(TIGHT)
    vector[-1] = -0.5
    np.testing.assert_allclose(
        circuit.evaluate(vector)[0] - curve.impedance_ohm, -0.5 * slope_ohm, atol=1e-11
    )
    np.testing.assert_array_equal(circuit.evaluate(vector)[1][:, -1], slope_ohm)
    mean, weight = circuit.prior()
    assert mean.size == weight.size == vector.size
    assert (mean[-1], weight[-1]) == (0.0, 1.0)  # exact: one standard deviation of the gain is one unit
    assert circuit.unpack(vector) == circuit.packing.unpack(vector[:-1])


def test_closed_box_is_the_driver_alone() -> None:
    # exact: with alpha 0 the box's load is gone; R_E + R_ES at resonance without coil and creep
    alone = replace(TIGHT, alpha=0.0, creep=0.0, coil_ohm=1e-12, coil_h=1e-15)
    resonance = _curve(np.array([1j * alone.ws_rad_s]))
    circuit = Circuit((View.of("open", resonance),), Packing(COMMON, alone))
    z, jacobian = circuit.evaluate(circuit.pack(alone))
    assert z[0] == pytest.approx(5.6 + 52.0, rel=1e-9)
    assert jacobian.shape == (1, len(COMMON))
    assert jacobian[0, COMMON.index("res_ohm")] == pytest.approx(52.0, rel=1e-9)


def test_step_follows_proportional_quantities_in_a_straight_line() -> None:
    # exact: alpha and the leakage move by the share of the step, at most to a fifth; f_S and what the curve has to
    # itself by the logarithm, which for small steps is the same
    circuit = _circuit((View.of("plugged", _curve(jig_rows=1)),), TIGHT)
    vector, step = circuit.pack(TIGHT), np.zeros(circuit.pack(TIGHT).size)
    alpha, leakage, ws = (circuit.names.index(name) for name in ("alpha", "leakage", "ws_rad_s"))
    step[[alpha, leakage, ws, -1]] = [0.5, -3.0, 0.5, 2.5]
    ahead = circuit.moved(vector, step)
    box = circuit.unpack(ahead)
    assert box.alpha == pytest.approx(1.5 * TIGHT.alpha, rel=1e-12)
    assert box.leakage == pytest.approx(0.2 * TIGHT.leakage, rel=1e-12)
    assert box.ws_rad_s == pytest.approx(np.exp(0.5) * TIGHT.ws_rad_s, rel=1e-12)
    assert ahead[-1] == 2.5
    still = np.delete(np.arange(vector.size), [alpha, leakage, ws, vector.size - 1])
    np.testing.assert_array_equal(ahead[still], vector[still])
    small = np.full(vector.size, 1e-5)
    np.testing.assert_allclose(circuit.moved(vector, small), vector + small, rtol=0.0, atol=1e-10)


EVERYTHING = (*VENTED, *LEAK, *PANEL, "duct_share", "air_load")
positive = st.floats(min_value=1e-7, max_value=1e4)
boxes = st.builds(
    VentedBox, re_ohm=positive, coil_ohm=positive, coil_exponent=st.floats(min_value=0.01, max_value=0.99),
    res_ohm=positive, ws_rad_s=positive, qms=positive, creep=st.floats(min_value=0.0, max_value=0.3),
    alpha=positive, wb_rad_s=positive, leakage=positive, friction=positive, absorption=positive,
    plain_share=st.floats(min_value=0.01, max_value=0.99),
    leak_ratio=positive, leak_time_s=positive, coil_h=positive, volume_m3=positive, coil_shunt_s=positive,
    duct_share=positive, air_load=positive, panel_ratio=positive,
    panel_rad_s=positive, panel_loss=positive,
)  # fmt: skip
NUMBERS = tuple(f.name for f in fields(VentedBox) if f.name != "leak_shape")


@given(boxes, st.sampled_from(get_args(LeakShape)))
def test_packing_there_and_back(box: VentedBox, shape: LeakShape) -> None:
    assert set(EVERYTHING) == set(NUMBERS)  # nothing is left out
    packing = Packing(EVERYTHING, replace(LEAKING, leak_shape=shape))
    vector = packing.pack(box)
    assert vector.shape == (23,)
    back = packing.unpack(vector)
    for name in NUMBERS:
        assert getattr(back, name) == pytest.approx(getattr(box, name), rel=1e-12, abs=1e-300), name
    assert back.leak_shape == shape
    np.testing.assert_allclose(packing.pack(back), vector, rtol=1e-11, atol=1e-11)


@given(boxes)
def test_what_is_not_packed_stays_fixed(box: VentedBox) -> None:
    packing = Packing(COMMON, LEAKING)
    back = packing.unpack(packing.pack(box))
    for name in NUMBERS:
        source = box if name in COMMON else LEAKING
        assert getattr(back, name) == pytest.approx(getattr(source, name), rel=1e-12, abs=1e-300), name


@given(
    st.fixed_dictionaries(
        {name: st.floats(min_value=1e-7, max_value=1e4) for name in ("series_h", "series_ohm", "shunt_f")}
    )
)
def test_crossover_is_packed_there_and_back(parts: dict[str, float]) -> None:
    crossover = Crossover(**parts, shunt_ohm=3.0)
    packing = Packing(("re_ohm", *parts), LEAKING, crossover)
    vector = packing.pack(LEAKING)
    back = packing.unpack_crossover(vector)
    assert back is not None
    for name, value in parts.items():
        assert getattr(back, name) == pytest.approx(value, rel=1e-12), name
    assert back.shunt_ohm == 3.0
    assert packing.unpack(vector).re_ohm == pytest.approx(LEAKING.re_ohm, rel=1e-12)
    # exact: the parts are known to PART_SPREAD around their value, R_E not at all; the resistance is that of leads
    # and joints as well, which nobody told of
    mean, weight = packing.prior()
    np.testing.assert_array_equal(mean[1:], vector[1:])
    spread = dict.fromkeys(parts, PART_SPREAD) | {"series_ohm": PRIORS["series_ohm"][1]}
    np.testing.assert_allclose(weight, [0.0, *(1.0 / spread[name] for name in parts)])
    assert PRIORS["series_ohm"][1] > 1.0  # a factor of three either way at least
    assert Packing(("re_ohm",), LEAKING, crossover).unpack_crossover(vector[:1]) is crossover
    assert Packing(("re_ohm",), LEAKING).unpack_crossover(vector[:1]) is None


@given(st.sampled_from((*EVERYTHING, *CROSSOVER)), st.floats(min_value=-5.0, max_value=5.0))
def test_coordinates_rise_with_their_quantity(name: str, position: float) -> None:
    value = quantity(name, position)
    assert coordinate(name, value) == pytest.approx(position, abs=1e-9)
    assert quantity(name, position + 0.1) > value
    if name in ("coil_exponent", "plain_share"):
        assert 0.0 < value < 1.0
    elif name != "creep":
        assert value == pytest.approx(exp(position), rel=1e-12)


def test_prior_knowledge_is_of_the_same_quantities() -> None:
    packing = Packing(EVERYTHING, LEAKING)
    mean, weight = packing.prior()
    assert mean.shape == weight.shape == (23,)
    assert np.all(weight >= 0.0)
    at_mean = packing.unpack(mean)
    assert at_mean.volume_m3 == pytest.approx(LEAKING.volume_m3)
    assert at_mean.duct_share == pytest.approx(LEAKING.duct_share)
    assert 0.0 < at_mean.creep < 0.2  # published: 0.05 to 0.2 on real drivers [Knudsen1993], from memory
    assert 5.0 < 1.0 / at_mean.leakage < 20.0  # published: Q_L 5 to 20 [Small1973], from memory
    # published: the air on one side of a piston in a wall, 8/3 rho a^3 [Rayleigh1896]: of 10 g at 65 mm radius it
    # is 9 %, and the resonance without it higher by 4 %
    assert at_mean.air_load == pytest.approx(np.sqrt(1.0 + 8.0 / 3.0 * 1.2 * 0.065**3 / 0.010), abs=0.01)
    # what the curve alone decides has no prior
    for name in ("re_ohm", "res_ohm", "ws_rad_s", "wb_rad_s"):
        assert weight[packing.names.index(name)] == 0.0
