"""The head of a WAV file of two channels of 32-bit floating point, always of one length, so that it can be renewed."""

from __future__ import annotations

import struct

from sealtune.files.origin_tag import LONGEST_TAG, origin_to_tag
from sealtune.records.recording import Origin

FRAME_BYTES = 8
_FLOAT = 3  # WAVE_FORMAT_IEEE_FLOAT of the WAVE format
_TAG_BYTES = LONGEST_TAG + 2  # a zero behind the text, and an even number

HEAD_BYTES = 12 + (8 + 18) + (8 + 4) + (8 + 4 + 8 + _TAG_BYTES) + 8


def take_header(origin: Origin, rate_hz: int, frames: int) -> bytes:
    """Return the head of a file that holds so many frames; HEAD_BYTES long whatever it says.

    origin: goes into the comment (INFO, ICMT), where it is read again as that of any recording
    rate_hz: samples per second
    frames: samples of each channel
    """
    data_bytes = frames * FRAME_BYTES
    form = struct.pack(
        "<4sIHHIIHHH", b"fmt ", 18, _FLOAT, 2, rate_hz, rate_hz * FRAME_BYTES, FRAME_BYTES, 32, 0
    )
    fact = struct.pack("<4sII", b"fact", 4, frames)  # asked for where the samples are not whole numbers
    text = origin_to_tag(origin).encode("ascii")[:LONGEST_TAG].ljust(_TAG_BYTES, b"\0")
    comment = struct.pack("<4sI4s4sI", b"LIST", 4 + 8 + _TAG_BYTES, b"INFO", b"ICMT", _TAG_BYTES) + text
    data = struct.pack("<4sI", b"data", data_bytes)
    rest = b"WAVE" + form + fact + comment + data
    return struct.pack("<4sI", b"RIFF", len(rest) + data_bytes) + rest
