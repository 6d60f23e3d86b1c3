"""Two-channel sound files: the samples, and where they come from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from sealtune.errors import RecordingFault, UsageFault
from sealtune.files.disk import require_file, sha256_of, written_whole
from sealtune.files.origin_tag import origin_from_tag, origin_to_tag
from sealtune.files.sound_header import promised_frames
from sealtune.records.recording import Origin, Recording

__all__ = ["SOUND_SUFFIXES", "read_origin", "read_recording", "sha256_of", "write_recording"]

SOUND_SUFFIXES = (".wav", ".flac")
"""What is looked for in a cabinet's folder, and what can be written."""

LONGEST_S = 20 * 60
"""A recording takes seconds; beyond this the file is a concert, and memory would run out."""

LOWEST_RATE_HZ = 1000
HIGHEST_RATE_HZ = 192_000
_UNKNOWN_FRAMES = 2**63 - 1  # what libsndfile says where a FLAC file does not tell its length
_BLOCK_FRAMES = 1 << 16
_MOST_FRAMES_PER_BYTE = (
    8  # recordings need one or more bytes for a frame, digital silence hundreds of times less
)

_STEP = {
    "PCM_U8": 2.0**-7, "PCM_S8": 2.0**-7, "PCM_16": 2.0**-15, "PCM_24": 2.0**-23, "PCM_32": 2.0**-31,
    "FLOAT": 0.0, "DOUBLE": 0.0,
    "ALAC_16": 2.0**-15, "ALAC_20": 2.0**-19, "ALAC_24": 2.0**-23, "ALAC_32": 2.0**-31,
}  # fmt: skip
"""Smallest difference between two samples by libsndfile's name of the coding; every coding without loss."""

_FAULTS = (soundfile.SoundFileError, RuntimeError, TypeError, ValueError, OSError)


def read_recording(path: Path) -> Recording:
    """Return the samples of a two-channel sound file and what its own comment says of their origin.

    path: WAV or FLAC, or another lossless format that libsndfile reads
    A file that was cut short comes back as far as it can be read, with `expected_frames` above its length.
    Raises UsageFault where there is no readable file; RecordingFault "truncated" where nothing can be read,
    "channel_missing" for anything but two channels, "not_impedance" for what is no sound file, is coded
    with loss, holds samples that are no numbers, or is longer than LONGEST_S; "band_too_narrow" below
    LOWEST_RATE_HZ samples per second.
    """
    size = require_file(path)
    if size == 0:
        raise _truncated(path, "a file of 0 bytes")
    try:
        file = soundfile.SoundFile(str(path), "r")
    except _FAULTS as error:
        raise _not_a_sound_file(path, size) from error
    with file:
        _require_usable(path, file)
        channels = np.asfortranarray(
            _samples(path, file, size)
        )  # each channel in one piece: twice as fast to work on
        origin = origin_from_tag(_comment(file))
        rate_hz, step = int(file.samplerate), _STEP[file.subtype]
    if len(channels) == 0:
        raise _truncated(path, "a sound file with no samples in it")
    if not np.isfinite(channels).all():
        raise RecordingFault(
            "not_impedance",
            str(path),
            "samples that are numbers",
            "some that are infinite or not a number",
            "Record again; the program or driver that wrote this file is at fault.",
        )
    promised = promised_frames(path)
    expected = len(channels) if promised is None else max(promised, len(channels))
    return Recording(channels, rate_hz, step, origin, expected)


def read_origin(path: Path) -> Origin | None:
    """Return what the file's own comment says of its origin, from the header alone.

    Returns None where the file cannot be read as sound; never raises.
    """
    try:
        with soundfile.SoundFile(str(path), "r") as file:
            return origin_from_tag(_comment(file))
    except _FAULTS:
        return None


def write_recording(path: Path, recording: Recording, *, overwrite: bool = False) -> None:
    """Write the recording with its origin in the file's comment.

    path: ends in .wav or .flac
    recording: with step 0 a WAV becomes 32-bit floating point; with a step, and in FLAC, the samples are
        whole numbers of 16 bit where the step allows it, else 24 bit; samples beyond full scale are clipped
        there, as a sound card does
    overwrite: whether a file of that name may be replaced
    The file appears under its name only when it is complete.
    Raises UsageFault for another suffix, a name that is taken, a folder that cannot be written to, or
    samples that are no numbers or not in two channels.
    """
    suffix = path.suffix.lower()
    if suffix not in SOUND_SUFFIXES:
        raise UsageFault(
            str(path), "a name that ends in .wav or .flac", suffix or "no ending", "Choose one of the two."
        )
    channels = recording.channels
    if channels.ndim != 2 or channels.shape[1] != 2 or not np.isfinite(channels).all():
        raise UsageFault(str(path), "two channels of finite samples", "something else", "Record again.")
    whole = suffix == ".flac" or recording.step > 0.0
    coding = "FLOAT" if not whole else "PCM_16" if recording.step >= _STEP["PCM_16"] else "PCM_24"
    with written_whole(path, overwrite=overwrite) as temporary:
        try:
            with soundfile.SoundFile(
                str(temporary), "w", int(recording.rate_hz), 2, subtype=coding, format=suffix[1:].upper()
            ) as file:
                file.comment = origin_to_tag(recording.origin)
                file.write(channels)
        except soundfile.SoundFileError as error:
            raise UsageFault(
                str(path),
                "a place and a sample rate that a sound file can be written with",
                str(error),
                "Check the space left on the disk and the sample rate.",
            ) from error


