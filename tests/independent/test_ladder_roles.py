"""The circuit in each role against ngspice: all parts seen from the electrical side, as the dual circuit.

The cone's mass is a capacitor, the suspension a coil, its damping a resistor, side by side; the box is in series with
them to earth as a branch of its own: the air spring a coil, the vent's mass a capacitor, their losses resistors.
"""

import shutil
import subprocess
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.parameters import Packing
from sealtune.physics.vented_box import VentedBox, impedance
from sealtune.records.design import Crossover
from sealtune.records.recording import Role

pytestmark = pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")

Complexes = NDArray[np.complex128]

LOW_HZ, HIGH_HZ, COUNT = 5, 500, 331

# losses of constant law, a coil of plain parts: with n = 1 the semi-inductor is a coil, here bridged by 8 ohm
BOX = VentedBox(
    re_ohm=5.6, coil_ohm=0.9, coil_exponent=1.0, coil_shunt_s=1.0 / 8.0, coil_h=2.5e-4, res_ohm=52.0,
    ws_rad_s=2 * np.pi * 46.0, qms=4.6, creep=0.0, alpha=1.3, wb_rad_s=2 * np.pi * 43.0,
    leakage=1 / 11, absorption=1 / 35, friction=1 / 25, plain_share=1.0, duct_share=0.06, air_load=1.07,
)  # fmt: skip
CROSSOVER = Crossover(series_h=1.2e-3, series_ohm=0.4, shunt_f=22e-6, shunt_ohm=1.5)


def _driver(box: VentedBox, *, mass_share: float = 1.0) -> list[str]:
    """From node `in` to node `box`; the motional branch stands on node `box`.

    mass_share: mass of the cone over that in the box
    """
    mass_f = box.qms / (box.res_ohm * box.ws_rad_s)
    return [
        f"RE in coil {box.re_ohm!r}",
        f"LA coil bridged {box.coil_h!r}",
        f"LB bridged cone {box.coil_ohm / (400.0 * np.pi)!r}",
        f"RB bridged cone {1.0 / box.coil_shunt_s!r}",
        f"RES cone 0 {box.res_ohm!r}",
        f"CMES cone 0 {mass_f * mass_share!r}",
        f"LCES cone 0 {1.0 / (box.ws_rad_s**2 * mass_f)!r}",
    ]


def _box(box: VentedBox, *, plugged: bool) -> list[str]:
    """From node `cone` to earth: what is one pressure and several flows in air is one current and several voltages.

    The air in the duct adds to the spring: all of it where the vent is stopped, a third where it is open (exact:
    cot x = 1/x - x/3 + ..., of which 1/x is the mass).
    """
    spring_h = box.res_ohm / (box.qms * box.ws_rad_s * box.alpha)
    reactance = box.wb_rad_s * spring_h
    air_h = spring_h * (1.0 + box.duct_share / (1.0 if plugged else 3.0))
    # absorption is in series with the spring as air flows, hence beside the coil here
    absorbed = reactance / box.absorption * (air_h / spring_h)
    lines = [
        f"LCEB cone leak {air_h!r}",
        f"REA cone leak {absorbed!r}",
        f"REL leak {'0' if plugged else 'vent'} {reactance * box.leakage!r}",
    ]
    if not plugged:
        lines += [
            f"CMEV vent 0 {1.0 / (reactance * box.wb_rad_s)!r}",
            f"REP vent 0 {reactance / box.friction!r}",
        ]
    return lines


def _solved(lines: Iterable[str], folder: Path) -> tuple[NDArray[np.float64], Complexes]:
    """Frequencies, Hz, and the impedance at node `in`, ohm."""
    table, circuit = folder / "z.txt", folder / "box.cir"
    circuit.write_text(
        "\n".join(
            [
                "a vented box seen from its terminals",
                "I1 0 in AC 1",
                *lines,
                ".control",
                "set numdgt=12",
                f"ac lin {COUNT} {LOW_HZ} {HIGH_HZ}",
                f"wrdata {table} v(in)",
                "quit",
                ".endc",
                ".end",
                "",
            ]
        )
    )
    subprocess.run(["ngspice", "-b", str(circuit)], check=True, capture_output=True, timeout=60)
    columns = np.loadtxt(table)
    assert columns.shape == (COUNT, 3)
    return columns[:, 0], np.asarray(columns[:, 1] + 1j * columns[:, 2])


