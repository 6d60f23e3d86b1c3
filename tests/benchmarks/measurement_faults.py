"""What becomes of spoilt recordings: named, stopped, harmless or misleading; and what clean ones are accused of.

    python tests/benchmarks/measurement_faults.py [--cabinets 12] [--seed 70000] [--workers 2] [--only WORD] [--bare]

Random cabinets, recorded in both wirings with random jigs, levels, rates and codings, are written to files and
go through the same chain as `sealtune check`. Each spoilt recording is held against clean ones of the same cabinet:

  named       the expected problem is told (and the recording refused, or the result still right)
  stopped     refused under another name
  unnamed     refused as no vented box, without a problem's name
  harmless    a verdict that one of six clean recordings gets too, tuning within 0.5 % of the clean one's or truth
              within its interval
  misled      none of these

With --bare the spoilt takes lose their metadata, as if some other program had made them, and wiring and resistor
are told by options.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter, defaultdict
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sealtune.files.sound_file import write_recording
from sealtune.jobs.check import check
from sealtune.jobs.recordings import CheckOptions
from sealtune.records.design import Design
from sealtune.records.recording import Jig, Origin, Recording, Sweep
from sealtune.records.verdict import Result, VerdictWord
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.measurement_faults import MEASUREMENT_FAULTS, spoil
from sealtune.virtual.population import draw_cabinet, draw_design
from sealtune.virtual.sound_card import SoundCard, pink_noise, quantised, record

Reals = NDArray[np.float64]
Rng = np.random.Generator
Spoiler = Callable[[Recording, float, Rng], Recording]
Maker = Callable[[VirtualCabinet, Jig, Rng], Recording]

ALSO: dict[str, tuple[str, ...]] = {
    "too_quiet": ("noisy",),
    "noisy": ("too_quiet", "clipped"),
    "hum": ("clipped",),
    "bump": ("noisy",),
    "polarity": ("wrong_wiring",),
    "one_channel_slipped": ("not_impedance",),
    "cut, no metadata": ("band_too_narrow",),
    "one_channel_late": ("wrong_wiring", "not_impedance"),
    "other sample rate": ("truncated",),
    "loose_clip": ("noisy", "not_impedance"),
    "loose_lead": ("noisy", "not_impedance"),
    "clocks_apart": ("wrong_wiring", "not_impedance"),
    "eight_bits": ("noisy", "too_quiet", "channel_missing"),
}
"""Other names that tell the user the right thing; noise and hum near full scale do clip."""

CLEAN_TAKES = 5
"""Further clean recordings of each box, whose verdicts count as right too."""

SPANS = {"slight": (0.0, 0.35), "medium": (0.4, 0.65), "gross": (0.7, 1.0)}


def _edited(take: Recording, channels: Reals) -> Recording:
    return replace(take, channels=quantised(channels, take.step), expected_frames=channels.shape[0])


def cut_without_metadata(take: Recording, strength: float, _rng: Rng) -> Recording:
    """End a take without metadata after 85 to 20 % of its length."""
    kept = round(take.channels.shape[0] * (0.85 - 0.65 * strength))
    return replace(take, channels=take.channels[:kept].copy(), expected_frames=kept, origin=Origin())


def other_rate(take: Recording, _strength: float, _rng: Rng) -> Recording:
    """Name another sample rate in the header than was recorded with."""
    return replace(take, rate_hz=44100.0 if take.rate_hz == 48000.0 else 48000.0)


def hum_50(take: Recording, _strength: float, rng: Rng) -> Recording:
    """Add hum at -20 dB of channel 2's peak, 50 Hz and three multiples."""
    return _hum(take, 50.0, rng)


def hum_60(take: Recording, _strength: float, rng: Rng) -> Recording:
    """Add hum at -20 dB of channel 2's peak, 60 Hz and three multiples."""
    return _hum(take, 60.0, rng)


