"""What went wrong with the samples themselves: silence, a dead channel, cut tops, lost samples, a take cut short."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sealtune.analysis.broken_off import broken_off_s
from sealtune.analysis.repeats import parts_of
from sealtune.records.recording import Recording
from sealtune.records.verdict import Problem
from sealtune.signals.runs import runs
from sealtune.signals.sweep import played_seconds

Reals = NDArray[np.float64]

QUIET_PEAK = 1e-3
"""A channel whose peak stays below -60 dB of full scale drowns in most sound cards' noise (common practice)."""

MISSING_SHARE = 1e-4
"""A channel this much quieter than the other one (-80 dB) is an open input; the least that a jig gives is a
hundredth of an ohm against some ohms, -60 dB."""

CLIP_RUN = 3
"""Two equal samples at a top are common; of three, the outer ones should already be lower."""

GAP_SECONDS = 0.0005
"""Shorter than the shortest block that a sound driver loses (32 samples at 64 kHz)."""

JUMP_STEPS = 6.0
"""A gap of still samples ends in a jump of more than this many steps; a slow wave moves by one or two."""

CLICK = 8.0
"""A click is this much rougher than the roughest moments around it; Gaussian noise stays below 2."""

CLICK_PEAK = 1e-3
"""A jump of less than this share of the peak does no harm."""

CLICK_BLOCK_S = 0.025
"""Longer than one period of the mains, so that a buzz is in every block and no click."""

ROUGHNESS = np.array([1.0, -4.0, 6.0, -4.0, 1.0])
"""Fourth difference: a wave of 1/50 of the sample rate leaves 2.5e-4 of its height, a jump three times its own."""

CHANNEL_NAMES = ("channel 1", "channel 2")
JUMPED = (
    "Keep still, see that the clips sit tight, and record again; if it comes back, close other programs or use a "
    "larger buffer."
)
LOST = "Close other programs, use a larger buffer or another USB socket, and record again."


def sample_problems(recording: Recording, *, microphone: bool = False) -> list[Problem]:
    """Return the problems that the samples show, gravest first.

    microphone: channel 2 is one; it may jump, as a rattling part makes it
    """
    samples = recording.channels
    problems = _cut_short(recording)
    dead = _dead_channel(samples)
    if dead is not None:
        return [*problems, dead]
    for index in (0, 1):
        share = clipped_share(samples[:, index], step_of(samples[:, index], recording.step))
        if share > 0.0:
            detail = f"The tops of {CHANNEL_NAMES[index]} are cut off ({100 * share:.2g} % of the samples)."
            remedy = "Turn the input gain or the amplifier down by 6 dB or more, and record again."
            return [*problems, Problem("clipped", detail, remedy)]
    sweep = recording.origin.sweep
    if (
        sweep is not None and sweep.repeats > 1
    ):  # each of several sweeps is looked at on its own, and may be left out
        return problems
    looked_at = replace(recording, channels=recording.channels[:, [0, 0]]) if microphone else recording
    return [*problems, *lost_samples(looked_at)]


def _dead_channel(samples: Reals) -> Problem | None:
    """Return the problem of channels that hold nothing, or nothing of their own."""
    peaks = np.max(np.abs(samples - samples.mean(axis=0)), axis=0)
    if peaks.max() < QUIET_PEAK:
        level = (
            f"at {20 * np.log10(peaks.max()):.0f} dB of full scale" if peaks.max() > 0 else "zero: silence"
        )
        return Problem(
            "too_quiet",
            f"The loudest sample of both channels is {level}.",
            "Raise the input gain or the sweep's level step by step until the peaks reach -20 to -6 dB, and record "
            "again.",
        )
    missing = [index for index in (0, 1) if peaks[index] < MISSING_SHARE * peaks.max()]
    if missing:
        name = CHANNEL_NAMES[missing[0]]
        return Problem(
            "channel_missing",
            f"There is no signal in {name}, while the other one has it.",
            f"Check the clip, cable and input of {name}, and record again.",
        )
    if np.array_equal(samples[:, 0], samples[:, 1]):
        return Problem(
            "channel_missing",
            "Both channels hold the very same samples.",
            "Set the recorder to two separate channels (not mono to both), check that each clip goes to its own "
            "input, and record again.",
        )
    return None


def _cut_short(recording: Recording) -> list[Problem]:
    """Return the problem `truncated` where the file ends before its header or its sweep does."""
    frames = recording.channels.shape[0]
    remedy = "Record again and let the sweep run to its end."
    promised, sweep = recording.expected_frames, recording.origin.sweep
    repeated = sweep is not None and sweep.repeats > 1
    if promised is not None and frames < promised and not repeated:
        detail = f"The file holds {frames} of the {promised} samples that its header promises."
        return [Problem("truncated", detail, "Copy the file again, or record again.")]
    if sweep is not None:
        needed = sweep.begins_s + played_seconds(sweep)
        if frames / recording.rate_hz < needed - 0.005:
            sweeps = f"{sweep.repeats} sweeps need" if repeated else "sweep needs"
            detail = f"The file is {frames / recording.rate_hz:.1f} s long, its {sweeps} {needed:.1f} s."
            whole = len(parts_of(recording)) if repeated else 0
            if whole:
                detail += f" The first {whole} are whole and were used."
            return [Problem("truncated", detail, remedy, spoils=whole == 0)]
    if not recording.origin.complete:
        return [
            Problem("truncated", "The metadata in the file say that the recording was cut short.", remedy)
        ]
    return []