def _require_usable(path: Path, file: Any) -> None:
    if file.channels != 2:
        count = "1 channel" if file.channels == 1 else f"{file.channels} channels"
        raise RecordingFault(
            "channel_missing",
            str(path),
            "exactly two channels (the two voltages of the jig)",
            count,
            "Record both inputs of the sound card into one stereo file.",
        )
    if file.subtype not in _STEP:
        raise RecordingFault(
            "not_impedance",
            str(path),
            "a sound file stored without loss (WAV or FLAC)",
            f"{file.format} with {file.subtype} coding",
            "Record to WAV or FLAC; what was lost cannot be got back.",
        )
    if file.samplerate < LOWEST_RATE_HZ:
        raise RecordingFault(
            "band_too_narrow",
            str(path),
            f"at least {LOWEST_RATE_HZ} samples per second",
            str(file.samplerate),
            "Record at 44100 or 48000 samples per second.",
        )
    longest = LONGEST_S * min(int(file.samplerate), HIGHEST_RATE_HZ)
    if file.frames != _UNKNOWN_FRAMES and file.frames > longest:
        raise _too_long(path, f"{file.frames / file.samplerate / 60:.0f} minutes at {file.samplerate} Hz")


def _samples(path: Path, file: Any, size: int) -> NDArray[np.float64]:
    """Return what can be decoded, shape (frames, 2), up to the first fault of the file.

    A damaged header may promise gigabytes; a file so short that it can hardly keep that is read piece by piece.
    """
    if file.frames <= _MOST_FRAMES_PER_BYTE * size:
        return _next_samples(file, int(file.frames))
    longest = LONGEST_S * min(int(file.samplerate), HIGHEST_RATE_HZ)
    blocks: list[NDArray[np.float64]] = []
    while sum(len(block) for block in blocks) <= longest:
        blocks.append(_next_samples(file, _BLOCK_FRAMES))
        if len(blocks[-1]) < _BLOCK_FRAMES:
            return np.concatenate(blocks)
    raise _too_long(path, f"more than {LONGEST_S // 60} minutes")


def _next_samples(file: Any, frames: int) -> NDArray[np.float64]:
    """Return at most that many frames, fewer where the file ends or is damaged."""
    channels = np.full((frames, 2), np.nan)
    try:
        found: NDArray[np.float64] = file.read(out=channels)
    except soundfile.SoundFileError:  # the array is filled up to the fault, the rest is as it was
        unfilled = np.flatnonzero(np.isnan(channels).any(axis=1))
        return channels[: unfilled[0]].copy() if unfilled.size else channels
    return found


def _comment(file: Any) -> str:
    try:
        return str(file.comment)
    except UnicodeDecodeError:
        return ""


def _truncated(path: Path, got: str) -> RecordingFault:
    return RecordingFault("truncated", str(path), "a recording", got, "Record again, or copy the file again.")


def _too_long(path: Path, got: str) -> RecordingFault:
    return RecordingFault(
        "not_impedance",
        str(path),
        f"one sweep, at most {LONGEST_S // 60} minutes",
        got,
        "Cut the file down to the sweep and a second before and after it.",
    )


def _not_a_sound_file(path: Path, size: int) -> RecordingFault:
    try:
        with path.open("rb") as stream:
            head = stream.read(12)
    except OSError:
        head = b""
    begun = head[:4] in (b"RIFF", b"RF64", b"fLaC", b"FORM") or (size < 12 and b"RIFF".startswith(head[:4]))
    if begun:
        return _truncated(path, f"a sound file that breaks off or is damaged in its header ({size} bytes)")
    return RecordingFault(
        "not_impedance",
        str(path),
        "a sound file (WAV or FLAC)",
        "something else",
        "Give a two-channel recording, or an impedance table with the ending .csv, .txt or .s1p.",
    )
