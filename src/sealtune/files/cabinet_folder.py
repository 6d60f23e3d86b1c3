"""A cabinet's folder: which recording is in which role, and where its settings are."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

from sealtune.errors import UsageFault
from sealtune.files.sound_file import SOUND_SUFFIXES, read_origin
from sealtune.files.take_file import PARTIAL
from sealtune.records.recording import ROLES, Origin, Role

TABLE_SUFFIXES = (".csv", ".txt", ".s1p")
RECORDING_SUFFIXES = SOUND_SUFFIXES + TABLE_SUFFIXES

_STAMP = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?:[T_ ](\d\d)[-:.]?(\d\d)(?:[-:.]?(\d\d))?)?")
_NUMBER = re.compile(r"[-_ .](\d{1,6})$")


def find_recordings(folder: Path) -> dict[Role, list[Path]]:
    """Return the recordings of each role, oldest first; the last one counts.

    folder: the cabinet's folder; folders in it, hidden files, takes that broke off and other endings than
        RECORDING_SUFFIXES are passed over, and so are files that neither their metadata nor their name gives a role
    The date is that of the metadata, else one in the name such as open-2026-03-01T101500, else that of the
    file. Where no recording of a role is dated, the number in the name comes first: open, open-2, open-3.
    Raises UsageFault where there is no such folder or it may not be read.
    """
    try:
        if not folder.is_dir():
            got = "a file" if folder.exists() else "nothing there"
            raise UsageFault(str(folder), "a cabinet's folder", got, "Check the spelling of the path.")
        files = sorted(path for path in folder.iterdir() if _is_recording(path))
    except (OSError, ValueError) as error:
        raise UsageFault(
            str(folder), "a folder that can be read", str(error), "Check the path and its permissions."
        ) from error
    found: dict[Role, list[tuple[Path, float | None]]] = {}
    for path in files:
        origin = _origin(path)
        role = (origin.role if origin else None) or role_of_name(path.stem)
        if role is not None:
            found.setdefault(role, []).append((path, _seconds(_moment(path, origin))))
    return {role: _oldest_first(found[role]) for role in ROLES if role in found}


def holds_cabinets(path: Path) -> bool:
    """Return whether a path is no cabinet itself but a folder with cabinets right below it."""
    if not path.is_dir() or "open" in find_recordings(path):
        return False
    below = [each for each in path.iterdir() if each.is_dir() and not each.name.startswith(".")]
    return any("open" in find_recordings(each) for each in below)


def role_of_name(stem: str) -> Role | None:
    """Return the role that a file name begins with, None where it begins with none.

    stem: the file name without its ending, in any case; after the role comes nothing, or one of `-_ .`
    """
    name = re.sub(r"[_ ]", "-", stem.lower())
    for role in sorted(ROLES, key=len, reverse=True):
        if name.startswith(role) and name[len(role) : len(role) + 1] in ("", "-", "."):
            return role
    return None


def find_settings(start: Path, name: str) -> Path | None:
    """Return the nearest file of that name: in the cabinet's folder, or in a folder above it.

    start: the cabinet's folder, or a recording in it
    name: design.toml or jig.toml
    Returns None where there is none up to the root.
    """
    try:
        here = start.resolve()
    except (OSError, RuntimeError, ValueError):
        here = start.absolute()
    for folder in (here, *here.parents):
        try:
            if (folder / name).is_file():
                return folder / name
        except (OSError, ValueError):
            continue
    return None


def _is_recording(path: Path) -> bool:
    if path.name.startswith(".") or path.stem.endswith(PARTIAL):
        return False
    return path.suffix.lower() in RECORDING_SUFFIXES and path.is_file()


def recorded_at(path: Path) -> datetime | None:
    """Return when a recording was made, by its metadata or else by the date in its name; None where neither tells."""
    return _moment(path, _origin(path))


def _origin(path: Path) -> Origin | None:
    return read_origin(path) if path.suffix.lower() in SOUND_SUFFIXES else None


def _moment(path: Path, origin: Origin | None) -> datetime | None:
    return (origin.recorded_at if origin else None) or _stamp(path.stem)


def _stamp(stem: str) -> datetime | None:
    match = _STAMP.search(stem)
    if match is None:
        return None
    try:
        return datetime(*(int(part or 0) for part in match.groups()))  # type: ignore[arg-type]
    except ValueError:
        return None


def _seconds(moment: datetime | None) -> float | None:
    """Seconds since 1970; a moment without a time zone is taken in that of the computer."""
    try:
        return None if moment is None else moment.timestamp()
    except (OverflowError, OSError, ValueError):
        return None


def _oldest_first(dated: list[tuple[Path, float | None]]) -> list[Path]:
    undated = all(seconds is None for _, seconds in dated)

    def age(entry: tuple[Path, float | None]) -> tuple[float, float, float, str]:
        path, seconds = entry
        written = _written(path)
        match = None if _STAMP.search(path.stem) else _NUMBER.search(path.stem)
        number = float(match[1]) if match else 0.0
        first = 0.0 if undated else (written if seconds is None else seconds)
        return (first, number, written, path.name)

    return [path for path, _ in sorted(dated, key=age)]


def _written(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0
