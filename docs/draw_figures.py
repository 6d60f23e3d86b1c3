"""Draws the three figures of docs/how_it_works.md with the project's own physics.

python docs/draw_figures.py
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from sealtune.analysis.circuit import Circuit, View
from sealtune.analysis.parameters import Packing
from sealtune.analysis.search import Points, search
from sealtune.physics.air import standard_air
from sealtune.physics.leak import slit_impedance
from sealtune.physics.vented_box import VentedBox, impedance, tuning_and_q
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Role
from sealtune.report.look import LIGHT

Reals = NDArray[np.float64]
HERE = Path(__file__).resolve().parent
HZ = np.geomspace(8.0, 400.0, 1500)
S = np.asarray(2j * np.pi * HZ)

# invented, of the size of a bookshelf box of 18 litres
BOX = VentedBox(
    re_ohm=5.6, coil_ohm=1.2, coil_exponent=0.68, coil_h=2e-4, coil_shunt_s=0.03, res_ohm=48.0,
    ws_rad_s=2 * np.pi * 48.0, qms=4.6, creep=0.1, alpha=1.15, wb_rad_s=2 * np.pi * 40.0,
    leakage=1 / 20, friction=1 / 45, plain_share=0.1, absorption=1 / 60, volume_m3=0.018, duct_share=0.02,
)  # fmt: skip


WORDS: dict[Role, str] = {"open": "vent open", "plugged": "vent stopped", "free-air": "driver alone"}


def main() -> None:
    """Draw all three."""
    with rc_context(
        {
            "font.family": ["DejaVu Sans"],
            "font.size": 9.5,
            "axes.spines.top": False,
            "axes.spines.right": False,
        }
    ):
        _save(_minimum_and_tuning(), "minimum_and_tuning.png")
        _save(_one_curve_two_boxes(), "one_curve_two_boxes.png")
        _save(_gap_width(), "gap_width.png")


def _save(figure: Figure, name: str) -> None:
    figure.savefig(HERE / name, dpi=110, bbox_inches="tight", metadata={"Software": None})
    print(f"Wrote docs/{name}")


def _logarithmic(axes: Axes, label: str) -> None:
    axes.set_xscale("log")
    ticks = [10, 20, 30, 50, 100, 200, 400]
    axes.set_xticks(ticks, [str(tick) for tick in ticks])
    axes.minorticks_off()
    axes.set_xlim(HZ[0], HZ[-1])
    axes.set_xlabel("frequency, Hz")
    axes.set_ylabel(label)
    axes.grid(True, color=LIGHT["rule"], linewidth=0.6)


def _minimum_and_tuning() -> Figure:
    """|Z| with its minimum, its zero of phase and the true tuning, for a box tuned below its driver's resonance."""
    figure = Figure(figsize=(8.2, 3.4))
    whole, close = figure.subplots(1, 2, width_ratios=(1.5, 1.0))
    box = replace(BOX, ws_rad_s=2 * np.pi * 36.0, wb_rad_s=2 * np.pi * 48.0, leakage=1 / 8, coil_ohm=1.6)
    z = impedance(S, box)
    whole.plot(HZ, np.abs(z), color=LIGHT["ink"], linewidth=1.6)
    _logarithmic(whole, "impedance, ohm")
    whole.set_ylim(0.0, None)
    fine_hz = np.linspace(40.0, 56.0, 4000)
    fine = impedance(2j * np.pi * fine_hz, box)
    tuning_hz = tuning_and_q(box)[0]
    lowest_hz = float(fine_hz[np.argmin(np.abs(fine))])
    crossing = np.flatnonzero(np.diff(np.sign(fine.imag)))
    phase_hz = float(fine_hz[crossing[np.argmin(np.abs(fine_hz[crossing] - tuning_hz))]])
    close.plot(fine_hz, np.abs(fine), color=LIGHT["ink"], linewidth=1.6)
    marks = (
        (tuning_hz, "-", f"tuning, {tuning_hz:.1f} Hz"),
        (lowest_hz, "--", f"lowest point, {lowest_hz:.1f} Hz ({100 * (lowest_hz / tuning_hz - 1):+.1f} %)"),
        (phase_hz, ":", f"zero of phase, {phase_hz:.1f} Hz ({100 * (phase_hz / tuning_hz - 1):+.1f} %)"),
    )
    for hz, style, label in marks:
        close.axvline(hz, color=LIGHT["ink"], linestyle=style, linewidth=1.2, label=label)
    close.set_xlim(40.0, 56.0)
    close.set_ylim(None, float(np.abs(fine).max()))
    close.set_xlabel("frequency, Hz")
    close.legend(loc="upper center", fontsize=8.0, frameon=True)
    close.grid(True, color=LIGHT["rule"], linewidth=0.6)
    figure.tight_layout()
    return figure


