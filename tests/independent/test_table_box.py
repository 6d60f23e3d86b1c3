"""A lossy vented box in physical units: solved by nodes, by ngspice, and held against computed extrema.

The box: R_E 6 ohm, no inductance, f_S 40 Hz, Q_ES 0.40, Q_MS 4.0, alpha 1.5, f_B and one loss as stated.
"""

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sealtune.virtual.circuit import Complex, Network

RE, QES, QMS, ALPHA, OMEGA_S = 6.0, 0.40, 4.0, 1.5, 2 * np.pi * 40.0
AREA, MASS = 0.022, 0.030
COMPLIANCE = 1.0 / (OMEGA_S**2 * MASS)
DAMPING = OMEGA_S * MASS / QMS
BL = float(np.sqrt(OMEGA_S * MASS * RE / QES))
AIR = AREA**2 * COMPLIANCE / ALPHA


def _impedance(
    frequency_hz: NDArray[np.float64],
    fb_hz: float,
    *,
    leakage_q: float = np.inf,
    absorption_q: float = np.inf,
    vent_q: float = np.inf,
    plugged: bool = False,
) -> Complex:
    s = 2j * np.pi * frequency_hz
    omega_b = 2 * np.pi * fb_hz
    network = Network(s.size, ("coil", "cone", "box"))
    network.transformer("coil", "cone", BL, np.full(s.shape, 1.0 / RE))
    network.connect("cone", "ground", DAMPING + s * MASS + 1.0 / (s * COMPLIANCE))
    network.gyrator("cone", "box", AREA)
    network.connect("box", "ground", 1.0 / (1.0 / (s * AIR) + 1.0 / (omega_b * AIR * absorption_q)))
    network.connect("box", "ground", omega_b * AIR / leakage_q)
    if not plugged:
        network.connect("box", "ground", 1.0 / (s / (omega_b**2 * AIR) + 1.0 / (omega_b * AIR * vent_q)))
    return network.impedance_at("coil")


def _extrema(frequency_hz: NDArray[np.float64], z: Complex) -> list[tuple[float, float]]:
    """Frequency and height of every extremum of |z|, by the parabola through three points."""
    height = np.abs(z)
    turns = np.flatnonzero((height[1:-1] - height[:-2]) * (height[2:] - height[1:-1]) < 0) + 1
    found = []
    for n in turns:
        a, b, c = height[n - 1], height[n], height[n + 1]
        shift = 0.5 * (a - c) / (a - 2 * b + c)
        step = frequency_hz[n + 1] - frequency_hz[n]
        found.append((float(frequency_hz[n] + shift * step), float(b - 0.25 * (a - c) * shift)))
    return found


GRID_HZ = np.arange(10.0, 120.0, 0.005)

# independent: computed from the ladder with Q_L as the only loss, before this program was written;
# (f_B, Q_L) -> f_L, f_M, f_H, f_C in Hz and |Z(f_M)| / R_E
EXTREMA = [
    (40.0, 20.0, 22.367, 40.000, 71.535, 63.323, 1.0826),
    (40.0, 7.0, 22.300, 40.000, 71.749, 63.413, 1.2326),
    (40.0, 3.0, 22.233, 40.000, 71.964, 63.361, 1.5263),
    (32.0, 7.0, 18.632, 32.609, 68.606, 63.393, 1.1853),
    (50.0, 7.0, 26.121, 49.044, 76.754, 63.428, 1.2849),
]


@pytest.mark.parametrize(("fb", "ql", "low", "saddle", "high", "closed", "ratio"), EXTREMA)
def test_extrema_of_the_lossy_box(
    fb: float, ql: float, low: float, saddle: float, high: float, closed: float, ratio: float
) -> None:
    found = _extrema(GRID_HZ, _impedance(GRID_HZ, fb, leakage_q=ql))
    assert [hz for hz, _ in found] == pytest.approx([low, saddle, high], abs=0.0015)
    assert found[1][1] / RE == pytest.approx(ratio, abs=2e-4)
    plugged = _extrema(GRID_HZ, _impedance(GRID_HZ, fb, leakage_q=ql, plugged=True))
    assert plugged[-1][0] == pytest.approx(closed, abs=0.0015)


@pytest.mark.parametrize(
    # independent: same computation, h = 1, one loss of Q 7 at a time; lower and upper peak in ohm
    ("loss", "lower", "upper"),
    [("leakage_q", 44.41, 44.41), ("absorption_q", 57.00, 27.44), ("vent_q", 27.44, 57.00)],
)
def test_peak_heights_tell_the_losses_apart(loss: str, lower: float, upper: float) -> None:
    found = _extrema(GRID_HZ, _impedance(GRID_HZ, 40.0, **{loss: 7.0}))  # type: ignore[arg-type]
    assert [found[0][1], found[2][1]] == pytest.approx([lower, upper], abs=0.006)


def test_lossless_box_has_its_closed_form_peaks() -> None:
    # exact: f_S f_B = f_L f_H, f_L^2 + f_H^2 = f_C^2 + f_B^2 [Thiele1971]; f_L, f_H = 22.40926, 71.39906 Hz
    found = _extrema(GRID_HZ, _impedance(GRID_HZ, 40.0))
    assert found[0][0] == pytest.approx(22.40926, abs=0.0015)
    assert found[2][0] == pytest.approx(71.39906, abs=0.0015)
    assert found[0][1] == pytest.approx(RE * (1 + QMS / QES), rel=1e-5)  # exact: R_E + R_ES = 66 ohm


@pytest.mark.skipif(not shutil.which("ngspice"), reason="needs ngspice")
@pytest.mark.parametrize(("fb", "ql"), [(40.0, 7.0), (32.0, 7.0), (50.0, 3.0)])
def test_nodes_agree_with_ngspice(tmp_path: Path, fb: float, ql: float) -> None:
    # independent: ngspice solves the dual circuit, all parts seen from the electrical side: the air spring
    # is a coil, the vent a capacitor, leakage a resistor, in series behind the driver's own parallel circuit
    scale = BL**2 / AREA**2
    omega_b = 2 * np.pi * fb
    table = tmp_path / "z.txt"
    circuit = tmp_path / "box.cir"
    circuit.write_text(
        "vented box seen from the coil\n"
        "I1 0 1 AC 1\n"
        f"RE 1 2 {RE!r}\n"
        f"RES 2 0 {BL**2 / DAMPING!r}\n"
        f"CMES 2 0 {MASS / BL**2!r}\n"
        f"LCES 2 0 {COMPLIANCE * BL**2!r}\n"
        f"LCEB 2 3 {scale * AIR!r}\n"
        f"REL 3 4 {scale * omega_b * AIR / ql!r}\n"
        f"CMEV 4 0 {1.0 / (omega_b**2 * AIR) / scale!r}\n"
        ".control\n"
        "set numdgt=12\n"
        "ac lin 221 10 120\n"
        f"wrdata {table} v(1)\n"
        "quit\n"
        ".endc\n"
        ".end\n"
    )
    subprocess.run(["ngspice", "-b", str(circuit)], check=True, capture_output=True, timeout=60)
    columns = np.loadtxt(table)
    assert columns.shape == (221, 3)
    z = _impedance(columns[:, 0], fb, leakage_q=ql)
    np.testing.assert_allclose(z, columns[:, 1] + 1j * columns[:, 2], rtol=1e-6)