def _hum(take: Recording, mains_hz: float, rng: Rng) -> Recording:
    time_s = np.arange(take.channels.shape[0]) / take.rate_hz
    mains_hz += float(rng.uniform(-0.05, 0.05))
    tone = sum(np.sin(2 * np.pi * (k * mains_hz * time_s + rng.random())) * 0.5 ** (k - 1) for k in (1, 2, 3))
    level = 0.1 * np.abs(take.channels[:, 1]).max()
    return _edited(take, take.channels + np.asarray(tone)[:, np.newaxis] * [0.2 * level, level])


MORE_FAULTS: dict[str, tuple[str, Spoiler]] = {
    "cut, no metadata": ("truncated", cut_without_metadata),
    "other sample rate": ("dropout", other_rate),
    "hum 50 Hz, -20 dB": ("hum", hum_50),
    "hum 60 Hz, -20 dB": ("hum", hum_60),
}


def draw_jig(rng: Rng) -> Jig:
    """Return a random wiring with a resistor of 1 to 100 ohm, of 0.1 to 10 ohm for the sense wiring."""
    if rng.random() < 0.5:
        return Jig("divider", float(10.0 ** rng.uniform(0.0, 2.0)))
    return Jig("sense", float(10.0 ** rng.uniform(-1.0, 1.0)))


def plain(cabinet: VirtualCabinet, jig: Jig, rng: Rng, **changes: object) -> Recording:
    """Return a clean take by the program's own sweep at a random level, rate and coding."""
    card = SoundCard(
        level_dbfs=float(rng.uniform(-25.0, -8.0)),
        mismatch_db=float(rng.normal(0.0, 0.03)),
        roll_off_hz=float(rng.choice([0.5, 3.0, 8.0])),
        bits=int(rng.choice([16, 24, 24])),
    )
    card = replace(card, **changes)  # type: ignore[arg-type]
    rate_hz = float(rng.choice([44100.0, 48000.0, 48000.0, 96000.0]))
    sweep = Sweep(5.0, 1000.0, float(rng.uniform(5.0, 12.0)), begins_s=0.5, fade_s=0.05)
    return record(cabinet.impedance, jig, sweep, "open", rng, card=card, rate_hz=rate_hz)


def foreign(stimulus: Callable[[Rng], Reals], noise: float = 2e-5) -> Maker:
    """Return the maker of takes that some other program played and cut, at 48 kHz without metadata.

    What comes back begins a second into the stimulus's second round, so that it has no silence around it.
    """

    def make(cabinet: VirtualCabinet, jig: Jig, rng: Rng) -> Recording:
        played = stimulus(rng)
        played = 0.25 * played / np.abs(played).max()
        table_hz = np.geomspace(0.2, 24000.0, 6000)
        table = cabinet.impedance(table_hz)
        hz = np.maximum(np.fft.rfftfreq(played.size, 1.0 / 48000.0), 0.2)
        load = np.interp(hz, table_hz, table.real) + 1j * np.interp(hz, table_hz, table.imag)
        current = np.fft.rfft(played) / (0.1 + jig.reference_ohm + load)
        across, sensed = (np.fft.irfft(current * part, played.size) for part in (load, jig.reference_ohm))
        pair = [across + sensed, across] if jig.wiring == "divider" else [across, sensed]
        channels = np.stack(pair, axis=1) + 1e-3
        channels += noise * rng.standard_normal(channels.shape)
        return Recording(quantised(channels, 2.0**-23), 48000.0, 2.0**-23, expected_frames=channels.shape[0])

    return make


def white(rng: Rng) -> Reals:
    """Return 20 s of white noise, 24 s of it played."""
    return np.asarray(rng.standard_normal(24 * 48000))


def pink(rng: Rng) -> Reals:
    """Return 24 s of pink noise."""
    return pink_noise(24 * 48000, 48000.0, rng)


def binary(rng: Rng) -> Reals:
    """Return 16 rounds of a random binary sequence of 65536 steps, 21.8 s."""
    return np.tile(rng.choice([-1.0, 1.0], 65536), 16)


