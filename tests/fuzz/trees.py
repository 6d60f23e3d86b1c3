"""Folders as they should not be: odd names, links in a circle, files that may not be read, that vanish or shrink."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal
from unittest.mock import patch

import numpy as np
from tests.fuzz.edits import damaged, draw_edits

NAMES = (
    "open", "Open 2", "open-2026-03-01T101500", "open-2026-99-99", "open_3", "open.old", "plugged", "free-air",
    "FREE AIR", "cone", "mouth", "openly", "open<b>x", "open \"quoted\" 'twice'", "open \U0001f50a", "open\u202egnp",
    "open" + "x" * 196, "-open", "--help", "open;rm -rf", "$(open)", "open%s%n", "open\nline", "open\ttab",
    "\u00f6ffen", "open-99999999999999999999", "open-999999", " open", "open ", "open-1970-01-01",
    "open-9999-12-31T235959", ".open", "report", "design",
)  # fmt: skip

FOLDERS = (
    "cabinet",
    "left & right",
    "<script>alert(1)",
    "\U0001f4e6\U0001f4e6",
    "a" * 200,
    'it\'s "here"',
    "..x",
)

How = Literal["vanishes", "shrinks", "becomes a folder"]
HOWS: tuple[How, ...] = ("vanishes", "shrinks", "becomes a folder")


@dataclass
class Tree:
    """A folder to write.

    files: contents by name
    links: targets by name, relative to the folder
    closed: names of files and folders without any permission
    lost: by name what happens to a file, and at which opening of it, counted from 1
    fifo: whether there is a pipe, named like a recording, that nobody writes to
    root, openings, losing: set while it is there: where it is, how often each file was opened, whether one is just
        being lost
    """

    folder: str
    files: dict[str, bytes] = field(default_factory=dict)
    links: dict[str, str] = field(default_factory=dict)
    folders: list[str] = field(default_factory=list)
    closed: list[str] = field(default_factory=list)
    lost: dict[str, tuple[How, int]] = field(default_factory=dict)
    read_only: bool = False
    fifo: bool = False
    root: Path | None = None
    openings: dict[str, int] = field(default_factory=dict)
    losing: bool = False

    def write(self, above: Path) -> Path:
        """Write it below a folder and return its path."""
        root = above / self.folder
        root.mkdir()
        for name, content in self.files.items():
            (root / name).write_bytes(content)
        for name in self.folders:
            if not (root / name).exists():
                (root / name).mkdir()
        for name, target in self.links.items():
            if not os.path.lexists(root / name):
                (root / name).symlink_to(target)
        if self.fifo and not os.path.lexists(root / "open-7.wav"):
            os.mkfifo(root / "open-7.wav")
        for name in self.closed:
            if os.path.lexists(root / name) and not (root / name).is_symlink():
                (root / name).chmod(0)
        if self.read_only:
            root.chmod(stat.S_IRUSR | stat.S_IXUSR)
        self.root = root
        return root

    @contextmanager
    def in_use(self) -> Iterator[None]:
        """While this lasts, files that are lost are lost when they are opened."""
        really = Path.open

        def opening(path: Path, *arguments: Any, **more: Any) -> Any:
            self.losing = True
            self._opened(path)
            self.losing = False
            return really(path, *arguments, **more)

        with patch.object(Path, "open", opening):
            yield

    def _opened(self, path: Path) -> None:
        if self.root is None or path.parent != self.root or path.name not in self.lost:
            return
        self.openings[path.name] = self.openings.get(path.name, 0) + 1
        how, when = self.lost[path.name]
        if self.openings[path.name] != when or not path.is_file():
            return
        if how == "shrinks":
            os.truncate(path, path.stat().st_size // 2)
            return
        path.unlink()
        if how == "becomes a folder":
            path.mkdir()

    def tidy(self) -> None:
        """Give back the permissions, so that it can be removed."""
        if self.root is None:
            return
        self.root.chmod(0o700)
        for path in self.root.iterdir():
            if not path.is_symlink():
                path.chmod(0o700)


def draw_tree(rng: np.random.Generator, corpus: dict[str, list[tuple[str, bytes]]]) -> Tree:
    """Return a random folder: up to six recordings, half of them damaged, and what else goes wrong with folders."""
    tree = Tree(FOLDERS[int(rng.integers(len(FOLDERS)))])
    for _ in range(int(rng.integers(0, 7))):
        kind = ("table", "table", "touchstone", "sound")[int(rng.integers(4))]
        name, data = corpus[kind][int(rng.integers(len(corpus[kind])))]
        stem = NAMES[int(rng.integers(len(NAMES)) if rng.random() < 0.7 else 0)]
        suffix = name[name.index(".") :]
        odd = (suffix.upper(), ".csv", ".wav", ".s1p", ".bak", "")
        suffix = odd[int(rng.integers(len(odd)))] if rng.random() < 0.2 else suffix
        if rng.random() < 0.5:
            data = damaged(data, draw_edits(rng, headed=kind == "sound"))
        tree.files[(stem + suffix)[-250:]] = data
    for name in ("design", "jig"):
        if rng.random() < 0.5:
            data = corpus[name][int(rng.integers(len(corpus[name])))][1]
            odd_one = rng.random() < 0.3
            tree.files[f"{name}.toml"] = damaged(data, draw_edits(rng, headed=False)) if odd_one else data
    if rng.random() < 0.3:
        targets = (".", "..", "open-5.csv", "nowhere", "/dev/null", "/dev/zero", "/proc/self/mem", "open.csv")
        tree.links["open-5.csv"] = targets[int(rng.integers(len(targets)))]
    if rng.random() < 0.2:
        tree.folders += ["open-9.wav", "design.toml", "jig.toml"][: int(rng.integers(1, 4))]
    names = list(tree.files)
    if names and rng.random() < 0.3:
        tree.closed.append(names[int(rng.integers(len(names)))])
    if names and rng.random() < 0.5:
        lost = names[int(rng.integers(len(names)))]
        tree.lost[lost] = (HOWS[int(rng.integers(len(HOWS)))], int(rng.integers(1, 5)))
    tree.read_only = bool(rng.random() < 0.2)
    tree.fifo = bool(rng.random() < 0.1)
    return tree
