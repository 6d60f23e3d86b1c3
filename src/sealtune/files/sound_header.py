"""How many samples a sound file promises in its own header, whether or not they are there."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import BinaryIO

_STREAMED = 0x7FFFF000
"""A data size of this or more (or 0) was written before the length was known; it promises nothing."""

_MOST_CHUNKS = 1000


def promised_frames(path: Path) -> int | None:
    """Return the frames that the header of a WAV (RIFF, RF64) or FLAC file promises.

    path: the sound file
    Returns None where the header does not say, for other formats, or where the header is broken.
    """
    try:
        with path.open("rb") as stream:
            head = stream.read(12)
            if head[:4] == b"fLaC":
                return _flac(stream)
            if head[:4] in (b"RIFF", b"RF64") and head[8:] == b"WAVE":
                return _wav(stream)
    except (OSError, struct.error):
        pass
    return None


def _flac(stream: BinaryIO) -> int | None:
    """STREAMINFO is the first block; bytes 13 to 17 of it end in the 36-bit number of samples [RFC9639]."""
    stream.seek(4)
    block = stream.read(4 + 18)
    if len(block) < 22 or block[0] & 0x7F != 0:
        return None
    frames = int.from_bytes(block[4 + 13 : 4 + 18], "big") & (2**36 - 1)
    return frames or None


def _wav(stream: BinaryIO) -> int | None:
    """Walk the chunks up to `data`; its size over the bytes of one frame in `fmt `."""
    frame_bytes = 0
    long_size: int | None = None
    for _ in range(_MOST_CHUNKS):
        name, size = struct.unpack("<4sI", stream.read(8))
        start = stream.tell()
        if name == b"fmt ":
            frame_bytes = struct.unpack("<H", stream.read(14)[12:14])[0]
        elif name == b"ds64":
            long_size = struct.unpack("<Q", stream.read(16)[8:16])[0]
        elif name == b"data":
            if size == 0xFFFFFFFF and long_size is not None:
                return long_size // frame_bytes if frame_bytes else None
            if size == 0 or size >= _STREAMED or frame_bytes == 0:
                return None
            return int(size) // frame_bytes
        stream.seek(start + size + size % 2)
    return None
