"""Draws the small figures of docs/faults.md, one for each fault and each problem, from virtual boxes and recordings.

python docs/draw_fault_figures.py
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from sealtune.records.design import Box, Design, Driver, Tuning, Vent
from sealtune.records.recording import Jig, Recording, Sweep
from sealtune.report.look import LIGHT
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.faults import apply_fault
from sealtune.virtual.measurement_faults import spoil
from sealtune.virtual.sound_card import record

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
FOLDER = Path(__file__).resolve().parent / "faults"
HZ = np.geomspace(8.0, 400.0, 1200)
REFERENCE_OHM = 10.0
SWEEP = Sweep(5.0, 1000.0, 6.0, begins_s=0.5, fade_s=0.1)

# invented: a bookshelf box of 18 litres with one 6.5-inch driver
DESIGN = Design(
    name="invented",
    box=Box(0.018),
    vent=Vent("round", float(np.pi * 0.026**2), 0.147, diameter_m=0.052),
    tuning=Tuning(43.5),
    driver=Driver(fs_hz=46.0, qms=4.6, qes=0.41, vas_m3=0.020, re_ohm=5.6, sd_m2=0.0136),
)


def main() -> None:
    """Draw all."""
    FOLDER.mkdir(exist_ok=True)
    style = {
        "font.family": ["DejaVu Sans"], "font.size": 8.0, "axes.spines.top": False, "axes.spines.right": False,
    }  # fmt: skip
    drawn = figures()
    with rc_context(style):
        for name, draw in drawn.items():
            figure = Figure(figsize=(4.0, 1.9))
            draw(figure.subplots())
            figure.tight_layout(pad=0.4)
            figure.savefig(FOLDER / f"{name}.png", dpi=100, metadata={"Software": None})
    print(f"Wrote {len(drawn)} figures to docs/faults")


def figures() -> dict[str, Callable[[Axes], None]]:
    """Return by name of a fault or problem what draws its figure."""
    cabinet = built()
    single = {
        name: partial(against, sound=cabinet, spoilt=faulty(cabinet, kind, severity))
        for name, kind, severity in (
            ("leak", "leak_slit", 0.6), ("vent_long", "vent_long", 0.5), ("vent_short", "vent_short", 0.5),
            ("vent_blocked", "vent_blocked", 0.5), ("vent_restricted", "vent_restricted", 0.6),
            ("volume_small", "volume_small", 0.8), ("volume_large", "volume_large", 0.8),
            ("vent_lined", "vent_lined", 0.7), ("overstuffed", "overstuffed", 0.7),
            ("driver_off", "driver_off", 0.7), ("series_resistance", "series_resistance", 0.8),
            ("not_a_vented_box", "closed_box", 0.5),
        )
    }  # fmt: skip
    pair = built(replace(DESIGN, driver=replace(DESIGN.driver, count=2, wiring="series"), box=Box(0.036)))
    take = record(
        cabinet.impedance,
        Jig("divider", REFERENCE_OHM),
        SWEEP,
        "open",
        np.random.default_rng(3),
        rate_hz=6000.0,
    )
    z = cabinet.impedance(HZ)
    inside = (HZ > 30.0) & (HZ < 55.0)
    coarse = np.geomspace(8.0, 400.0, 16)
    return {
        **single,
        "driver_wiring": partial(against, sound=pair, spoilt=faulty(pair, "driver_wiring", 0.2)),
        "polarity": partial(against, sound=pair, spoilt=faulty(pair, "driver_wiring", 0.8)),
        "clipped": partial(trace, take=take, spoilt=spoilt(take, "clipped", 0.5), begins_s=2.3, lasts_s=0.2),
        "too_quiet": partial(as_it_comes, take=take, spoilt=spoilt(take, "too_quiet", 0.5)),
        "noisy": partial(as_it_comes, take=take, spoilt=spoilt(take, "noisy", 0.45)),
        "hum": partial(as_it_comes, take=take, spoilt=spoilt(take, "hum", 0.75)),
        "dropout": partial(trace, take=take, spoilt=gap(take), begins_s=2.3, lasts_s=0.2),
        "channels_swapped": partial(curve, z=z, wrong=-(REFERENCE_OHM + z), part="resistance, ohm"),
        "channel_missing": partial(both_channels, take=spoilt(take, "channel_missing", 0.2)),
        "wrong_wiring": partial(curve, z=z, wrong=REFERENCE_OHM + REFERENCE_OHM**2 / z),
        "wrong_reference": partial(curve, z=z, wrong=1.6 * z),
        "band_too_narrow": partial(curve, z=z, wrong=np.where(inside, z, np.nan)),
        "too_coarse": partial(points, z=z, at_hz=coarse, read=cabinet.impedance(coarse)),
        "truncated": partial(both_channels, take=cut(take), whole=take),
        "not_impedance": partial(curve, z=z, wrong=np.full(HZ.size, 8.0 + 0.0j)),
        "level_dependent": partial(against, sound=cabinet, spoilt=loud(cabinet), label="louder"),
    }


def built(design: Design = DESIGN) -> VirtualCabinet:
    """Return a sealed box of a design."""
    return cabinet_from_design(design, np.random.default_rng(7))


def faulty(cabinet: VirtualCabinet, kind: str, severity: float) -> VirtualCabinet:
    """Return the box with a fault."""
    return apply_fault(cabinet, kind, severity, np.random.default_rng(4))


def spoilt(take: Recording, kind: str, strength: float) -> Recording:
    """Return the recording with a fault."""
    return spoil(take, kind, strength, np.random.default_rng(8))


def gap(take: Recording) -> Recording:
    """Return the recording with 15 ms lost in the stretch that is drawn."""
    channels = take.channels.copy()
    channels[14400:14490] = 0.0
    return replace(take, channels=channels)


def cut(take: Recording) -> Recording:
    """Return the first half of the recording."""
    return replace(take, channels=take.channels[: take.channels.shape[0] // 2])


def loud(cabinet: VirtualCabinet) -> VirtualCabinet:
    """Return the box as a driver near its limits shows it: its suspension softer at first, and lossier."""
    driver = cabinet.driver
    driver = replace(
        driver, compliance_m_n=1.25 * driver.compliance_m_n, damping_kg_s=1.8 * driver.damping_kg_s
    )
    return replace(cabinet, driver=driver)


def against(axes: Axes, sound: VirtualCabinet, spoilt: VirtualCabinet, label: str = "with the fault") -> None:
    """Draw |Z| of a box with a fault over that of the sound one."""
    axes.plot(
        HZ, np.abs(sound.impedance(HZ)), color=LIGHT["soft"], linewidth=1.2, linestyle="--", label="sound"
    )
    axes.plot(HZ, np.abs(spoilt.impedance(HZ)), color=LIGHT["ink"], linewidth=1.6, label=label)
    _finish(axes, "impedance, ohm")


def curve(axes: Axes, z: Complexes, wrong: Complexes, part: str = "impedance, ohm") -> None:
    """Draw a curve as it comes out wrong over the true one."""
    of: Callable[[Complexes], Reals] = np.real if part.startswith("resistance") else np.abs
    axes.plot(HZ, of(z), color=LIGHT["soft"], linewidth=1.2, linestyle="--", label="true")
    axes.plot(HZ, of(wrong), color=LIGHT["ink"], linewidth=1.6, label="as it comes out")
    _finish(axes, part)


def points(axes: Axes, z: Complexes, at_hz: Reals, read: Complexes) -> None:
    """Draw a curve that is known at a few points only."""
    axes.plot(HZ, np.abs(z), color=LIGHT["soft"], linewidth=1.2, linestyle="--", label="true")
    axes.plot(
        at_hz, np.abs(read), "o-", color=LIGHT["ink"], markersize=3.0, linewidth=1.2, label="as measured"
    )
    _finish(axes, "impedance, ohm")


def as_it_comes(axes: Axes, take: Recording, spoilt: Recording) -> None:
    """Draw |Z| by the plain ratio of the two channels' spectra, in steps of a sixth of a second."""
    hz, true = plain_ratio(take)
    axes.plot(hz, np.abs(true), color=LIGHT["soft"], linewidth=1.2, linestyle="--", label="sound")
    axes.plot(hz, np.abs(plain_ratio(spoilt)[1]), color=LIGHT["ink"], linewidth=1.0, label="as it comes out")
    _finish(axes, "impedance, ohm")
    axes.set_ylim(0.0, 1.6 * float(np.abs(true).max()))


