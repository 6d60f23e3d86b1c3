"""Whole files: reading them with clear faults, and writing them so that none is ever left half written."""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

from sealtune.errors import RecordingFault, UsageFault

REPLACEABLE = (".html", ".htm", ".json", ".pdf")
"""Endings of what the program itself writes anew at each run."""

LARGEST_TEXT_BYTES = 64_000_000
"""An impedance table or a design above this size is no such thing (a million rows take 40 MB)."""

_CHUNK_BYTES = 1 << 20


def require_file(path: Path) -> int:
    """Return the size of the file in bytes.

    path: what is to be opened for reading
    Raises UsageFault where there is no such file, where it is a folder or where it may not be read.
    """
    try:
        if path.is_dir():
            raise UsageFault(str(path), "a file", "a folder", "Name the file inside the folder.")
        if not path.is_file():
            got = "something that is not a file" if path.exists() else "nothing there"
            raise UsageFault(str(path), "a file", got, "Check the spelling of the path.")
        with path.open("rb") as stream:
            return os.fstat(stream.fileno()).st_size
    except (OSError, ValueError) as error:
        raise _unreadable(path, error) from error


def read_bytes(path: Path, largest: int = LARGEST_TEXT_BYTES) -> bytes:
    """Return everything in the file.

    path: the file
    largest: refuse files of more bytes than this
    Raises UsageFault where the file cannot be opened, RecordingFault("not_impedance") where it is too large.
    """
    size = require_file(path)
    if size > largest:
        raise RecordingFault(
            "not_impedance",
            str(path),
            f"a text file of at most {largest // 1_000_000} MB",
            f"{size / 1e6:.0f} MB",
            "Give the impedance table itself.",
        )
    try:
        return path.read_bytes()
    except OSError as error:
        raise _unreadable(path, error) from error


def decode_text(data: bytes) -> str:
    """Return the text in the bytes, whatever program wrote it.

    data: UTF-8 with or without a mark, UTF-16 with or without a mark, or Latin-1
    Bytes that no encoding explains come back as Latin-1 letters: this never raises.
    """
    for mark, encoding in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return data.decode(encoding, errors="replace")
    head = data[:2000]
    if len(head) >= 4 and head.count(0) > 0.3 * len(head):  # every other byte of plain UTF-16 is zero
        encoding = "utf-16-be" if head[0::2].count(0) > head[1::2].count(0) else "utf-16-le"
        return data.decode(encoding, errors="replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def read_text(path: Path) -> str:
    """Return the text of the file, see `read_bytes` and `decode_text`."""
    return decode_text(read_bytes(path))


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of the file as 64 hexadecimal digits.

    path: the file
    Raises UsageFault where it cannot be read.
    """
    require_file(path)
    digest = hashlib.sha256()
    try:
        with path.open("rb") as stream:
            while chunk := stream.read(_CHUNK_BYTES):
                digest.update(chunk)
    except OSError as error:
        raise _unreadable(path, error) from error
    return digest.hexdigest()


@contextmanager
def written_whole(path: Path, *, overwrite: bool = False) -> Iterator[Path]:
    """Give a temporary name beside `path`; at the end of the block it takes the place of `path`.

    path: the file to write
    overwrite: whether a file of that name may be replaced
    If the block fails, the temporary file goes and `path` stays as it was.
    Raises UsageFault where the file exists already, or where the folder is missing or may not be written to.
    """
    try:
        is_folder, taken = path.is_dir(), path.exists()
    except (OSError, ValueError) as error:
        raise _unwritable(path, error) from error
    if is_folder:
        raise UsageFault(str(path), "the name of a file to write", "a folder", "Add a file name to it.")
    if taken and not overwrite:
        raise UsageFault(
            str(path),
            "a name that is still free",
            "a file of that name",
            "Choose another name, or move the old file away.",
        )
    temporary = path.parent / f".{uuid4().hex}{path.suffix}"
    try:
        temporary.touch(exist_ok=False)
    except (OSError, ValueError) as error:
        raise _unwritable(path, error) from error
    try:
        yield temporary
        temporary.replace(path)
    except OSError as error:
        raise _unwritable(path, error) from error
    finally:
        temporary.unlink(missing_ok=True)


def write_text(path: Path, text: str, *, overwrite: bool = False) -> None:
    """Write the text as UTF-8 with bare line feeds, see `written_whole`.

    overwrite: whether a page or a result of that name may be replaced; a recording or a settings file never is
    """
    overwrite = overwrite and path.suffix.lower() in REPLACEABLE
    with written_whole(path, overwrite=overwrite) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="\n")


def write_bytes(path: Path, data: bytes, *, overwrite: bool = False) -> None:
    """Write the bytes, see `written_whole`; `overwrite` as for `write_text`."""
    with written_whole(path, overwrite=overwrite and path.suffix.lower() in REPLACEABLE) as temporary:
        temporary.write_bytes(data)


def _unreadable(path: Path, error: Exception) -> UsageFault:
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return UsageFault(str(path), "a file that can be read", reason, "Check the path and its permissions.")


def _unwritable(path: Path, error: Exception) -> UsageFault:
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return UsageFault(
        str(path), "a folder that can be written to", reason, "Choose a folder that exists and is yours."
    )


def require_writable(folder: Path) -> None:
    """Raise UsageFault where no file could be written into a folder, or the folder not be made; nothing is made."""
    try:
        there = next(one for one in (folder.absolute(), *folder.absolute().parents) if one.exists())
        if not there.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
        if not os.access(there, os.W_OK | os.X_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    except (OSError, ValueError) as error:
        raise _unwritable(folder, error) from error


def make_folder(path: Path) -> None:
    """Make the folder and those above it, if they are not there.

    Raises UsageFault where that cannot be done.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise _unwritable(path, error) from error