def _one_curve_two_boxes() -> Figure:
    """Two boxes with other losses whose open curves are one and the same, and their curves with the vent stopped."""
    first = replace(BOX, creep=0.0, plain_share=1.0, volume_m3=0.0)
    names = ("re_ohm", "res_ohm", "ws_rad_s", "alpha", "wb_rad_s", "leakage", "friction", "absorption")
    driver = replace(first, qms=0.94 * first.qms)
    z = impedance(S, first)
    points = Points.of([ImpedanceCurve(HZ, z, 1e-9 * np.abs(z))])
    circuit = Circuit((View.of("open", ImpedanceCurve(HZ, z, 1e-9 * np.abs(z))),), _Unknown(names, driver))
    found = search(points, circuit, circuit.pack(first), np.array([1e-7]), stages=3)
    if found is None:
        raise SystemExit("The second box was not found.")
    second = circuit.unpack(found.vector)
    figure = Figure(figsize=(8.2, 3.4))
    left, right = figure.subplots(1, 2)
    for box, style, width in ((first, "-", 3.2), (second, "--", 1.4)):
        qs = (1.0 / box.leakage, 1.0 / box.friction, 1.0 / box.absorption)
        label = "leakage Q {:.0f}, vent Q {:.0f}, absorption Q {:.0f}".format(*qs)
        color = LIGHT["soft"] if style == "-" else LIGHT["ink"]
        left.plot(HZ, np.abs(impedance(S, box)), style, color=color, linewidth=width, label=label)
    _logarithmic(left, "impedance, ohm")
    left.set_ylim(0.0, 52.0)
    left.set_title("vent open: two boxes, one curve", fontsize=9.5)
    left.legend(fontsize=7.5, loc="upper right")
    apart: tuple[tuple[Role, str], ...] = (("open", ":"), ("plugged", "-"), ("free-air", "--"))
    for role, style in apart:
        size = np.abs(impedance(S, second, role) / impedance(S, first, role))
        right.plot(HZ, 100.0 * (size - 1.0), style, color=LIGHT["ink"], linewidth=1.6, label=WORDS[role])
    _logarithmic(right, "second box against the first, %")
    right.set_title("how far the two are apart", fontsize=9.5)
    right.legend(fontsize=8.0)
    figure.tight_layout()
    return figure


class _Unknown(Packing):
    """A packing about whose quantities nothing is known beforehand."""

    def prior(self) -> tuple[Reals, Reals]:
        """Return no knowledge."""
        return np.zeros(len(self.names)), np.zeros(len(self.names))


def _gap_width() -> Figure:
    """Tuning and box Q against the width of a gap of 50 mm in a panel of 15 mm."""
    air = standard_air()
    hz, tight_q = tuning_and_q(BOX)
    volume_m3 = BOX.volume_m3
    vent_mass = air.bulk_modulus_pa / (volume_m3 * BOX.wb_rad_s**2)
    gaps_m = np.geomspace(0.1e-3, 2.0e-3, 60)
    found = []
    for gap_m in gaps_m:
        mass = air.density_kg_m3 * 0.015 / (0.05 * gap_m)
        time_s = gap_m**2 * air.density_kg_m3 / (4.0 * air.viscosity_pa_s)
        found.append(tuning_and_q(replace(BOX, leak_ratio=vent_mass / mass, leak_time_s=time_s)))
    raised = np.array(found)
    alone = [
        2.0
        * np.pi
        * hz
        * volume_m3
        / air.bulk_modulus_pa
        / (1.0 / complex(leak)).real  # w C_AB over its conductance
        for leak in slit_impedance(2j * np.pi * hz, 0.015, 0.05, gaps_m, air)
    ]
    figure = Figure(figsize=(8.2, 3.2))
    left, right = figure.subplots(1, 2)
    left.plot(1e3 * gaps_m, 100.0 * (raised[:, 0] / hz - 1.0), color=LIGHT["ink"], linewidth=1.8)
    left.set_ylabel("tuning, % above that of the tight box")
    right.plot(1e3 * gaps_m, raised[:, 1], color=LIGHT["ink"], linewidth=1.8, label="box Q")
    right.plot(1e3 * gaps_m, alone, "--", color=LIGHT["ink"], linewidth=1.1, label="Q of the gap alone")
    right.axhline(tight_q, color=LIGHT["soft"], linewidth=1.0)
    right.set_ylim(0.0, 40.0)
    right.set_ylabel("Q at the tuning")
    right.legend(fontsize=8.0)
    for axes in (left, right):
        axes.set_xscale("log")
        ticks = [0.1, 0.2, 0.5, 1.0, 2.0]
        axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
        axes.minorticks_off()
        axes.set_xlabel("width of the gap, mm")
        axes.grid(True, color=LIGHT["rule"], linewidth=0.6)
    figure.tight_layout()
    return figure


if __name__ == "__main__":
    main()