def plain_ratio(take: Recording) -> tuple[Reals, Complexes]:
    """Return frequencies and impedance by the ratio of spectra, nothing taken out."""
    spectra = np.fft.rfft(take.channels, axis=0)
    hz = np.fft.rfftfreq(take.channels.shape[0], 1.0 / take.rate_hz)
    band = (hz > 8.0) & (hz < 400.0)
    ratio = spectra[band, 1] / spectra[band, 0]
    return hz[band], np.asarray(REFERENCE_OHM * ratio / (1.0 - ratio))


def trace(axes: Axes, take: Recording, spoilt: Recording, begins_s: float, lasts_s: float) -> None:
    """Draw a stretch of channel 1, scaled so that the sound stretch lies over the spoilt one."""
    frames = slice(int(begins_s * take.rate_hz), int((begins_s + lasts_s) * take.rate_hz))
    time_s = np.arange(frames.start, frames.stop) / take.rate_hz
    true, wrong = take.channels[frames, 0], spoilt.channels[frames, 0]
    slope = np.abs(np.diff(wrong)).max() / np.abs(np.diff(true)).max() if np.abs(wrong).max() > 0.99 else 1.0
    axes.plot(time_s, slope * true, color=LIGHT["soft"], linewidth=1.2, linestyle="--", label="sound")
    axes.plot(time_s, wrong, color=LIGHT["ink"], linewidth=1.4, label="with the problem")
    _timed(axes)


