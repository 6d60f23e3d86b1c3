"""A take on its way to disk: a valid sound file at every moment, and in its place only when it is complete.

Samples are appended first and the head is renewed afterwards, in one piece, so that whatever ends the program leaves
a file whose head tells what is there. While the take runs, the file is called NAME.partial.wav and its metadata say
that it is cut short; no recording is ever overwritten.
"""

from __future__ import annotations

import errno
import os
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self
from uuid import uuid4

import numpy as np
from numpy.typing import NDArray

from sealtune.errors import UsageFault
from sealtune.files.disk import make_folder
from sealtune.files.take_header import take_header
from sealtune.records.recording import Origin

PARTIAL = ".partial"
"""Before the ending of a file that is not a whole take; the cabinet's folder passes such files over."""

PIECE_S = 0.1
"""Samples are written in pieces of this length: so much is lost at most when the program is killed."""

SYNC_S = 1.0
"""So often the disk is told to keep what it has: that is lost at most when the power fails."""

MOST_NAMES = 1000


class TakeFile:
    """The file of one take; use it in a `with` block.

    Nothing is on disk before the first samples come. At the end of the block, what was not finished stays as a file
    that is cut short and says so.
    """

    def __init__(self, folder: Path, origin: Origin, rate_hz: float) -> None:
        """Prepare a take.

        folder: the cabinet's; made if it is not there
        origin: of the take as it is planned; its role and recorded_at give the name
        rate_hz: samples per second
        Raises UsageFault where the folder cannot be made.
        """
        make_folder(folder)
        stamp = "" if origin.recorded_at is None else f"-{origin.recorded_at:%Y-%m-%dT%H%M%S}"
        self._folder, self._name = folder, f"{origin.role or 'take'}{stamp}"
        self._origin, self._rate_hz = replace(origin, complete=False), round(rate_hz)
        self._waiting: list[NDArray[np.float32]] = []
        self._waiting_frames = 0
        self._frames = 0
        self._synced_frames = 0
        self._stream: BinaryIO | None = None
        self.path: Path | None = None

    def __enter__(self) -> Self:
        """Return itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Keep what came in."""
        try:
            self._write()
        except UsageFault:
            if error is None:
                raise
        finally:
            if self._stream is not None:
                with suppress(OSError):
                    self._stream.close()
                self._stream = None

    @property
    def frames(self) -> int:
        """Return how many samples of each channel came in."""
        return self._frames + self._waiting_frames

    def describe(self, origin: Origin) -> None:
        """Say from now on, while the take goes on, that the file is of this origin, cut short."""
        self._origin = replace(origin, complete=False)

    def keep(self, samples: NDArray[np.float64]) -> None:
        """Append samples, shape (frames, 2), full scale 1.0.

        Raises UsageFault where the disk is full or gone; what is on it stays valid.
        """
        self._waiting.append(samples.astype("<f4"))
        self._waiting_frames += samples.shape[0]
        if self._waiting_frames >= PIECE_S * self._rate_hz:
            self._write()

    def finish(self, origin: Origin) -> Path:
        """Write the last samples and the complete metadata, give the file its name, and return it.

        origin: what is now known of the take
        Raises UsageFault where there are no samples, and where the disk is full or gone.
        """
        self._origin = origin
        self._write()
        stream, partial = self._stream, self.path
        if stream is None or partial is None:
            raise UsageFault(str(self._folder), "samples", "none", "Record again.")
        try:
            stream.seek(0)
            stream.write(take_header(origin, self._rate_hz, self._frames))
            os.fsync(stream.fileno())
            stream.close()
            self._stream = None
            self.path = _renamed(partial, self._free_name())
        except OSError as error:
            raise _disk_fault(partial, error, "what was recorded so far is kept") from error
        return self.path

    def _write(self) -> None:
        """Append what waits, then renew the head."""
        if not self._waiting:
            return
        data = np.concatenate(self._waiting).tobytes()
        frames = self._frames + self._waiting_frames
        self._waiting, self._waiting_frames = [], 0
        try:
            if self._stream is None:
                self._begin(data, frames)
            else:
                _append(self._stream, data)
                self._stream.seek(0)
                self._stream.write(take_header(self._origin, self._rate_hz, frames))
                self._stream.seek(0, os.SEEK_END)
            assert self._stream is not None
            self._frames = frames
            if frames - self._synced_frames >= SYNC_S * self._rate_hz:
                self._synced_frames = frames
                os.fsync(self._stream.fileno())
        except OSError as error:
            kept = "nothing was kept" if self.path is None else "what was recorded so far is kept"
            raise _disk_fault(self.path or self._folder, error, kept) from error

    def _begin(self, data: bytes, frames: int) -> None:
        """Write the first piece under a hidden name, and show it when it is valid."""
        hidden = self._folder / f".{uuid4().hex}.wav"
        stream: BinaryIO = hidden.open("x+b", buffering=0)
        try:
            _append(stream, take_header(self._origin, self._rate_hz, frames) + data)
            self.path = _renamed(hidden, self._free_name(PARTIAL))
        except (OSError, UsageFault):
            stream.close()
            hidden.unlink(missing_ok=True)
            raise
        self._stream = stream

    def _free_name(self, inner: str = "") -> Path:
        """Return a name that neither a take nor a part of one has."""
        own = self.path
        for count in range(1, MOST_NAMES):
            name = self._name if count == 1 else f"{self._name}-{count}"
            whole, partial = self._folder / f"{name}.wav", self._folder / f"{name}{PARTIAL}.wav"
            if not whole.exists() and (partial == own or not partial.exists()):
                return partial if inner else whole
        raise UsageFault(
            str(self._folder),
            "a name that is still free",
            f"{MOST_NAMES} takes of one second",
            "Wait a second.",
        )


def _append(stream: BinaryIO, data: bytes) -> None:
    """Write all of the bytes; a full disk may take some of them first."""
    view = memoryview(data)
    while view:
        view = view[stream.write(view) :]


def _renamed(old: Path, new: Path) -> Path:
    """Give a file another name and return it; raises FileExistsError rather than overwrite another one."""
    try:
        os.link(old, new)
    except FileExistsError:
        raise
    except (
        OSError,
        AttributeError,
        NotImplementedError,
    ):  # a disk that knows no second names, such as a USB stick's
        if new.exists():
            raise FileExistsError(errno.EEXIST, "a file of that name", str(new)) from None
        old.rename(new)
        return new
    old.unlink()
    return new


def _disk_fault(path: Path, error: OSError, kept: str) -> UsageFault:
    return UsageFault(
        str(path), "a disk that takes the samples", error.strerror or str(error),
        f"Make room on the disk or choose another folder; {kept}.",
    )  # fmt: skip