def step_of(samples: Reals, step: float) -> float:
    """Return the smallest difference between two neighbouring samples that differ, at least `step`.

    A file may hold finer steps than the converter that made its samples: 16 bit in a file of 24.
    """
    moves = np.abs(np.diff(samples))
    moves = moves[moves > 0.0]
    return max(step, float(moves.min())) if moves.size else step


def clipped_share(samples: Reals, step: float) -> float:
    """Return the share of samples that lie on cut-off tops, 0 if there are none.

    A top is cut where at least three neighbours share one extreme value and the samples beside them lie
    clearly lower: farther than a parabola that stays within one step for so long would fall in one sample more.
    """
    peak = float(np.max(np.abs(samples)))
    total = 0
    for signed in (samples, -samples):
        top = float(signed.max())
        if top < 0.3 * peak or top <= 0.0:
            continue
        on_top = signed >= top - 0.51 * step - 1e-9 * top
        starts, stops = runs(on_top)
        lengths = stops - starts
        inner = (lengths >= CLIP_RUN) & (starts > 0) & (stops < samples.size)
        if not inner.any():
            continue
        starts, stops, lengths = starts[inner], stops[inner], lengths[inner]
        fall = top - np.minimum(signed[starts - 1], signed[stops])
        natural = 4.0 * max(step, 1e-9 * top) * (1.0 + 4.0 / lengths)
        total += int(lengths[fall > natural].sum())
    return total / samples.size if total >= 2 * CLIP_RUN else 0.0


def lost_samples(recording: Recording, offset_s: float = 0.0) -> list[Problem]:
    """Return the problem `dropout` where samples stand still or jump within the sounding part.

    offset_s: where the recording begins in its file, s
    """
    samples, rate = recording.channels, recording.rate_hz
    loud = _sounding(samples)
    if loud is None:
        return []
    first, last = loud
    broken_s = broken_off_s(recording)
    if broken_s is not None:
        detail = f"At {offset_s + broken_s:.2f} s both channels turn to exact zeros while the sweep goes on."
        return [Problem("dropout", detail, LOST)]
    for index in (0, 1):
        inside = samples[first:last, index]
        step = step_of(inside, recording.step)
        start, length = longest_gap(inside, step)
        if length > GAP_SECONDS * rate:
            detail = (
                f"At {offset_s + (first + start) / rate:.2f} s {CHANNEL_NAMES[index]} holds still for "
                f"{1e3 * length / rate:.1f} ms: samples were lost."
            )
            return [Problem("dropout", detail, LOST)]
        click = first_click(inside, rate, step)
        if click is not None:
            at_s = offset_s + (first + click) / rate
            detail = (
                f"At {at_s:.2f} s {CHANNEL_NAMES[index]} jumps: a knock, a lost sample or a slipped clip."
            )
            return [Problem("dropout", detail, JUMPED)]
    return []


def _sounding(samples: Reals) -> tuple[int, int] | None:
    """Return the first and the last loud sample of either channel, None for silence."""
    least = 0.05 * max(max(float(channel.max()), -float(channel.min())) for channel in samples.T)
    ends = []
    for channel in samples.T:
        mean = float(channel.mean())
        loud = np.flatnonzero((channel > mean + least) | (channel < mean - least))
        ends += [int(loud[0]), int(loud[-1])] if loud.size else []
    return (min(ends), max(ends)) if len(ends) > 0 and max(ends) > min(ends) else None


def longest_gap(samples: Reals, step: float) -> tuple[int, int]:
    """Return start and length of the longest run of equal samples that begins or ends in a jump, (0, 0) if none.

    A lost block is delivered as exact zeros, or as the last sample held.
    """
    moves = np.diff(samples)
    starts, stops = runs(moves == 0.0)
    inner = (starts > 0) & (stops < moves.size)
    starts, stops = starts[inner], stops[inner]
    jump = np.maximum(np.abs(moves[starts - 1]), np.abs(moves[stops])) if starts.size else np.zeros(0)
    jumps = jump > max(JUMP_STEPS * step, CLICK_PEAK * float(np.abs(samples).max()))
    if not jumps.any():
        return 0, 0
    lengths = np.where(jumps, stops - starts, 0)
    longest = int(np.argmax(lengths))
    return int(starts[longest]), int(lengths[longest])


def first_click(samples: Reals, rate_hz: float, step: float) -> int | None:
    """Return where the samples first jump, None if nowhere.

    The roughest sample of each 25 ms is compared with those of the half second before and after. Works for
    sweeps and other smooth stimuli; noise as a stimulus is rough everywhere and hides a jump, as it hides no
    harm that the noise of the curve would not show.
    """
    block = max(8, round(CLICK_BLOCK_S * rate_hz))
    rough = np.abs(np.convolve(samples, ROUGHNESS, mode="same"))
    count = rough.size // block
    if count < 12:
        return None
    roughest = rough[: count * block].reshape(count, block).max(axis=1)
    floor = max(4.0 * step, CLICK_PEAK * float(np.abs(samples).max()) * 3.0 / CLICK)
    reach = 20
    for index in (np.flatnonzero(roughest[2 : count - 2] > CLICK * floor) + 2).tolist():
        around = np.concatenate(
            [roughest[max(0, index - reach) : index - 1], roughest[index + 2 : index + reach + 1]]
        )
        if roughest[index] > CLICK * max(float(np.median(around)), floor) and roughest[index] > 2.0 * float(
            np.percentile(around, 80)
        ):
            return index * block + int(np.argmax(rough[index * block : (index + 1) * block]))
    return None