def both_channels(axes: Axes, take: Recording, whole: Recording | None = None) -> None:
    """Draw both channels of a recording over time, the second below the first."""
    full = take if whole is None else whole
    size = 2.4 * float(np.abs(full.channels).max())
    for channel in (0, 1):
        if whole is not None:
            time_s = np.arange(full.channels.shape[0]) / full.rate_hz
            axes.plot(time_s, full.channels[:, channel] - channel * size, color=LIGHT["rule"], linewidth=0.4)
        time_s = np.arange(take.channels.shape[0]) / take.rate_hz
        axes.plot(time_s, take.channels[:, channel] - channel * size, color=LIGHT["ink"], linewidth=0.4)
    axes.set_yticks([0.0, -size], ["channel 1", "channel 2"])
    axes.set_xlabel("time, s")


def _timed(axes: Axes) -> None:
    axes.set_xlabel("time, s")
    axes.set_ylabel("channel 1")
    axes.set_yticks([])
    axes.legend(fontsize=7.0, loc="lower right", frameon=True)


def _finish(axes: Axes, label: str) -> None:
    axes.set_xscale("log")
    ticks = [10, 20, 50, 100, 200, 400]
    axes.set_xticks(ticks, [str(tick) for tick in ticks])
    axes.minorticks_off()
    axes.set_xlim(HZ[0], HZ[-1])
    if not label.startswith("resistance"):
        axes.set_ylim(0.0, None)
    axes.set_xlabel("frequency, Hz")
    axes.set_ylabel(label)
    axes.grid(True, color=LIGHT["rule"], linewidth=0.5)
    axes.legend(fontsize=7.0, loc="upper right", frameon=True)


if __name__ == "__main__":
    main()