def _fitted(frequency_hz: NDArray[np.float64], role: Role, crossover: Crossover | None = None) -> Complexes:
    """The same by the circuit that is fitted."""
    s = np.asarray(2j * np.pi * frequency_hz, dtype=np.complex128)
    view = View(role, s, np.zeros((0, s.size), dtype=np.complex128), {})
    packing = Packing(("re_ohm",), BOX, crossover)
    circuit = Circuit((view,), packing)
    return circuit.evaluate(circuit.pack(BOX))[0]


def _lines(role: Role) -> list[str]:
    if role == "free-air":
        return _driver(BOX, mass_share=1.0 / BOX.air_load**2)
    return _driver(BOX) + _box(BOX, plugged=role == "plugged")


ROLES: tuple[Role, ...] = ("open", "plugged", "free-air")


@pytest.mark.parametrize("role", ROLES)
def test_each_role_agrees_with_ngspice(role: Role, tmp_path: Path) -> None:
    # independent: ngspice knows coils, capacitors and resistors alone
    frequency_hz, z = _solved(_lines(role), tmp_path)
    np.testing.assert_allclose(impedance(2j * np.pi * frequency_hz, BOX, role), z, rtol=1e-6)
    np.testing.assert_allclose(_fitted(frequency_hz, role), z, rtol=1e-6)


def test_crossover_agrees_with_ngspice(tmp_path: Path) -> None:
    # independent: coil and resistor before the box of `_lines`, capacitor and resistor across it
    shunt = [
        f"LX in inner {CROSSOVER.series_h!r}",
        f"RX inner box {CROSSOVER.series_ohm!r}",
        f"CX box branch {CROSSOVER.shunt_f!r}",
        f"RY branch 0 {CROSSOVER.shunt_ohm!r}",
    ]
    behind = [line.replace("RE in coil", "RE box coil") for line in _lines("open")]
    frequency_hz, z = _solved(shunt + behind, tmp_path)
    np.testing.assert_allclose(_fitted(frequency_hz, "open", CROSSOVER), z, rtol=1e-6)
    assert np.abs(z / impedance(2j * np.pi * frequency_hz, BOX) - 1.0).max() > 0.1


@pytest.mark.parametrize(
    ("role", "name"),
    [
        *(
            ("open", name)
            for name in ("leakage", "absorption", "friction", "duct_share", "alpha", "wb_rad_s")
        ),
        *(("plugged", name) for name in ("leakage", "absorption", "duct_share", "alpha")),
        ("free-air", "air_load"),
    ],
)
def test_each_quantity_is_felt(role: Role, name: str) -> None:
    # a tenth more of each moves the curve a thousand times further than ngspice may be off
    s = 2j * np.pi * np.linspace(LOW_HZ, HIGH_HZ, COUNT)
    moved = replace(BOX, **{name: 1.1 * getattr(BOX, name)})
    assert np.abs(impedance(s, moved, role) / impedance(s, BOX, role) - 1.0).max() > 1e-3


@pytest.mark.parametrize(
    ("role", "names"),
    [
        ("plugged", ("friction", "air_load")),
        ("free-air", ("leakage", "absorption", "friction", "alpha", "duct_share")),
        ("open", ("air_load",)),
    ],
)
def test_what_a_role_does_not_have_changes_nothing(role: Role, names: tuple[str, ...]) -> None:
    # exact: a stopped vent has no resistance, a driver alone has no box
    s = 2j * np.pi * np.linspace(LOW_HZ, HIGH_HZ, 50)
    other = replace(BOX, **{name: 2.0 * getattr(BOX, name) for name in names})
    np.testing.assert_array_equal(impedance(s, other, role), impedance(s, BOX, role))