def bare_sweep(_rng: Rng) -> Reals:
    """Return a logarithmic sweep from 4 Hz to 20 kHz over 12 s, without silence or fades."""
    time_s = np.arange(12 * 48000) / 48000.0
    rate = 12.0 / np.log(5000.0)
    return np.asarray(np.sin(2 * np.pi * 4.0 * rate * np.expm1(time_s / rate)))


def multitone(rng: Rng) -> Reals:
    """Return 10 rounds of a two-second multitone with a tone every 0.5 Hz from 4 to 1000 Hz."""
    time_s = np.arange(2 * 48000) / 48000.0
    tones = np.arange(4.0, 1000.0, 0.5)
    spectrum = np.zeros(time_s.size // 2 + 1, dtype=complex)
    spectrum[np.rint(tones * 2).astype(int)] = np.exp(2j * np.pi * rng.random(tones.size))
    return np.tile(np.fft.irfft(spectrum), 10)


def _padded(stimulus: Callable[[Rng], Reals], seconds: float) -> Callable[[Rng], Reals]:
    silence = np.zeros(round(seconds * 48000))
    return lambda rng: np.concatenate([silence, stimulus(rng), silence])


def _stripped(maker: Maker) -> Maker:
    return lambda cabinet, jig, rng: replace(maker(cabinet, jig, rng), origin=Origin())


def _quiet(cabinet: VirtualCabinet, jig: Jig, rng: Rng) -> Recording:
    take = plain(cabinet, jig, rng, bits=24, noise_dbfs=-110.0, pink_dbfs=-115.0, hum_dbfs=-110.0)
    louder = 10.0 ** (-45.0 / 20.0) / np.abs(take.channels).max()
    return _edited(take, take.channels * louder)


def _offset(cabinet: VirtualCabinet, jig: Jig, rng: Rng) -> Recording:
    return plain(cabinet, jig, rng, offset=0.05)


def _coarse_bits(cabinet: VirtualCabinet, jig: Jig, rng: Rng) -> Recording:
    take = plain(cabinet, jig, rng, bits=0)
    step = 2.0**-7
    dither = step * (rng.random(take.channels.shape) - rng.random(take.channels.shape)) / 2.0
    gain = 0.7 / np.abs(take.channels).max()
    return replace(take, channels=quantised(take.channels * gain + dither, step), step=step)


def _waiting(cabinet: VirtualCabinet, jig: Jig, rng: Rng) -> Recording:
    take = plain(cabinet, jig, rng, bits=24, silence_after_s=12.0)
    return replace(take, origin=Origin())


CLEAN: dict[str, Maker] = {
    "own sweep": plain,
    "own sweep, no metadata": _stripped(plain),
    "floating point": lambda c, j, r: plain(c, j, r, bits=0),
    "peak -45 dB, 24 bit": _quiet,
    "offset 5 % of full scale": _offset,
    "8 bit, dithered": _coarse_bits,
    "12 s of silence after": _waiting,
    "driver bends, 1 % and 2 %": lambda c, j, r: plain(c, j, r, driver_second=0.01, driver_third=0.02),
    "white noise": foreign(white),
    "white noise in silence": foreign(_padded(white, 1.0)),
    "pink noise": foreign(pink),
    "binary sequence": foreign(binary),
    "multitone": foreign(multitone),
    "bare sweep": foreign(bare_sweep),
    "bare sweep in silence": foreign(_padded(bare_sweep, 1.0)),
}


def design_toml(design: Design) -> str:
    """Return the design as a design file."""
    vent, driver = design.vent, design.driver
    assert vent is not None
    assert driver.vas_m3 is not None
    assert driver.sd_m2 is not None
    lines = [
        "[box]",
        f"volume_l = {design.box.volume_m3 * 1e3!r}",
        f'lining = "{design.box.lining}"',
        "[vent]",
    ]
    if vent.shape == "round" and vent.diameter_m is not None:
        lines += ['shape = "round"', f"diameter_mm = {vent.diameter_m * 1e3!r}"]
    elif vent.width_m is not None and vent.height_m is not None:
        lines += ['shape = "rectangular"', f"width_mm = {vent.width_m * 1e3!r}"]
        lines += [f"height_mm = {vent.height_m * 1e3!r}"]
    lines += [f"length_mm = {vent.length_m * 1e3!r}", "[tuning]", f"target_hz = {design.tuning.target_hz!r}"]
    lines += ["[driver]", f"fs_hz = {driver.fs_hz!r}", f"qms = {driver.qms!r}", f"qes = {driver.qes!r}"]
    lines += [f"vas_l = {driver.vas_m3 * 1e3!r}", f"re_ohm = {driver.re_ohm!r}"]
    lines += [f"sd_cm2 = {driver.sd_m2 * 1e4!r}"]
    crossover = design.crossover
    if crossover is not None:
        lines += ["[crossover]", f"series_mh = {crossover.series_h * 1e3!r}"]
        lines += [f"series_ohm = {crossover.series_ohm!r}"]
        if crossover.shunt_f is not None:
            lines += [f"shunt_uf = {crossover.shunt_f * 1e6!r}"]
    return "\n".join(lines) + "\n"


@dataclass(frozen=True)
class Row:
    """What came of one recording: its kind, the span of strengths, and the outcome; a note where it is bad."""

    kind: str
    span: str
    outcome: str
    note: str = ""


def verdict_on(take: Recording, design: Design, jig: Jig) -> Result:
    """Return the verdict on a take, by way of files."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "design.toml").write_text(design_toml(design))
        path = folder / "open.wav"
        write_recording(path, take)
        bare = take.origin.jig is None
        options = CheckOptions(
            reference_ohm=jig.reference_ohm if bare else None, wiring=jig.wiring if bare else None
        )
        return check(path, options)


def right(result: Result, clean: Result, verdicts: set[VerdictWord], true_hz: float) -> bool:
    """Return whether the verdict is one that clean recordings of the box get, and the tuning that of the clean one."""
    if result.verdict not in verdicts:
        return False
    if result.fit is None or clean.fit is None:
        return result.fit is None and clean.fit is None
    tuning = result.fit.tuning_hz
    return tuning.holds(true_hz) or abs(tuning.value / clean.fit.tuning_hz.value - 1.0) < 0.005


def outcome(
    result: Result,
    clean: Result,
    verdicts: set[VerdictWord],
    true_hz: float,
    expected: tuple[str | None, ...],
) -> str:
    """Return the column of the table."""
    names = [problem.problem for problem in result.problems]
    safe = result.verdict == "remeasure" or right(result, clean, verdicts, true_hz)
    if any(name in names for name in expected) and safe:
        return "named"
    if right(result, clean, verdicts, true_hz):
        return "harmless"
    if result.verdict == "remeasure":
        return "stopped" if names else "unnamed"
    return "misled"


def note(result: Result, clean: Result, true_hz: float, seed: int, jig: Jig, strength: float) -> str:
    """Return what happened, for the list below the table."""
    names = ",".join(problem.problem for problem in result.problems) or "-"
    got = "-" if result.fit is None else f"{result.fit.tuning_hz.value:.2f} Hz"
    text = result.problems[0].detail if result.problems else result.summary
    return (
        f"seed {seed} {jig.wiring} {jig.reference_ohm:.2f} ohm strength {strength:.2f}: clean {clean.verdict}, "
        f"now {result.verdict} [{names}], {got} for {true_hz:.2f} Hz: {text[:110]}"
    )


def _by_name(name: str) -> Spoiler:
    return lambda take, strength, rng: spoil(take, name, strength, rng)


def one(task: tuple[int, str, bool]) -> list[Row]:
    """Return the rows of one cabinet."""
    seed, only, bare = task
    rng = np.random.default_rng(seed)
    design = draw_design(rng)
    cabinet = draw_cabinet(design, rng, leak_chance=0.3, scatter=0.3)
    true_hz = cabinet.truth().tuning_hz
    if true_hz is None:
        return []
    jig = draw_jig(rng)
    clean_take = plain(cabinet, jig, rng)
    clean = verdict_on(clean_take, design, jig)
    # a box on the border of its tolerance gets now this verdict and now that, by noise and level alone
    more = np.random.default_rng([seed, 1])
    others = [verdict_on(plain(cabinet, jig, more), design, jig) for _ in range(CLEAN_TAKES)]
    verdicts = {result.verdict for result in (clean, *others)}
    rows = []
    for kind, make in CLEAN.items():
        if only and only not in kind and only != "clean":
            continue
        result = verdict_on(make(cabinet, jig, rng), design, jig)
        names = ",".join(sorted({problem.problem for problem in result.problems})) or "none"
        good = right(result, clean, verdicts, true_hz)
        told = f"problems: {names}, {'right' if good else 'other result'}"
        about = "" if names == "none" and good else note(result, clean, true_hz, seed, jig, 0.0)
        rows.append(Row(f"clean: {kind}", "", told, about))
    faults: list[tuple[str, str | None, Spoiler]] = [
        (fault.name, fault.problem, _by_name(fault.name)) for fault in MEASUREMENT_FAULTS
    ]
    faults += [(name, problem, spoiler) for name, (problem, spoiler) in MORE_FAULTS.items()]
    for name, expected, spoiler in faults:
        if only and only not in name and only != "faults":
            continue
        for span, (low, high) in SPANS.items():
            strength = float(rng.uniform(low, high))
            take = spoiler(clean_take, strength, rng)
            named = take.origin.jig or jig
            result = verdict_on(replace(take, origin=Origin()) if bare else take, design, named)
            came = outcome(result, clean, verdicts, true_hz, (expected, *ALSO.get(name, ())))
            bad = came in ("misled", "unnamed", "stopped")
            about = note(result, clean, true_hz, seed, jig, strength) if bad else ""
            rows.append(Row(name, span, came, about))
    return rows


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cabinets", type=int, default=12)
    parser.add_argument("--seed", type=int, default=70000)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument(
        "--only", default="", help="kinds that hold this word; `clean` or `faults` for one half"
    )
    parser.add_argument("--bare", action="store_true", help="spoilt takes without metadata")
    parser.add_argument("--notes", action="store_true", help="also list what went wrong")
    given = parser.parse_args()
    tasks = [(given.seed + n, given.only, given.bare) for n in range(given.cabinets)]
    with ProcessPoolExecutor(given.workers) as pool:
        rows = [row for part in pool.map(one, tasks) for row in part]
    columns = ("named", "stopped", "unnamed", "harmless", "misled")
    table: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    for row in rows:
        table[row.kind, row.span][row.outcome] += 1
    print(f"{'fault':22} {'strength':8} " + " ".join(f"{column:>8}" for column in columns))
    for (kind, span), counts in table.items():
        if not kind.startswith("clean"):
            print(f"{kind:22} {span:8} " + " ".join(f"{counts[column] or '.':>8}" for column in columns))
    spoilt = [row for row in rows if not row.kind.startswith("clean")]
    misled = sum(row.outcome == "misled" for row in spoilt)
    print(f"\nmisled by {misled} of {len(spoilt)} spoilt recordings of {given.cabinets} cabinets")
    print("\nclean recordings: what they are accused of")
    for (kind, _), counts in table.items():
        if kind.startswith("clean"):
            print(f"{kind[7:]:28} " + "; ".join(f"{count} x {told}" for told, count in counts.most_common()))
    if given.notes:
        print()
        for row in rows:
            if row.note:
                print(f"{row.kind} {row.span} {row.outcome}: {row.note}")


if __name__ == "__main__":
    main()
