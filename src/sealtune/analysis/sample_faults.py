"""What went wrong with the samples themselves: clipping, silence, gaps, missing channels, a take cut short."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.records.recording import Recording
from sealtune.records.verdict import Problem
from sealtune.signals.sweep import sweep_seconds

Reals = NDArray[np.float64]

QUIET_PEAK = 1e-3
"""A channel whose peak stays below -60 dB of full scale drowns in most sound cards' noise (common practice)."""

MISSING_SHARE = 1e-4
"""A channel this much quieter than the other one carries no signal of its own."""

CLIP_RUN = 3
GAP_SECONDS = 0.0005
CHANNEL_NAMES = ("channel 1", "channel 2")


def sample_problems(recording: Recording) -> list[Problem]:
    """Return the problems that the samples show, gravest first."""
    samples = recording.channels
    problems = _cut_short(recording)
    peaks = np.max(np.abs(samples - samples.mean(axis=0)), axis=0)
    if peaks.max() < QUIET_PEAK:
        level = (
            f"{20 * np.log10(peaks.max()):.0f} dB of full scale" if peaks.max() > 0 else "complete silence"
        )
        problems.append(
            Problem(
                "too_quiet",
                f"The loudest sample of both channels is at {level}.",
                "Raise the input gain or the sweep's level step by step until the peaks reach -20 to -6 dB, and record again.",
            )
        )
        return problems
    missing = [index for index in (0, 1) if peaks[index] < MISSING_SHARE * peaks.max()]
    if missing:
        name = CHANNEL_NAMES[missing[0]]
        problems.append(
            Problem(
                "channel_missing",
                f"There is no signal in {name}, while the other one has it.",
                f"Check the clip, cable and input of {name}, and record again.",
            )
        )
        return problems
    if np.array_equal(samples[:, 0], samples[:, 1]):
        problems.append(
            Problem(
                "channel_missing",
                "Both channels hold the very same samples.",
                "Set the recorder to two separate channels (not mono to both), check that each clip goes to its own "
                "input, and record again.",
            )
        )
        return problems
    for index in (0, 1):
        share = clipped_share(samples[:, index], recording.rate_hz, recording.step)
        if share > 0.0:
            problems.append(
                Problem(
                    "clipped",
                    f"The tops of {CHANNEL_NAMES[index]} are cut off ({100 * share:.2g} % of the samples).",
                    "Turn the input gain or the amplifier down by 6 dB or more, and record again.",
                )
            )
            break
    gap = longest_gap(samples)
    if gap[1] > GAP_SECONDS * recording.rate_hz:
        problems.append(
            Problem(
                "dropout",
                f"At {gap[0] / recording.rate_hz:.2f} s both channels hold still for "
                f"{1e3 * gap[1] / recording.rate_hz:.1f} ms: samples were lost.",
                "Close other programs, use a larger buffer or another USB socket, and record again.",
            )
        )
    return problems


def _cut_short(recording: Recording) -> list[Problem]:
    """Return the problem `truncated` where the file ends before its header or its sweep does."""
    frames = recording.channels.shape[0]
    remedy = "Record again and let the sweep run to its end."
    promised = recording.expected_frames
    if promised is not None and frames < promised:
        detail = f"The file holds {frames} of the {promised} samples that its header promises."
        return [Problem("truncated", detail, "Copy the file again, or record again.")]
    sweep = recording.origin.sweep
    if sweep is not None:
        needed = sweep.begins_s + sweep_seconds(sweep)
        if frames / recording.rate_hz < needed - 0.005:
            detail = f"The file is {frames / recording.rate_hz:.1f} s long, its sweep needs {needed:.1f} s."
            return [Problem("truncated", detail, remedy)]
    if not recording.origin.complete:
        return [Problem("truncated", "The take says of itself that it was cut short.", remedy)]
    return []


def clipped_share(samples: Reals, rate_hz: float, step: float) -> float:
    """Return the share of samples that lie on cut-off tops, 0 if there are none.

    A top is cut where at least three neighbours share one extreme value and the samples beside them lie
    clearly lower: farther than a sine of the recording's slowest kind would fall within one sample.
    """
    peak = float(np.max(np.abs(samples)))
    total = 0
    for signed in (samples, -samples):
        top = float(signed.max())
        if top < 0.3 * peak or top <= 0.0:
            continue
        on_top = signed >= top - 0.51 * step - 1e-9 * top
        edges = np.flatnonzero(np.diff(np.concatenate([[0], on_top.view(np.int8), [0]])))
        starts, stops = edges[::2], edges[1::2]
        lengths = stops - starts
        inner = (lengths >= CLIP_RUN) & (starts > 0) & (stops < samples.size)
        if not inner.any():
            continue
        starts, stops, lengths = starts[inner], stops[inner], lengths[inner]
        fall = top - np.minimum(signed[starts - 1], signed[stops])
        # a parabola that stays within one step for `lengths` samples falls by 4 steps / length in the next
        natural = 4.0 * max(step, 1e-9 * top) * (1.0 + 4.0 / lengths)
        # a tone below 1/40 of the rate moves by less than this in one sample at its very top
        total += int(lengths[fall > natural].sum())
    share = total / samples.size
    return share if total >= 2 * CLIP_RUN else 0.0


def longest_gap(samples: Reals) -> tuple[int, int]:
    """Return start and length, in frames, of the longest run of unchanging samples inside the sounding part.

    A lost block is delivered as exact zeros, or as the last sample held, in both channels at once.
    """
    still = np.all(np.diff(samples, axis=0) == 0.0, axis=1)
    loud = np.flatnonzero(np.abs(samples - samples.mean(axis=0)).max(axis=1) > 0.05 * np.abs(samples).max())
    if loud.size < 2:
        return 0, 0
    first, last = int(loud[0]), int(loud[-1])
    inside = still[first:last].view(np.int8)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside, [0]])))
    if edges.size == 0:
        return 0, 0
    lengths = edges[1::2] - edges[::2]
    longest = int(np.argmax(lengths))
    return first + int(edges[::2][longest]), int(lengths[longest])
